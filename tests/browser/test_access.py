"""Every page for everybody: axe-core, three sizes, a thumb, keys alone, and its advice and cautions."""

from urllib.parse import quote_plus

import dash
import pytest
from playwright.sync_api import expect

from dashboard.app import create_app
from sample_runs import path as sample
from tests.browser.access import axe_findings, room_faults, tab_faults, unfold
from tuning.log.intake import take_in
from tuning.log.store import Log
from tuning.truckfile import load_truck

SAMPLE = "night_shift"


def _graph(page):
    expect(page.locator(".js-plotly-plot .main-svg").first).to_be_visible()


def _reading(page):
    _graph(page)
    page.get_by_role("button", name="Look at it").first.click()
    expect(page.locator(".chosen")).to_be_visible()


def _truck_parts(page):
    """Every fold of the truck opened by hand, sides apart: its fields come when it is."""
    _heading(page)
    for fold in page.locator("details.part > summary").all():
        fold.click()
    expect(page.locator("details.part .cycle-rows")).to_have_count(4)
    for box in page.get_by_label("Left and right apart").all():
        if box.is_visible():
            box.check()
    expect(page.locator(".plot:visible svg").first).to_be_visible()


def _form(page):
    expect(page.locator("#log-form")).to_be_visible()


def _refused(page):
    _form(page)
    for corner, text in {"LF": "22,5", "RF": "21 3/4", "RR": "23", "LR": "23"}.items():
        page.get_by_label(f"{corner} Height (in)").fill(text)
    page.get_by_role("button", name="Save the run").click()
    expect(page.locator("#log-answer")).to_contain_text("Nothing is saved")


def _asked(page):
    _form(page)
    page.get_by_label("LF Height (in)").fill("34 1/2")
    page.get_by_role("button", name="Save the run").click()
    expect(page.locator("#asked-LF")).to_contain_text("reads")


def _walk(page):
    expect(page.locator("#walk-form")).to_be_visible()


def _walk_refused(page):
    _walk(page)
    place = page.get_by_role("group", name="tyre to frame", exact=True)
    place.get_by_text("Pass", exact=True).click()
    place.get_by_label("Clearance (in) tyre to frame").fill("1,5")
    page.get_by_role("button", name="Save this position").click()
    expect(page.locator("#walk-answer")).to_contain_text("Nothing is saved")


def _walk_asked(page):
    """Somebody else found something here meanwhile; nothing of it reaches the log."""
    asked = {
        "refused": True,
        "error": "Nothing is saved yet: somebody else put down something here meanwhile. Say which is right.",
        "asked": [
            {
                "key": "tyre to frame 1",
                "place": "tyre to frame",
                "text": "Since this was opened, somebody put down here: contact. Which of the two is right?",
                "there": {"result": "contact", "clearance": "", "note": "", "photo": ""},
            }
        ],
    }
    checked = {"asked": asked["asked"], "faults": []}

    def answer(route):
        said = checked if route.request.url.endswith("check") else asked
        route.fulfill(json=said | {"key": route.request.post_data_json["key"]})

    page.route("**/api/walk**", answer)
    _walk(page)
    place = page.get_by_role("group", name="tyre to frame", exact=True)
    place.get_by_text("Pass", exact=True).click()
    page.wait_for_load_state("networkidle")
    page.get_by_role("button", name="Save this position").click()
    expect(place.get_by_role("button", name="Keep mine")).to_be_visible()


def _ranked(page):
    page.get_by_role("button", name="Invented stock").click()
    expect(page.locator("#springs-choices table")).to_be_visible(timeout=60_000)


def _searching(page):
    _ranked(page)
    page.evaluate(
        """() => {
            const say = window.dash_clientside.set_props;
            say("springs-what", { children: "Going through 363,004 stacks: 5 of 19 …" });
            say("springs-share", { value: "5", max: "19" });
            say("springs-doing", { hidden: false });
        }"""
    )
    expect(page.get_by_role("button", name="Stop", exact=True)).to_be_visible()


def _heading(page):
    expect(page.locator("h1").first).to_be_visible()


def _uploads(page):
    expect(page.locator(".upload input")).to_have_count(2)


