"""The dashboard without a browser: layouts, wiring, and figures against the answers they came from."""

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest
from dash.development.base_component import Component

from dashboard.adjust_nuts import room
from dashboard.app import create_app
from dashboard.entry import Form, check, doubts, next_run
from dashboard.figures import corner_figure
from dashboard.pages import adjust, corners, history, home, log, missing, sag, springs, travel, walk
from dashboard.pages import new as new_page
from dashboard.pages import truck as truck_page
from dashboard.source import Source
from dashboard.words import entry_length, length_range
from tests.dashboard_truck import IN, LBF, NAME, fill, readings, truck
from tuning.adjust import predict
from tuning.curve import corner_curve
from tuning.interval import Interval
from tuning.log.shelf import open_truck
from tuning.readings import Run, runs_of
from tuning.report.shared import odds
from tuning.truck import CORNERS
from tuning.units import parse

PAGES = (home, log, corners, adjust, springs, travel, sag, history, walk, truck_page, new_page, missing)


@pytest.fixture
def place(tmp_path):
    fill(str(tmp_path / "log.db"))
    return tmp_path / "log.db"


@pytest.fixture
def app(place):
    return create_app(place)


@pytest.fixture
def question(place):
    return Source(str(place)).question(NAME)


def key(id_):
    return json.dumps(id_, sort_keys=True) if isinstance(id_, dict) else id_


def ids_of(tree):
    found = [tree.id] if getattr(tree, "id", None) is not None else []
    return found + [part.id for part in tree._traverse() if getattr(part, "id", None) is not None]


def text_of(tree):
    if isinstance(tree, (list, tuple)):
        return " ".join(text_of(part) for part in tree)
    if not isinstance(tree, Component):
        return "" if tree is None else str(tree)
    own = [getattr(tree, name, None) for name in ("label", "description", "children")]
    return " ".join(text_of(part) for part in own)


def drawn(app, page, **query):
    with app.server.test_request_context("/"):
        return page.layout(**query)


# ---------------------------------------------------------------- layouts and wiring


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("query", [{}, {"truck": NAME}, {"truck": "nobody's"}, {"truck": ["a", "b"]}])
def test_no_layout_gives_an_id_twice(app, page, query):
    tree = drawn(app, page, **query)
    ids = [key(i) for i in [*ids_of(tree), *ids_of(app.layout())]]
    assert len(ids) == len(set(ids))


def test_every_callback_finds_its_ids(app, question):
    trees = [drawn(app, page, truck=NAME, corner=c) for page in PAGES for c in CORNERS]
    trees.append(corners.look_at(question, "LF", 1))
    ids = [i for tree in [*trees, app.layout()] for i in ids_of(tree)]
    plain = {i for i in ids if isinstance(i, str)}
    types = {i["type"] for i in ids if isinstance(i, dict)} | {
        "log-stack",
        "log-tick",
        "corners-clear",
        "springs-graph",
        "truck-again",
        "new-apart",
        "truck-apart",
        "truck-figures",
    }
    wired = app.server.test_client().get("/_dash-dependencies").get_json()
    own = [
        d
        for d in wired
        if not d["output"].startswith(("_pages", ".._pages")) and "_pages" not in json.dumps(d["inputs"])
    ]
    assert len(own) > len(PAGES)
    for dependency in own:
        for part in [*dependency["inputs"], *dependency["state"]]:
            if part["id"].startswith("{"):
                assert json.loads(part["id"])["type"] in types
            else:
                assert part["id"] in plain


def test_the_skeleton_that_dash_checks_ids_against_holds_every_plain_id_that_a_callback_names(app):
    skeleton = {i for page in PAGES for i in ids_of(drawn(app, page)) if isinstance(i, str)}
    full = {i for page in PAGES for i in ids_of(drawn(app, page, truck=NAME)) if isinstance(i, str)}
    wired = app.server.test_client().get("/_dash-dependencies").get_data(as_text=True)
    named = {i for i in full if f'"{i}"' in wired or f'"{i}.' in wired or f".{i}." in wired}
    assert {"log-store", "log-form"} <= named
    assert named <= skeleton


def test_two_apps_in_one_process_each_show_their_own_log(tmp_path):
    one, two = tmp_path / "one.db", tmp_path / "two.db"
    fill(str(one), name="First")
    fill(str(two), name="Second")
    apps = [create_app(path) for path in (one, two)]
    assert [("First" in text_of(drawn(a, home)), "Second" in text_of(drawn(a, home))) for a in apps] == [
        (True, False),
        (False, True),
    ]


def post(app, output, inputs, state, changed):
    body = {
        "output": output,
        "outputs": outputs_of(output),
        "inputs": inputs,
        "state": state,
        "changedPropIds": changed,
    }
    return app.server.test_client().post("/_dash-update-component", json=body)


