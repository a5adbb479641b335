"""A truck made and changed in the browser, on a phone and on a laptop."""

import re
from urllib.parse import urlencode

from playwright.sync_api import expect

from tests.dashboard_truck import TOML, many_readings, readings
from tuning.log.files import write_readings
from tuning.log.store import Log
from tuning.truckfile import read_truck

BLOCK = '[[stacks]]\nname = "soft"\nlower = { rate = "150 lbf/in" }'

_LEAF = {
    "Track: tyre middle": "68",
    "Spring seat to spring seat": "34 1/2",
    "Unsprung weight": "780",
    "Rate of one spring": "310",
}


def _sideways(page):
    return page.evaluate("document.documentElement.scrollWidth - window.innerWidth")


def test_a_target_is_changed_with_a_reason(page, truck):
    page.goto(f"/truck{truck.query}")
    page.get_by_label("Left front (in)").fill("22,5")
    page.get_by_role("button", name="See what changes").first.click()
    expect(page.locator("#truck-preview")).to_contain_text("Left front: ")
    expect(page.locator("#truck-save")).to_be_hidden()
    page.get_by_label("Left front (in)").fill("23 3/8")
    page.get_by_role("button", name="See what changes").first.click()
    expect(page.locator(".lines .come")).to_contain_text('LF = "23 3/8 in"')
    page.get_by_label("Reason (may be left empty)").fill("lower for the lift")
    page.locator("#truck-save").dblclick()
    expect(page.get_by_text("Version 2 is saved.")).to_be_visible()
    expect(page.get_by_label("Left front (in)")).to_have_value("23 3/8 in")
    expect(page.get_by_text("lower for the lift")).to_be_visible()
    assert [v.note for v in truck.log.truck_versions(truck.name)] == ["", "lower for the lift"]
    assert _sideways(page) <= 0


def test_what_is_typed_survives_a_reload_and_an_old_version_is_taken_again(page, truck):
    truck.log.save_truck(truck.name, TOML.replace('LF = "24 1/2 in"', 'LF = "25 in"'), "higher")
    page.goto(f"/truck{truck.query}")
    page.get_by_label("Right front (in)").fill("24 7/8")
    page.get_by_label("Right front (in)").blur()
    page.reload()
    expect(page.get_by_label("Right front (in)")).to_have_value("24 7/8")
    page.get_by_role("button", name="Take version 1 again").click()
    expect(page.locator(".lines .come").filter(has_text='LF = "24 1/2 in"').first).to_be_visible()
    page.locator("#truck-save").click()
    expect(page.get_by_text("Version 3 is saved.")).to_be_visible()
    assert truck.log.truck_toml(truck.name) == TOML


def test_a_stack_comes_with_the_address_and_the_file_is_checked_by_line(page, truck):
    page.goto(f"/truck{truck.query}&{urlencode({'stack_toml': BLOCK})}")
    expect(page.locator("#truck-stack")).to_have_value(BLOCK)
    page.locator("#truck-add-stack").click()
    expect(page.locator(".lines")).to_contain_text('name = "soft"')
    page.get_by_text("The whole truck file").click()
    page.locator("#truck-raw").fill(TOML.replace('wheelbase = "132 in"', 'wheelbase = "132 feet in"'))
    page.locator("#truck-set-raw").click()
    expect(page.locator("#truck-preview")).to_contain_text("line 9, wheelbase")


