"""Turns at each adjuster, what to expect of them and how sure that is. SI inside.

The turns minimise the expected squared miss of the targets, in tolerances, over draws of everything the log
leaves unsure, on the lattice of whole steps and inside what is allowed; within two steps of that, the odds of
landing inside all tolerances decide.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np

from . import stack as springs
from .arrays import Array, Flags, Places
from .ends import ends_of_travel, hardest_bump
from .faults import NoAnswerError
from .fit import Fit, Parameters
from .interval import Interval, from_draws
from .next_reading import NextReading, next_reading
from .statics import equilibrium
from .truck import CORNERS, SIDES, Target

FEW = 16  # draws that steer the search; the answer itself is drawn in full
LAZINESS = 1e-2  # squared tolerances a turn has to gain before it is asked of anyone
LEVELS = 6  # of the coarse grid at each nut
NO_GAIN = 1e-9  # of the squared miss, in squared tolerances
NEAR = 2  # steps to every side among which the odds decide
ODDS_DRAWS = 400
SQUARES_DECIDE = 1e-3  # chance that a squared tolerance of miss is worth
LAST_STRIDE = 2  # steps of the adjuster at which the draws begin to steer
NEVER = 1e12  # N
GOOD_ODDS = 0.9  # below this chance of landing inside, a better reading is looked for
CROSS = np.array([0.0, 1.0, 1.0, 0.0])  # RF and LR


class AdjustError(NoAnswerError):
    """No answer is possible; the message says why and what to do."""


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


@dataclass(frozen=True)
class Wish:
    """One target as a straight function of heights and cross-weight. name: corner, end or cross_weight."""

    name: str
    value: float
    tolerance: float


@dataclass(frozen=True)
class Outlook:
    """Heights (..., 4) m, wheel loads (..., 4) N and cross-weight (...) to expect."""

    heights: Array
    loads: Array

    @cached_property
    def cross_weight(self) -> Array:
        """(RF + LR) / total."""
        return np.asarray(self.loads @ CROSS / self.loads.sum(axis=-1))

    def miss(self, wishes: tuple[Wish, ...]) -> Array:
        """How far off each wish, in tolerances: (..., wishes)."""
        found = [self.value(wish.name) for wish in wishes]
        off = [(v - w.value) / w.tolerance for v, w in zip(found, wishes, strict=True)]
        return np.stack(off, axis=-1)

    def value(self, name: str) -> Array:
        """What a wish is about."""
        if name == "cross_weight":
            return self.cross_weight
        if name in CORNERS:
            return self.heights[..., CORNERS.index(name)]
        return np.asarray(self.heights[..., [CORNERS.index(c) for c in SIDES[name]]].mean(axis=-1))


def wishes_of(target: Target, loads_known: bool) -> tuple[Wish, ...]:
    """Targets that can be judged: cross-weight only where the loads are known."""
    wishes = [Wish(c, h, target.height_tolerance) for c, h in target.heights.items()]
    wishes += [Wish(e, h, target.height_tolerance) for e, h in target.ends.items()]
    if target.cross_weight is not None and loads_known:
        wishes.append(Wish("cross_weight", target.cross_weight, target.cross_weight_tolerance))
    return tuple(wishes)


@dataclass(frozen=True)
class Bench:
    """The fitted truck set up for trying turns: nothing here decides anything."""

    fit: Fit
    draws: Array  # (n, p)

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Corners with an adjuster."""
        return tuple(c for c in CORNERS if self.fit.truck.corners[c].adjuster is not None)

    @cached_property
    def per_turn(self) -> Array:
        """Preload per turn (m), (4,), zero where there is no adjuster."""
        adjusters = [self.fit.truck.corners[c].adjuster for c in CORNERS]
        return np.array([0.0 if a is None else a.travel_per_turn for a in adjusters])

    @cached_property
    def step(self) -> Array:
        """Smallest step (turns) of each adjuster in `names`."""
        adjusters = [self.fit.truck.corners[c].adjuster for c in self.names]
        return np.array([a.step for a in adjusters if a is not None])

    def outlook(self, turns: Array, theta: Array) -> Outlook:
        """Where the truck stands after turns (k, 4) for unknowns (n, p): arrays (k, n, 4)."""
        p = self.fit.parameters(theta)
        preload = self.fit.preload + turns[:, None] * self.per_turn
        strut = replace(self.fit.strut, preload=preload, compliance=p.compliance, datum=p.datum)
        heights, loads = equilibrium(strut, self.fit.axle, p.weight, p.offset, p.twist)
        return Outlook(heights, loads)

    def given(self, turns: Mapping[str, float]) -> Array:
        """Turns by corner as turns of all corners (4,). Raises AdjustError for a corner without adjuster."""
        for corner in turns:
            if corner not in self.names:
                raise AdjustError(
                    f"{corner} has no adjuster; those with one: {', '.join(self.names) or 'none'}"
                )
        return np.array([turns.get(c, 0.0) for c in CORNERS])

    def spread(self, turns: Array) -> Array:
        """Turns of the adjusters in `names` (..., m) as turns of all corners (..., 4)."""
        full = np.zeros((*turns.shape[:-1], 4))
        full[..., [CORNERS.index(c) for c in self.names]] = turns
        return full


def bench(fit: Fit, draws: int = 1000, seed: int = 0) -> Bench:
    """Set a fitted truck up for trying turns."""
    return Bench(fit, fit.draws(draws, seed))


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


@dataclass(frozen=True)
class Allowed:
    """Turns allowed at one adjuster, from now, and what sets each end."""

    low: float
    high: float
    low_reason: str
    high_reason: str


