"""What is said of where the height went: no loss without its reason, parts that add up, no turns that don't help.

Truth by the tests' own statics (`tests/truth/rest.py`).
"""

import re
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.sag_cards import sag_cards
from sample_runs import path
from tests.test_dashboard import text_of
from tests.test_sag import DAYS, NONE, answer, box, log, set_at_rf
from tests.truth import rest
from tests.truth.trucks import IN, LBF
from tests.truth.years import settling
from tuning.fit import fit
from tuning.log.files import read_readings_file
from tuning.readings import runs_of
from tuning.report.sag import corner_words, sag_document, sag_text
from tuning.report.sag_words import _adding_up, verdict_words, where_it_went
from tuning.sag.answer import sag
from tuning.sag.next_step import next_steps
from tuning.sag.parts import _verdict
from tuning.truck import CORNERS, Target
from tuning.truckfile import load_truck

LF, RF, LR, RR = range(4)
TURNED = -0.6 * IN  # of LF's nut


def nut_at_lf(size=TURNED):
    preload = np.full((25, 4), 1.2 * IN)
    preload[12:, LF] += size
    return preload


@pytest.fixture(scope="module")
def turned():
    return log(preload=nut_at_lf())


@pytest.fixture(scope="module")
def turned_answer(turned):
    return answer(turned)


# ---------------------------------------------------------------- load that a nut has shifted


def test_what_one_nut_has_shifted_onto_each_wheel_is_what_statics_say(turned, turned_answer):
    machine, load = turned.real.machine, turned.life.load.at(-1)
    wheels = [rest.settle(machine, load, turned.life.preload[i]).wheels for i in (0, -1)]
    for i, corner in enumerate(CORNERS):
        parts = turned_answer.corners[corner].parts
        assert [(cause.corner, cause.what) for cause in parts.shifted_by] == [("LF", "nut")]
        assert parts.load_shifted.mean == pytest.approx(wheels[1][i] - wheels[0][i], rel=0.15)
        assert parts.from_shift.mean == pytest.approx(parts.from_load.mean, abs=0.0015)


@pytest.mark.parametrize("weighed", [True, False])
def test_no_weight_and_no_unknown_loss_is_told_where_only_a_nut_was_turned(weighed):
    found = answer(log(preload=nut_at_lf(), weighed=weighed)).corners
    assert [found[c].verdict for c in CORNERS] == ["steady"] * 4


def test_steady_never_stands_beside_a_clear_loss_without_its_reason(turned, turned_answer):
    lower = [c for c in CORNERS if turned_answer.corners[c].parts.height_lost.low > 0]
    assert {"LF", "RF", "LR"} <= set(lower)  # the truth: they stand lower by more than a sixteenth
    table = sag_text(turned_answer, {}, turned.truck, [])
    for corner in lower:
        nut = "its own nut" if corner == "LF" else "LF's nut"
        parts = turned_answer.corners[corner].parts
        assert parts.verdict == "steady"
        assert verdict_words(corner, parts).startswith(f"steady but for {nut}")
        assert f"steady but for {nut}" in table
        load = round(abs(parts.load_shifted.mean) / LBF)
        assert f"{load} lbf that {nut} shifted" in where_it_went(corner, "r1", parts, "us")
    document = sag_document(turned_answer, {}, turned.truck, [])["corners"]["RF"]
    assert document["verdict"] == "steady"
    assert document["shifted_by"] == ["LF nut"]


def test_the_page_says_it_too(turned, turned_answer):
    found = fit(turned.truck, turned.runs)
    page = text_of(sag_cards(found, turned_answer, {}, "tried", "", ""))
    assert "Steady but for LF's nut" in page


def test_a_spring_that_settled_is_named_at_the_corners_it_lowers():
    years = log(lost=set_at_rf(0.02))
    found = answer(years).corners
    assert "RF's spring shifted onto it" in corner_words("LF", found["LF"], None, "us")
    assert "its own spring shifted off it" in corner_words("RF", found["RF"], None, "us")