def test_a_truck_from_nothing_to_its_advice(page, site, request):
    name = request.node.name.removeprefix("test_")
    text = TOML.replace('name = "Night shift"', f'name = "{name}"')
    page.goto("/")
    page.get_by_role("link", name="New truck, or one from a file").click()
    page.locator("#new-text").fill(text.replace('track = "68 in"', 'track = "68"', 1))
    page.get_by_role("button", name="Check it").click()
    expect(page.locator("#new-answer")).to_contain_text("front.track")
    page.locator("#new-text").fill(text)
    page.get_by_role("button", name="Save this truck").dblclick()
    expect(page.get_by_text("Version 1 is saved.")).to_be_visible()
    rows = write_readings(readings(2), read_truck(text))
    bad = {"name": "readings.csv", "mimeType": "text/csv", "buffer": rows.replace("RF", "FR").encode()}
    page.locator("#readings-file input").set_input_files(bad)
    expect(page.locator("#readings-look")).to_contain_text("line 3")
    good = bad | {"name": "mended.csv", "buffer": rows.encode()}
    page.locator("#readings-file input").set_input_files(good)
    expect(page.locator("#readings-look")).to_contain_text("8 readings in 2 runs")
    page.get_by_role("button", name="Save these readings").dblclick()
    expect(page.locator("#readings-answer")).to_contain_text("in the log")
    assert len(Log.open(site.log).readings(name)) == 8
    with page.expect_download() as got:
        page.get_by_role("link", name="readings.csv").click()
    assert got.value.path().read_bytes() == rows.encode()
    assert _sideways(page) <= 0
    page.get_by_role("link", name="Adjust", exact=True).click()
    expect(page.get_by_role("heading", name="Adjust").first).to_be_visible()


def test_a_truck_is_made_step_by_step_and_what_is_typed_survives_a_reload(page, site, request):
    name = request.node.name.removeprefix("test_")
    page.goto("/new")
    page.get_by_label("Name of the truck").fill(name)
    page.get_by_label("Wheelbase (in)").fill("132")
    page.get_by_role("button", name="Next").first.click()
    step = page.locator("section.guide-step:not([hidden])")
    expect(step.get_by_role("heading").first).to_have_text("2 of 10: Front axle")
    step.get_by_label("Leaf or coil without adjuster").check()
    step.get_by_label("Track: tyre middle").fill("68,5")
    step.get_by_label("Track: tyre middle").blur()
    expect(step.get_by_label("Track: tyre middle")).to_have_accessible_description(re.compile("not a length"))
    for label, text in _LEAF.items():
        step.get_by_label(label).fill(text)
        step.get_by_label(label).blur()
    page.reload()
    page.get_by_role("button", name="5. Rear axle").click()
    step.get_by_label("Leaf or coil without adjuster").check()
    for label, text in _LEAF.items():
        step.get_by_label(label).fill(text)
        step.get_by_label(label).blur()
    page.get_by_role("button", name="Put the truck file together").click()
    expect(page.locator("#new-steps-said")).to_contain_text("in the box below")
    expect(page.locator("#new-text")).to_have_value(re.compile("common practice"))
    page.get_by_role("button", name="Save this truck").click()
    expect(page.get_by_text("Version 1 is saved.")).to_be_visible()
    built = read_truck(Log.open(site.log).truck_toml(name))
    assert (built.name, round(built.wheelbase / 0.0254, 6), built.front.solid) == (name, 132.0, True)
    assert _sideways(page) <= 0


def test_a_long_file_of_readings_can_be_stopped_with_nothing_in_the_log_and_started_again(page, site, truck):
    before = truck.log.dump(truck.name)
    rows = write_readings(many_readings(2000), read_truck(TOML))
    page.goto(f"/truck{truck.query}")
    expect(page.get_by_text("up to 5 MB, some 70,000 readings")).to_be_visible()
    file = {"name": "years.csv", "mimeType": "text/csv", "buffer": rows.encode()}
    page.locator("#readings-file input").set_input_files(file)
    expect(page.locator("#reading-what")).to_contain_text("Looking for unlikely readings, at most 108 times")
    stop = page.locator("#reading-stop")
    stop.click()
    expect(page.locator("#reading-what")).to_have_text("Stopped; nothing is saved.")
    expect(stop).to_be_hidden()
    expect(page.locator("#readings-save")).to_be_hidden()
    assert Log.open(site.log).dump(truck.name) == before
    assert _sideways(page) <= 0
    page.locator("#reading-again").click()
    expect(page.locator("#readings-look")).to_contain_text(re.compile("8,000 readings|Look again at these"))
    expect(page.locator("#reading-doing")).to_be_hidden()
    assert Log.open(site.log).dump(truck.name) == before
    page.locator("#readings-save").click()
    expect(page.locator("#readings-answer")).to_contain_text(
        re.compile("8,000 readings (are|were) in the log")
    )
    assert len(truck.readings) == 12 + 8000
