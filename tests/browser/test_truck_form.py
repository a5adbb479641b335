"""A truck changed part by part, and one made from nothing to its first advice, on a phone and on a laptop."""

import re

from playwright.sync_api import expect

from dashboard.truck_edited import shown
from dashboard.truck_parts import FIELDS, STEPS, kind_key
from tests.dashboard_truck import IN, LBF, TOML, readings
from tuning.log.store import Log
from tuning.truckfile import read_truck


def fold(page, title):
    """A fold of the truck page, opened by its title, with its fields there."""
    part = page.locator("details.part", has=page.locator("summary", has_text=re.compile(f"^{title}$")))
    part.locator("summary").click()
    expect(part.locator(".stage")).to_be_visible()
    return part


def type_in(field, text):
    field.fill(text)
    field.blur()


def see(part):
    part.get_by_role("button", name="See what changes").click()


def comments(text):
    return [line.partition("#")[2] for line in text.split("\n") if "#" in line]


def test_a_shocks_travel_and_a_cycle_row_are_changed_and_the_motion_ratio_moves(page, truck):
    page.goto(f"/truck{truck.query}")
    shock = fold(page, "Front shock, nut and springs")
    type_in(shock.get_by_label("Stroke: shaft showing").first, "15")
    table = fold(page, "Front cycle table and travel")
    expect(table.locator(".live").first).to_contain_text("motion ratio 1.00")
    dots = table.locator(".plot").first.locator("circle")
    expect(dots).to_have_count(3)
    type_in(table.get_by_role("group", name="Row 3").get_by_label("Shaft (in)").first, "14 5/8")
    expect(table.locator(".live").first).to_contain_text(
        "motion ratio 1.09"
    )  # (14 5/8 − 7 3/8) / (29 1/8 − 22 1/2)
    table.get_by_role("button", name="Add a row").first.click()
    expect(table.get_by_role("group", name="Row 4").get_by_label("Height (in)")).to_be_focused()
    page.keyboard.type("20")
    page.keyboard.press("Tab")
    page.keyboard.type("5")
    page.keyboard.press("Tab")
    expect(dots).to_have_count(4)
    table.get_by_role("group", name="Row 2").get_by_role("button", name="Take this row out").click()
    expect(dots).to_have_count(3)
    see(table)
    expect(page.locator(".lines .come").filter(has_text='stroke = "15 in"')).to_be_visible()
    page.get_by_label("Reason (may be left empty)").fill("longer shocks")
    page.locator("#truck-save").dblclick()
    expect(page.get_by_text("Version 2 is saved.")).to_be_visible()
    expect(page.locator("main")).to_contain_text("15 in of stroke")
    text = truck.log.truck_toml(truck.name)
    front = read_truck(text).corners["LF"]
    wanted = {(16, 0.75), (29.125, 14.625), (20, 5)}
    assert {(round(h / IN, 6), round(s / IN, 6)) for h, s in front.cycle} == wanted
    assert round(front.shock.stroke / IN, 6) == 15
    assert comments(text) == comments(TOML)
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0


def test_rubbish_in_each_field_of_a_part_is_said_at_the_field_and_nothing_is_saved(page, truck):
    page.goto(f"/truck{truck.query}")
    shock = fold(page, "Front shock, nut and springs")
    fields = [
        one
        for one in shock.get_by_role("textbox").all()
        if "Name of this stack" not in one.evaluate("e => e.labels[0].innerText")
    ]
    assert len(fields) == 17
    for field in fields:
        type_in(field, "22,5")
    for field in fields:
        expect(field).to_have_attribute("aria-invalid", "true")
        expect(field).to_have_accessible_description(re.compile("22,5"))
    see(shock)
    expect(page.locator("#truck-preview li")).to_have_count(17)
    expect(page.locator("#truck-save")).to_be_hidden()
    page.reload()
    shock = fold(page, "Front shock, nut and springs")
    expect(shock.get_by_label("Shaft diameter (in)").first).to_have_value(
        "22,5"
    )  # what was typed is not lost
    assert len(truck.log.truck_versions(truck.name)) == 1


def test_a_corner_is_given_a_shock_of_its_own(page, truck):
    page.goto(f"/truck{truck.query}")
    shock = fold(page, "Front shock, nut and springs")
    expect(shock.get_by_label("Stroke: shaft showing")).to_have_count(2)
    expect(shock.get_by_label("Stroke: shaft showing").nth(1)).to_be_hidden()
    shock.get_by_label("Left and right apart").first.check()
    type_in(shock.get_by_label("Stroke: shaft showing").nth(1), "14 1/2 in")
    see(shock)
    expect(page.locator(".lines .come").filter(has_text="[corner.RF.shock]")).to_be_visible()
    page.locator("#truck-save").click()
    expect(page.get_by_text("Version 2 is saved.")).to_be_visible()
    corners = read_truck(truck.log.truck_toml(truck.name)).corners
    assert [round(corners[c].shock.stroke / IN, 6) for c in ("LF", "RF")] == [14, 14.5]


