"""The set-up sheet in a browser: on the screen, and on paper as the browser prints it."""

import io
import re
from dataclasses import replace
from datetime import timedelta

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from sample_runs import NAMES, path
from tests.browser.conftest import Bench
from tuning.log.files import read_readings_file
from tuning.log.store import Log
from tuning.truckfile import read_truck

INCHES = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11.0)}  # ISO 216; ANSI/ASME Y14.1
LONG = "a very long name of a thing that nobody would ever want to write on a sheet " * 4


def printed(page, paper):
    """The pages that the browser makes of it."""
    return PdfReader(io.BytesIO(page.pdf(format=paper))).pages


def one_page(page):
    for paper, (width, height) in INCHES.items():
        pages = printed(page, paper)
        assert len(pages) == 1, paper
        size = pages[0].mediabox
        assert (float(size.width) / 72, float(size.height) / 72) == pytest.approx((width, height), abs=0.02)
        said = pages[0].extract_text()
        assert "Signature" in said
        assert "Back to the truck" not in said


@pytest.fixture
def sample(request, site):
    """An invented truck of the package, in the log of all tests."""
    folder = path(request.param)
    toml = (folder / "truck.toml").read_text("utf-8")
    truck, log = read_truck(toml), Log.open(str(site.log))
    if truck.name not in log.trucks():
        log.save_truck(truck.name, toml)
        log.add_readings(truck.name, read_readings_file(folder / "readings.csv", truck))
    return Bench(truck.name, log)


@pytest.mark.parametrize("sample", NAMES, indirect=True)
def test_every_sample_prints_on_one_page_of_either_paper(page, sample):
    page.goto(f"/sheet{sample.query}")
    one_page(page)


def test_a_truck_with_far_too_much_to_say_prints_on_one_page_and_says_what_is_left_out(page, truck):
    name = f"{page.viewport_size['width']} {LONG}"[:80].strip()
    log = truck.log
    log.save_truck(name, log.truck_toml(truck.name).replace('name = "Night shift"', f'name = "{name}"', 1))
    for number in range(20):
        log.add_readings(name, [_again(entry.reading, number) for entry in log.readings(truck.name)])
    page.goto(f"/sheet{Bench(name, log).query}")
    expect(page.get_by_text(re.compile(r"…and \d+ more\.")).first).to_be_visible()
    one_page(page)


def _again(reading, number):
    """The same reading some weeks later, in a run with a long name; all but the first few in doubt."""
    run = f"{number} {reading.run} {LONG}"[:60].strip()
    taken = reading.taken_at + timedelta(weeks=4 * number)
    return replace(reading, run=run, taken_at=taken, doubt=LONG if number else "")


def test_it_is_black_on_white_on_the_screen_and_on_paper_in_the_dark_too(page, truck):
    page.emulate_media(color_scheme="dark")
    page.goto(f"/sheet{truck.query}")
    style = "getComputedStyle(document.querySelector('td'))"
    for media in ("screen", "print"):
        page.emulate_media(media=media, color_scheme="dark")
        colours = [page.evaluate(f"{style}.{name}") for name in ("color", "backgroundColor")]
        assert colours == ["rgb(0, 0, 0)", "rgb(255, 255, 255)"]


def test_the_way_there_and_back_and_to_older_runs(page, truck):
    page.goto(f"/travel{truck.query}")
    with page.context.expect_page() as opened:
        page.get_by_role("link", name="Set-up sheet").click()
    sheet = opened.value
    expect(sheet.get_by_text("Set-up sheet, run r3")).to_be_visible()
    assert sheet.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    sheet.get_by_role("link", name="Run r1").click()
    expect(sheet.get_by_text("Set-up sheet, run r1")).to_be_visible()
    expect(sheet.get_by_text("This is the first run")).to_be_visible()
    sheet.get_by_role("link", name="Back to the truck").click()
    expect(sheet.get_by_role("heading", name="Adjust", exact=True)).to_be_visible()
    page.goto("/")
    expect(page.get_by_role("link", name="Set-up sheet").first).to_be_visible()


def test_every_row_is_named_for_a_screen_reader(page, truck):
    page.goto(f"/sheet{truck.query}")
    for table in page.get_by_role("table").all():
        assert table.get_by_role("columnheader").count() == 5
        assert table.get_by_role("rowheader").count() == table.get_by_role("row").count() - 1