def test_a_box_on_an_untouched_truck_is_shifted_by_nobody():
    for corner in answer(log(added=box())).corners.values():
        assert corner.parts.shifted_by == ()
        assert corner.parts.load_shifted.mean == 0


def test_a_loss_that_is_sure_only_as_a_whole_is_low():
    """Set and weight that can't be told apart by draws, each maybe nothing, three millimetres together."""
    z = np.random.default_rng(1).standard_normal(1000)
    by_set, by_weight, none = 0.0015 + 0.003 * z, 0.0015 - 0.003 * z, np.zeros(1000)
    assert _verdict(by_set, by_weight, by_weight, none) == "low"
    assert _verdict(by_set - 0.0015, by_weight - 0.0015, by_weight - 0.0015, none) == "steady"
    shifted_here = by_weight + 0.01
    assert _verdict(by_set - 0.0015, shifted_here, by_weight - 0.0015, none) == "steady"


# ---------------------------------------------------------------- words that add up

NUMBER = r"(?:(\d+) )?(\d+/\d+) in|(\d+(?:\.\d+)?) (?:in|mm)"


def sizes_of(words):
    """What the head says was lost, and what its parts come to: sixteenths or millimetres as written."""
    head, _, rest_of_it = words.partition(":")
    size = re.search(rf"(?:lost|stands) ({NUMBER}) ?(higher|lower|since)?", head)
    whole = 0 if size is None else number(size[1]) * (-1 if "higher" in head else 1)
    parts = re.findall(
        rf"(?:^|, | )({NUMBER}) (lost|gained|raised|lowered|lower|higher|is|may|for)", rest_of_it
    )
    return whole, sum(number(p[0]) * (-1 if p[-1] in ("gained", "raised", "higher") else 1) for p in parts)


def number(text):
    return sum(Fraction(part) for part in text.rsplit(" ", 1)[0].split())


def settled_twice():
    lost = NONE.copy()
    lost[:, LF], lost[:, RR] = settling(DAYS, 0.014, 20.0), settling(DAYS, 0.009, 20.0)
    return lost


@pytest.mark.parametrize("system", ["us", "metric"])
@pytest.mark.parametrize(
    "happens",
    [
        {"preload": nut_at_lf()},
        {"lost": settled_twice()},
        {"lost": settled_twice(), "added": box(), "preload": nut_at_lf(0.3 * IN)},
        {"lost": settled_twice(), "preload": nut_at_lf(), "weighed": False},
        {"lost": settled_twice(), "added": box(), "weighed": np.arange(25) % 3 == 0},
    ],
)
def test_the_parts_that_are_said_add_up_to_the_height_that_is_said(happens, system):
    told = 0
    for name, corner in answer(log(**happens)).corners.items():
        words = where_it_went(name, "r1", corner.parts, system)
        if words.endswith("steady, nothing beyond what tape and friction do."):
            continue
        whole, parts = sizes_of(words)
        assert whole == parts, words
        told += 1
    assert told >= 3


@given(st.lists(st.floats(-0.05, 0.05), min_size=1, max_size=6), st.sampled_from(["us", "metric"]))
def test_rounded_parts_add_up_and_none_is_moved_by_a_whole_step(parts, system):
    step = 0.0005 if system == "metric" else IN / 16
    whole, rounded = _adding_up(sum(parts), parts, system)
    assert whole == pytest.approx(sum(rounded), abs=1e-12)
    assert whole == pytest.approx(sum(parts), abs=step / 2 + 1e-12)
    assert np.abs(np.array(parts) - rounded).max() < step + 1e-12


