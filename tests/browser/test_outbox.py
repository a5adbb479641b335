"""Logging on a phone that loses its link: whatever happens, every reading is in the log exactly once."""

import re
from collections import Counter
from contextlib import ExitStack
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.conftest import Bench
from tests.browser.link import link_to, port_of
from tests.browser.phone import FORBIDDEN, FULL, a_phone, status, try_again
from tests.browser.shop import served
from tests.dashboard_truck import IN, TOML, fill, readings
from tuning.log.store import Log
from tuning.units import UnitError, parse

HEIGHTS = {
    "LF": "24 5/8",
    "RF": "24-3/4",
    "RR": "20",
    "LR": "19 13/16",
}  # near enough to r3 not to be asked about
SIXTEENTH = IN / 16
FIRST = 12  # readings of r1 to r3


def opened(phone: BrowserContext, truck, more: str = "") -> Page:
    page = phone.new_page()
    page.goto(f"/log{truck.query}{more}")
    expect(page.locator("#log-form")).to_be_visible()
    return page


def write(page: Page, heights: dict[str, str]) -> None:
    for corner, text in heights.items():
        page.get_by_label(f"{corner} Height (in)").fill(text)


def save(page: Page) -> None:
    page.get_by_role("button", name="Save the run").tap()


def said(page: Page):
    return page.locator("#log-answer")


def kept(page: Page) -> None:
    expect(said(page)).to_contain_text("is on this phone and not in the log yet")
    expect(status(page)).to_contain_text("1 run waiting, saved on this phone: r4")


def arrived(page: Page, run: str = "r4") -> None:
    expect(said(page)).to_contain_text(f"Run {run} is saved")
    expect(status(page)).to_be_empty()
    expect(page.locator("#log-last")).to_contain_text(f"Last saved from here: {run}")


def run_in_log(truck, run: str, heights: dict[str, str]) -> None:
    """A run stands in the log as typed, every reading once, and nothing was ever written besides."""
    got = [(r.corner, round(r.height / SIXTEENTH, 6)) for r in truck.readings if r.run == run]
    wanted = [
        (c, round(parse(text, "length", default_unit="in") / SIXTEENTH, 6)) for c, text in heights.items()
    ]
    assert Counter(got) == Counter(wanted)
    assert len(truck.log.history(truck.name)) == len(truck.readings)


# ---------------------------------------------------------------- the link


def test_a_run_saved_while_the_link_is_cut_goes_in_once_when_it_is_back(phone, link, truck):
    page = opened(phone, truck)
    link.become("cut")
    write(page, HEIGHTS)
    expect(page.locator("#log-unchecked")).to_contain_text("Not checked yet. The server does not answer.")
    save(page)
    kept(page)
    status(page).get_by_role("button", name="Send now").tap()
    kept(page)
    assert len(truck.readings) == FIRST
    link.become("good")
    arrived(page)  # by itself
    run_in_log(truck, "r4", HEIGHTS)


@pytest.mark.parametrize("loss", ["answers lost", "answers halved"])
def test_a_run_whose_answer_is_lost_is_in_the_log_once(phone, link, truck, loss):
    page = opened(phone, truck)
    write(page, HEIGHTS)
    link.become(loss)
    save(page)
    kept(page)
    run_in_log(truck, "r4", HEIGHTS)  # it had arrived, only the phone can't know
    link.become("good")
    try_again(page)
    arrived(page)
    run_in_log(truck, "r4", HEIGHTS)


def test_a_silent_link_is_given_up_and_the_run_sent_again(phone, link, truck):
    page = opened(phone, truck)
    write(page, HEIGHTS)
    link.become("silent")
    save(page)
    expect(said(page)).to_contain_text("Saving r4")
    kept(page)
    link.become("good")
    try_again(page)
    arrived(page)
    run_in_log(truck, "r4", HEIGHTS)


def test_a_link_cut_after_the_answer_changes_nothing(phone, link, truck):
    page = opened(phone, truck)
    write(page, HEIGHTS)
    save(page)
    arrived(page)
    link.become("cut")
    try_again(page)
    link.become("good")
    page.reload()
    expect(page.locator("#log-form")).to_be_visible()
    expect(page.get_by_label("LF Height (in)")).to_have_value("")
    run_in_log(truck, "r4", HEIGHTS)


