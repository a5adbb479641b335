"""Two adjustments on one truck by one method: read, ask, turn, and see where it truly stands."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.truth.shop import WAYS, Visit, stand, visit
from tuning.truck import Truck

from .cases import Case, best_possible, misses
from .ceiling import ceiling
from .methods import Advice, rule_of_thumb, springs_list, tool

Array = NDArray[np.float64]
Method = Callable[[Truck, list[Visit]], Advice]

METHODS: dict[str, Method] = {
    "tool": tool,
    "rule of thumb": rule_of_thumb,
    "springs' list": springs_list,
    "ceiling": ceiling,
}
ADJUSTMENTS = 2


@dataclass(frozen=True)
class Outcome:
    """After one adjustment. worst: largest miss of any wish, in tolerances. The counts are of 90 % intervals that
    hold the truth, out of how many; chance: what the method said of its chances."""

    truck: int
    wish: str
    way: str
    method: str
    adjustment: int
    worst: float
    heights_held: int | None = None
    heights_said: int | None = None
    loads_held: int | None = None
    loads_said: int | None = None
    cross_held: int | None = None
    chance: float | None = None

    @property
    def inside(self) -> bool:
        """Every wish within its tolerance."""
        return self.worst <= 1


def play(case: Case, way: str, method: str, seed: int) -> list[Outcome]:
    """The outcomes of one method on one truck. Every method meets the same luck at tape, scales and friction."""
    luck = np.random.default_rng([seed, case.number, "ABC".index(way)])
    preload, visits, outcomes = case.start, [], []
    for adjustment in range(1, ADJUSTMENTS + 1):
        visits.append(visit(luck, case.real, preload, WAYS[way]))
        advice = METHODS[method](case.truck, visits)
        preload = advice.preload
        outcomes.append(_judge(case, way, method, adjustment, advice))
    return outcomes


def play_knowing(case: Case) -> Outcome:
    """One who knows the truth turns once; no reading can do better."""
    _, worst = best_possible(case.truck, case.real, case.start)
    return Outcome(case.number, case.wish, "-", "one who knows", 1, worst)


def _judge(case: Case, way: str, method: str, adjustment: int, advice: Advice) -> Outcome:
    true = stand(case.real, advice.preload)
    worst = float(np.abs(misses(case.truck.target, true)).max())
    plain = (case.number, case.wish, way, method, adjustment, worst)
    if advice.heights is None or advice.wheels is None or advice.cross is None:
        return Outcome(*plain)
    return Outcome(
        *plain,
        heights_held=_held(advice.heights, true.heights),
        heights_said=4,
        loads_held=_held(advice.wheels, true.wheels),
        loads_said=4,
        cross_held=_held(advice.cross, true.cross),
        chance=advice.chance,
    )


def _held(interval: Array, true: Array) -> int:
    return int(((interval[..., 0] <= true) & (true <= interval[..., 1])).sum())