def test_without_scales_the_interval_that_is_said_holds_the_size_that_is_said():
    """What nuts have shifted is said apart, so neither has it in."""
    said = 0
    for name, corner in answer(log(lost=settled_twice(), preload=nut_at_lf(), weighed=False)).corners.items():
        words = where_it_went(name, "r1", corner.parts, "metric")
        size = re.search(r"([\d.]+) mm is spring set or weight", words)
        ends = re.search(r"Set and weight are (-?[\d.]+) to ([\d.]+) mm", words)
        assert (size is None) == (ends is None)
        if size and ends:
            middle = (float(ends[1]) + float(ends[2])) / 2
            assert float(size[1]) == pytest.approx(middle, abs=1)
            said += 1
    assert said >= 2


# ---------------------------------------------------------------- turns that don't bring it back


def far_below(by, **happens):
    """RF's spring settles; the targets lie so far off that its thread, shortened to what is needed, ends before."""
    years = log(lost=set_at_rf(0.014), **happens)
    aims = {c: float(years.heights[0, i]) + by for i, c in enumerate(CORNERS)}
    return replace(years, truck=years.truck.with_target(Target(heights=aims, height_tolerance=IN / 4)))


@pytest.mark.parametrize("by", [-6 * IN, 6 * IN])
def test_where_the_thread_ends_before_the_height_it_is_said_and_no_date_is_given(by):
    years = far_below(by)
    found = fit(years.truck, years.runs)
    told = sag(found)
    steps = next_steps(found, told)
    assert set(steps) == set(CORNERS)
    turns = np.array([steps[c].turns for c in CORNERS])
    travel = np.array([years.truck.corners[c].adjuster.travel_per_turn for c in CORNERS])
    machine = replace(years.real.machine, datum=years.real.machine.datum + years.life.lost[-1])
    stands = rest.settle(machine, years.life.load.at(-1), years.life.preload[-1] + turns * travel).heights
    for i, corner in enumerate(CORNERS):
        still = steps[corner].still_out
        assert still.by == pytest.approx(years.truck.target.heights[corner] - stands[i], abs=0.006)
        assert steps[corner].out_again is None
        words = corner_words(corner, told.corners[corner], steps[corner], "us")
        assert "out again" not in words
        assert "brings it back" not in words
        assert "short of its height" in words or "turned no further" in words
        assert "`tuning springs`" in words
    page = text_of(sag_cards(found, told, steps, "tried", "", ""))
    assert "Springs that reach its height" in page
    assert "0 % already" in page


def test_where_the_turns_are_made_and_the_thread_is_at_its_end_no_turn_is_asked_for():
    years = far_below(6 * IN)
    end = years.truck.corners["RF"].adjuster.preload_max
    years = far_below(6 * IN, preload=np.full((25, 4), end))
    found = fit(years.truck, years.runs)
    told = sag(found)
    step = next_steps(found, told)["RF"]
    words = corner_words("RF", told.corners["RF"], step, "us")
    assert step.turns == 0
    assert step.still_out.held == "own nut"
    assert "Next: no turn helps; " in words
    assert "short of its height" in words


def test_where_the_turns_do_bring_it_back_nothing_of_the_kind_is_said():
    years = log(lost=set_at_rf(0.014))
    found = fit(years.truck, years.runs)
    told = sag(found)
    step = next_steps(found, told)["RF"]
    assert step.still_out is None
    assert "brings it back" in corner_words("RF", told.corners["RF"], step, "us")


def test_no_date_of_the_latest_run_is_called_a_date_to_come():
    """The wagon asked to stand an inch higher without any adjuster to do it with: out already."""
    truck = load_truck(path("water_wagon") / "truck.toml")
    rows = read_readings_file(path("water_wagon") / "readings.csv", truck)
    runs = [run for run in runs_of(rows) if run.name != "2024-12"]
    heights = {c: h + IN for c, h in truck.target.heights.items()}
    found = sag(fit(truck.with_target(replace(truck.target, heights=heights)), runs))
    words = corner_words("LF", found.corners["LF"], None, "us")
    assert "It is out of tolerance now" in words
    assert f"by {found.taken_at:%B %Y}" not in words
