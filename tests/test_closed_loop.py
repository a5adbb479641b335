"""The loop closed on simulated trucks: read, ask, turn, read again. `python -m tests.study` is the whole of it.

Bounds are loose: they are there to catch a tool that has gone wrong, not to tell one decimal from the next.
"""

import signal
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import pandas as pd
import pytest

from tests.study.cases import best_possible, draw_case
from tests.study.methods import tool
from tests.study.report import as_markdown
from tests.study.run import run_study
from tests.truth.shop import WAYS, visit

TRUCKS, SEED = 24, 20


@pytest.fixture(scope="module")
def study() -> pd.DataFrame:
    return run_study(TRUCKS, SEED, methods=("tool", "rule of thumb", "springs' list"))


def worst(study: pd.DataFrame, method: str, adjustment: int, ways: str = "ABC") -> pd.Series:
    rows = study[(study.method == method) & (study.adjustment == adjustment) & study.way.isin(list(ways))]
    assert len(rows) == TRUCKS * len(ways)
    return rows.worst


@contextmanager
def at_most(seconds: int) -> Iterator[None]:
    """Fails where a search goes on for ever."""

    def ring(*_: object) -> None:
        raise TimeoutError(f"no answer within {seconds} s")

    before = signal.signal(signal.SIGALRM, ring)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def test_an_answer_comes_where_two_settings_are_equally_good():
    """Sliders on their rings: several settings cost the same but for rounding."""
    case = draw_case(115, 1)
    read = visit(np.random.default_rng([1, 115, 0]), case.real, case.start, WAYS["A"])
    with at_most(30):
        assert tool(case.truck, [read]).chance is not None


def test_tool_leaves_the_rule_of_thumb_far_behind(study):
    for adjustment in (1, 2):
        tool, thumb = worst(study, "tool", adjustment), worst(study, "rule of thumb", adjustment)
        assert (tool <= 1).mean() > (thumb <= 1).mean() + 0.2
        assert tool.median() < 0.75 * thumb.median()


def test_second_visit_makes_the_tool_better_and_better_than_the_springs_list(study):
    """The list takes the last visit at its word; the tool remembers the one before."""
    first, second = worst(study, "tool", 1), worst(study, "tool", 2)
    assert (second <= 1).mean() > (first <= 1).mean()
    listed = worst(study, "springs' list", 2)
    assert second.mean() < 0.95 * listed.mean()
    assert second.quantile(0.9) < listed.quantile(0.9)


def test_readings_from_above_and_below_beat_readings_from_anywhere(study):
    assert worst(study, "tool", 1, "C").median() < 0.8 * worst(study, "tool", 1, "A").median()


def test_two_bracketed_visits_bring_nearly_every_truck_inside(study):
    inside = worst(study, "tool", 2, "C") <= 1
    assert inside.sum() >= TRUCKS - 1


def test_no_truck_is_left_far_out(study):
    assert worst(study, "tool", 2).max() < 4


def test_intervals_hold_the_truth_about_as_often_as_they_say(study):
    said = study[study.method == "tool"]
    assert 0.82 < said.heights_held.sum() / said.heights_said.sum() < 0.99
    assert 0.82 < said.loads_held.sum() / said.loads_said.sum() <= 1
    assert 0.8 < said.cross_held.mean() <= 1


def test_chances_given_are_about_those_met(study):
    said = study[study.method == "tool"]
    assert said.chance.mean() == pytest.approx((said.worst <= 1).mean(), abs=0.12)


def test_every_case_can_be_brought_inside_by_one_who_knows(study):
    assert study[study.method == "one who knows"].worst.max() <= 0.5


def test_the_same_seed_is_the_same_shop():
    one, other = draw_case(3, SEED), draw_case(3, SEED)
    assert best_possible(one.truck, one.real, one.start)[0] == pytest.approx(
        best_possible(other.truck, other.real, other.start)[0]
    )
    read = [visit(np.random.default_rng(1), c.real, c.start, WAYS["B"]).heights for c in (one, other)]
    assert read[0] == pytest.approx(read[1], abs=0)


def test_tables_name_every_method_and_way(study):
    text = as_markdown(study)
    for word in ("Way A", "Way B", "Way C", "| tool |", "| rule of thumb |", "| springs' list |"):
        assert word in text


def test_a_study_goes_on_where_it_was_left(tmp_path):
    file = str(tmp_path / "kept.csv")
    whole = run_study(2, SEED, ways=("A",), methods=("rule of thumb",), keep=file)
    assert len(whole) == 2 * 2 + 2
    more = run_study(3, SEED, ways=("A",), methods=("rule of thumb",), keep=file)
    fresh = run_study(3, SEED, ways=("A",), methods=("rule of thumb",))
    key = ["truck", "way", "method", "adjustment"]
    assert more.sort_values(key).worst.tolist() == pytest.approx(fresh.sort_values(key).worst.tolist())
