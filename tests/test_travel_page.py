"""The travel page without a browser: addresses, fields, words and figures against the answers they came from."""

import json
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from dashboard.app import create_app
from dashboard.pages import travel as page
from dashboard.travel_cards import check_cards, position_table
from dashboard.travel_figures import (
    CURVE_HEIGHT,
    CURVE_MARGIN,
    FOOT,
    HEAD,
    LINE,
    TALL,
    WIDTH,
    shock_figure,
    spread,
    travel_figure,
)
from sample_runs import NAMES, path
from tests.dashboard_truck import NAME, fill
from tests.test_dashboard import drawn, ids_of, key, text_of
from tests.truth.trucks import IN, LBF
from tuning.drawing import drawing
from tuning.fit import fit
from tuning.log.files import read_readings_file
from tuning.log.store import Log
from tuning.readings import runs_of
from tuning.travel import travel
from tuning.travel_curve import travel_curve
from tuning.truck import CORNERS, Spring
from tuning.truckfile import load_truck
from tuning.units import shop_length

LETTER = 7.0  # px of width that a letter of 12 px takes on average, and some to spare


@pytest.fixture(scope="module")
def fits():
    trucks = {name: load_truck(path(name) / "truck.toml") for name in NAMES}
    return {
        name: fit(truck, runs_of(read_readings_file(path(name) / "readings.csv", truck)))
        for name, truck in trucks.items()
    }


@pytest.fixture
def app(tmp_path):
    fill(str(tmp_path / "log.db"))
    return create_app(tmp_path / "log.db")


# ---------------------------------------------------------------- the page


@pytest.mark.parametrize(
    "query", [{}, {"corner": "LR"}, {"turns": "LF=2,RF=-1 1/4"}, {"corner": "RF", "turns": "LF=x"}]
)
def test_the_page_has_every_id_once_and_all_that_its_callbacks_name(app, query):
    found = [key(i) for i in ids_of(drawn(app, page, truck=NAME, **query))]
    assert len(found) == len(set(found))
    assert {"travel-store", "travel-corners", "travel-body", "travel-advised", "travel-today"} <= set(found)
    assert {"travel-store", "travel-body"} <= {i for i in ids_of(drawn(app, page)) if isinstance(i, str)}


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"truck": "Day shift"}, "has no truck 'Day shift'"),
        ({"truck": NAME, "corner": "XX"}, "There is no corner XX. Corners are LF, RF, LR and RR."),
        ({"truck": NAME, "corner": "<b>" * 40}, "There is no corner <b><b>"),
        (
            {"truck": NAME, "turns": "XX=2"},
            'The address asks for the turns "XX=2". Write turns=LF=2,RF=-1 1/4.',
        ),
        ({"truck": NAME, "turns": "=;=" * 50}, "The address asks for the turns"),
        (
            {"truck": NAME, "turns": "LF=soon"},
            'Left out: LF turns. "soon" is not a number. Write 2, 1 1/4 or -0.5.',
        ),
        ({"truck": NAME, "turns": "LF=1e999"}, "is not a number"),
        ({"truck": NAME, "turns": "LF=400"}, "No thread has a hundred turns."),
        ({"truck": [NAME, "x"], "corner": ["LF", "RF"]}, "LF left front"),
    ],
)
def test_rubbish_in_the_address_is_one_sentence(app, query, said):
    text = text_of(drawn(app, page, **query))
    assert said in text
    assert "Something went wrong" not in text


def test_turns_at_a_corner_without_a_nut_are_none_of_the_page(app):
    assert "no adjuster" not in text_of(drawn(app, page, truck=NAME, turns="LR=2"))


def test_a_truck_without_runs_says_what_to_read(tmp_path):
    fill(str(tmp_path / "log.db"), count=0)
    assert "ead all four corners" in text_of(drawn(create_app(tmp_path / "log.db"), page, truck=NAME))


def test_an_empty_log_says_what_to_do(tmp_path):
    Log.open(tmp_path / "log.db")
    assert "tuning new truck.toml" in text_of(drawn(create_app(tmp_path / "log.db"), page))


def asked(app, output, inputs, state, changed):
    """A callback over HTTP, its outputs named as a browser would."""
    wired = app.server.test_client().get("/_dash-dependencies").get_json()
    name = next(d["output"] for d in wired if output in d["output"] and "travel" in json.dumps(d["inputs"]))
    outputs = []
    for part in name.strip(".").split("..."):
        id_, prop = part.rsplit(".", 1)
        if id_.startswith("{"):
            outputs.append([{"id": page._id(c), "property": prop} for c in ("LF", "RF")])
        else:
            outputs.append({"id": id_, "property": prop})
    body = {
        "output": name,
        "outputs": outputs if len(outputs) > 1 else outputs[0],
        "inputs": inputs,
        "state": state,
        "changedPropIds": [changed],
    }
    answer = app.server.test_client().post("/_dash-update-component", json=body)
    assert answer.status_code == 200
    return {id_.replace(" ", ""): props for id_, props in answer.get_json()["response"].items()}


