"""A cycle walk on a phone that loses its link: whatever happens, every finding is in the log exactly once."""

import re
from collections import Counter
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from urllib.parse import quote_plus

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.link import link_to, port_of
from tests.browser.phone import FORBIDDEN, FULL, a_phone, status, try_again
from tests.browser.shop import SIZES, served
from tests.dashboard_truck import IN, fill
from tuning.findings import Finding, Measured
from tuning.truckfile import read_truck

FENDER, FRAME, PAN = "tyre to fender", "tyre to frame", "axle to oil pan"
BUMP = "Front: full bump, both wheels up; steering straight"
AT_LOCK = "Front: full bump, both wheels up; steering at left lock"
DROOP = "Front: full droop, both wheels down; steering straight"


def opened(phone: BrowserContext, truck, **query) -> Page:
    page = phone.new_page()
    page.goto(f"/walk{truck.query}" + "".join(f"&{k}={quote_plus(v)}" for k, v in query.items()))
    expect(page.locator("#walk-form")).to_be_visible()
    return page


def place(page: Page, name: str):
    return page.get_by_role("group", name=name, exact=True)


def clearance(page: Page, name: str):
    return place(page, name).get_by_label(f"Clearance (in) {name}")


def find(page: Page, name: str, result: str, gap: str = "") -> None:
    place(page, name).get_by_text(result, exact=True).click()
    clearance(page, name).fill(gap)


def measure(page: Page, height: str, shaft: str) -> None:
    page.get_by_label("Height (in)").fill(height)
    page.get_by_label("Shaft showing (in)").fill(shaft)


def save(page: Page) -> None:
    page.get_by_role("button", name="Save this position").click()


def said(page: Page):
    return page.locator("#walk-answer")


def station(page: Page):
    return page.locator("#walk-station")


def kept(page: Page, name: str = "front bump") -> None:
    expect(said(page)).to_contain_text("is on this phone and not in the log yet")
    expect(status(page)).to_contain_text(f"1 position waiting, saved on this phone: {name}.")


def arrived(page: Page) -> None:
    expect(said(page)).to_contain_text("Saved: ")
    expect(status(page)).to_be_empty()


def rows(truck):
    return [one.row for one in truck.log.walk(truck.name)]


def in_log(truck, *wanted: tuple[str, str, str]) -> None:
    """Place, result and clearance in sixteenths of each finding, once, and nothing else was ever written."""
    got = [
        (r.place, r.result, "" if r.clearance is None else f"{r.clearance / IN * 16:.6g}")
        for r in rows(truck)
        if isinstance(r, Finding)
    ]
    assert Counter(got) == Counter(wanted)
    assert len(rows(truck)) == len(wanted)


BOTH = ((FENDER, "contact", ""), (FRAME, "pass", "20"))


def look_round(page: Page) -> None:
    find(page, FENDER, "Contact")
    find(page, FRAME, "Pass", "1-1/4")


# ---------------------------------------------------------------- the link


@pytest.mark.parametrize("size", SIZES)
def test_a_position_saved_while_the_link_is_cut_goes_in_once_when_it_is_back(browser, link, truck, size):
    with a_phone(browser, link, viewport=SIZES[size]) as phone:
        page = opened(phone, truck)
        link.become("cut")
        look_round(page)
        place(page, FENDER).get_by_role("radio", name="Contact").focus()
        expect(page.locator("#walk-unchecked")).to_contain_text(
            "Not checked yet. The server does not answer."
        )
        save(page)
        kept(page)
        expect(said(page)).to_be_in_viewport()
        status(page).get_by_role("button", name="Send now").click()
        kept(page)
        assert rows(truck) == []
        link.become("good")
        arrived(page)  # by itself
        in_log(truck, *BOTH)
        expect(page.locator("main")).to_contain_text(f"{FENDER}: contact at bump, straight")


@pytest.mark.parametrize("loss", ["answers lost", "answers halved"])
def test_a_position_whose_answer_is_lost_is_in_the_log_once(phone, link, truck, loss):
    page = opened(phone, truck)
    look_round(page)
    link.become(loss)
    save(page)
    kept(page)
    in_log(truck, *BOTH)  # it had arrived, only the phone can't know
    link.become("good")
    try_again(page)
    arrived(page)
    in_log(truck, *BOTH)


