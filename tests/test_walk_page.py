"""The cycle walk's page without a browser: its form read, its saves, its printed sheet."""

import re
from dataclasses import replace

import pytest

import sample_runs
from dashboard.app import create_app
from dashboard.pages import walk
from dashboard.walk_form import Form, Station, check, places_here, rows_here, texts_of
from dashboard.walk_sheet import sheet
from dashboard.walk_state import end_state, first_left, left_at, station_words
from tests.test_dashboard import drawn, ids_of, key, text_of
from tuning.findings import Finding, Measured
from tuning.log.intake import take_in
from tuning.log.store import Log
from tuning.log.walk_file import read_walk
from tuning.log.walk_intake import record_file
from tuning.truckfile import read_truck
from tuning.walk import progress, stations

IN = 0.0254
NAME = "Night shift"
FOLDER = sample_runs.path("night_shift")
TRUCK = read_truck((FOLDER / "truck.toml").read_text("utf-8"))
WALK = read_walk((FOLDER / "walk.csv").read_text("utf-8"), TRUCK)
BUMP = Station("front", "bump", "straight")
AT_LOCK = Station("front", "right up", "left lock")  # what the sample walk has left to do
FENDER = "tyre to fender"


@pytest.fixture
def log(tmp_path):
    """Night shift, walked; Market van and an empty-handed pony, not walked."""
    log = Log.open(tmp_path / "log.db")
    for name in sample_runs.NAMES:
        take_in(log, str(sample_runs.path(name) / "truck.toml"), None, confirm=True)
    record_file(log, NAME, str(FOLDER / "walk.csv"))
    return log


@pytest.fixture
def app(log, tmp_path):
    return create_app(tmp_path / "log.db")


def form(station, typed, shown=None, by="Wren", units="us"):
    """As drawn for nothing found yet, and typed over."""
    places = places_here(TRUCK, station)
    blank = {place: {"result": "open", "clearance": "", "note": "", "photo": ""} for place in places}
    drawn_as = blank | {"": {"height": "", "shaft": ""}} | (shown or {})
    full = {place: texts | typed.get(place, {}) for place, texts in drawn_as.items()}
    return Form(station, full, drawn_as, "2024-03-01T20:00:00", by, units)


# ---------------------------------------------------------------- the form


def test_only_what_was_changed_is_read():
    assert check(form(BUMP, {}), TRUCK).rows == ()
    read = check(form(BUMP, {FENDER: {"result": "pass", "clearance": " 1 1/4 "}}), TRUCK)
    (row,) = read.rows
    assert (row.key, row.clearance, row.by) == (("front", "bump", "straight", FENDER), 1.25 * IN, "Wren")
    assert row.taken_at.isoformat() == "2024-03-01T20:00:00"


def test_lengths_are_read_in_what_the_form_was_drawn_in_whatever_the_truck_file_says_by_now():
    typed = {FENDER: {"result": "pass", "clearance": "1 1/4"}, "": {"height": "16 1/2", "shaft": "3/4"}}
    inches = check(form(BUMP, typed), TRUCK).rows
    assert check(form(BUMP, typed), replace(TRUCK, units="metric")).rows == inches
    millimetres = {
        FENDER: {"result": "pass", "clearance": "31.75"},
        "": {"height": "419.1", "shaft": "19.05"},
    }
    read = check(form(BUMP, millimetres, units="metric"), TRUCK).rows
    assert [row.key for row in read] == [row.key for row in inches]
    assert read[0].clearance == pytest.approx(inches[0].clearance)


def test_taking_a_result_back_opens_the_place_again_and_emptying_the_pair_takes_it_back():
    shown = {FENDER: {"result": "pass", "clearance": "1", "note": "", "photo": ""}}
    opened = {FENDER: {"result": "open", "clearance": ""}}
    (row,) = check(form(BUMP, opened, shown), TRUCK).rows
    assert (row.result, row.clearance) == ("open", None)
    measured = {"": {"height": "16 1/2", "shaft": "3/4"}}
    (pair,) = check(form(BUMP, {"": {"height": "", "shaft": ""}}, measured), TRUCK).rows
    assert isinstance(pair, Measured)
    assert pair.height is None


@pytest.mark.parametrize(
    ("place", "typed", "field", "message"),
    [
        (FENDER, {"result": "pass", "clearance": "1,5"}, "clearance", "is not a length.*1/2 in"),
        (FENDER, {"result": "pass", "clearance": "-1"}, "clearance", "not plausible"),
        (FENDER, {"result": "contact", "clearance": "1"}, "clearance", "With contact there is no clearance"),
        (FENDER, {"clearance": "1"}, "result", "Say pass or contact"),
        (FENDER, {"note": "rubs"}, "result", "Say pass or contact"),
        (FENDER, {"result": "pass", "photo": "/sd/1.jpg"}, "photo", "is not a file's name"),
        (FENDER, {"result": "pass", "note": "x" * 2001}, "note", "Keep it under 2000"),
        ("", {"height": "16 1/2"}, "shaft", "Empty"),
        ("", {"height": "16 1/2 lbf", "shaft": "1"}, "height", "is not a length"),
        ("", {"height": "<script>", "shaft": "1"}, "height", "is not a length"),
    ],
)
def test_a_fault_is_said_at_its_field(place, typed, field, message):
    checked = check(form(BUMP, {place: typed}), TRUCK)
    assert checked.rows == ()
    assert re.search(message, checked.faults[place, field])