def named(corner):
    """A field's id as the answer has it."""
    return key(page._id(corner)).replace(" ", "")


def fields(prop, values):
    return [
        {"id": page._id(c), "property": prop, "value": v} for c, v in zip(("LF", "RF"), values, strict=True)
    ]


def store(corner="LF"):
    value = {"truck": NAME, "corner": corner}
    return {"id": "travel-store", "property": "data", "value": value}


def test_typed_turns_are_answered_with_what_the_core_says(app):
    ids = fields("id", [page._id("LF"), page._id("RF")])
    response = asked(
        app,
        "travel-body",
        [fields("value", ["1 1/2", "x"])],
        [ids, store()],
        f"{key(page._id('LF'))}.value",
    )
    body = json.dumps(response["travel-body"], ensure_ascii=False)
    with app.server.app_context():
        from dashboard.source import source

        answer = travel(source().question(NAME).fit, {"LF": 1.5}, draws=page.TRIAL_DRAWS)
    assert shop_length(answer.corners["LF"].height.mean, "us") in body
    assert "with these turns" in body
    assert "Left out: RF turns." in body
    assert "is not a number" in response[named("RF")]["error"]
    assert response[named("LF")]["error"] == ""
    assert "turns=LF%3D1+1%2F2" in json.dumps(response["travel-corners"])


def test_the_buttons_put_in_the_advised_turns_and_take_them_out(app):
    ids = fields("id", [page._id("LF"), page._id("RF")])
    clicks = [{"id": f"travel-{b}", "property": "n_clicks", "value": 1} for b in ("advised", "today")]
    with app.server.app_context():
        from dashboard.source import source

        advice = source().question(NAME).advice
    response = asked(app, ".value", clicks, [ids, store()], "travel-advised.n_clicks")
    assert [float(response[named(c)]["value"]) for c in ("LF", "RF")] == [
        advice.corners[c].turns for c in ("LF", "RF")
    ]
    response = asked(app, ".value", clicks, [ids, store()], "travel-today.n_clicks")
    assert [response[named(c)]["value"] for c in ("LF", "RF")] == ["", ""]


# ---------------------------------------------------------------- words


def test_attention_comes_before_what_was_not_measured_and_that_before_what_passes(fits):
    found = travel(fits["hill_pony"], draws=20).corners["LF"].checks
    open_ones = [replace(c, ok=None) if "strap" in c.name else c for c in found]
    cards = check_cards(sorted(open_ones, key=lambda c: {False: 0, None: 1, True: 2}[c.ok]), "us")
    text = text_of(cards)
    places = [text.index(words) for words in ("Attention: shock upright", "Not measured:", "pass ")]
    assert places == sorted(places)
    assert "7.00 deg" in text


def test_the_table_names_each_unit_once_and_keeps_the_figures(fits):
    corner = travel(fits["night_shift"], draws=20).corners["LF"]
    text = " ".join(text_of(position_table(corner, "us")).split())
    assert "shaft showing (in) 0.99" in text
    assert "rate at the shock (lbf/in)" in text
    assert "at work lower (on ring) both both both" in text
    assert " in " not in text.replace("(in)", "")


# ---------------------------------------------------------------- figures


def boxes(figure, scale, px):
    """Where each label of a figure stands, in px: (text, left, right, bottom, top)."""
    found = []
    for note in figure.layout.annotations:
        lines = note.text.replace("<b>", "").replace("</b>", "").split("<br>")
        wide, tall = max(map(len, lines)) * LETTER, LINE * len(lines)
        x, y = note.x * px - 0.0, note.y * scale - (note.ay or 0.0)
        x += note.ax or 0.0
        left = x - wide if note.xanchor == "right" else x
        found.append((note.text, left, left + wide, y - tall / 2, y + tall / 2))
    return found


def overlaps(found):
    return [
        (a[0], b[0])
        for a, b in combinations(found, 2)
        if a[1] < b[2] and b[1] < a[2] and a[3] < b[4] - 1 and b[3] < a[4] - 1
    ]


TURNS = [{}, {"LF": 6, "RF": -3}, {"LF": 40}, {"LF": -30, "RF": -30}]


@pytest.mark.parametrize("turns", TURNS)
@pytest.mark.parametrize("name", NAMES)
def test_no_label_lies_on_another_in_either_figure(fits, name, turns):
    fitted = fits[name]
    answer = travel(fitted, turns, draws=20)
    for corner in CORNERS:
        shock = fitted.truck.corners[corner].shock
        if shock is None:
            continue
        figure = shock_figure(answer.corners[corner], shock.stroke, fitted.truck.units)
        low, high = figure.layout.yaxis.range
        scale = (TALL + HEAD + FOOT) / (high - low)
        found = boxes(figure, scale, scale)
        assert overlaps(found) == []
        assert all(right <= WIDTH + LETTER for _, _, right, _, _ in found)
        assert all(low * scale <= bottom and top <= high * scale for *_, bottom, top in found)
        curve = travel_curve(fitted, corner, turns)
        figure = travel_figure(curve, fitted.truck.units)
        low, high = figure.layout.yaxis.range
        scale = (CURVE_HEIGHT - CURVE_MARGIN["t"] - CURVE_MARGIN["b"]) / (high - low)
        across = (342 - CURVE_MARGIN["l"] - CURVE_MARGIN["r"]) / figure.layout.xaxis.range[1]
        assert overlaps(boxes(figure, scale, across)) == []


