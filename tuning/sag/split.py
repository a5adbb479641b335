"""Height lost between two runs, split by cause. SI; parts and their sum are heights at the marks, positive: lower.

Where the truck stood at either run, friction put aside, is an equilibrium with that run's weight, nuts and springs.
At each seat the corner line then gives a height from three things: the load, the nut and stack, and the length the
springs have lost. From one run to the other each of them changes in turn; as what a cause is worth depends on which
changed before it (a slider may sit on its ring in between), each part is the mean over all six orders (Shapley 1953),
and they add up exactly. Weight that other corners' nuts and springs have shifted to this one counts as its load.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from .. import stack as springs
from ..arrays import Array, Flags, Places, taken
from ..fit import Fit, Parameters
from ..lines import SCALE_STEP, WEIGHT_DRIFT
from ..statics import OTHER_SIDE, Axles, Struts, Weight, equilibrium, weight_of
from .evidence import lost_between

UNEXPLAINED = 0.0005  # m: how far a corner may stand from its own line from run to run, for no cause modelled


@dataclass(frozen=True)
class Stand:
    """A truck at one run, draws first: what it was and weighed, and where that made it stand without friction.

    seat_load, wheel_load (n, 4) N; heights (n, 4) m at the marks. weighed (4,): both wheels of that corner's end.
    """

    run: int
    strut: Struts
    axle: Axles
    weight: Weight
    offset: Array
    twist: Array
    seat_load: Array
    wheel_load: Array
    heights: Array
    weighed: Flags


@dataclass(frozen=True)
class Read:
    """What the tape says of a run, friction taken off as far as it is known: heights at the marks (m), their
    variances; NaN where a corner was not read. (4,) each."""

    height: Array
    variance: Array


@dataclass(frozen=True)
class Split:
    """Draws (n, 4) at the marks (m): parts of the height lost. set_length: of spring.

    left: what neither load, nut nor set explain. shift: the part of `load` that nuts and springs have shifted across
    the frame, weight aside. measured (4,): both runs on scales, so that load and left over are told apart; elsewhere
    `load` is all that nut and set don't explain, and left is zero.
    """

    set_length: Array
    set: Array
    load: Array
    adjustment: Array
    left: Array
    shift: Array
    measured: Flags

    @property
    def lost(self) -> Array:
        """Height lost."""
        return self.set + self.load + self.adjustment + self.left

    @property
    def weight(self) -> Array:
        """Height lost to the truck's own weight."""
        return self.load - self.shift


def stand_at(fit: Fit, run: int, theta: Array, random: np.random.Generator) -> Stand:
    """Where the truck stood at a run, for draws of the unknowns."""
    evidence = fit.evidence
    rows = np.nonzero(evidence.rounds.run == run)[0]
    strut, axle = taken(evidence.strut, rows[0]), taken(evidence.axle, rows[0])
    padded = np.concatenate([theta, np.zeros((len(theta), 1))], axis=1)
    share = np.maximum(padded[:, evidence.spring_index[rows[0]]], -0.5)
    drifted = theta[:, fit.unknowns.drift] @ evidence.drift.since_now[run].T
    datum = theta[:, fit.unknowns.datum] + drifted
    strut = replace(strut, compliance=strut.compliance * (1 + share), datum=datum)
    parameters = fit.parameters(theta)
    weight, known = _weight(fit, rows, parameters, axle, random)
    twist = parameters.twist / fit.axle.twist_compliance * axle.twist_compliance
    heights, wheels = equilibrium(strut, axle, weight, parameters.offset, twist)
    return Stand(
        run, strut, axle, weight, parameters.offset, twist, axle.seat_loads(wheels), wheels, heights, known
    )


def _weight(
    fit: Fit, rows: Places, parameters: Parameters, axle: Axles, random: np.random.Generator
) -> tuple[Weight, Flags]:
    """Draws of the weight at a run from its scales; what was not on scales weighs what it last did, give or take."""
    count = len(parameters.datum)
    load = fit.evidence.rounds.load[rows]
    known: Flags = np.asarray(~np.isnan(load).any(axis=0))
    known = known & known[OTHER_SIDE]
    best = parameters.weight
    front, rear, couple = (np.broadcast_to(v, count) for v in (best.front, best.rear, best.couple))
    if known.all():
        mean = load.mean(axis=0)
        noise = np.hypot(fit.truck.noise.load * mean, SCALE_STEP) / np.sqrt(len(rows))
        return weight_of(mean + noise * random.standard_normal((count, 4)), axle), known
    sums = []
    for end, last in ((0, front), (2, rear)):
        if known[end]:
            pair = load[:, end : end + 2].mean(axis=0)
            noise = np.hypot(fit.truck.noise.load * pair, SCALE_STEP) / np.sqrt(len(rows))
            sums.append(pair.sum() + noise @ random.standard_normal((2, count)))
        else:
            sums.append(last * (1 + WEIGHT_DRIFT * random.standard_normal(count)))
    return Weight(sums[0], sums[1], couple), known