def test_a_server_that_fails_is_asked_again(phone, truck):
    page = opened(phone, truck)
    write(page, HEIGHTS)
    page.route(
        "**/api/runs", lambda route: route.fulfill(status=500, body="<h1>Internal Server Error</h1>"), times=1
    )
    save(page)
    kept(page)
    arrived(page)
    run_in_log(truck, "r4", HEIGHTS)


def test_who_is_logged_out_loses_nothing(phone, truck):
    page = opened(phone, truck)
    write(page, HEIGHTS)
    page.route("**/api/runs", lambda route: route.fulfill(status=401, body="Log in first."), times=1)
    save(page)
    expect(status(page)).to_contain_text("Log in again; nothing is lost.")
    arrived(page)
    run_in_log(truck, "r4", HEIGHTS)


def test_a_page_of_another_network_is_not_taken_for_the_answer(phone, truck):
    page = opened(phone, truck)
    write(page, HEIGHTS)
    portal = '{"welcome": "Free wireless", "saved": "your settings"}'
    page.route(
        "**/api/runs", lambda r: r.fulfill(status=200, content_type="application/json", body=portal), times=1
    )
    save(page)
    kept(page)
    arrived(page)
    run_in_log(truck, "r4", HEIGHTS)


def test_several_runs_wait_and_go_in_in_their_order(phone, link, truck):
    page = opened(phone, truck)
    link.become("cut")
    for number in (4, 5, 6):
        expect(page.get_by_label("Run name")).to_have_value(f"r{number}")
        write(page, HEIGHTS)
        page.get_by_label("LF Preload (in)").fill(f"1 {number - 3}/16")
        save(page)
        expect(said(page)).to_contain_text(f"Run r{number} is on this phone")
        page.get_by_role("button", name="Log the next run").tap()
    expect(page.get_by_label("LF Preload (in)")).to_have_value("1 3/16")
    expect(status(page)).to_contain_text("3 runs waiting, saved on this phone: r4, r5, r6.")
    link.become("good")
    try_again(page)
    expect(status(page)).to_be_empty()
    expect(page.locator("#log-last")).to_contain_text("Last saved from here: r6")
    order = [entry.reading.run for entry in truck.log.history(truck.name)[FIRST:]]
    assert order == ["r4"] * 4 + ["r5"] * 4 + ["r6"] * 4
    for run in ("r4", "r5", "r6"):
        run_in_log(truck, run, HEIGHTS)


# ---------------------------------------------------------------- tabs, people, servers


def test_what_is_typed_survives_a_reload_and_a_closed_tab(phone, truck):
    page = opened(phone, truck)
    write(page, {"LF": "24 5/8", "RF": "24 3/4"})
    page.get_by_label("LF Load (lbf), optional").fill("1220")
    page.get_by_text("From above", exact=True).tap()
    page.reload()
    expect(page.get_by_label("LF Height (in)")).to_have_value("24 5/8")
    page.close()
    page = opened(phone, truck)
    expect(page.get_by_label("RF Height (in)")).to_have_value("24 3/4")
    expect(page.get_by_label("LF Load (lbf), optional")).to_have_value("1220")
    expect(page.locator("#log-settled input:checked")).to_have_value("above")
    expect(said(page)).to_contain_text("it is not saved yet")
    assert len(truck.readings) == FIRST


def test_a_tab_closed_before_the_link_is_back_sends_when_any_page_is_opened_again(phone, link, truck):
    page = opened(phone, truck)
    link.become("answers lost")
    write(page, HEIGHTS)
    save(page)
    kept(page)
    page.close()
    link.become("good")
    page = phone.new_page()
    page.goto(f"/corners{truck.query}")
    expect(status(page)).to_be_empty()
    page = opened(phone, truck)
    expect(page.locator("#log-last")).to_contain_text("Last saved from here: r4")
    expect(page.get_by_label("LF Height (in)")).to_have_value("")
    run_in_log(truck, "r4", HEIGHTS)


def test_a_server_that_is_started_again_gets_what_waited(browser, truck, tmp_path):
    log = fill(str(tmp_path / "log.db"), name=truck.name)
    with ExitStack() as server, ExitStack() as rest:
        link = rest.enter_context(link_to(server.enter_context(served(tmp_path / "log.db")).url))
        page = opened(rest.enter_context(a_phone(browser, link)), truck)
        write(page, HEIGHTS)
        server.close()
        save(page)
        kept(page)
        link.port = port_of(rest.enter_context(served(tmp_path / "log.db")).url)
        arrived(page)
    runs = Counter(entry.reading.run for entry in log.readings(truck.name))
    assert runs == {"r1": 4, "r2": 4, "r3": 4, "r4": 4}