def test_a_silent_link_is_given_up_and_the_position_sent_again(phone, link, truck):
    page = opened(phone, truck)
    look_round(page)
    page.locator("#walk-by").focus()
    page.wait_for_load_state("networkidle")
    link.become("silent")
    save(page)
    kept(page)
    assert rows(truck) == []
    link.become("good")
    arrived(page)
    in_log(truck, *BOTH)


def test_a_link_cut_after_the_save_changes_nothing(phone, link, truck):
    page = opened(phone, truck)
    look_round(page)
    save(page)
    arrived(page)
    link.become("cut")
    try_again(page)
    link.become("good")
    page.reload()
    expect(clearance(page, FRAME)).to_have_value("1 1/4")  # as the log has it
    expect(said(page)).to_be_empty()
    in_log(truck, *BOTH)


def test_a_whole_round_is_walked_without_a_link_and_goes_in_in_its_order(phone, link, truck):
    page = opened(phone, truck)
    link.become("cut")
    measure(page, "16", "3/4")
    find(page, FENDER, "Contact")
    save(page)
    kept(page)
    page.get_by_role("link", name=f"Next: {AT_LOCK}").tap()
    expect(station(page)).to_have_text(AT_LOCK)
    expect(station(page)).to_be_focused()
    expect(place(page, PAN)).to_have_count(0)  # not looked at with the wheels turned
    expect(place(page, FENDER).get_by_role("radio", name="Not yet")).to_be_checked()
    find(page, FENDER, "Pass", "1/2")
    save(page)
    expect(status(page)).to_contain_text(
        "2 positions waiting, saved on this phone: front bump, front bump at left lock."
    )
    page.locator("summary", has_text="All positions").tap()
    page.locator("#walk-stations").get_by_role(
        "link", name="Full droop, both wheels down; steering straight"
    ).tap()
    expect(station(page)).to_have_text(DROOP)
    measure(page, "29", "13 7/8")
    save(page)
    expect(status(page)).to_contain_text("3 positions waiting")
    expect(page.locator("#walk-stations")).to_contain_text("waits on this phone")
    # What waits stands in its fields as if it were in the log.
    page.locator("#walk-stations").get_by_role(
        "link", name="Full bump, both wheels up; steering straight"
    ).tap()
    expect(page.get_by_label("Height (in)")).to_have_value("16")
    expect(place(page, FENDER).get_by_role("radio", name="Contact")).to_be_checked()
    find(page, FENDER, "Pass", "1/8")  # trimmed
    save(page)
    expect(status(page)).to_contain_text("4 positions waiting")
    assert rows(truck) == []
    link.become("good")
    try_again(page)
    arrived(page)
    found = [(r.position, getattr(r, "steering", ""), getattr(r, "result", "")) for r in rows(truck)]
    assert found == [
        ("bump", "", ""),
        ("bump", "straight", "contact"),
        ("bump", "left lock", "pass"),
        ("droop", "", ""),
        ("bump", "straight", "pass"),
    ]
    # Bump and droop made the cycle table, once.
    versions = truck.log.truck_versions(truck.name)
    assert [version.note for version in versions] == ["", "cycle table of the walk"]
    cycle = read_truck(versions[-1].toml).corners["LF"].cycle
    assert [tuple(round(v / IN, 6) for v in row) for row in cycle] == [(16, 0.75), (29, 13.875)]
    expect(page.locator("main")).to_contain_text("These are the cycle table of the truck file.")


@pytest.mark.parametrize("loss", ["answers lost", "answers halved"])
def test_a_cycle_table_whose_answer_is_lost_is_one_version_of_the_truck_file(phone, link, truck, loss):
    page = opened(phone, truck)
    measure(page, "16", "3/4")
    save(page)
    arrived(page)
    page.locator("summary", has_text="All positions").tap()
    page.locator("#walk-stations").get_by_role(
        "link", name="Full droop, both wheels down; steering straight"
    ).tap()
    measure(page, "29", "13 7/8")
    link.become(loss)
    save(page)
    kept(page, "front droop")
    link.become("good")
    try_again(page)
    arrived(page)
    expect(said(page)).to_contain_text("cycle table of the truck file now")
    assert [version.note for version in truck.log.truck_versions(truck.name)] == [
        "",
        "cycle table of the walk",
    ]
    assert [type(row) for row in rows(truck)] == [Measured, Measured]


