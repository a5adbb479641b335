"""Turns at each adjuster, what to expect of them and how sure that is. SI inside.

The turns minimise the expected squared miss of the targets, in tolerances, over draws of everything the log
leaves unsure, on the lattice of whole steps and inside what is allowed; within two steps of that, the odds of
landing inside all tolerances decide.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np

from .allowed import Allowed, allowed_turns, limits_of, one_diagonal
from .arrays import Array, Places
from .bench import CROSS, AdjustError, Bench, Wish, bench, load_known, wishes_of
from .fit import Fit
from .interval import Interval, from_draws
from .next_reading import NextReading, next_reading
from .truck import CORNERS

FEW = 16  # draws that steer the search; the answer itself is drawn in full
LAZINESS = 1e-2  # squared tolerances a turn has to gain before it is asked of anyone
LEVELS = 6  # of the coarse grid at each nut
NO_GAIN = 1e-9  # of the squared miss, in squared tolerances
NEAR = 2  # steps to every side among which the odds decide
ODDS_DRAWS = 400
SQUARES_DECIDE = 2e-2  # chance that a squared tolerance of miss is worth: more than the luck of the draws
LAST_STRIDE = 2  # steps of the adjuster at which the draws begin to steer
GOOD_ODDS = 0.9  # below this chance of landing inside, a better reading is looked for


@dataclass(frozen=True)
class CornerAnswer:
    """One corner before and after. Lengths m, loads N; None where there is no adjuster or nothing was read."""

    turns: float | None
    preload_now: float | None
    preload_after: float | None
    height_now: float
    load_now: float | None
    height_after: Interval
    load_after: Interval | None


@dataclass(frozen=True)
class Adjustment:
    """The answer. Cross-weights are shares (0.5 is even), None where loads are unknown.

    probability_in_tolerance and reachable are None where no target can be judged.
    """

    run: str
    corners: dict[str, CornerAnswer]
    cross_weight_now: float | None
    cross_weight_after: Interval | None
    probability_in_tolerance: float | None
    reachable: bool | None
    limits: tuple[str, ...]
    next_reading: NextReading | None


def adjust(fit: Fit, draws: int = 1000, seed: int = 0) -> Adjustment:
    """The turns that bring the truck nearest its targets.

    Raises AdjustError where there is no adjuster or no target to go by.
    """
    table = bench(fit, draws, seed)
    wishes = wishes_of(fit.truck.target, fit.loads_known)
    if not table.names:
        raise AdjustError(f"{fit.truck.name} has no adjuster: write [front.adjuster] or choose other springs")
    if not wishes:
        raise AdjustError("no target that can be judged: write heights under [target], or weigh the wheels")
    allowed = allowed_turns(table)
    turns = _search(table, wishes, allowed)
    return _answer(table, wishes, table.spread(turns), allowed, searched=True)


def predict(fit: Fit, turns: Mapping[str, float], draws: int = 1000, seed: int = 0) -> Adjustment:
    """What to expect of these turns. Raises AdjustError for a corner without adjuster."""
    table = bench(fit, draws, seed)
    wanted = table.given(turns)
    wishes = wishes_of(fit.truck.target, fit.loads_known)
    return _answer(table, wishes, wanted, allowed_turns(table), searched=False)


def _search(table: Bench, wishes: tuple[Wish, ...], allowed: dict[str, Allowed]) -> Array:
    """Turns of the adjusters in `names`.

    A coarse grid over all that the threads allow comes first, since a nut whose slider sits on its ring does
    nothing until it has come a long way. From its best point, strides in every combination of directions, halved
    down to a step: with the best estimate, then with draws, which round off the knees.
    """
    step = table.step
    low = np.array([allowed[c].low for c in table.names])
    high = np.array([allowed[c].high for c in table.names])
    ways = np.array(list(product((-1, 0, 1), repeat=len(step))))

    def costs(turns: Array, theta: Array) -> Array:
        miss = table.outlook(table.spread(turns), theta).miss(wishes)
        return np.asarray((miss**2).sum(axis=-1).mean(axis=-1) + LAZINESS * np.abs(turns).sum(axis=-1))

    def best(turns: Array, theta: Array) -> Array:
        return np.asarray(turns[costs(turns, theta).argmin()])

    def descend(here: Array, theta: Array, stride: int) -> Array:
        while stride:
            tries = np.vstack([here, np.clip(here + ways * stride * step, low, high)])
            found = costs(tries, theta)
            # Two settings can be alike to rounding: without a gain worth the name they would swap for ever.
            if found.min() < found[0] - NO_GAIN * (1 + found[0]):
                here = tries[found.argmin()]
            else:
                stride //= 2
        return here

    steps = np.round((high - low) / step)
    levels = np.array(list(product(np.linspace(0, 1, LEVELS), repeat=len(step))))
    grid = np.unique(low + np.round(levels * steps) * step, axis=0)
    estimate = table.fit.theta[None]
    start = best(np.vstack([np.clip(np.zeros(len(step)), low, high), grid]), estimate)
    first_stride = 2 ** int(np.log2(max(steps.max() / LEVELS, 1)))
    here = descend(start, estimate, first_stride)
    apart = (table.draws - table.fit.theta)[: FEW // 2]
    few = table.fit.theta + np.vstack([apart, -apart])  # in pairs, so that they do not pull to one side
    return _better_odds(table, wishes, descend(here, few, LAST_STRIDE), low, high)


def _better_odds(table: Bench, wishes: tuple[Wish, ...], here: Array, low: Array, high: Array) -> Array:
    """Of the settings within two steps, the one that most draws put inside all tolerances.

    The least squared miss is a poor guide to that where what is unsure is flat or lopsided. Over two steps the
    misses are straight in the turns; where no draw lands inside, the squared miss still decides.
    """
    near = np.array(list(product(range(-NEAR, NEAR + 1), repeat=len(here)))) * table.step
    tries = np.unique(np.clip(here + near, low, high), axis=0)
    drawn = table.outlook(table.spread(here[None]), table.draws[:ODDS_DRAWS]).miss(wishes)[0]
    around = np.vstack([here, here + np.diag(table.step)])
    miss = table.outlook(table.spread(around), table.fit.theta[None]).miss(wishes)[:, 0]
    slope = (miss[1:] - miss[0]) / table.step[:, None]
    shift = (tries - here) @ slope
    inside, squares = np.ones((len(tries), len(drawn)), dtype=bool), np.zeros(len(tries))
    for wish in range(len(wishes)):
        moved = drawn[:, wish] + shift[:, wish, None]
        inside &= np.abs(moved) <= 1
        squares += (moved**2).mean(axis=1)
    return np.asarray(tries[(inside.mean(axis=1) - SQUARES_DECIDE * squares).argmax()])


def _answer(
    table: Bench, wishes: tuple[Wish, ...], turns: Array, allowed: dict[str, Allowed], searched: bool
) -> Adjustment:
    """searched: the turns are the best there are; otherwise somebody's own."""
    fit = table.fit
    outlook = table.outlook(turns[None], table.draws)
    heights, loads, cross = outlook.heights[0], outlook.loads[0], outlook.cross_weight[0]
    miss = outlook.miss(wishes)[0] if wishes else np.zeros((len(heights), 0))
    rounds = fit.evidence.rounds
    latest = (rounds.run == len(fit.runs) - 1)[:, None]
    height_now = _latest_mean(rounds.height, rounds.run)
    load_now = _latest_mean(np.where(latest, rounds.load, np.nan), rounds.run)
    weighed = ~np.isnan(load_now)
    corners = {}
    for i, name in enumerate(CORNERS):
        turned = name in table.names
        after = fit.preload[i] + turns[i] * table.per_turn[i]
        corners[name] = CornerAnswer(
            turns=float(turns[i]) if turned else None,
            preload_now=float(fit.preload[i]) if turned else None,
            preload_after=float(after) if turned else None,
            height_now=float(height_now[i]),
            load_now=float(load_now[i]) if weighed[i] else None,
            height_after=from_draws(heights[:, i]),
            load_after=from_draws(loads[:, i]) if load_known(fit, i) else None,
        )
    odds = float((np.abs(miss) <= 1).all(axis=-1).mean()) if wishes else None
    reachable = bool((np.abs(miss.mean(axis=0)) <= 1).all()) if wishes else None
    all_weighed = weighed.all() and load_now.sum() > 0
    cross_now = float(load_now @ CROSS / load_now.sum()) if all_weighed else None
    cross_after = from_draws(cross) if fit.loads_known else None
    limits = limits_of(table, wishes, turns, miss.mean(axis=0), allowed, searched)
    limits += one_diagonal(fit.truck, cross_now, cross_after.mean if cross_after else None)
    better = (
        next_reading(table, wishes, turns) if reachable and odds is not None and odds < GOOD_ODDS else None
    )
    return Adjustment(
        run=fit.runs[-1].name,
        corners=corners,
        cross_weight_now=cross_now,
        cross_weight_after=cross_after,
        probability_in_tolerance=odds,
        reachable=reachable,
        limits=limits,
        next_reading=better,
    )


def _latest_mean(values: Array, run: Places) -> Array:
    """Mean of each corner's readings in the last run that has one; NaN where none has."""
    mean = np.full(4, np.nan)
    for corner in range(4):
        known = ~np.isnan(values[:, corner])
        if known.any():
            mean[corner] = values[known & (run == run[known][-1]), corner].mean()
    return mean
