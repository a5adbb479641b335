"""What to do about a corner that stands low: the turns that bring it back, what they leave, how long it lasts. SI."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np

from ..adjust import Adjustment, adjust
from ..allowed import Allowed, allowed_turns
from ..arrays import Array
from ..bench import AdjustError, Bench
from ..fit import Fit
from ..interval import NORMAL_HALF_WIDTH, Interval
from ..truck import CORNERS, SIDES, Target
from .answer import DRAWS, Sag
from .forecast import forecasts

Held = Literal["own nut", "other nuts", "frame", "unsure"]


@dataclass(frozen=True)
class StillOut:
    """Why a corner is out of tolerance even after the turns.

    by: m, how much lower it, or the mean of its end (`of`: a corner or an end), then stands than its target; negative:
    higher. held: what holds it there: its own nut or those of `corners`, which are as far as they may go (`reason`);
    the targets, which conflict through the frame; or nothing but that its height is so unsure.
    """

    by: float
    of: str
    held: Held
    corners: tuple[str, ...] = ()
    reason: str = ""


@dataclass(frozen=True)
class NextStep:
    """turns of this corner's nut, of the turns that `adjust` advises for the truck; thread_left: m of thread left the
    way it is turned; out_again: when it is out of tolerance again with even odds, None: not within five years, or
    still_out: it is so right after the turns."""

    turns: float
    thread_left: float
    out_again: date | None
    still_out: StillOut | None = None


def next_steps(fit: Fit, found: Sag, seed: int = 0) -> dict[str, NextStep]:
    """The next step at each corner whose nut is to be turned or is at its end and leaves it out of tolerance; none
    where nothing was lost or there is no target."""
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
    allowed = allowed_turns(Bench(fit, fit.theta[None]))
    steps = {}
    for i, name in enumerate(CORNERS):
        turns, days = advice.corners[name].turns, future[i].leaves[1]
        if turns is None:
            continue
        still = _still_out(fit, advice, allowed, name) if days == 0 else None
        if turns or (still is not None and still.held == "own nut"):
            again = None if days is None or days == 0 else (found.taken_at + timedelta(days=days)).date()
            down = turns > 0 or (turns == 0 and still is not None and still.by > 0)
            steps[name] = NextStep(turns, _thread_left(fit, advice, name, down), again, still)
    return steps


def _draws(height: Interval, random: np.random.Generator) -> Array:
    sd = (height.high - height.low) / (2 * NORMAL_HALF_WIDTH)
    return np.asarray(height.mean + sd * random.standard_normal(DRAWS))


def _still_out(fit: Fit, advice: Adjustment, allowed: dict[str, Allowed], name: str) -> StillOut:
    """Why this corner is out of tolerance right after the turns."""
    by, of = _lower_than_wanted(fit.truck.target, advice, name)
    if abs(by) <= fit.truck.target.height_tolerance:
        return StillOut(by, of, "unsure")
    ended = {c: reason for c, room in allowed.items() if (reason := _end_reached(fit, advice, room, c))}
    up = "high" if by > 0 else "low"
    if name in ended and ended[name][0] == up:
        return StillOut(by, of, "own nut", (name,), ended[name][1])
    others = tuple(c for c, (end, _) in ended.items() if c != name)
    if others:
        return StillOut(by, of, "other nuts", others, ended[others[0]][1])
    return StillOut(by, of, "frame")


def _lower_than_wanted(target: Target, advice: Adjustment, name: str) -> tuple[float, str]:
    """By how much (m) what stands lower than wanted: the corner, or its end's mean where that has the target."""
    if name in target.heights:
        return target.heights[name] - advice.corners[name].height_after.mean, name
    end = next(e for e, sides in SIDES.items() if name in sides)
    mean = float(np.mean([advice.corners[c].height_after.mean for c in SIDES[end]]))
    return target.ends[end] - mean, end


def _end_reached(fit: Fit, advice: Adjustment, room: Allowed, name: str) -> tuple[str, str] | None:
    """Which end of its turns a nut is at after those advised, `low` or `high`, and what sets it; None: neither."""
    turns, adjuster = advice.corners[name].turns, fit.truck.corners[name].adjuster
    assert turns is not None
    assert adjuster is not None
    return room.end_reached(turns, adjuster.step)


def _thread_left(fit: Fit, advice: Adjustment, name: str, down: bool) -> float:
    """Thread left beyond the new place of the nut, down the thread or up (m)."""
    low, high = fit.truck.corners[name].preload_range(fit.stacks[CORNERS.index(name)])
    after = advice.corners[name].preload_after
    assert after is not None
    return high - after if down else after - low
