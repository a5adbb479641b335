"""Pictures of the dashboard for the documentation: `python docs/make_screenshots.py [folder]`. Invented truck."""

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.browser.shop import CHROMIUM, FLAGS, SIZES, served
from tests.dashboard_truck import NAME, fill

PAGES = {"adjust": "adjust", "corners": "corners", "log": "log"}


def main(folder: Path, scheme: str = "light") -> None:
    """Write <page>-<size>.png for each page and size."""
    with tempfile.TemporaryDirectory() as place, sync_playwright() as play:
        log = Path(place) / "log.db"
        fill(str(log), 5)
        browser = play.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        with served(log) as site:
            for size, viewport in SIZES.items():
                page = browser.new_context(viewport=viewport, color_scheme=scheme).new_page()
                for name, path in PAGES.items():
                    page.goto(f"{site.url}/{path}?truck={NAME.replace(' ', '+')}")
                    page.wait_for_selector("h1")
                    if name == "corners":
                        page.wait_for_selector(".js-plotly-plot .main-svg")
                    page.screenshot(path=folder / f"{name}-{size}.png", full_page=True)
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent, *sys.argv[2:])