def test_two_tabs_each_save_what_was_typed_in_them(phone, truck):
    one = opened(phone, truck)
    write(one, {"LF": "24 5/8", "RF": "24 3/4"})
    two = opened(phone, truck)
    expect(two.get_by_label("LF Height (in)")).to_have_value("")  # the first is in hand
    write(two, {"RR": "20", "LR": "19 13/16"})
    for page in (one, two):
        save(page)
        page.get_by_role("button", name="Save the others").tap()
        arrived(page)
    run_in_log(truck, "r4", HEIGHTS)


def test_a_run_that_went_on_in_another_tab_is_not_saved_twice(phone, truck):
    page = opened(phone, truck)
    write(page, HEIGHTS)
    other = phone.new_page()
    # As if the first tab were asleep and could not say that the run is in its hands.
    other.add_init_script("delete window.BroadcastChannel;")
    other.goto(f"/log{truck.query}")
    expect(other.get_by_label("LF Height (in)")).to_have_value("24 5/8")
    expect(said(page)).to_contain_text("went on in another tab")
    expect(page.get_by_label("LF Height (in)")).to_have_value("")
    save(other)
    arrived(other)
    run_in_log(truck, "r4", HEIGHTS)


def test_two_people_who_save_at_once_both_get_in(browser, link, phone, truck):
    with a_phone(browser, link) as other:
        pages = [opened(phone, truck), opened(other, truck)]
        parts = [{"LF": "24 5/8", "RF": "24 3/4"}, {"RR": "20", "LR": "19 13/16"}]
        for page, part in zip(pages, parts, strict=True):
            write(page, part)
            save(page)
        for page in pages:
            page.get_by_role("button", name="Save the others").tap()
        for page in pages:
            arrived(page)
    run_in_log(truck, "r4", HEIGHTS)


# ---------------------------------------------------------------- refused and questioned


def test_a_refused_run_comes_back_to_be_mended_and_goes_in_once(phone, link, truck):
    page = opened(phone, truck)
    link.become("cut")
    write(page, HEIGHTS | {"RF": "24,75"})
    save(page)
    kept(page)
    page.get_by_role("button", name="Log the next run").tap()
    write(page, {"RR": "20 1/16"})
    link.become("good")
    try_again(page)
    expect(status(page)).to_contain_text("r4 of")
    expect(status(page)).to_contain_text("needs a look; nothing of it is in the log yet")
    assert len(truck.readings) == FIRST
    status(page).get_by_role("link", name="Look at it").tap()
    field = page.get_by_label("RF Height (in)")
    expect(field).to_have_value("24,75")
    expect(field).to_have_accessible_description(re.compile("24,75.*is not a length"))
    expect(said(page)).to_contain_text("Nothing is saved. Look at RF height.")
    field.fill("24 3/4")
    save(page)
    arrived(page)
    run_in_log(truck, "r4", HEIGHTS)
    expect(page.locator("#log-others")).to_contain_text("Also not saved yet: r5")  # what was begun meanwhile
    page.get_by_role("button", name="Go on with it").tap()
    expect(page.get_by_label("RR Height (in)")).to_have_value("20 1/16")
    expect(page.get_by_label("RF Height (in)")).to_have_value("")


def test_a_refused_run_may_be_thrown_away(phone, truck):
    page = opened(phone, truck)
    write(page, HEIGHTS | {"RF": "24,75"})
    save(page)
    expect(said(page)).to_contain_text("Look at RF height")
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Clear the form").tap()
    expect(page.get_by_label("RF Height (in)")).to_have_value("")
    page.reload()
    expect(page.locator("#log-form")).to_be_visible()
    expect(page.get_by_label("RF Height (in)")).to_have_value("")
    expect(status(page)).to_be_empty()
    assert len(truck.readings) == FIRST


