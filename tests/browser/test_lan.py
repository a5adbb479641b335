"""The login as people meet it: on a phone that comes in by a link, goes out, and looks without writing."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from dashboard.passphrases import OWNER, VIEWER, AccessFile
from tests.browser.access import axe_findings, room_faults, tab_faults
from tests.browser.shop import SIZES, Served, served
from tests.dashboard_truck import NAME, fill
from tuning.log.store import Log

OWNERS, VIEWERS = "rust never sleeps here", "only looking thank you"
LOG = "/log?truck=Night+shift"


@pytest.fixture(scope="module")
def site(tmp_path_factory) -> Iterator[Served]:
    """A dashboard that asks for a passphrase."""
    folder = tmp_path_factory.mktemp("door")
    fill(str(folder / "log.db"))
    access = AccessFile(folder / "access.json")
    access.set(OWNER, OWNERS)
    access.set(VIEWER, VIEWERS)
    with served(folder / "log.db", access.path) as running:
        yield running


def log_in(page: Page, passphrase: str) -> None:
    page.get_by_label("Passphrase").fill(passphrase)
    page.get_by_role("button", name="Log in").click()


def test_a_link_to_a_page_leads_through_the_login_to_that_page_and_a_reload_stays_in(page, site, console):
    page.goto(LOG)
    expect(page).to_have_url(re.compile(r"/login\?next="))
    field = page.get_by_label("Passphrase")
    expect(field).to_be_focused()
    field.press("Enter")  # nothing typed: the browser itself asks for it
    log_in(page, "not this one at all")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_accessible_description(re.compile("not the passphrase"))
    console.clear()  # the browser itself tells of the refusal
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    log_in(page, OWNERS)
    expect(page).to_have_url(site.url + LOG)
    expect(page.get_by_role("heading", name="Log a run")).to_be_visible()
    expect(page.get_by_role("button", name="Save the run")).to_be_visible()
    page.reload()
    expect(page.get_by_role("heading", name="Log a run")).to_be_visible()


def test_logged_out_neither_the_page_nor_the_back_button_shows_anything(page, site):
    page.goto(LOG)
    log_in(page, OWNERS)
    expect(page.get_by_role("heading", name="Log a run")).to_be_visible()
    page.get_by_role("button", name="Log out").click()
    expect(page.get_by_label("Passphrase")).to_be_visible()
    page.go_back()
    expect(page.get_by_label("Passphrase")).to_be_visible()
    expect(page.locator("body")).not_to_contain_text(NAME)


def test_a_page_still_open_when_the_login_ends_says_so_and_goes_on_after_a_new_login(page, site, console):
    page.goto("/adjust?truck=Night+shift")
    log_in(page, OWNERS)
    slider = page.get_by_role("slider", name="LF turns")
    expect(slider).to_be_visible()
    page.context.clear_cookies()
    slider.press("ArrowRight")
    expect(page.locator("#connection")).to_contain_text("You are logged out")
    with page.expect_popup() as opened:
        page.get_by_role("link", name="log in in another tab").click()
    log_in(opened.value, OWNERS)
    expect(opened.value.get_by_role("heading", name="Trucks")).to_be_visible()
    slider.press("ArrowRight")
    expect(page.locator("#connection")).to_be_hidden()
    console.clear()  # the browser tells of the refusal, and Dash reads such an answer twice


def test_a_viewer_looks_at_everything_and_can_not_save_even_past_the_page(page, site, console):
    page.goto(LOG)
    log_in(page, VIEWERS)
    expect(page.locator("header")).to_contain_text("Looking only")
    expect(page.get_by_label("LF Height (in)")).to_be_visible()
    expect(page.get_by_role("button", name="Save the run")).to_be_hidden()
    before = Log.open(site.log).dump(NAME)
    said = page.evaluate(
        """async () => {
            const token = decodeURIComponent(/_csrf_token=([^;]*)/.exec(document.cookie)[1]);
            const how = {"Content-Type": "application/json", "X-CSRFToken": token};
            const run = {key: "0".repeat(32), log: "x", truck: "Night shift", run: "r9", settled: "", note: "",
                         taken_at: "2025-09-01T10:00", corners: {LF: {height: "24 1/2"}}};
            const answer = await fetch("/api/runs", {method: "POST", headers: how, body: JSON.stringify(run)});
            return [answer.status, await answer.text()];
        }"""
    )
    assert said[0] == 403
    assert "You are looking only" in said[1]
    page.goto("/corners?truck=Night+shift&corner=LF")
    expect(page.locator(".js-plotly-plot .main-svg").first).to_be_visible()
    expect(page.locator(".rows tbody tr")).to_have_count(3)
    page.get_by_role("button", name="Look at it").first.click()
    expect(page.locator(".chosen")).to_contain_text("All others allow")
    expect(page.get_by_text("Doubt it")).to_have_count(1)
    expect(page.get_by_text("Doubt it")).to_be_hidden()
    assert Log.open(site.log).dump(NAME) == before
    console.clear()  # the browser itself tells of the refusal


@pytest.mark.parametrize("typed", ["", "not this one at all"])
def test_the_login_page_is_held_to_what_every_page_is(page, site, console, typed):
    page.goto("/login")
    if typed:
        log_in(page, typed)
        expect(page.get_by_role("alert")).to_be_visible()
    assert axe_findings(page) == []
    assert room_faults(page) == []
    assert tab_faults(page) == []
    console.clear()  # the browser itself tells of the refusal


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_login_page_can_be_read_in_light_and_dark(browser, site, scheme):
    context = browser.new_context(viewport=SIZES["phone"], base_url=site.url, color_scheme=scheme)
    page = context.new_page()
    page.goto("/login")
    colours = page.evaluate(
        """() => ["h1", ".more", "button", "label"].map((what) => {
            const part = document.querySelector(what);
            let behind = part;
            while (getComputedStyle(behind).backgroundColor === "rgba(0, 0, 0, 0)") { behind = behind.parentElement; }
            return [getComputedStyle(part).color, getComputedStyle(behind).backgroundColor];
        })"""
    )
    context.close()
    for ink, paper in colours:
        assert contrast(ink, paper) >= 4.5  # WCAG 2.2, 1.4.3


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two CSS colours (WCAG 2.2, relative luminance)."""

    def luminance(colour: str) -> float:
        parts = [int(text) / 255 for text in re.findall(r"\d+", colour)[:3]]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted([luminance(one), luminance(other)], reverse=True)
    return (light + 0.05) / (dark + 0.05)