def test_what_is_in_the_log_is_drawn_so_that_nothing_counts_as_changed():
    for end in ("front", "rear"):
        for position, steering in stations(end):
            station = Station(end, position, steering)
            here = rows_here(WALK, station)
            shown = {place: texts_of(place, row, TRUCK) for place, row in here.items()}
            assert check(Form(station, shown, shown, "2024-03-01", "", "us"), TRUCK).rows == ()


def test_the_page_opens_where_something_is_missing():
    answer = progress(TRUCK, WALK)
    assert first_left(answer.ends["front"]) == ("right up", "left lock")
    assert left_at(answer.ends["front"]) == {("right up", "left lock")}
    empty = progress(TRUCK, [])
    assert len(left_at(empty.ends["front"])) == 12  # every place to look, none left out
    assert station_words(AT_LOCK) == "Front: right wheel up, left down; steering at left lock"


def test_the_browser_is_told_of_every_position_what_is_filled_in_there_and_what_the_log_has():
    for rows in ((), WALK):
        answer = progress(TRUCK, rows)
        for end in ("front", "rear"):
            state = end_state(TRUCK, rows, answer, end)
            assert [(one["position"], one["steering"]) for one in state["stations"]] == list(stations(end))
            assert (
                sum(len([p for p in one["wanted"] if p]) for one in state["stations"])
                == answer.ends[end].asked
            )
            found = [
                t for one in state["stations"] for p, t in one["shown"].items() if p and t["result"] != "open"
            ]
            assert len(found) == answer.ends[end].done
            pairs = [one["shown"][""] for one in state["stations"] if "" in one["wanted"]]
            assert sum(bool(pair["height"] and pair["shaft"]) for pair in pairs) == len(
                answer.ends[end].measured
            )


# ---------------------------------------------------------------- the page


@pytest.mark.parametrize(
    "query", [{}, {"truck": NAME}, {"truck": "Market van", "end": "rear"}, {"truck": ["a", "b"]}]
)
def test_no_layout_gives_an_id_twice_and_each_has_what_callbacks_hang_on_to(app, query):
    ids = [key(i) for i in ids_of(drawn(app, walk, **query))]
    assert len(ids) == len(set(ids))
    if query.get("truck") != ["a", "b"]:
        wanted = {
            "walk-store",
            "walk-by",
            "walk-save",
            "walk-answer",
            "walk-form",
            "walk-height",
        }
        assert wanted <= set(ids)


@pytest.mark.parametrize(
    ("query", "message"),
    [
        ({"truck": "Day shift"}, "has no truck 'Day shift'. It has:"),
        ({"truck": NAME, "end": "middle"}, "'middle' is no end of a truck. Go on with front or rear."),
        ({"truck": NAME, "position": "bmp"}, "The front is not walked at 'bmp'. Positions are bump, low"),
        (
            {"truck": NAME, "end": "rear", "position": "bump", "steering": "straight"},
            "not walked at 'bump' with",
        ),
        ({"truck": NAME, "position": "<b>"}, "is not walked at '<b>'"),
    ],
)
def test_rubbish_in_the_address_is_one_sentence(app, query, message):
    text = text_of(drawn(app, walk, **query))
    assert message in text
    assert "Traceback" not in text


def test_every_page_shows_the_cautions(app):
    for query in ({"truck": NAME}, {"truck": "Market van", "end": "rear", "position": "droop"}):
        text = text_of(drawn(app, walk, **query))
        for word in ("stands", "springs out", "brake hoses", "Hands"):
            assert word in text


def test_a_leaf_end_has_nothing_to_measure_and_a_shock_end_has(app):
    def measured(**query):
        tree = drawn(app, walk, truck="Market van", **query)
        store = next(part.data for part in tree._traverse() if getattr(part, "id", None) == "walk-store")
        return "" in store["state"]["stations"][store["at"]]["wanted"]

    assert measured(end="front", position="bump")
    assert not measured(end="rear", position="bump")
    assert not measured(end="front", position="bump", steering="left lock")


# ---------------------------------------------------------------- on paper


def test_the_printed_sheet_has_a_box_for_what_is_missing_and_the_finding_for_what_is_not():
    answer = progress(TRUCK, WALK)
    page = sheet(answer, TRUCK)
    assert page.count('class="box"') == sum(end.asked - end.done for end in answer.ends.values())
    assert page.count("CONTACT") == 1
    assert page.count("✓") == sum(len(end.clear) + len(end.close) for end in answer.ends.values())
    empty = progress(TRUCK, [])
    assert sheet(empty, TRUCK).count('class="box"') == sum(end.asked for end in empty.ends.values())


def test_what_people_wrote_is_text_on_the_sheet_and_never_markup():
    nasty = Finding(
        "front", "bump", "straight", FENDER, "contact", note="<script>alert(1)</script>", photo="<b>.jpg"
    )
    page = sheet(progress(replace(TRUCK, name="<i>"), [nasty]), replace(TRUCK, name="<i>"))
    assert "<script>" not in page
    assert "<b>" not in page
    assert "<i>" not in page
    assert "&lt;script&gt;" in page


def test_the_sheet_is_served_and_an_unknown_truck_is_a_sentence(app):
    client = app.server.test_client()
    found = client.get("/print/walk", query_string={"truck": NAME})
    assert (found.status_code, found.mimetype) == (200, "text/html")
    assert "CONTACT" in found.get_data(as_text=True)
    assert "CONTACT" not in client.get("/print/walk", query_string={"truck": NAME, "blank": "1"}).get_data(
        as_text=True
    )
    for query in ({"truck": "<script>"}, {}):
        missing = client.get("/print/walk", query_string=query)
        assert (missing.status_code, missing.mimetype) == (404, "text/plain")
        assert "has no truck" in missing.get_data(as_text=True)
