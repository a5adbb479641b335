"""The dashboard as a person uses it, on a phone and on a laptop."""

import re

from playwright.sync_api import Page, expect

from tests.dashboard_truck import IN

SAME = {
    "LF": "24 5/8",
    "RF": "24 3/4",
    "LR": "19 13/16",
    "RR": "20",
}  # as in r3, whose preload the form offers
HEIGHTS = {"LF": "24 7/8", "RF": "25", "LR": "19-13/16", "RR": "19 15/16"}


def _no_sideways_scroll(page: Page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_a_run_typed_with_fractions_is_saved_and_appears_in_the_fit(page, truck):
    page.goto(f"/corners{truck.query}&corner=LF")
    points = page.locator(".js-plotly-plot").first.locator(".scatterlayer .point")
    expect(points).to_have_count(3 + 1)  # and the crossover
    page.goto(f"/log{truck.query}")
    _no_sideways_scroll(page)
    for corner, text in HEIGHTS.items():
        page.get_by_label(f"{corner} Height (in)").fill(text)
    for corner, load in {"LF": "1220", "RF": "1230", "LR": "1083", "RR": "1067"}.items():
        page.get_by_label(f"{corner} Load (lbf), optional").fill(load)
    page.get_by_label("LF Preload (in)").fill("1 1/4")
    page.get_by_label("RF Preload (in)").fill("1 1/2")
    expect(page.locator("#log-sums")).to_contain_text("4600 lbf")
    expect(page.locator("#log-sums")).to_contain_text("50.3 %")
    page.get_by_role("button", name="Save the run").dblclick()
    expect(page.locator("#log-answer")).to_contain_text("Run r4 is saved: LF, RF, LR, RR.")
    assert len(truck.readings) == 16
    assert [round(r.height / IN, 4) for r in truck.readings[-4:]] == [24.875, 25.0, 19.8125, 19.9375]
    page.get_by_role("link", name="See the fit").click()
    expect(page.locator(".rows tbody tr")).to_have_count(4)
    expect(points).to_have_count(4 + 1)
    _no_sideways_scroll(page)


def test_rubbish_is_refused_at_its_field_and_nothing_is_written(page, truck):
    page.goto(f"/log{truck.query}")
    for corner, text in HEIGHTS.items():
        page.get_by_label(f"{corner} Height (in)").fill(text)
    field = page.get_by_label("RF Height (in)")
    field.fill("22,5")
    field.press("Tab")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_accessible_description(re.compile("22,5.*is not a length.*22 1/2 in"))
    page.get_by_role("button", name="Save the run").click()
    expect(page.locator("#log-answer")).to_contain_text("Nothing is saved. Look at RF height.")
    expect(field).to_have_value("22,5")
    assert len(truck.readings) == 12


def test_an_unlikely_height_is_asked_about_and_saved_as_doubtful_once_confirmed(page, truck):
    page.goto(f"/log{truck.query}")
    for corner, text in (SAME | {"LF": "34 5/8"}).items():
        page.get_by_label(f"{corner} Height (in)").fill(text)
    page.get_by_role("button", name="Save the run").click()
    expect(page.locator(".LF")).to_contain_text("LF height 34 5/8 in reads 10.00 in above")
    assert len(truck.readings) == 12
    page.get_by_role("button", name="Keep it and save").click()
    expect(page.locator("#log-answer")).to_contain_text("LF as doubtful")
    assert [bool(r.doubt) for r in truck.readings[-4:]] == [True, False, False, False]


def test_a_slider_moved_by_keyboard_moves_the_height_and_the_button_brings_the_advice_back(page, truck):
    page.goto(f"/adjust{truck.query}")
    _no_sideways_scroll(page)
    slider = page.get_by_role("slider", name="LF turns")
    advised = slider.get_attribute("aria-valuenow")
    height = page.locator(".LF .predicted")
    before = height.inner_text()
    slider.focus()
    for _ in range(12):
        slider.press("ArrowRight")
    expect(height).not_to_have_text(before)
    expect(slider).to_have_attribute("aria-valuetext", re.compile("turn"))
    page.get_by_role("button", name="Back to the advised turns").click()
    expect(slider).to_have_attribute("aria-valuenow", advised)
    expect(height).to_have_text(before)


def test_step_buttons_count_height_in_sixteenths_from_the_reading_before(page, truck):
    page.goto(f"/log{truck.query}")
    more = page.get_by_role("button", name="LF height more 1/16 in")
    field = page.get_by_label("LF Height (in)")
    field.click()
    more.click()
    expect(field).to_have_value("24 11/16")
    more.click()
    expect(field).to_have_value("24 3/4")


def test_a_reading_is_put_in_doubt_with_a_reason_and_cleared_again(page, truck):
    page.goto(f"/corners{truck.query}&corner=RF")
    row = page.locator(".rows tbody tr").first
    row.get_by_role("button", name="Look at it").click()
    card = page.get_by_role("region", name="Reading of r3")
    card.get_by_role("button", name="Doubt it").click()
    expect(page.locator("#corners-said")).to_contain_text("say why")
    card.get_by_label("Why?").fill("tape slipped")
    card.get_by_role("button", name="Doubt it").click()
    expect(row).to_contain_text("out of the fit: tape slipped")
    expect(card).to_contain_text("tape slipped")
    assert [r.doubt for r in truck.readings if r.doubt] == ["tape slipped"]
    card.get_by_label("Why?").fill("read again, it was right")
    card.get_by_role("button", name="Clear the doubt").click()
    expect(page.locator("#corners-said")).to_contain_text("cleared")
    assert not any(r.doubt for r in truck.readings)


def test_an_unknown_truck_is_one_sentence(page, truck):
    page.goto("/adjust?truck=Day+shift")
    expect(page.locator("main")).to_contain_text("has no truck 'Day shift'. It has:")
    expect(page.locator("main")).not_to_contain_text("Traceback")


def test_a_save_that_gets_no_answer_says_so_and_is_saved_once_when_it_is_sent_again(page, truck, console):
    page.goto(f"/log{truck.query}")
    for corner, text in SAME.items():
        page.get_by_label(f"{corner} Height (in)").fill(text)
    expect(page.locator("#log-sums")).to_contain_text("no loads typed")

    def cut(route):
        route.fetch()  # the server saves, but its answer is lost
        route.abort()

    page.route("**/api/runs", cut, times=1)
    page.get_by_role("button", name="Save the run").click()
    expect(page.locator("#outbox")).to_contain_text("The server does not answer")
    expect(page.locator("#log-answer")).to_contain_text("Run r4 is saved")  # it was sent again by itself
    expect(page.locator("#outbox")).to_be_empty()
    assert len(truck.readings) == 16
    console.clear()  # the browser itself tells of the lost answer
