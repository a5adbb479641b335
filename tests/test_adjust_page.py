"""The adjust page without a browser: its drawing, turns that were tried, and the way to the next run."""

from dataclasses import replace
from urllib.parse import parse_qs, urlsplit

import pytest
from dash import dcc, html

from dashboard.app import create_app
from dashboard.pages import adjust
from dashboard.plan_view import REACH, drawn, gauge, plan
from dashboard.source import Source
from tests.dashboard_truck import IN, NAME, fill, readings
from tests.test_dashboard import text_of
from tuning.adjust import predict
from tuning.interval import Interval
from tuning.truck import CORNERS
from tuning.units import parse


@pytest.fixture
def place(tmp_path):
    fill(str(tmp_path / "log.db"))
    return tmp_path / "log.db"


@pytest.fixture
def question(place):
    return Source(str(place)).question(NAME)


def tried(place, **turns):
    client = create_app(place).server.test_client()
    return client.get("/adjust/try", query_string={"truck": NAME, **turns}).get_json()


def advised(question):
    return {c: a.turns for c, a in question.advice.corners.items() if a.turns is not None}


# ---------------------------------------------------------------- the drawing


def test_the_advised_turns_tried_give_the_picture_the_page_began_with(place, question):
    began = drawn(plan(question.advice, question.truck))
    found = tried(place, **advised(question))["drawn"]
    assert {name: found[name] for name in began} == began


def test_every_live_part_of_a_page_is_told_by_an_answer(place, question):
    page = adjust.page(NAME, "", question.fit, question.advice)
    assert set(drawn(page)) == set(tried(place, LF=1, RF=2)["drawn"])


@pytest.mark.parametrize("off", [-9.0, -3.0, -1.01, -0.99, 0.0, 0.4, 1.01, 2.0, 50.0])
def test_a_mark_is_inside_its_lane_just_where_the_length_is_inside_its_tolerance(off):
    value = Interval(22.0 + off / 8, 22.0 + off / 8 - 0.05, 22.0 + off / 8 + 0.05)
    lane, spread, at = gauge("LF", value, 22.0, 1 / 8).children
    left, width = (float(lane.style[side].rstrip("%")) for side in ("left", "width"))
    place = float(at.style["left"].rstrip("%"))
    assert (left <= place <= left + width) == (abs(off) <= 1) == ("inside" in at.className)
    assert 0 <= place <= 100
    assert 0 <= float(spread.style["left"].rstrip("%")) <= 100
    if abs(off) <= REACH:  # to scale: half the gauge is so many tolerances
        assert place == pytest.approx(50 + 50 * off / REACH, abs=0.051)


def test_higher_is_up_and_lower_is_down_in_sign_and_words(place):
    high, low = (tried(place, LF=turns, RF=turns)["drawn"] for turns in (20, -8))
    assert (high["LF sign"][0], low["LF sign"][0]) == ("▲", "▼")
    assert high["LF off"][0].endswith("high")
    assert low["LF off"][0].endswith("low")
    assert "outside" in high["LF verdict"][0]


def test_turns_of_ones_own_are_never_called_the_best_trade(place):
    notes = str(tried(place, LF=8, RF=-4.25)["notes"])
    assert "Outside tolerance with these turns" in notes
    assert "best trade" not in notes


# ---------------------------------------------------------------- done


def finished(app, turns, store):
    with app.server.test_request_context("/"):
        return html.Div(adjust.done({"turns": turns, "at": "2025-06-01 10:00"}, store))


@pytest.fixture
def store(question):
    page = html.Div(adjust.page(NAME, "", question.fit, question.advice))
    return next(part.data for part in page._traverse() if getattr(part, "id", None) == "adjust-store")


def test_done_takes_the_preload_of_every_nut_along_as_it_was_really_turned(place, question, store):
    made = {"LF": 1.25, "RF": 0}
    link = next(
        part for part in finished(create_app(place), made, store)._traverse() if isinstance(part, dcc.Link)
    )
    address = urlsplit(link.href)
    query = {name: value[0] for name, value in parse_qs(address.query).items()}
    assert address.path == "/log"
    assert query["truck"] == NAME
    adjuster = question.truck.corners["LF"].adjuster
    for corner, turns in made.items():
        said = parse(query[f"preload_{corner}"], "length", default_unit="in")
        before = next(r.preload for r in readings() if r.run == "r3" and r.corner == corner)
        assert said == pytest.approx(before + turns * adjuster.travel_per_turn, abs=1e-4 * IN)
    assert query["note"] == "Turned LF 1¼ turns down the thread, raises, 2025-06-01 10:00"


@pytest.mark.parametrize("turns", [{}, {"LF": 0, "RF": 0.0}])
def test_nothing_counted_leads_nowhere(place, store, turns):
    found = finished(create_app(place), turns, store)
    assert "Nothing is counted yet" in text_of(found)
    assert not [part for part in found._traverse() if isinstance(part, dcc.Link)]


def test_turns_counted_from_an_earlier_run_are_not_taken_for_those_of_a_later_one(place, store):
    later = [replace(r, run="r4") for r in readings() if r.run == "r3"]
    Source(str(place)).log.add_readings(NAME, later)
    found = finished(create_app(place), {"LF": 1.0}, store)
    assert "r4 was logged since" in text_of(found)
    assert not [part for part in found._traverse() if isinstance(part, dcc.Link)]


def test_what_to_expect_does_not_depend_on_the_order_in_which_nuts_are_named(question):
    one, two = (
        predict(question.fit, dict(pairs)) for pairs in ([("LF", 1), ("RF", 2)], [("RF", 2), ("LF", 1)])
    )
    assert [one.corners[c].height_after for c in CORNERS] == [two.corners[c].height_after for c in CORNERS]