# What is looked at, by name: its address, whether it is of a truck, and how it is brought there.
PLACES = {
    "trucks": ("/", False, _heading),
    "new truck": ("/new", False, _uploads),
    "truck": ("/truck", True, _heading),
    "truck, every part": ("/truck", True, _truck_parts),
    "log a run": ("/log", True, _form),
    "log a run, refused": ("/log", True, _refused),
    "log a run, asked back": ("/log", True, _asked),
    "log a run, which truck": ("/log", False, _heading),
    "adjust": ("/adjust", True, _heading),
    "adjust, no such truck": ("/adjust?truck=nobody", False, _heading),
    "corner fit": ("/corners", True, _graph),
    "corner fit, a reading": ("/corners", True, _reading),
    "travel": ("/travel", True, _graph),
    "springs": ("/springs", True, _heading),
    "springs, ranked": ("/springs", True, _ranked),
    "springs, while they are searched": ("/springs", True, _searching),
    "sag": ("/sag", True, _graph),
    "history": ("/history", True, _graph),
    "cycle walk": ("/walk", True, _walk),
    "cycle walk, refused": ("/walk", True, _walk_refused),
    "cycle walk, asked back": ("/walk", True, _walk_asked),
    "set-up sheet": ("/sheet", True, _heading),
    "cycle walk on paper": ("/print/walk", True, _heading),
    "no such page": ("/not-found", False, _heading),
}
PAPER = {"set-up sheet", "cycle walk on paper"}  # of a size of their own, for a printer
HELPED = ("truck", "log a run", "adjust", "corner fit", "travel", "springs", "sag", "history", "cycle walk")

everywhere = pytest.mark.parametrize("place", PLACES)
one_size = pytest.mark.parametrize("page", ["laptop"], indirect=True)  # changed on the way


@pytest.fixture(scope="module")
def name(site):
    """An invented truck of the package in the log of all tests."""
    folder, log = sample(SAMPLE), Log.open(str(site.log))
    truck = load_truck(folder / "truck.toml").name
    if truck not in log.trucks():
        take_in(log, str(folder / "truck.toml"), str(folder / "readings.csv"), confirm=True)
    return truck


def go(page, name, place):
    address, of_truck, brought = PLACES[place]
    page.goto(address + (f"?truck={quote_plus(name)}" if of_truck else ""))
    brought(page)
    page.wait_for_load_state("networkidle")


def test_every_page_of_the_dashboard_is_looked_at(tmp_path):
    create_app(str(tmp_path / "log.db"))
    paths = {entry["path"] for entry in dash.page_registry.values()}
    assert paths <= {address for address, _, _ in PLACES.values()}


@one_size
def test_axe_finds_what_is_planted(page, site):
    page.goto("/not-found")
    _heading(page)
    page.evaluate(
        "document.querySelector('main').insertAdjacentHTML('beforeend', "
        "'<input><p style=\"color: #999; background: #fff\">pale</p>')"
    )
    found = " ".join(axe_findings(page))
    assert "critical label" in found
    assert "serious color-contrast" in found


@one_size
@everywhere
def test_axe_finds_nothing(page, name, place):
    go(page, name, place)
    unfold(page)
    assert axe_findings(page) == []


@one_size
@everywhere
def test_it_has_room_at_every_size_and_a_thumb_hits_what_it_means(page, name, place):
    go(page, name, place)
    unfold(page)
    faults = room_faults(page)
    assert [f for f in faults if place not in PAPER or "small" not in f] == []


@everywhere
def test_keys_alone_reach_everything_in_order_and_show_where_one_is(page, name, place):
    go(page, name, place)
    unfold(page)
    assert tab_faults(page) == []


def test_keys_lead_back_the_same_way_where_a_part_stays_while_the_rest_moves(page, name):
    go(page, name, "adjust")
    assert tab_faults(page, "Shift+Tab") == []


@one_size
def test_the_skip_link_leads_past_the_pages_of_the_truck(page, name):
    go(page, name, "corner fit")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the page")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()


@one_size
@pytest.mark.parametrize("place", HELPED)
def test_it_says_how_to_do_it_well_and_what_can_hurt(page, name, place):
    go(page, name, place)
    expect(page.locator("summary", has_text="How to").first).to_be_visible()
    unfold(page)
    said = page.locator("main").inner_text().lower()
    assert "stands" in said
    assert any(word in said for word in ("caution", "kill", "let go hard", "lets go hard", "hands"))