def test_an_unlikely_height_saved_without_a_link_is_asked_about_when_it_is_back(phone, link, truck):
    page = opened(phone, truck)
    link.become("cut")
    write(page, HEIGHTS | {"LF": "34 5/8"})
    save(page)
    kept(page)
    link.become("good")
    try_again(page)
    expect(page.locator("#asked-LF")).to_contain_text("LF height 34 5/8 in reads")
    assert len(truck.readings) == FIRST
    page.get_by_role("button", name="Keep it and save").tap()
    arrived(page)
    expect(said(page)).to_contain_text("LF as doubtful")
    run_in_log(truck, "r4", HEIGHTS | {"LF": "34 5/8"})
    assert [r.corner for r in truck.readings if r.doubt] == ["LF"]


def test_a_run_for_a_truck_that_is_gone_from_the_log_comes_back(phone, link, truck, tmp_path):
    """The same address may serve another log tomorrow."""
    fill(str(tmp_path / "log.db"), name="Day shift")
    page = opened(phone, truck)
    link.become("cut")
    write(page, HEIGHTS)
    save(page)
    kept(page)
    with served(tmp_path / "log.db") as other:
        link.port = port_of(other.url)
        link.become("good")
        try_again(page)
        expect(said(page)).to_contain_text("This log has no truck")
        expect(page.get_by_label("LF Height (in)")).to_have_value("24 5/8")
    assert len(truck.readings) == FIRST


# ---------------------------------------------------------------- a phone that keeps nothing


def test_a_full_phone_says_so_and_saves_straight_through(phone, truck):
    page = opened(phone, truck)
    page.evaluate(FULL)
    write(page, HEIGHTS)
    expect(status(page)).to_contain_text("This browser keeps nothing")
    save(page)
    expect(said(page)).to_contain_text("Run r4 is saved")
    expect(status(page)).to_be_empty()
    run_in_log(truck, "r4", HEIGHTS)


def test_a_browser_that_forbids_keeping_says_so_and_goes_on_trying(browser, link, truck):
    with a_phone(browser, link) as phone:
        phone.add_init_script(FORBIDDEN)
        page = opened(phone, truck)
        write(page, HEIGHTS)
        expect(status(page)).to_contain_text("Leave the page open until it says saved")
        link.become("answers lost")
        save(page)
        expect(status(page)).to_contain_text("1 run waiting, NOT kept if this page is closed: r4")
        link.become("good")
        expect(said(page)).to_contain_text("Run r4 is saved")
    run_in_log(truck, "r4", HEIGHTS)


# ---------------------------------------------------------------- fields


def test_sixteenths_and_steps_work_without_a_link(phone, link, truck):
    page = opened(phone, truck)
    link.become("cut")
    field = page.get_by_label("LF Height (in)")
    field.tap()
    page.get_by_role("button", name="LF height and 11/16", exact=True).tap()
    expect(field).to_have_value("24 11/16")  # the whole inches of r3
    expect(field).to_be_focused()
    page.get_by_role("button", name="LF height more 1/16 in").tap()
    expect(field).to_have_value("24 3/4")
    page.get_by_role("button", name="LF height less 1/16 in").tap()
    expect(field).to_have_value("24 11/16")
    field.fill("23")
    page.get_by_role("button", name="LF height and 1/2", exact=True).tap()
    expect(field).to_have_value("23 1/2")
    field.press("ArrowUp")
    expect(field).to_have_value("23 9/16")
    field.fill("rubbish")
    page.get_by_role("button", name="LF height more 1/16 in").tap()
    expect(field).to_have_value("rubbish")


def test_a_height_read_again_is_averaged_at_once_and_saved_as_a_reading_of_its_own(phone, link, truck):
    page = opened(phone, truck)
    link.become("cut")
    write(page, HEIGHTS)
    page.get_by_role("button", name="Read LF height again").tap()
    expect(page.get_by_label("LF Height, reading 2 (in)")).to_be_focused()
    page.keyboard.type("24 7/8")
    expect(page.locator("#mean-LF")).to_have_text("Mean 24.75 in of 2, 1/4 in apart.")
    link.become("good")
    save(page)
    arrived(page)
    assert [round(r.height / SIXTEENTH) for r in truck.readings if r.run == "r4" and r.corner == "LF"] == [
        394,
        398,
    ]
    assert len(truck.readings) == FIRST + 5


