"""The cycle walk as somebody does it beside the truck, on a phone and on a laptop."""

import re

from playwright.sync_api import expect

from tuning.truckfile import read_truck

IN = 0.0254


def walk(page, truck, **query):
    page.goto(f"/walk{truck.query}" + "".join(f"&{name}={value}" for name, value in query.items()))


def place(page, name):
    return page.get_by_role("group", name=name, exact=True)


def rows(truck):
    return [one.row for one in truck.log.walk(truck.name)]


def save(page):
    return page.get_by_role("button", name="Save this position")


def no_sideways_scroll(page):
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_a_position_is_walked_saved_once_and_the_next_one_offered(page, truck):
    walk(page, truck)
    expect(page.locator("#walk-station")).to_have_text("Front: full bump, both wheels up; steering straight")
    expect(page.locator("main")).to_contain_text("Frame on stands")
    no_sideways_scroll(page)
    fender = place(page, "tyre to fender")
    fender.get_by_text("Contact", exact=True).click()
    fender.get_by_text("Note, photo").click()
    fender.get_by_label("Note tyre to fender").fill("inner lip, 1/2 in from the edge")
    fender.get_by_label("Photo's file name tyre to fender").fill("fender.jpg")
    frame = place(page, "tyre to frame")
    frame.get_by_role("button", name="tyre to frame: 3/8 in").click()
    expect(frame.get_by_label("Clearance (in) tyre to frame")).to_have_value("3/8")
    expect(frame.get_by_role("radio", name="Pass")).to_be_checked()
    pan = place(page, "axle to oil pan")
    pan.get_by_text("Pass", exact=True).click()
    pan.get_by_label("Clearance (in) axle to oil pan").fill("1-1/4")
    page.get_by_label("Who (optional)").fill("Wren")
    save(page).dblclick()
    answer = page.locator("#walk-answer")
    expect(answer).to_contain_text("Saved: Front: full bump")
    expect(answer).to_contain_text("3 of 84 looked at, 1 contact, 1 close")
    expect(page.locator("#walk-form")).to_be_hidden()
    found = {row.place: (row.result, row.clearance, row.note, row.photo, row.by) for row in rows(truck)}
    assert len(rows(truck)) == 3
    assert found["tyre to fender"] == (
        "contact",
        None,
        "inner lip, 1/2 in from the edge",
        "fender.jpg",
        "Wren",
    )
    assert abs(found["tyre to frame"][1] - 0.375 * IN) < 1e-9
    assert abs(found["axle to oil pan"][1] - 1.25 * IN) < 1e-9
    page.get_by_role("link", name="Next: Front: full bump, both wheels up; steering at left lock").click()
    expect(page.locator("#walk-station")).to_have_text(
        "Front: full bump, both wheels up; steering at left lock"
    )
    expect(page.locator("main")).to_contain_text("tyre to fender: contact at bump, straight")
    expect(place(page, "axle to oil pan")).to_have_count(0)
    no_sideways_scroll(page)


def test_what_was_found_is_there_again_and_a_later_finding_takes_its_place(page, truck):
    walk(page, truck, end="rear", position="droop")
    hose = place(page, "brake hose slack")
    hose.get_by_label("Slack (in) brake hose slack").fill("1 1/2")
    hose.get_by_text("Pass", exact=True).click()
    save(page).click()
    expect(page.locator("#walk-answer")).to_contain_text("1 of 40 looked at")
    walk(page, truck, end="rear", position="droop")
    expect(hose.get_by_label("Slack (in) brake hose slack")).to_have_value("1 1/2")
    expect(hose.get_by_role("radio", name="Pass")).to_be_checked()
    save(page).click()
    expect(page.locator("#walk-answer")).to_contain_text("Nothing was changed here")
    hose.get_by_label("Slack (in) brake hose slack").fill("")
    hose.get_by_text("Not yet", exact=True).click()
    save(page).click()
    expect(page.locator("#walk-answer")).to_contain_text("0 of 40 looked at")
    assert [row.result for row in rows(truck)] == ["pass", "open"]


def test_rubbish_is_refused_at_its_field_and_nothing_is_written(page, truck):
    walk(page, truck)
    frame = place(page, "tyre to frame")
    field = frame.get_by_label("Clearance (in) tyre to frame")
    field.fill("1,5")
    frame.get_by_text("Pass", exact=True).click()
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_accessible_description(re.compile("1,5.*is not a length"))
    fender = place(page, "tyre to fender")
    fender.get_by_label("Clearance (in) tyre to fender").fill("2")
    save(page).click()
    expect(page.locator("#walk-answer")).to_contain_text("Nothing is saved. Look at")
    expect(fender).to_contain_text("Say pass or contact.")
    expect(field).to_have_value("1,5")
    assert rows(truck) == []


def test_heights_and_shafts_become_the_trucks_cycle_table(page, truck):
    for position, height, shaft in (("bump", "16", "3/4"), ("droop", "29", "13 7/8")):
        walk(page, truck, position=position)
        page.get_by_label("Height (in)").fill(height)
        page.get_by_label("Shaft showing (in)").fill(shaft)
        save(page).click()
        expect(page.locator("#walk-answer")).to_contain_text("Saved")
    expect(page.locator("#walk-answer")).to_contain_text("cycle table of the truck file now")
    cycle = read_truck(truck.log.truck_toml(truck.name)).corners["LF"].cycle
    assert [tuple(round(v / IN, 6) for v in row) for row in cycle] == [(16, 0.75), (29, 13.875)]
    walk(page, truck, position="ride")
    page.get_by_label("Height (in)").fill("22 1/2")
    page.get_by_label("Shaft showing (in)").fill("3/8")
    save(page).click()
    expect(page.locator("#walk-answer")).to_contain_text("less shaft shows than at bump")
    expect(page.get_by_label("Shaft showing (in)")).to_have_value("3/8")
    assert len(rows(truck)) == 2
    assert [version.note for version in truck.log.truck_versions(truck.name)] == [
        "",
        "cycle table of the walk",
    ]


def test_the_check_list_prints_black_on_white_in_the_dark_too(page, truck):
    page.emulate_media(color_scheme="dark")
    walk(page, truck)
    with page.context.expect_page() as opened:
        page.get_by_role("link", name="Print an empty check list").click()
    printed = opened.value
    expect(printed.locator("section")).to_have_count(2)
    assert printed.locator(".box").count() == 84 + 40
    printed.emulate_media(media="print", color_scheme="dark")
    style = "getComputedStyle(document.querySelector('td'))"
    colours = [printed.evaluate(f"{style}.{name}") for name in ("color", "backgroundColor")]
    assert colours == ["rgb(0, 0, 0)", "rgb(255, 255, 255)"]


def test_a_truck_can_be_walked_by_keyboard(page, truck):
    walk(page, truck)
    first = place(page, "tyre to frame").get_by_role("radio", name="Not yet")
    first.focus()
    first.press("ArrowRight")
    expect(place(page, "tyre to frame").get_by_role("radio", name="Pass")).to_be_checked()
    save(page).focus()
    save(page).press("Enter")
    expect(page.locator("#walk-answer")).to_contain_text("1 of 84 looked at")