def outputs_of(output):
    """As a browser names them: what a pattern stands for on the page."""
    found = []
    for part in output.strip(".").split("..."):
        id_, prop = part.rsplit(".", 1)
        if id_.startswith("{"):
            kind = json.loads(id_)["type"].removeprefix("adjust-")
            standing = CORNERS if kind == "out" else ("LF", "RF")
            found.append([{"id": adjust._id(kind, c), "property": prop} for c in standing])
        else:
            found.append({"id": id_, "property": prop})
    return found


def test_a_moved_slider_is_answered_over_http_with_what_the_core_predicts(app, question):
    turns = {"LF": 2.0, "RF": -1.0}
    answer = app.server.test_client().get("/adjust/try", query_string={"truck": NAME, **turns})
    assert answer.status_code == 200
    predicted = predict(question.fit, turns, draws=adjust.TRIAL_DRAWS)
    height = length_range(predicted.corners["LF"].height_after, "us")
    assert height in answer.get_data(as_text=True)
    assert "2 turns down the thread, raises" in str(answer.get_json())


@pytest.mark.parametrize("turns", ["nan", "inf", "-1e9", "banana", "", "0x10"])
def test_turns_that_no_thread_has_are_refused_in_a_sentence(app, turns):
    answer = app.server.test_client().get("/adjust/try", query_string={"truck": NAME, "LF": turns})
    assert answer.status_code == 400
    assert "reload the page" in answer.get_data(as_text=True)


@pytest.mark.parametrize(("query", "said"), [({"truck": "Nobody"}, "has no truck"), ({}, "has no truck")])
def test_a_slider_of_no_truck_is_answered_in_a_sentence(app, query, said):
    answer = app.server.test_client().get("/adjust/try", query_string=query)
    assert answer.status_code == 400
    assert said in answer.get_data(as_text=True)


# ---------------------------------------------------------------- errors are sentences


@pytest.mark.parametrize("page", [log, corners, adjust])
def test_an_unknown_truck_is_named_with_the_ones_there_are(app, page):
    text = text_of(drawn(app, page, truck="Day shift"))
    assert "has no truck 'Day shift'" in text
    assert NAME in text


def test_a_log_that_is_none_is_one_sentence(tmp_path):
    (tmp_path / "log.db").write_text("these are no readings, only words" * 50)
    text = text_of(drawn(create_app(tmp_path / "log.db"), home))
    assert "log.db" in text
    assert "Traceback" not in text


def test_a_truck_without_runs_says_what_to_read(tmp_path):
    fill(str(tmp_path / "log.db"), count=0)
    app = create_app(tmp_path / "log.db")
    for page in (corners, adjust):
        assert "ead all four corners" in text_of(drawn(app, page, truck=NAME))
    assert "The first of this truck." in text_of(drawn(app, log, truck=NAME))


def test_only_this_machines_own_names_are_answered_on_loopback(app):
    client = app.server.test_client()
    assert client.get("/", base_url="http://localhost:8050").status_code == 200
    assert client.get("/", base_url="http://127.0.0.1:8050").status_code == 200
    assert client.get("/", base_url="http://rebound.example:8050").status_code == 400


def test_an_empty_log_says_what_to_do(tmp_path):
    assert "tuning new truck.toml" in text_of(drawn(create_app(tmp_path / "log.db"), home))


def test_a_fault_of_ours_shows_no_traceback(app, monkeypatch):
    def broken(*_):
        raise ZeroDivisionError("secret")

    monkeypatch.setattr(log, "form", broken)
    text = text_of(drawn(app, log, truck=NAME))
    assert "Something went wrong" in text
    assert "secret" not in text


# ---------------------------------------------------------------- figures and words


@pytest.mark.parametrize("corner", CORNERS)
def test_the_figure_shows_the_line_band_and_readings_of_its_answer(question, corner):
    curve = corner_curve(question.fit, corner)
    figure = corner_figure(curve, "us")
    by_name = {trace.name: trace for trace in figure.data}
    assert np.allclose(np.array(by_name["fitted line"].y) * IN, curve.height)
    assert np.allclose(np.array(by_name["fitted line"].x) * LBF, curve.loads)
    band = np.array(by_name["90 % band of the line"].y) * IN
    assert np.allclose(band[: len(curve.high)], curve.high)
    assert np.allclose(band[len(curve.high) :][::-1], curve.low)
    points = by_name["readings, rolled and bounced"]
    assert np.allclose(sorted(np.array(points.y) * IN), sorted(p.height for p in curve.points))
    assert len(points.y) == 3
    assert ("crossover" in by_name) == (curve.crossover is not None)


def test_a_metric_figure_is_the_same_answer_in_millimetres_and_newtons(question):
    curve = corner_curve(question.fit, "LF")
    figure = corner_figure(curve, "metric")
    line = next(trace for trace in figure.data if trace.name == "fitted line")
    assert np.allclose(np.array(line.y) / 1000, curve.height)
    assert np.allclose(line.x, curve.loads)
    assert figure.layout.yaxis.title.text.endswith("(mm)")


