"""Pictures of the dashboard for the documentation: `python docs/make_screenshots.py [folder]`. Invented trucks."""

import sys
import tempfile
from io import BytesIO
from pathlib import Path
from urllib.parse import quote_plus

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1]))

from sample_runs import NAMES
from sample_runs import path as sample
from tests.browser.shop import CHROMIUM, FLAGS, SIZES, served
from tuning.log.intake import take_in
from tuning.log.store import Log

NIGHT, WAGON = "Night shift", "Water wagon"
# Each page: its truck, what has to be there first, and how much of it is shown (CSS px, None: all).
PAGES: dict[str, tuple[str, str, int | None]] = {
    "trucks": ("", ".cards", None),
    "new": ("", ".upload", 1300),
    "truck": (NIGHT, "h1", 1600),
    "log": (NIGHT, "#log-form:not([hidden])", None),
    "adjust": (NIGHT, ".plan", None),
    "corners": (NIGHT, ".js-plotly-plot .main-svg", None),
    "travel": (NIGHT, ".js-plotly-plot .main-svg", None),
    "springs": (NIGHT, "h1", 2400),
    "sag": (WAGON, ".js-plotly-plot .main-svg", 2600),
    "history": (WAGON, ".js-plotly-plot .main-svg", 1800),
    "walk": (NIGHT, "#walk-form", 1600),
}
COLOURS = 256  # in a picture: plain surfaces need few


def main(folder: Path, scheme: str = "light") -> None:
    """Write <page>-<size>.png for each page and size, and sheet.png."""
    with tempfile.TemporaryDirectory() as place, sync_playwright() as play:
        log = Path(place) / "log.db"
        _fill(log)
        browser = play.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        with served(log) as site:
            for size, viewport in SIZES.items():
                page = browser.new_context(viewport=viewport, color_scheme=scheme).new_page()
                for shown in PAGES:
                    _open(page, site.url, shown)
                    _keep(page, folder / f"{shown}-{size}.png", PAGES[shown][2])
            _sheet(browser, f"{site.url}/sheet?truck={quote_plus(NIGHT)}", folder / "sheet.png")
        browser.close()


def _open(page: Page, url: str, shown: str) -> None:
    truck, wanted, _ = PAGES[shown]
    page.goto(
        f"{url}/{shown}?truck={quote_plus(truck)}" if truck else f"{url}/{shown}".replace("/trucks", "/")
    )
    page.wait_for_selector(wanted)
    if shown == "springs":
        page.get_by_role("button", name="Invented stock").click()
        page.wait_for_selector("#springs-choices table", timeout=60_000)
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(500)  # pictures fade in


def _keep(page: Page, picture: Path, height: int | None) -> None:
    """A picture in few colours, which makes a third of the bytes of it. height: of what is kept, None: all."""
    image = Image.open(BytesIO(page.screenshot(full_page=True))).convert("RGB")
    if height is not None:
        image = image.crop((0, 0, image.width, min(height, image.height)))
    image.quantize(COLOURS, dither=Image.Dither.NONE).save(picture, optimize=True)


def _sheet(browser: Browser, address: str, picture: Path) -> None:
    """The set-up sheet as it is printed on US letter."""
    page = browser.new_context(viewport={"width": 740, "height": 1000}, device_scale_factor=1.5).new_page()
    page.goto(address)
    page.emulate_media(media="print")
    page.add_style_tag(content="body { padding: 8mm !important; }")
    _keep(page, picture, None)


def _fill(log: Path) -> None:
    """Put the sample trucks into a new log."""
    store = Log.open(log)
    for folder in map(sample, NAMES):
        take_in(store, str(folder / "truck.toml"), str(folder / "readings.csv"), confirm=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent, *sys.argv[2:])
