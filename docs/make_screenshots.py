"""Pictures of the dashboard for the documentation: `python docs/make_screenshots.py [folder]`. Invented truck."""

import sys
import tempfile
from pathlib import Path
from urllib.parse import quote_plus

from playwright.sync_api import Browser, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1]))

from sample_runs import path as sample
from tests.browser.shop import CHROMIUM, FLAGS, SIZES, served
from tuning.log.files import read_readings_file
from tuning.log.store import Log
from tuning.truckfile import load_truck

PAGES = ("adjust", "corners", "log")


def main(folder: Path, scheme: str = "light") -> None:
    """Write <page>-<size>.png for each page and size."""
    with tempfile.TemporaryDirectory() as place, sync_playwright() as play:
        log = Path(place) / "log.db"
        name = _fill(log)
        browser = play.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        with served(log) as site:
            for size, viewport in SIZES.items():
                page = browser.new_context(viewport=viewport, color_scheme=scheme).new_page()
                for shown in PAGES:
                    page.goto(f"{site.url}/{shown}?truck={quote_plus(name)}")
                    page.wait_for_selector("#log-form:not([hidden])" if shown == "log" else "h1")
                    if shown == "corners":
                        page.wait_for_selector(".js-plotly-plot .main-svg")
                    page.screenshot(path=folder / f"{shown}-{size}.png", full_page=True)
            _sheet(browser, f"{site.url}/sheet?truck={quote_plus(name)}", folder / "sheet.png")
        browser.close()


def _sheet(browser: Browser, address: str, picture: Path) -> None:
    """The set-up sheet as it is printed on US letter."""
    page = browser.new_context(viewport={"width": 740, "height": 1000}, device_scale_factor=1.5).new_page()
    page.goto(address)
    page.emulate_media(media="print")
    page.add_style_tag(content="body { padding: 8mm !important; }")
    page.screenshot(path=picture, full_page=True)


def _fill(log: Path) -> str:
    """Put a sample truck into a new log; returns its name."""
    folder = sample("night_shift")
    truck = load_truck(folder / "truck.toml")
    store = Log.open(log)
    store.save_truck(truck.name, (folder / "truck.toml").read_text("utf-8"))
    store.add_readings(truck.name, read_readings_file(folder / "readings.csv", truck))
    return truck.name


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent, *sys.argv[2:])
