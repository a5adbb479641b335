"""Targets missed by a little, inside their tolerance, where no springs would meet them to a hair."""

import numpy as np
import pytest

from tests.study.springs_cases import draw_case
from tests.study.springs_loop import play
from tests.study.springs_stock import catalogue
from tests.truth.shop import WAYS, run_of, visit
from tuning.bench import Outlook, wishes_of
from tuning.choices import EVEN, SPENT, choose
from tuning.fit import fit
from tuning.plan import plan
from tuning.truck import CORNERS, SIDES

STIFF = (99, 2, "A")  # a frame whose four heights ask its rear springs for 2,850 and 4,460 N


def fitted(number, seed, way):
    case = draw_case(number, seed)
    luck = np.random.default_rng([seed, number, "ABC".index(way), 4])
    first = visit(luck, case.real, case.start, WAYS[way])
    return case, fit(case.truck, [run_of(case.truck, first, 1)])


def test_the_dearer_a_one_sided_end_the_more_alike_its_sides_and_the_larger_the_miss():
    case, known = fitted(*STIFF)
    wishes = wishes_of(case.truck.target, known.loads_known)
    places = [plan(known, (case.end,), wishes, known.theta[None], even) for even in (0.0, *EVEN)]
    left, right = (CORNERS.index(c) for c in SIDES[case.end])
    unlike = [abs(p.seat_load[0, left] - p.seat_load[0, right]) for p in places]
    miss = [np.square(Outlook(p.heights[0], p.loads[0]).miss(wishes)).sum() for p in places]
    assert np.all(np.diff(unlike) < 0)
    assert np.all(np.diff(miss) > 0)


def test_a_truck_whose_targets_no_springs_meet_to_a_hair_gets_springs_within_tolerance_and_is_told():
    case, known = fitted(*STIFF)
    (answer,) = choose(known, catalogue(), (case.end,))
    wishes = wishes_of(case.truck.target, known.loads_known)
    assert answer.choices
    assert any("dead on" in line for line in answer.limits)
    for choice in answer.choices:
        step = 1.0 + SPENT  # the nuts stop at whole steps, which costs a little more
        for wish in wishes:
            assert abs(choice.height_after[wish.name].mean - wish.value) < step * wish.tolerance


def test_those_springs_truly_reach_their_heights():
    """By the independent simulator: the thread reaches, and nothing is bound or loose."""
    number, seed, way = STIFF
    outcome = play(draw_case(number, seed), way, "tool", seed)
    assert outcome.found
    assert all(chance.endswith(":1") for chance in outcome.chances.split())
    assert outcome.bound < 0
    assert outcome.loose < 0


@pytest.mark.parametrize("number", [0, 1, 2])
def test_a_truck_that_finds_springs_gives_nothing_away(number):
    case, known = fitted(number, 2, "A")
    (answer,) = choose(known, catalogue(), (case.end,))
    assert answer.choices
    assert not any("dead on" in line for line in answer.limits)