def test_what_is_typed_after_a_change_was_looked_at_has_to_be_looked_at_too(page, truck):
    page.goto(f"/truck{truck.query}")
    axle = fold(page, "Front axle")
    type_in(axle.get_by_label("Unsprung weight"), "790")
    see(axle)
    expect(page.locator("#truck-save")).to_be_visible()
    type_in(axle.get_by_label("Unsprung weight"), "800")
    expect(page.locator("#truck-preview")).to_contain_text("typed since")
    expect(page.locator("#truck-save")).to_be_hidden()
    see(axle)
    page.locator("#truck-save").click()
    expect(page.get_by_text("Version 2 is saved.")).to_be_visible()
    weight = read_truck(truck.log.truck_toml(truck.name)).front.unsprung_weight
    assert round(weight / LBF, 6) == 800


def test_the_drawing_stays_in_sight_and_shows_thicker_what_the_field_in_hand_names(page, truck):
    page.goto(f"/truck{truck.query}")
    shock = fold(page, "Front shock, nut and springs")
    gap = shock.locator("[data-of~='gap'] path.m")
    thin = gap.evaluate("e => parseFloat(getComputedStyle(e).strokeWidth)")
    shock.get_by_label("Slider to stop ring").first.focus()
    thick = gap.evaluate("e => parseFloat(getComputedStyle(e).strokeWidth)")
    assert thick >= 2 * thin
    expect(shock.locator(".measures .on").filter(has_text="ring gap")).to_be_visible()
    drawn, field = (
        one.evaluate("e => [e.getBoundingClientRect().top, e.getBoundingClientRect().bottom]")
        for one in (shock.locator(".measures"), page.locator(":focus"))
    )
    tall = page.viewport_size["height"]
    assert 0 <= drawn[0] < drawn[1] <= tall
    assert 0 <= field[0] < field[1] <= tall
    assert (
        page.viewport_size["width"] > 500 or drawn[1] <= field[0]
    )  # on a phone the drawing stands above the field
    shock.get_by_label("Shaft diameter").first.focus()
    expect(shock.locator("[data-of~='gap'].on")).to_have_count(0)
    expect(shock.locator("[data-of~='rod'].on")).to_have_count(1)


def test_a_truck_is_made_by_its_steps_a_run_is_typed_and_the_adjust_page_answers(page, site, request):
    name = request.node.name.removeprefix("test_")
    page.goto("/new")
    typed = shown(TOML) | {"name": name}
    for number, step in enumerate(STEPS, 1):
        page.get_by_role("button", name=f"{number}. {step.title}").click()
        screen = page.locator("section.guide-step:not([hidden])")
        expect(screen.get_by_role("heading").first).to_have_text(f"{number} of {len(STEPS)}: {step.title}")
        if step.drawing == "axle" and typed[kind_key(step.end)] == "leaf":
            screen.get_by_label("Leaf or coil without adjuster").check()
        for field in (
            one for group in step.groups for one in group.fields if typed[one.key] and not one.choices
        ):
            if field.path[-3:-1] == ("cycle", 2) and field.path[-1] == "height":
                screen.get_by_role("button", name="Add a row").click()
            box = page.locator(f"""[id='{{"key":"{field.key}","type":"new-field"}}']""")
            if box.is_visible():
                box.fill(typed[field.key])
        if step.drawing == "cycle" and step.groups[0].rows and typed[kind_key(step.end)] == "coilover":
            screen.get_by_role("textbox", name="Bump stop").click()
            page.get_by_role("option", name="Hydraulic").click()
    page.get_by_role("button", name="Put the truck file together").click()
    expect(page.locator("#new-steps-said")).to_contain_text("in the box below")
    page.get_by_role("button", name="Save this truck").click()
    expect(page.get_by_text("Version 1 is saved.")).to_be_visible()
    built, wanted = read_truck(Log.open(site.log).truck_toml(name)), read_truck(TOML)
    assert (built.corners, built.front, built.rear) == (wanted.corners, wanted.front, wanted.rear)
    assert {field.key for field in FIELDS if typed[field.key]} >= {"noise.height", "target.LF"}

    page.get_by_role("link", name="Log a run").first.click()
    for read in readings(1):
        page.get_by_label(f"{read.corner} Height (in)").fill(f"{read.height / IN:.4f}")
        page.get_by_label(f"{read.corner} Load (lbf), optional").fill(f"{read.load / LBF:.0f}")
        if read.preload is not None:
            page.get_by_label(f"{read.corner} Preload (in)").fill(f"{read.preload / IN:.4f}")
    page.get_by_role("button", name="Save the run").click()
    expect(page.locator("#log-answer")).to_contain_text("is saved: LF, RF, LR, RR.")
    page.get_by_role("link", name="Adjust", exact=True).first.click()
    expect(page.locator("#adjust-count .count")).to_have_count(2)
    expect(page.get_by_role("slider", name="LF turns")).to_be_visible()
    expect(page.locator(".LF .predicted").first).to_have_text(re.compile("in"))