def test_the_drawing_is_true_to_scale(fits):
    fitted = fits["night_shift"]
    corner = travel(fitted, draws=20).corners["LF"]
    figure = shock_figure(corner, 12 * IN, "us")
    assert figure.layout.yaxis.scaleanchor == "x"
    low, high = figure.layout.yaxis.range
    # One metre is as many pixels across as up, on a phone's page too.
    assert (high - low) / (TALL + HEAD + FOOT) == pytest.approx(figure.layout.xaxis.range[1] / WIDTH)
    springs = [np.ptp(trace.y) for trace in figure.data]
    expected = []
    for place in ("bump", "ride", "strap"):
        position = corner.positions[place]
        expected += [position.upper_length, position.lower_length]
    assert springs == pytest.approx(expected)


def test_the_drawing_writes_the_figures_of_the_answer(fits):
    corner = travel(fits["night_shift"], draws=20).corners["LF"]
    text = " ".join(note.text for note in shock_figure(corner, 12 * IN, "us").layout.annotations)
    ride = corner.positions["ride"]
    for value in (ride.upper_length, ride.lower_length, ride.shaft, ride.ring_distance):
        assert f"{value / IN:.2f} in" in text
    assert f"{ride.upper_left / IN:.2f} left" in text
    assert "on ring" in text  # at full bump


def test_travel_that_is_missing_is_written_as_short(fits):
    corner = travel(fits["night_shift"], {"LF": 60}, draws=20).corners["LF"]
    text = " ".join(note.text for note in shock_figure(corner, 12 * IN, "us").layout.annotations)
    assert f"{-corner.positions['bump'].lower_left / IN:.2f} short" in text


def test_loose_springs_stand_on_the_perch_under_a_gap(fits):
    corner = travel(fits["night_shift"], {"LF": -41}, draws=20).corners["LF"]
    one = drawing(corner.positions["strap"], corner.stack, 12 * IN)
    assert one.loose[1] - one.loose[0] == pytest.approx(corner.positions["strap"].loose)
    assert one.upper[1] - one.lower[0] == pytest.approx(corner.stack.free_length)


def test_without_lengths_there_is_a_sentence_for_a_drawing(fits):
    fitted = fits["market_van"]
    own = replace(
        fitted.truck.corners["LF"], stack=replace(fitted.stacks[0], lower=Spring(fitted.stacks[0].lower.rate))
    )
    changed = replace(
        fitted,
        stacks=(own.stack, *fitted.stacks[1:]),
        truck=replace(fitted.truck, corners={**fitted.truck.corners, "LF": own}),
    )
    body, _, _ = page.looked_at(changed, "Market van", "LF", {"LF": "", "RF": ""})
    assert "There is no drawing: write free_length" in text_of(body)


@pytest.mark.parametrize("system", ["us", "metric"])
def test_the_load_figure_is_the_curve_in_the_owners_units(fits, system):
    curve = travel_curve(fits["night_shift"], "LF")
    figure = travel_figure(curve, system)
    length, force = (IN, LBF) if system == "us" else (0.001, 1.0)
    assert np.allclose(np.array(figure.data[0].y) * length, curve.height)
    assert np.allclose(np.array(figure.data[0].x) * force, curve.load)
    named = {note.text for note in figure.layout.annotations}
    assert named == {event.name for event in curve.events}


# ---------------------------------------------------------------- labels in their places


def by_a_general_solver(wanted, sizes):
    """Least squared moves without overlap, by scipy."""
    gaps = (np.array(sizes[:-1]) + np.array(sizes[1:])) / 2
    held = {"type": "ineq", "fun": lambda v: np.diff(v) - gaps}
    start = wanted[0] + np.concatenate([[0], np.cumsum(np.maximum(np.diff(wanted), gaps))])
    return minimize(
        lambda v: ((v - wanted) ** 2).sum(),
        start,
        constraints=[held],
        method="SLSQP",
        options={"ftol": 1e-12},
    ).x


@settings(deadline=None, derandomize=True, max_examples=60)
@given(st.lists(st.tuples(st.floats(0, 300), st.floats(10, 50)), min_size=1, max_size=6))
def test_labels_are_spread_as_a_general_solver_spreads_them(labels):
    wanted = sorted(place for place, _ in labels)
    sizes = [size for _, size in labels]
    found = spread(wanted, sizes)
    assert np.all(np.diff(found) >= (np.array(sizes[:-1]) + np.array(sizes[1:])) / 2 - 1e-9)
    best = by_a_general_solver(np.array(wanted), sizes) if len(wanted) > 1 else np.array(wanted)
    assert ((np.array(found) - wanted) ** 2).sum() <= ((best - wanted) ** 2).sum() + 1e-3
