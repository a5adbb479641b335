"""A reading looked at, doubted and cleared from the figure, by mouse, by keys and by finger."""

from dataclasses import replace

import pytest
from playwright.sync_api import expect

from tests.browser.shop import SIZES
from tests.dashboard_truck import FREE, IN, LBF, readings
from tests.dashboard_truck import truck as built
from tuning.statics import Weight, settle

# Where the points of a trace are on the screen.
SPOTS = """(name) => {
    const holds = (one) => (one._fullData || []).some((trace) => trace.name === name);
    const graph = [...document.querySelectorAll('.js-plotly-plot')].find(holds);
    const trace = ((graph && graph._fullData) || []).find((one) => one.name === name);
    if (!trace) return [];
    const box = graph.getBoundingClientRect(), {xaxis, yaxis} = graph._fullLayout;
    return [...trace.x].map((x, i) => [
        box.left + xaxis._offset + xaxis.d2p(x), box.top + yaxis._offset + yaxis.d2p(trace.y[i])]);
}"""
IN_THE_FIT, IN_DOUBT, MISSES = "readings, rolled and bounced", "readings in doubt", "readings"


@pytest.fixture
def unlike(truck):
    """The truck with three more runs, light and heavy, so that points stand apart; the earlier ones withdrawn."""
    for entry in truck.log.readings(truck.name):
        truck.log.withdraw(entry.id, "another weight")
    old = readings()
    for number, front in enumerate((1900, 2450, 3000)):
        rows = old[4 * number : 4 * number + 4]
        nuts = {r.corner: r.preload for r in rows if r.preload is not None}
        stand = settle(built(), Weight(front * LBF, 2150 * LBF, 25.0), nuts, FREE)
        new = [
            replace(
                r,
                run=f"w{number}",
                height=round(stand.heights[r.corner] / IN * 16) / 16 * IN,
                load=stand.loads[r.corner],
            )
            for r in rows
        ]
        truck.log.add_readings(truck.name, new)
    return truck


def spots(page, name, count):
    """The points of a trace once there are so many, the graph in sight."""
    page.wait_for_function(f"([name, count]) => ({SPOTS})(name).length === count", arg=[name, count])
    page.locator(".js-plotly-plot").first.scroll_into_view_if_needed()
    page.wait_for_timeout(300)
    return page.evaluate(SPOTS, name)


def opened(page, truck):
    page.goto(f"/corners{truck.query}&corner=RF")
    return spots(page, IN_THE_FIT, 3)


def test_a_point_is_clicked_doubted_and_cleared_and_the_fit_follows(page, unlike):
    x, y = opened(page, unlike)[-1]
    words = page.locator("#corners-body")
    expect(words).to_contain_text("of 3 readings")
    page.mouse.click(x + 12, y + 8)  # a finger is not exact
    card = page.locator(".chosen")
    expect(card).to_contain_text("All others allow")
    expect(card.locator("h2")).to_be_focused()
    page.wait_for_timeout(300)
    expect(page.locator("#corners-said")).to_be_empty()  # nothing was asked to be saved
    name = card.locator("h2").inner_text().split()[0]
    card.get_by_label("Why?").fill("wheel in a rut")
    card.get_by_role("button", name="Doubt it").click()
    expect(card).to_contain_text("wheel in a rut")
    expect(words).to_contain_text("of 2 readings")
    expect(words).to_contain_text("in doubt, out of the fit")
    assert {r.run for r in unlike.readings if r.doubt} == {name}
    page.locator("h1").click()
    page.mouse.click(*spots(page, IN_DOUBT, 1)[0])
    expect(card.locator("h2")).to_be_focused()
    card.get_by_label("Why?").fill("it was right")
    card.get_by_role("button", name="Clear the doubt").click()
    expect(words).to_contain_text("of 3 readings")
    assert not any(r.doubt for r in unlike.readings)


def test_a_reading_is_looked_at_from_its_miss(page, truck):
    opened(page, truck)
    page.locator(".js-plotly-plot").last.scroll_into_view_if_needed()
    page.wait_for_timeout(300)
    page.mouse.click(*page.evaluate(SPOTS, MISSES)[0])
    expect(page.locator(".chosen h2")).to_contain_text("r1")
    expect(page.locator(".chosen h2")).to_be_focused()


def test_a_reading_is_looked_at_by_keys_alone(page, truck):
    opened(page, truck)
    button = page.get_by_role("button", name="Look at it").last
    button.focus()
    button.press("Enter")
    expect(page.locator(".chosen h2")).to_contain_text("r1")
    expect(page.locator(".chosen h2")).to_be_focused()
    page.keyboard.press("Tab")
    expect(page.locator(".chosen").get_by_label("Why?")).to_be_focused()


@pytest.fixture
def phone(browser, site):
    """A page under a finger."""
    context = browser.new_context(viewport=SIZES["phone"], has_touch=True, is_mobile=True, base_url=site.url)
    context.set_default_timeout(20_000)
    yield context.new_page()
    context.close()


def test_a_finger_scrolls_over_the_figure_and_a_tap_looks_at_a_reading(phone, truck):
    opened(phone, truck)
    box = phone.locator(".js-plotly-plot").first.bounding_box()
    link = phone.context.new_cdp_session(phone)
    before = phone.evaluate("scrollY")
    for way in range(22):
        kind = {0: "touchStart", 21: "touchEnd"}.get(way, "touchMove")
        finger = [] if way == 21 else [{"x": box["x"] + 150, "y": box["y"] + 250 - 10 * way}]
        link.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": finger})
        phone.wait_for_timeout(16)
    phone.wait_for_timeout(400)
    assert phone.evaluate("scrollY") > before + 100
    x, y = spots(phone, IN_THE_FIT, 3)[-1]
    phone.touchscreen.tap(x + 10, y - 10)
    expect(phone.locator(".chosen")).to_contain_text("All others allow")