def test_runs_and_positions_wait_in_one_outbox_and_go_in_in_their_order(phone, link, truck):
    page = opened(phone, truck)
    link.become("cut")
    find(page, FENDER, "Contact")
    save(page)
    kept(page)
    link.become("good")
    page.route("**/api/**", lambda route: route.abort())
    page.goto(f"/log{truck.query}")
    for corner, text in {"LF": "24 5/8", "RF": "24 3/4", "RR": "20", "LR": "19 13/16"}.items():
        page.get_by_label(f"{corner} Height (in)").fill(text)
    page.get_by_role("button", name="Save the run").tap()
    expect(status(page)).to_contain_text("1 position and 1 run waiting, saved on this phone: front bump, r4.")
    page.unroute("**/api/**")
    try_again(page)
    expect(page.locator("#log-answer")).to_contain_text("Run r4 is saved")
    assert [r.run for r in truck.readings[12:]] == ["r4"] * 4
    in_log(truck, (FENDER, "contact", ""))
    # A run begun is no position of a walk, and the other way round.
    page.get_by_role("button", name="Log the next run").tap()
    page.get_by_label("LF Height (in)").fill("24")
    page.goto(f"/walk{truck.query}")
    expect(station(page)).to_have_text(BUMP)
    find(page, PAN, "Pass")
    page.goto(f"/log{truck.query}")
    expect(page.get_by_label("LF Height (in)")).to_have_value("24")
    expect(page.locator("#log-others")).to_be_empty()


@pytest.mark.parametrize(
    ("status_code", "body"),
    [
        (500, "<h1>Internal Server Error</h1>"),
        (401, "Log in first."),
        (200, '{"welcome": "Free wireless", "saved": "your settings"}'),
    ],
    ids=["a fault", "logged out", "another network"],
)
def test_what_is_no_answer_of_ours_is_not_taken_for_one(phone, truck, status_code, body):
    page = opened(phone, truck)
    look_round(page)
    page.route(
        re.compile("/api/walk$"),
        lambda r: r.fulfill(status=status_code, content_type="application/json", body=body),
        times=1,
    )
    save(page)
    kept(page)
    arrived(page)
    in_log(truck, *BOTH)


# ---------------------------------------------------------------- tabs, people, servers


def test_what_is_typed_survives_a_reload_and_a_closed_tab(phone, truck):
    page = opened(phone, truck)
    find(page, FENDER, "Contact")
    clearance(page, FRAME).fill("1 1/4")
    measure(page, "16", "3/4")
    page.get_by_label("Who (optional)").fill("Wren")
    page.reload()
    expect(clearance(page, FRAME)).to_have_value("1 1/4")
    page.close()
    page = opened(phone, truck)
    expect(place(page, FENDER).get_by_role("radio", name="Contact")).to_be_checked()
    expect(clearance(page, FRAME)).to_have_value("1 1/4")
    expect(page.get_by_label("Shaft showing (in)")).to_have_value("3/4")
    expect(page.get_by_label("Who (optional)")).to_have_value("Wren")
    expect(said(page)).to_contain_text("it is not saved yet")
    assert rows(truck) == []
    place(page, FRAME).get_by_text("Pass", exact=True).click()
    save(page)
    arrived(page)
    assert [row.by for row in rows(truck)] == ["Wren"] * 3


