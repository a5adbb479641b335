"""The sag and history pages as a person uses them, on a phone and on a laptop."""

import csv
import io
import re

import pytest
from playwright.sync_api import expect

from sample_runs import path
from tests.browser.conftest import Bench
from tuning.log.intake import take_in
from tuning.log.store import Log


@pytest.fixture(scope="session")
def wagon(site, tmp_path_factory):
    """The sample truck with two years of runs; only looked at, so one for all tests."""
    folder, own = path("water_wagon"), tmp_path_factory.mktemp("wagon") / "truck.toml"
    name = "Wagon of two years"
    own.write_text((folder / "truck.toml").read_text("utf-8").replace("Water wagon", name), "utf-8")
    log = Log.open(str(site.log))
    take_in(log, str(own), str(folder / "readings.csv"), confirm=True)
    return Bench(name, log)


def drawn(page, kind):
    """The graph is there, and nothing on the page is wider than it."""
    graph = page.locator(f"[id*={kind}] .main-svg").first
    expect(graph).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    return graph


SPLIT = "[...document.querySelector('[id*=sag-split] .js-plotly-plot').data].map(bar => bar.x[0])"


def test_another_reference_run_changes_verdicts_and_split(page, wagon):
    page.goto(f"/sag{wagon.query}")
    drawn(page, "sag-split")
    left = page.get_by_role("region", name="left front")
    expect(left).to_contain_text("Settling")
    expect(left).to_contain_text("since 2024-03")
    before = page.evaluate(SPLIT)
    page.get_by_label("Count from run").first.click()
    page.get_by_role("option", name="2025-05, 2025-05-09").click()
    expect(left).to_contain_text("since 2025-05")
    expect(page.get_by_role("region", name="right front")).to_contain_text("Steady")
    expect(page).to_have_url(re.compile("since=2025-05"))
    page.wait_for_function(f"JSON.stringify({SPLIT}) !== {str(before)!r}")
    after = page.evaluate(SPLIT)
    assert len(after) == len(before)
    assert after[1] != before[1]
    page.reload()
    expect(left).to_contain_text("since 2025-05")


def test_another_corner_is_drawn_and_keeps_the_reference_run(page, wagon):
    page.goto(f"/sag{wagon.query}&since=2025-05")
    drawn(page, "sag-trend")
    page.get_by_role("link", name=re.compile("RR right rear")).click()
    expect(page).to_have_url(re.compile("since=2025-05.*corner=RR|corner=RR.*since=2025-05"))
    expect(page.get_by_role("heading", name="RR right rear").last).to_be_visible()
    drawn(page, "sag-chart")


def test_the_turns_are_one_click_away(page, wagon):
    page.goto(f"/sag{wagon.query}")
    drawn(page, "sag-split")
    page.get_by_role("link", name="Turns for all four corners").first.click()
    expect(page.get_by_role("heading", name="Adjust")).to_be_visible()


@pytest.mark.parametrize("share", [0.12, 0.35, 0.53, 0.75, 0.92])  # one for each panel, from the top
def test_wherever_one_points_one_label_and_one_line_tell_the_run(page, wagon, share):
    page.goto(f"/history{wagon.query}&from=2025-05-01&to=2025-05-31")
    graph = drawn(page, "history-graph")
    graph.scroll_into_view_if_needed()
    page.evaluate("document.querySelector('[id*=history-graph]').scrollIntoView()")
    box = graph.bounding_box()
    room = page.viewport_size["height"] - box["y"]
    if box["height"] * share > room:
        page.mouse.wheel(0, box["height"] * share - room / 2)
        page.wait_for_timeout(200)
        box = graph.bounding_box()
    for step in range(3):
        page.mouse.move(box["x"] + box["width"] * 0.5 + 4 * step, box["y"] + box["height"] * share)
    label = page.locator(".hoverlayer")
    expect(label).to_contain_text("2025-05")
    expect(label).to_contain_text("LF")
    expect(label).to_contain_text("pump bolted on")
    expect(page.locator(".spikeline").first).to_be_attached()


def test_the_range_narrows_picture_table_and_file(page, wagon):
    page.goto(f"/history{wagon.query}")
    drawn(page, "history-graph")
    body = page.locator("#history-body")
    expect(body).to_contain_text("25 of 25 runs")
    page.get_by_label("From", exact=True).fill("2025-08-01")
    expect(body).to_contain_text("8 of 25 runs")
    expect(page).to_have_url(re.compile("from=2025-08-01"))
    expect(page.locator(".rows.history tbody tr")).to_have_count(8)
    expect(page.locator(".rows.history")).to_contain_text("RR 3 turns down the thread")
    with page.expect_download() as coming:
        page.get_by_role("link", name="Take it along as CSV").click()
    rows = list(csv.DictReader(io.StringIO(coming.value.path().read_text("utf-8"))))
    assert len(rows) == 8
    assert rows[0]["run"] == "2025-08"
    page.get_by_label("Odometer to (mi)").fill("28,500")
    expect(body).to_contain_text("2 of 25 runs")
    page.get_by_label("Odometer to (mi)").fill("some")
    expect(page.get_by_label("Odometer to (mi)")).to_have_attribute("aria-invalid", "true")
    expect(body).to_contain_text("8 of 25 runs")


def test_another_truck_keeps_the_dates(page, wagon, truck):
    page.goto(f"/history{wagon.query}&from=2025-01-01")
    drawn(page, "history-graph")
    page.get_by_text("Another truck").click()
    page.get_by_role("link", name=truck.name, exact=True).click()
    expect(page.locator("#history-body")).to_contain_text("3 of 3 runs")
    expect(page.get_by_label("From", exact=True)).to_have_value("2025-01-01")