def allowed_turns(table: Bench) -> dict[str, Allowed]:
    """Turns between the ends of the thread, springs seated at droop, no coil bind at bump, on the lattice."""
    fit = table.fit
    best = fit.parameters(fit.theta[None])
    ends = ends_of_travel(fit.truck, fit.strut)
    at_strap, at_bump = (
        fit.strut.stroke - fit.strut.cycle.shaft(heights) for heights in (ends["strap"], hardest_bump(ends))
    )
    found = {}
    for name in table.names:
        i = CORNERS.index(name)
        corner = fit.truck.corners[name]
        assert corner.adjuster is not None  # names holds only such corners
        low, high = corner.preload_range(fit.stacks[i])
        per_turn, step = corner.adjuster.travel_per_turn, corner.adjuster.step
        stride, now = per_turn * step, fit.preload[i]
        grid = np.arange(np.ceil((low - now) / stride - 1e-9), np.floor((high - now) / stride + 1e-9) + 1)
        grid = grid if len(grid) else np.zeros(1)
        preload = now + grid * stride
        seated = preload + at_strap[i] >= best.datum[0, i]
        free = _gives(fit, best, i, preload, at_bump[i])
        good = grid[seated & free] if (seated & free).any() else grid
        low_reason = "springs come loose at full droop" if good[0] > grid[0] else "end of the thread"
        high_reason = "coil bind at full bump" if good[-1] < grid[-1] else "end of the thread"
        found[name] = Allowed(good[0] * step, good[-1] * step, low_reason, high_reason)
    return found


def _gives(fit: Fit, best: Parameters, corner: int, preload: Array, used: float) -> Flags:
    """Whether, with so much shock travel used, no spring is solid at each preload (k,) but those solid already
    under today's load: a weak upper that only keeps the stack snug is meant to be."""
    compliance, solid = best.compliance[0, corner], fit.strut.solid_travel[corner]
    limit = springs.limits(np.broadcast_to(solid, (len(preload), 2)), fit.strut.ring_gap[corner], preload)
    pressed = np.maximum(preload + used - best.datum[0, corner], 0.0)
    force = springs.force(pressed, compliance, limit)
    at_work = (compliance > 0) & (fit.force_now[corner] * compliance < solid)
    moved = np.minimum(np.where(np.isfinite(force), force, NEVER)[:, None] * compliance, limit)
    return np.asarray(np.isfinite(force) & ((moved < solid) | ~at_work).all(axis=1))


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
    limits = _limits(table, wishes, turns, miss.mean(axis=0), allowed, searched)
    better = (
        next_reading(table, wishes, turns) if reachable and odds is not None and odds < GOOD_ODDS else None
    )
    return Adjustment(
        run=fit.runs[-1].name,
        corners=corners,
        cross_weight_now=float(load_now @ CROSS / load_now.sum())
        if weighed.all() and load_now.sum() > 0
        else None,
        cross_weight_after=from_draws(cross) if fit.loads_known else None,
        probability_in_tolerance=odds,
        reachable=reachable,
        limits=limits,
        next_reading=better,
    )


def load_known(fit: Fit, corner: int) -> bool:
    """Loads come from scales, or, less surely, from springs whose datum is known."""
    return fit.weighed_ends[corner // 2] or bool(fit.evidence.has_datum[corner])


def _latest_mean(values: Array, run: Places) -> Array:
    """Mean of each corner's readings in the last run that has one; NaN where none has."""
    mean = np.full(4, np.nan)
    for corner in range(4):
        known = ~np.isnan(values[:, corner])
        if known.any():
            mean[corner] = values[known & (run == run[known][-1]), corner].mean()
    return mean


def _limits(
    table: Bench,
    wishes: tuple[Wish, ...],
    turns: Array,
    miss: Array,
    allowed: dict[str, Allowed],
    searched: bool,
) -> tuple[str, ...]:
    """What held the answer back, a line each."""
    fit = table.fit
    said = []
    if fit.truck.target.cross_weight is not None and not fit.loads_known:
        said.append("cross-weight left out: the wheel loads are unknown; weigh all four wheels once")
    outside = bool(np.any(np.abs(miss) > 1))
    held = False
    for name in table.names:
        i, room = CORNERS.index(name), allowed[name]
        step = fit.truck.corners[name].adjuster
        assert step is not None
        at_end = turns[i] >= room.high - step.step / 2 or turns[i] <= room.low + step.step / 2
        if turns[i] > room.high + 1e-9 or turns[i] < room.low - 1e-9:
            reason = room.high_reason if turns[i] > room.high else room.low_reason
            said.append(f"{name}: these turns go past what is allowed ({reason})")
            held = True
        elif at_end and outside:
            reason = room.high_reason if turns[i] >= room.high - step.step / 2 else room.low_reason
            said.append(f"{name}: no further this way ({reason})")
            held = True
        if _on_ring(fit, i, turns[i] * table.per_turn[i]):
            said.append(
                f"{name}: the slider sits on its ring, so this nut does nothing to the height; "
                "move the ring or change the lower spring"
            )
            held = True
    if outside and not held:
        names = ", ".join(w.name.replace("_", "-") for w, m in zip(wishes, miss, strict=True) if abs(m) > 1)
        said.append(
            f"the targets conflict through the frame: {names} can't all be met; this is the best trade"
            if searched
            else f"outside tolerance with these turns: {names}"
        )
    return tuple(said)


def _on_ring(fit: Fit, corner: int, added: float) -> bool:
    """Whether the slider rests on its ring at today's load with this much preload added."""
    gap = fit.strut.ring_gap[corner]
    best = fit.parameters(fit.theta[None])
    upper = best.compliance[0, corner, 0]
    if upper == 0 or gap >= springs.NO_STOP:
        return False
    stop = max(gap + fit.preload[corner] + added, 0.0)
    return bool(fit.force_now[corner] * upper >= stop and stop < fit.strut.solid_travel[corner, 0])