def test_what_was_typed_at_one_position_waits_there_while_another_is_walked(phone, link, truck):
    page = opened(phone, truck)
    link.become("cut")
    find(page, FENDER, "Contact")
    page.locator("summary", has_text="All positions").tap()
    stations = page.locator("#walk-stations")
    stations.get_by_role("link", name="Left wheel up, right down; steering straight").tap()
    expect(place(page, FENDER).get_by_role("radio", name="Not yet")).to_be_checked()
    expect(stations).to_contain_text("typed, not saved yet")
    stations.get_by_role("link", name="Full bump, both wheels up; steering straight").tap()
    expect(place(page, FENDER).get_by_role("radio", name="Contact")).to_be_checked()
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Clear the form").tap()
    expect(place(page, FENDER).get_by_role("radio", name="Not yet")).to_be_checked()
    expect(stations).not_to_contain_text("typed, not saved yet")


def test_a_tab_closed_before_the_link_is_back_sends_when_any_page_is_opened_again(phone, link, truck):
    page = opened(phone, truck)
    link.become("answers lost")
    look_round(page)
    save(page)
    kept(page)
    page.close()
    link.become("good")
    page = phone.new_page()
    page.goto(f"/corners{truck.query}")
    expect(status(page)).to_be_empty()
    page = opened(phone, truck)
    expect(place(page, FENDER).get_by_role("radio", name="Contact")).to_be_checked()
    expect(said(page)).to_be_empty()
    in_log(truck, *BOTH)


def test_a_server_that_is_started_again_gets_what_waited(browser, truck, tmp_path):
    log = fill(str(tmp_path / "log.db"), name=truck.name)
    with ExitStack() as server, ExitStack() as rest:
        link = rest.enter_context(link_to(server.enter_context(served(tmp_path / "log.db")).url))
        page = opened(rest.enter_context(a_phone(browser, link)), truck)
        look_round(page)
        server.close()
        save(page)
        kept(page)
        link.port = port_of(rest.enter_context(served(tmp_path / "log.db")).url)
        arrived(page)
    assert Counter(one.row.place for one in log.walk(truck.name)) == {FENDER: 1, FRAME: 1}


def test_two_tabs_each_save_what_was_typed_in_them(phone, truck):
    one = opened(phone, truck)
    find(one, FENDER, "Contact")
    two = opened(phone, truck)
    expect(place(two, FENDER).get_by_role("radio", name="Not yet")).to_be_checked()  # the first is in hand
    find(two, FRAME, "Pass", "1 1/4")
    for page in (one, two):
        save(page)
        arrived(page)
    in_log(truck, *BOTH)


def test_a_position_that_went_on_in_another_tab_is_not_saved_twice(phone, truck):
    page = opened(phone, truck)
    look_round(page)
    other = phone.new_page()
    # As if the first tab were asleep and could not say that it is in its hands.
    other.add_init_script("delete window.BroadcastChannel;")
    other.goto(f"/walk{truck.query}")
    expect(clearance(other, FRAME)).to_have_value("1-1/4")
    expect(said(page)).to_contain_text("went on in another tab")
    expect(clearance(page, FRAME)).to_have_value("")
    save(other)
    arrived(other)
    in_log(truck, *BOTH)
    expect(page.locator("#walk-form")).to_be_visible()


def test_two_people_who_walk_at_once_both_get_in(browser, link, phone, truck):
    with a_phone(browser, link) as other:
        pages = [opened(phone, truck), opened(other, truck)]
        find(pages[0], FENDER, "Contact")
        find(pages[1], FRAME, "Pass", "1 1/4")
        for page in pages:
            save(page)
        for page in pages:
            arrived(page)
    in_log(truck, *BOTH)


def test_a_slow_press_on_save_counts_though_the_field_before_it_is_found_faulty_meanwhile(phone, truck):
    """The fault is drawn above the button: under the finger it would move the button away."""
    page = opened(phone, truck)
    find(page, FRAME, "Pass", "1,5")
    button = page.get_by_role("button", name="Save this position")
    button.scroll_into_view_if_needed()
    box = button.bounding_box()
    page.mouse.move(box["x"] + 20, box["y"] + 5)
    with page.expect_response("**/api/walk/check"):
        page.mouse.down()
    page.wait_for_timeout(300)
    assert button.bounding_box() == box
    page.mouse.up()
    expect(said(page)).to_contain_text("Nothing is saved. Look at")