def read_at(fit: Fit, run: int) -> Read:
    """What the tape says of a run."""
    evidence, rows = fit.evidence, fit.rows
    at = np.nonzero(evidence.rounds.run == run)[0]
    height, settled = evidence.rounds.height[at], evidence.rounds.settled[at]
    slope = -np.diagonal(rows.tape[at, :4], axis1=1, axis2=2)
    per_force = (
        -np.diagonal(rows.friction[at, :4], axis1=1, axis2=2) / slope
    )  # m of height held up by a newton
    band = fit.theta[fit.unknowns.friction][[0, 0, 1, 1]]
    band_sd = fit.regression.sd[fit.unknowns.friction][[0, 0, 1, 1]]
    variance = fit.evidence.noise.height**2 + np.where(
        settled == 0, per_force**2 * band**2 / 3, fit.held.edge_variance[at] * per_force**2
    )
    say = np.where(np.isnan(height), 0.0, 1 / variance)
    total = say.sum(axis=0)
    free = height - per_force * band * settled
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(total > 0, np.nansum(say * free, axis=0) / total, np.nan)
        common = (say * per_force * settled).sum(axis=0) / total * band_sd
        return Read(mean, 1 / total + common**2)


def split(fit: Fit, before: Stand, now: Stand, theta: Array, random: np.random.Generator) -> Split:
    """What was lost from one run to another, all four corners."""
    a = fit.unknowns.drift
    follow = [lost_between(fit, c, before.run, now.run) for c in range(4)]
    length = np.stack([theta[:, a] @ f for f in follow], axis=-1)
    parts = _shares(before, now, length)
    to_marks = now.axle.mark_heights
    load, adjustment, by_set = (to_marks(p) - to_marks(np.zeros(4)) for p in parts)
    # The axle itself may have been changed between the runs; that is an adjustment too.
    adjustment = adjustment + (before.heights - now.heights) - (load + adjustment + by_set)
    then, today = read_at(fit, before.run), read_at(fit, now.run)
    over = then.height - today.height - (load + adjustment + by_set)
    noise = then.variance + today.variance
    measured = before.weighed & now.weighed
    unread = np.isnan(over[0])
    spread = random.standard_normal(over.shape) * np.sqrt(np.where(unread, 0.0, noise))
    belief = 2 * UNEXPLAINED**2 / (2 * UNEXPLAINED**2 + noise + over.var(axis=0))
    own = belief * over.mean(axis=0) + np.sqrt((1 - belief) * 2) * UNEXPLAINED * random.standard_normal(
        over.shape
    )
    unexplained = np.sqrt(2) * UNEXPLAINED * random.standard_normal(over.shape)
    left = np.where(measured, np.where(unread, unexplained, own), 0.0)
    as_light, _ = equilibrium(now.strut, now.axle, before.weight, now.offset, now.twist)
    shift = load - (as_light - now.heights)
    load = load + np.where(measured | unread, 0.0, over + spread)
    return Split(length, by_set, load, adjustment, left, shift, measured)


def _shares(before: Stand, now: Stand, length: Array) -> tuple[Array, Array, Array]:
    """Shapley shares of load, nut and stack, and set in the fall of each seat, (n, 4) each."""
    height = {key: _seat_height(before, now, length, *key) for key in product((0, 1), repeat=3)}
    shares = []
    for which in range(3):
        fall = np.zeros_like(length)
        for others, weight in _orders():
            low, high = list(others), list(others)
            low.insert(which, 0)
            high.insert(which, 1)
            fall += weight * (height[_key(low)] - height[_key(high)])
        shares.append(fall)
    return shares[0], shares[1], shares[2]


def _orders() -> Iterator[tuple[tuple[int, int], float]]:
    """Which of the two other causes have changed already, and the share of the six orders in which that is so."""
    yield from (((0, 0), 1 / 3), ((0, 1), 1 / 6), ((1, 0), 1 / 6), ((1, 1), 1 / 3))


def _key(flags: list[int]) -> tuple[int, int, int]:
    return flags[0], flags[1], flags[2]


def _seat_height(before: Stand, now: Stand, length: Array, load: int, nut: int, lost: int) -> Array:
    """Seat heights with each cause as it was (0) or is (1)."""
    strut = (before, now)[nut].strut
    own = now.strut.datum - length if nut else before.strut.datum
    strut = replace(strut, datum=own + length * lost)
    lines = springs.ladder(strut.compliance, strut.limit())
    return strut.height_under((before, now)[load].seat_load, lines)


def falls_per_length(fit: Fit) -> Array:
    """How each corner's height at the mark falls as a spring's length is lost, with the weight as it is, (4, 4):
    row the corner that falls, column the spring; one millimetre is tried at each."""
    tried = np.concatenate([np.zeros((1, 4)), 0.001 * np.eye(4)])
    best = fit.parameters(fit.theta[None])
    strut = replace(fit.strut, compliance=best.compliance, datum=best.datum + tried)
    ones = np.ones(len(tried))
    weight = Weight(best.weight.front * ones, best.weight.rear * ones, best.weight.couple * ones)
    heights, _ = equilibrium(strut, fit.axle, weight, best.offset * ones, best.twist * ones)
    return np.asarray((heights[0] - heights[1:]).T / 0.001)
