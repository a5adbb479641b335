"""The travel page as a person uses it, on a phone and on a laptop."""

import re

import pytest
from playwright.sync_api import expect

from sample_runs import NAMES, path
from tests.browser.conftest import Bench
from tuning.log.files import read_readings_file
from tuning.log.store import Log
from tuning.truckfile import read_truck

OVERLAPS = """() => {
    const found = [];
    for (const graph of document.querySelectorAll('.js-plotly-plot')) {
        const texts = [...graph.querySelectorAll('.annotation-text')]
            .map(e => [e.textContent, e.getBoundingClientRect()]);
        const frame = graph.getBoundingClientRect();
        texts.forEach(([name, box], i) => {
            if (box.left < frame.left - 1 || box.right > frame.right + 1) found.push(`${name} is cut off`);
            for (const [other, b] of texts.slice(i + 1))
                if (box.left < b.right && b.left < box.right && box.top < b.bottom - 1 && b.top < box.bottom - 1)
                    found.push(`${name} on ${other}`);
        });
    }
    return found;
}"""


@pytest.fixture
def sample(request, site):
    """An invented truck of the package, under a name that no other test has."""
    folder = path(request.param)
    name = f"{request.param} {request.node.name}"[:70].replace("/", " ")
    toml = (folder / "truck.toml").read_text("utf-8")
    truck = read_truck(toml)
    log = Log.open(str(site.log))
    if name not in log.trucks():
        log.save_truck(name, re.sub(r'^name = ".*"$', f'name = "{name}"', toml, count=1, flags=re.M))
        log.add_readings(name, read_readings_file(folder / "readings.csv", truck))
    return Bench(name, log)


def drawn(page):
    """The page's graphs are there; none of them is wider than the page."""
    expect(page.locator(".js-plotly-plot .annotation-text").first).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@pytest.mark.parametrize("sample", NAMES, indirect=True)
def test_no_label_lies_on_another_or_is_cut_off(page, sample):
    for query in ("&corner=LF", "&corner=LF&turns=LF=-20", "&corner=LF&turns=LF=40"):
        page.goto(f"/travel{sample.query}{query}")
        drawn(page)
        assert page.evaluate(OVERLAPS) == []


@pytest.mark.parametrize("sample", ["night_shift"], indirect=True)
def test_the_drawing_is_to_scale_on_this_screen(page, sample):
    page.goto(f"/travel{sample.query}&corner=LF")
    drawn(page)
    ratio = page.evaluate(
        """() => {
            const axes = document.querySelector('.drawing .js-plotly-plot')._fullLayout;
            const px = axis => axis._length / (axis.range[1] - axis.range[0]);
            return px(axes.xaxis) / px(axes.yaxis);
        }"""
    )
    assert ratio == pytest.approx(1, abs=0.01)


@pytest.mark.parametrize("sample", ["market_van"], indirect=True)
def test_what_needs_attention_comes_first_and_says_what_mends_it(page, sample):
    page.goto(f"/travel{sample.query}&corner=LF")
    first = page.locator("#travel-body .note").first
    expect(first).to_contain_text("Attention: shock travel left at the strap: 21.1 mm")
    expect(first).to_contain_text("a shorter strap")
    expect(page.get_by_role("link", name="LF left front, 1 to mend")).to_be_visible()
    page.get_by_role("link", name="LR left rear").click()
    expect(page.locator("#travel-body")).to_contain_text("No shock to measure on")
    expect(page.locator(".js-plotly-plot")).to_have_count(0)


def test_turns_that_are_tried_move_the_figures_and_go_along_to_the_next_corner(page, truck):
    page.goto(f"/travel{truck.query}&corner=LF")
    drawn(page)
    preload = page.locator(".facts div", has_text="Preload").locator(".value")
    before = preload.inner_text()
    page.get_by_text("Try other turns").click()
    field = page.get_by_label("LF turns")
    field.fill("2 1/2")
    expect(preload).not_to_have_text(before)
    expect(page.locator("#travel-body h2")).to_contain_text("with these turns")
    page.get_by_role("link", name=re.compile("RF right front")).click()
    expect(page).to_have_url(re.compile("corner=RF.*turns=LF"))
    expect(page.get_by_label("LF turns")).to_have_value("2 1/2")
    page.get_by_role("button", name="As it stands").click()
    expect(page.get_by_label("LF turns")).to_have_value("")
    expect(page.locator("#travel-body h2")).to_contain_text("as of run r3")


def test_the_advised_turns_are_put_in_by_a_button(page, truck):
    page.goto(f"/travel{truck.query}&corner=RF")
    page.get_by_text("Try other turns").click()
    page.get_by_role("button", name="The advised turns").click()
    expect(page.get_by_label("RF turns")).to_have_value(re.compile(r"^-?\d"))
    expect(page.locator("#travel-body h2")).to_contain_text("with these turns")


def test_rubbish_in_a_field_is_told_at_the_field_and_left_out(page, truck):
    page.goto(f"/travel{truck.query}&corner=LF")
    page.get_by_text("Try other turns").click()
    field = page.get_by_label("RF turns")
    field.fill("a bit")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_accessible_description(re.compile('"a bit" is not a number'))
    expect(page.locator("#travel-body")).to_contain_text("Left out: RF turns.")
    field.fill("")
    expect(page.locator("#travel-body")).not_to_contain_text("Left out")
    expect(field).not_to_have_attribute("aria-invalid", "true")