def test_a_double_tap_saves_once(phone, truck):
    page = opened(phone, truck)
    look_round(page)
    page.get_by_role("button", name="Save this position").dblclick()
    arrived(page)
    in_log(truck, *BOTH)


# ---------------------------------------------------------------- refused and questioned


def test_a_refused_position_comes_back_to_be_mended_and_goes_in_once(phone, link, truck):
    page = opened(phone, truck)
    link.become("cut")
    find(page, FENDER, "Contact")
    find(page, FRAME, "Pass", "1,5")
    save(page)
    kept(page)
    page.get_by_role("link", name=f"Next: {AT_LOCK}").tap()
    find(page, FENDER, "Pass", "1/4")
    link.become("good")
    try_again(page)
    expect(status(page)).to_contain_text(
        f"front bump of {truck.name} needs a look; nothing of it is in the log yet"
    )
    expect(page.locator("#walk-stations")).to_contain_text("needs a look")
    assert rows(truck) == []
    link.become("cut")  # it is on this page: no need to ask the server for it
    status(page).get_by_role("link", name="Look at it").tap()
    expect(station(page)).to_have_text(BUMP)
    field = clearance(page, FRAME)
    expect(field).to_have_value("1,5")
    expect(field).to_have_accessible_description(re.compile("1,5.*is not a length"))
    expect(said(page)).to_contain_text(f"Nothing is saved. Look at {FRAME} clearance.")
    link.become("good")
    field.fill("1 1/4")
    save(page)
    arrived(page)
    in_log(truck, *BOTH)
    page.get_by_role("link", name=f"Next: {AT_LOCK}").tap()
    expect(clearance(page, FENDER)).to_have_value("1/4")  # what was begun meanwhile
    save(page)
    arrived(page)
    in_log(truck, *BOTH, (FENDER, "pass", "4"))


def test_a_refused_position_typed_back_to_what_it_was_waits_no_more(phone, truck):
    page = opened(phone, truck)
    find(page, FRAME, "Pass", "1,5")
    save(page)
    expect(said(page)).to_contain_text("Look at")
    find(page, FRAME, "Not yet")
    save(page)
    expect(said(page)).to_contain_text("Nothing was changed here")
    page.reload()
    expect(said(page)).to_be_empty()
    expect(status(page)).to_be_empty()
    expect(page.locator("#walk-stations")).not_to_contain_text("needs a look")
    assert rows(truck) == []


def test_a_refused_position_is_found_again_after_its_tab_was_closed(phone, truck):
    page = opened(phone, truck)
    find(page, FRAME, "Pass", "1,5")
    save(page)
    expect(said(page)).to_contain_text("Nothing is saved")
    expect(clearance(page, FRAME)).to_be_focused()
    page.close()
    page = phone.new_page()
    page.goto(f"/truck{truck.query}")
    status(page).get_by_role("link", name="Look at it").tap()
    expect(station(page)).to_have_text(BUMP)
    expect(clearance(page, FRAME)).to_have_value("1,5")
    expect(clearance(page, FRAME)).to_have_accessible_description(re.compile("is not a length"))
    clearance(page, FRAME).fill("1 1/4")
    save(page)
    arrived(page)
    in_log(truck, BOTH[1])


def test_a_height_that_contradicts_the_log_comes_back_and_says_what_it_contradicts(phone, link, truck):
    page = opened(phone, truck, position="droop")
    measure(page, "29", "1/2")
    link.become("cut")
    save(page)
    kept(page, "front droop")
    truck.log.add_walk(truck.name, [Measured("front", "bump", 16 * IN, 0.75 * IN)])
    link.become("good")
    try_again(page)
    expect(said(page)).to_contain_text("less shaft shows than at bump")
    expect(page.get_by_label("Shaft showing (in)")).to_have_value("1/2")
    page.get_by_label("Shaft showing (in)").fill("13 7/8")
    save(page)
    arrived(page)
    assert len(rows(truck)) == 2
    assert [version.note for version in truck.log.truck_versions(truck.name)] == [
        "",
        "cycle table of the walk",
    ]


