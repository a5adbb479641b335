"""What to do about a corner that stands low: the turns that bring it back, what they leave, how long it lasts. SI."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from ..adjust import Adjustment, adjust
from ..arrays import Array
from ..bench import AdjustError
from ..fit import Fit
from ..interval import NORMAL_HALF_WIDTH, Interval
from ..truck import CORNERS
from .answer import DRAWS, Sag
from .forecast import forecasts


@dataclass(frozen=True)
class NextStep:
    """turns of this corner's nut, of the turns that `adjust` advises for the truck; thread_left: m of thread left the
    way it is turned; out_again: when it is out of tolerance again with even odds, None: not within five years."""

    turns: float
    thread_left: float
    out_again: date | None


def next_steps(fit: Fit, found: Sag, seed: int = 0) -> dict[str, NextStep]:
    """The next step at each corner whose nut is to be turned; none where nothing was lost or there is no target."""
    if all(corner.verdict in ("steady", "unknown") for corner in found.corners.values()):
        return {}
    try:
        advice = adjust(fit, seed=seed)
    except AdjustError:
        return {}
    random = np.random.default_rng(seed)
    after = np.stack([_draws(advice.corners[c].height_after, random) for c in CORNERS], axis=-1)
    trends = tuple(found.corners[c].trend for c in CORNERS)
    future = forecasts(fit, trends, after, random)
    steps = {}
    for i, name in enumerate(CORNERS):
        turns, days = advice.corners[name].turns, future[i].leaves[1]
        if turns:
            again = None if days is None else (found.taken_at + timedelta(days=days)).date()
            steps[name] = NextStep(turns, _thread_left(fit, advice, name), again)
    return steps


def _draws(height: Interval, random: np.random.Generator) -> Array:
    sd = (height.high - height.low) / (2 * NORMAL_HALF_WIDTH)
    return np.asarray(height.mean + sd * random.standard_normal(DRAWS))


def _thread_left(fit: Fit, advice: Adjustment, name: str) -> float:
    """Thread left beyond the new place of the nut, the way it is turned (m)."""
    corner = advice.corners[name]
    low, high = fit.truck.corners[name].preload_range(fit.stacks[CORNERS.index(name)])
    assert corner.preload_after is not None
    assert corner.turns is not None
    return high - corner.preload_after if corner.turns > 0 else corner.preload_after - low