def test_a_doubtful_value_is_questioned_when_its_field_is_left_and_one_tap_keeps_it_or_changes_it(
    phone, truck
):
    page = opened(phone, truck)
    write(page, {"LF": "34 5/8"})
    page.get_by_label("RF Height (in)").tap()
    question = page.locator("#asked-LF")
    expect(question).to_contain_text("LF height 34 5/8 in reads")
    question.get_by_role("button", name="Change it").tap()
    expect(page.get_by_label("LF Height (in)")).to_be_focused()
    page.keyboard.press("Tab")
    question.get_by_role("button", name="Keep it").tap()
    expect(question).to_contain_text("it goes in as doubtful")
    write(page, HEIGHTS | {"LF": "34 5/8"})
    save(page)
    expect(said(page)).to_contain_text("LF as doubtful")  # not asked again
    assert [bool(r.doubt) for r in truck.readings[-4:]] == [True, False, False, False]


def test_the_walk_begins_where_the_owner_wants_and_stays_so(phone, truck):
    page = opened(phone, truck)
    order = "Array.from(document.querySelectorAll('#log-corners > section'), (one) => one.id)"
    assert page.evaluate(order) == ["corner-LF", "corner-RF", "corner-RR", "corner-LR"]
    page.get_by_label("Walk round, beginning at").select_option("RR")
    page.reload()
    expect(page.locator("#log-form")).to_be_visible()
    assert page.evaluate(order) == ["corner-RR", "corner-LR", "corner-LF", "corner-RF"]
    page.get_by_label("RR Height (in)").press("Enter")
    expect(page.get_by_label("RR Load (lbf), optional")).to_be_focused()


def test_nuts_just_turned_are_put_in_and_it_says_so(phone, truck):
    page = opened(phone, truck, "&preload_LF=1+5%2F8&preload_RF=45mm&preload_LR=3")
    left = page.get_by_label("LF Preload (in)")
    expect(left).to_have_value("1 5/8")
    expect(left).to_have_accessible_description("as you turned it; r3: 1 in")
    assert float(page.get_by_label("RF Preload (in)").input_value()) * IN == pytest.approx(0.045, abs=2e-6)
    write(page, HEIGHTS)
    save(page)
    arrived(page)
    assert [r.preload for r in truck.readings if r.run == "r4" and r.corner == "LF"] == [
        pytest.approx(1.625 * IN)
    ]
    page.reload()  # the address no longer says what is history
    expect(page.get_by_label("LF Preload (in)")).to_have_accessible_description(
        re.compile("as in r4: 1 5/8 in")
    )


TEXTS = [
    *(
        "0",
        "22",
        "22.",
        ".5",
        "22.5",
        "22.625",
        "5/8",
        "22 5/8",
        "22-5/8",
        " 22  5/8 ",
        '22 5/8"',
        "22 5/8 in",
    ),
    *("-1/4", "+1/4", "- 1/2", "22 16/16", "22 5/0", "22,5", "x", "", "1e3", "22 1/2 1/2", "22/1/2", "0x10"),
]


def test_the_browser_reads_lengths_as_the_server_does_or_leaves_them_to_it(phone, truck):
    page = opened(phone, truck)
    read = page.evaluate("(texts) => texts.map((text) => window.tape.read(text, 'us'))", TEXTS)
    for text, value in zip(TEXTS, read, strict=True):
        try:
            wanted = parse(text, "length", default_unit="in") / IN
        except UnitError:
            wanted = None
        assert value == (None if wanted is None else pytest.approx(wanted)), text
    steps = list(range(-40, 500))
    written = page.evaluate("(all) => all.map((n) => window.tape.write(n / 16, 'us'))", steps)
    assert [round(parse(text, "length", default_unit="in") / SIXTEENTH) for text in written] == steps


def test_a_log_whose_times_have_a_zone_gets_the_phones(browser, link, site):
    log = Log.open(site.log)
    name = "a truck of another zone"
    log.save_truck(name, TOML)
    log.add_readings(name, [replace(r, taken_at=r.taken_at.replace(tzinfo=UTC)) for r in readings()])
    truck = Bench(name, log)
    with a_phone(browser, link, timezone_id="America/St_Johns") as phone:  # half an hour off the whole ones
        page = opened(phone, truck)
        write(page, HEIGHTS)
        save(page)
        arrived(page)
    taken = truck.readings[-1].taken_at
    assert taken.utcoffset() in (timedelta(hours=-2.5), timedelta(hours=-3.5))
    assert abs(datetime.now(UTC) - taken) < timedelta(minutes=5)