def test_of_two_who_found_different_things_at_one_place_the_second_is_asked_which_is_right(
    browser, link, phone, truck
):
    with a_phone(browser, link) as other:
        first, second = opened(phone, truck), opened(other, truck)
        find(first, FENDER, "Contact")
        find(second, FENDER, "Pass", "1/4")
        save(first)
        arrived(first)
        save(second)
        expect(said(second)).to_contain_text("Say which is right")
        in_log(truck, (FENDER, "contact", ""))
        second.get_by_role("button", name="Keep mine").tap()
        arrived(second)
    in_log(truck, (FENDER, "contact", ""), (FENDER, "pass", "4"))


def test_a_place_that_somebody_else_put_down_meanwhile_is_asked_about_one_by_one(phone, link, truck):
    page = opened(phone, truck)
    link.become("cut")
    find(page, FENDER, "Pass", "1/4")
    find(page, FRAME, "Pass", "1 1/4")
    save(page)
    kept(page)
    theirs = [
        Finding("front", "bump", "straight", name, "contact", note="inner lip", by="Rook")
        for name in (FENDER, FRAME)
    ]
    truck.log.add_walk(truck.name, theirs)
    link.become("good")
    try_again(page)
    expect(said(page)).to_contain_text("somebody else put down something here meanwhile")
    assert rows(truck) == theirs
    expect(place(page, FENDER)).to_contain_text("Rook put down here: contact; inner lip.")
    place(page, FENDER).get_by_role("button", name="Take what is there").tap()
    expect(place(page, FENDER).get_by_role("radio", name="Contact")).to_be_checked()
    expect(clearance(page, FENDER)).to_have_value("")
    expect(clearance(page, FRAME)).to_have_value("1 1/4")
    place(page, FRAME).get_by_role("button", name="Keep mine").tap()
    arrived(page)
    assert [(r.place, r.result, r.by) for r in rows(truck)] == [
        (FENDER, "contact", "Rook"),
        (FRAME, "contact", "Rook"),
        (FRAME, "pass", ""),
    ]


def test_a_walk_for_a_truck_that_is_gone_from_the_log_comes_back(phone, link, truck, tmp_path):
    """The same address may serve another log tomorrow."""
    fill(str(tmp_path / "log.db"), name="Day shift")
    page = opened(phone, truck)
    link.become("cut")
    look_round(page)
    save(page)
    kept(page)
    with served(tmp_path / "log.db") as other:
        link.port = port_of(other.url)
        link.become("good")
        try_again(page)
        expect(said(page)).to_contain_text("This log has no truck")
        expect(clearance(page, FRAME)).to_have_value("1-1/4")
    assert rows(truck) == []


# ---------------------------------------------------------------- a phone that keeps nothing, one of another zone


def test_a_full_phone_says_so_and_saves_straight_through(phone, truck):
    page = opened(phone, truck)
    page.evaluate(FULL)
    look_round(page)
    expect(status(page)).to_contain_text("This browser keeps nothing")
    save(page)
    arrived(page)
    in_log(truck, *BOTH)


def test_a_browser_that_forbids_keeping_says_so_and_goes_on_trying(browser, link, truck):
    with a_phone(browser, link) as phone:
        phone.add_init_script(FORBIDDEN)
        page = opened(phone, truck)
        look_round(page)
        expect(status(page)).to_contain_text("Leave the page open until it says saved")
        link.become("answers lost")
        save(page)
        expect(status(page)).to_contain_text(
            "1 position waiting, NOT kept if this page is closed: front bump"
        )
        link.become("good")
        arrived(page)
    in_log(truck, *BOTH)


def test_the_time_is_that_of_the_first_letter_on_the_phones_clock(phone, link, truck):
    page = opened(phone, truck)
    link.become("cut")
    find(page, FENDER, "Contact")
    begun = datetime.now(UTC).astimezone().replace(tzinfo=None)
    page.wait_for_timeout(2500)
    find(page, FRAME, "Pass", "1 1/4")
    save(page)
    link.become("good")
    try_again(page)
    arrived(page)
    assert all(abs(row.taken_at - begun) < timedelta(seconds=2) for row in rows(truck))
