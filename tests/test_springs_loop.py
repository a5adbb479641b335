"""The loop closed for springs: trucks whose first springs no nut can mend. `python -m tests.study.springs` is the
whole of it.

Bounds are loose: they are there to catch a choice that has gone wrong, not to tell one decimal from the next.
"""

import numpy as np
import pandas as pd
import pytest

from tests.study.springs import run_study
from tests.study.springs_cases import MISSED, draw_case, height_misses
from tests.study.springs_report import NEAR, as_markdown, chances
from tests.truth.shop import stand
from tests.truth.trucks import IN
from tuning.truck import CORNERS, SIDES

TRUCKS, SEED = 6, 20


@pytest.fixture(scope="module")
def study() -> pd.DataFrame:
    return run_study(TRUCKS, SEED)


def rows(study: pd.DataFrame, doer: str, way: str = "AC") -> pd.DataFrame:
    found = study[(study.doer == doer) & study.way.isin(list(way))]
    assert len(found) == TRUCKS * len(way)
    return found


@pytest.mark.parametrize("number", range(TRUCKS))
def test_no_setting_of_the_first_springs_brings_the_end_to_its_heights(number):
    """A thousand settings all over the threads, the other end's nuts too; nearer ones than any of these were sought
    when the truck was drawn."""
    case = draw_case(number, SEED)
    rng = np.random.default_rng(number)
    adjusters = [case.truck.corners[c].adjuster for c in CORNERS]
    low, high = (
        [getattr(a, name) if a else 0.0 for a in adjusters] for name in ("preload_min", "preload_max")
    )
    tried = np.vstack([rng.uniform(low, high, (1000, 4)), case.start])
    off = np.abs(height_misses(case.truck.target, stand(case.real, tried), case.end)).max(-1)
    assert off.min() > 0.9 * MISSED
    assert case.missed > MISSED


def test_springs_are_found_where_there_are_some(study):
    tool = rows(study, "tool")
    assert (tool.found | (tool.could == 0)).all()


def test_most_trucks_stand_near_their_targets_before_any_further_turning(study):
    """One who knows the truck to a hair does not know what new springs truly are."""
    tool, knowing = rows(study, "tool"), rows(study, "one who knows")
    assert tool.landed.median() < 2 * NEAR
    assert tool.landed.median() < 2.5 * knowing.landed.median()
    assert tool.landed.median() < 0.6 * tool.missed.median()


def test_one_adjustment_after_bracketed_readings_brings_nearly_every_truck_inside(study):
    assert (rows(study, "tool", "C").worst_after <= 1).sum() >= TRUCKS - 2


def test_no_spring_is_solid_at_full_bump_or_loose_at_the_strap_with_the_first_preload(study):
    tool = rows(study, "tool")
    assert tool.bound.max() < 0
    assert tool.loose.max() < 0


def test_intervals_of_heights_hold_the_truth_about_as_often_as_they_say(study):
    assert 0.75 < rows(study, "tool").held.mean() / 4 < 1


def test_chances_that_the_thread_reaches_are_about_those_met(study):
    _, said, reached = chances(rows(study, "tool")).T
    assert len(said) > 50
    assert said.mean() == pytest.approx(reached.mean(), abs=0.12)


def test_springs_put_on_are_those_of_the_end_and_the_other_end_keeps_its_own():
    case = draw_case(1, SEED)
    assert {case.truck.corners[c].stack.name for c in SIDES[case.end]} == {f"first {case.end} springs"}
    assert case.missed / IN > 0.5


def test_the_same_seed_is_the_same_shop_and_a_study_goes_on_where_it_was_left(tmp_path):
    file = str(tmp_path / "kept.csv")
    first = run_study(1, SEED, ("C",), file)
    more = run_study(2, SEED, ("C",), file)
    fresh = run_study(2, SEED, ("C",))
    assert len(first) == 3
    assert more.landed.tolist() == pytest.approx(fresh.landed.tolist(), nan_ok=True)
    assert more.chances.fillna("").tolist() == fresh.chances.tolist()


def test_tables_name_every_doer_and_way(study):
    text = as_markdown(study)
    for word in ("Way A", "Way C", "| tool |", "| springs' list |", "| one who knows |", "first choice"):
        assert word in text