@pytest.mark.parametrize(
    ("probability", "text"),
    [(0.0, "under 1 %"), (0.004, "under 1 %"), (0.5, "50 %"), (0.999, "over 99 %"), (1.0, "over 99 %")],
)
def test_odds_never_claim_to_be_certain(probability, text):
    assert odds(probability) == text


@pytest.mark.parametrize("text", ["22 1/2", "7/8", "1.0208", "0"])
def test_a_length_offered_in_a_field_reads_back_as_it_was(text):
    value = parse(text, "length", default_unit="in")
    assert parse(entry_length(value, "us"), "length", default_unit="in") == pytest.approx(value, abs=3e-6)


def test_a_range_has_its_unit_once():
    assert length_range(Interval(22.5 * IN, 22.41 * IN, 22.56 * IN), "us") == "22.41 to 22.56 in"


# ---------------------------------------------------------------- the form

FORM = Form(
    run="r4",
    taken_at="2025-06-01 10:00:00",
    settled="",
    note="after lunch",
    corners={
        "LF": {"height": "24 5/8", "load": "1220", "preload": "1", "stack": "200 over 300"},
        "RF": {"height": "24-3/4", "load": "1230 lbf", "preload": "1 1/4"},
        "LR": {"height": "503.2 mm", "load": ""},
        "RR": {"height": "20", "load": "1067"},
    },
)


def typed(form, corner, **fields):
    return replace(form, corners={**form.corners, corner: {**form.corners[corner], **fields}})


@pytest.fixture
def shelf(place):
    return open_truck(Source(str(place)).log, NAME)


def test_a_form_gives_the_readings_that_were_typed(shelf):
    found = check(FORM, shelf)
    assert found.faults == {}
    assert [r.corner for r in found.readings] == list(CORNERS)
    assert [r.height for r in found.readings] == pytest.approx([24.625 * IN, 24.75 * IN, 0.5032, 20 * IN])
    assert [r.preload for r in found.readings] == pytest.approx([IN, 1.25 * IN, None, None])
    assert found.readings[0].taken_at == datetime(2025, 6, 1, 10)


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("height", "22,5"),
        ("height", "x"),
        ("load", "12 in"),
        ("preload", "9"),
        ("preload", ""),
        ("height", ""),
    ],
)
def test_a_bad_field_is_told_at_its_corner_and_nothing_else(shelf, field, text):
    found = check(typed(FORM, "RF", **{field: text}), shelf)
    assert list(found.faults) == [("RF", field)]
    assert found.readings == ()


def test_a_run_of_another_day_is_not_added_to(shelf):
    assert "name of its own" in check(replace(FORM, run="r1"), shelf).faults["", "run"]


def test_a_corner_not_read_is_asked_about(shelf):
    found = check(typed(FORM, "LR", height=""), shelf)
    assert [one.text for one in doubts(found.readings, shelf).asked] == [
        "LR not read: save the other corners alone?"
    ]


def test_an_unlikely_height_is_questioned_and_a_likely_one_is_not(shelf):
    assert doubts(check(FORM, shelf).readings, shelf).asked == ()
    found = doubts(check(typed(FORM, "RF", height="34 3/4"), shelf).readings, shelf)
    assert list(found.doubted) == [1]
    assert found.doubted[1].startswith("RF height 34 3/4 in")


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        ([], "r1"),
        (["r1", "r2"], "r3"),
        (["r9"], "r10"),
        (["May"], "May 2"),
        (["r3", "r1"], "r2"),
        (["2", "1"], "3"),
    ],
)
def test_the_next_run_gets_a_name_that_is_free(names, expected):
    runs = [Run(name, datetime(2025, 1, 1 + i), ()) for i, name in enumerate(names)]
    assert next_run(tuple(runs)) == expected


def test_sliders_stay_on_the_thread_and_reach_both_its_ends(place):
    built = truck()
    question = Source(str(place)).question(NAME)
    low, high, step = room(question.fit, "LF", 0.0)
    adjuster = built.corners["LF"].adjuster
    now = question.fit.preload[0]
    assert (
        adjuster.preload_min - 1e-9
        <= now + low * adjuster.travel_per_turn
        < adjuster.preload_min + step * IN / 12
    )
    assert (
        adjuster.preload_max - step * IN / 12
        < now + high * adjuster.travel_per_turn
        <= adjuster.preload_max + 1e-9
    )


# ---------------------------------------------------------------- the source


def test_a_fit_is_made_once_for_each_state_of_the_log(place, monkeypatch):
    made = []
    real = adjust.source.__globals__["fit"]
    monkeypatch.setitem(adjust.source.__globals__, "fit", lambda *a: made.append(1) or real(*a))
    shop = Source(str(place))
    with ThreadPoolExecutor(4) as pool:
        fits = list(pool.map(lambda _: shop.question(NAME).fit, range(8)))
    assert len(made) == 1
    assert all(one is fits[0] for one in fits)
    shop.log.doubt(1, "tape slipped")
    assert shop.question(NAME).fit is not fits[0]


def test_the_test_truck_reads_like_a_truck():
    assert [run.name for run in runs_of(readings())] == ["r1", "r2", "r3"]
