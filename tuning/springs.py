"""Which springs instead: every pair of a catalogue at one end, ranked, with the reason each loser lost. SI inside.

Hard limits come first: the springs fit each other and the shock, the nut reaches, the slider is off its ring at
ride, nothing binds at full bump, nothing is loose at strapped droop. Among those that pass, the distance from what
was asked for decides (nut near the middle of its thread, ride frequency and crossover inside their windows), to a
tenth; then the number of springs to buy; then whether the softer spring is on top; then the room left to coil bind.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .arrays import Array, Places
from .catalogue import StockSpring
from .faults import NoAnswerError
from .fit import Fit
from .gas import gas_rate
from .pairs import Outcome, Pairs, Place, Ring, outcome
from .plan import Plan
from .stack import NO_STOP
from .truck import CORNERS, SIDES, Corner, Spring, Stack

REASONS = (
    "inside diameters differ",
    "inside diameter does not suit the shock",
    "solid under the load at ride",
    "needs more preload than the thread has",
    "needs less preload than the thread allows",
    "slider on its ring at ride",
    "coil bind at full bump",
    "loose at strapped droop",
)
ALIKE = 1e-4 * 0.0254  # m: rounding is no reason
UNFIT = 1e3  # m: what no fraction of an inch would mend


class SpringsError(NoAnswerError):
    """No springs can be sought; the message says why and what to do."""


@dataclass(frozen=True)
class Wanted:
    """What is asked of the springs of an end.

    frequency: least and most (Hz). crossover: heights, least and most (m), or None for the truck's own practice.
    ring_moves: the stop ring may be put where the crossover is best.
    """

    frequency: tuple[float, float]
    crossover: tuple[float, float] | None = None
    ring_moves: bool = True


@dataclass(frozen=True)
class Candidate:
    """A spring that could go on. kept: its place on the truck now (0 upper, 1 lower), None where it is bought."""

    name: str
    spring: Spring
    inside_diameter: float | None
    kept: int | None = None


@dataclass(frozen=True)
class Search:
    """All pairs for some corners of an end, alike at each. Arrays (k, ...) as in `pairs.Outcome`.

    broken: by how much each limit is broken, (k, reasons) m; distance: from what was asked for, its three parts
    (preload, frequency, crossover), (k, 3).
    """

    end: str
    corners: tuple[str, ...]
    wanted: Wanted
    candidates: tuple[Candidate, ...]
    place: Place
    pairs: Pairs
    ring: Ring
    outcome: Outcome
    broken: Array
    distance: Array
    order: Places  # the sound ones, best first

    @cached_property
    def reason(self) -> Places:
        """Place in REASONS of the first limit each pair breaks, −1 where it breaks none; (k,)."""
        bad = self.broken > ALIKE
        return np.where(bad.any(axis=1), bad.argmax(axis=1), -1)

    @cached_property
    def rejected(self) -> dict[str, int]:
        """How many pairs each reason turned away, most first."""
        counts = {name: int((self.reason == i).sum()) for i, name in enumerate(REASONS)}
        return {name: n for name, n in sorted(counts.items(), key=lambda item: -item[1]) if n}

    @cached_property
    def bought(self) -> Places:
        """Springs to buy for one corner, (k,)."""
        new = np.array([c.kept is None for c in self.candidates] + [False], dtype=int)
        return np.asarray(new[self.pairs.upper] + new[self.pairs.lower])

    def breaks(self, at: int) -> tuple[str, ...]:
        """Every limit a pair breaks."""
        return tuple(name for name, by in zip(REASONS, self.broken[at], strict=True) if by > ALIKE)

    def least_bad(self) -> int | None:
        """The pair that breaks its worst limit by least; None where no two springs go together at all."""
        if not len(self.broken):
            return None
        best = int(self.broken.max(axis=1).argmin())
        return best if self.broken[best].max() < UNFIT else None

    def find(self, upper: str | None, lower: str) -> int | None:
        """The pair of these names; None where it was not among those searched."""
        names = [c.name for c in self.candidates] + [None]
        for at in range(len(self.pairs.upper)):
            if names[self.pairs.upper[at]] == upper and names[self.pairs.lower[at]] == lower:
                return at
        return None

    def springs(self, at: int) -> tuple[Candidate | None, Candidate]:
        """Upper and lower of a pair."""
        upper = int(self.pairs.upper[at])
        return None if upper < 0 else self.candidates[upper], self.candidates[int(self.pairs.lower[at])]

    def stack(self, at: int) -> Stack:
        """A pair as the truck would hold it, named after its springs."""
        upper, lower = self.springs(at)
        gap = float(self.outcome.ring_gap[at])
        name = lower.name if upper is None else f"{upper.name} over {lower.name}"
        return Stack(
            name, lower.spring, None if upper is None else upper.spring, None if gap >= NO_STOP / 2 else gap
        )


def search(
    fit: Fit, catalogue: Sequence[StockSpring], corners: Sequence[str], wanted: Wanted, standing: Plan
) -> Search:
    """Every upper × lower pair and every single spring, those on the truck among them, alike at `corners`.

    corners: of one end. standing: where the truck should stand, its first vector of unknowns.
    """
    at = [CORNERS.index(c) for c in corners]
    candidates = (
        *on_the_truck(fit, at),
        *(Candidate(s.name, s.spring, s.inside_diameter) for s in catalogue),
    )
    place = place_of(fit, standing, at)
    pairs = _pairs(fit, candidates, at)
    ring = _ring(fit, wanted, place, at)
    found = outcome(place, pairs, ring)
    broken = _broken(fit, candidates, pairs, found, at, ring.clear)
    distance = _distance(wanted, pairs, found, ring)
    sound = np.nonzero((broken <= ALIKE).all(axis=1))[0]
    bought = np.array([c.kept is None for c in candidates] + [False], dtype=int)
    total, parts = distance[sound].sum(axis=1), (bought[pairs.upper] + bought[pairs.lower])[sound]
    room = found.left[sound].min(axis=(1, 2))
    soft, stiff = (
        pairs.compliance[sound].mean(axis=1).T
    )  # m/N: the softer one belongs on top, where the ring stops it
    upside_down = pairs.dual[sound] & (soft < stiff)
    order = sound[np.lexsort((-room, np.round(total, 3), upside_down, parts, np.round(total, 1)))]
    end = "front" if corners[0] in SIDES["front"] else "rear"
    return Search(end, tuple(corners), wanted, candidates, place, pairs, ring, found, broken, distance, order)


def on_the_truck(fit: Fit, at: Sequence[int]) -> tuple[Candidate, ...]:
    """The springs that are on these corners now, where all wear the same and their lengths are known."""
    stacks = {fit.stacks[i] for i in at}
    stack = stacks.pop()
    if stacks:
        return ()
    shock = fit.truck.corners[CORNERS[at[0]]].shock
    inside = None if shock is None else shock.spring_inside_diameter
    words = ("upper on the truck", "lower on the truck") if stack.upper else ("spring on the truck",)
    places = (0, 1) if stack.upper else (1,)
    return tuple(
        Candidate(word, spring, inside, place)
        for word, spring, place in zip(words, stack.springs, places, strict=True)
        if spring.free_length is not None and spring.solid_length is not None
    )


def bump_height(corner: Corner) -> float:
    """Lowest height the corner can be pressed to (m): full bump, a soft stop squashed solid where that is lower."""
    travel = corner.travel
    lowest = travel.height_full_bump
    lowest = min(h for h, _ in corner.cycle) if lowest is None else lowest
    if travel.bump_stop == "soft" and travel.bump_stop_contact and travel.bump_stop_travel:
        return min(lowest, travel.bump_stop_contact - travel.bump_stop_travel)
    return lowest


def place_of(fit: Fit, standing: Plan, at: Sequence[int]) -> Place:
    """What these corners ask of their springs, for each vector of unknowns of `standing`."""
    strut, corners = standing.strut, [fit.truck.corners[CORNERS[i]] for i in at]
    cycle = type(strut.cycle)(*(np.broadcast_to(v, (4,))[at] for v in vars(strut.cycle).values()))
    stroke = strut.stroke[at]
    droop = cycle.height(stroke)
    strap = [c.travel.height_strap for c in corners]
    spans = [c.preload_range(fit.stacks[i]) for c, i in zip(corners, at, strict=True)]
    free = np.array([_known_length(fit.stacks[i]) for i in at])
    height = standing.seat_height[..., at]
    used = stroke - cycle.shaft(height)
    return Place(
        cycle=cycle,
        stroke=stroke,
        force=standing.force[..., at],
        seat_load=standing.seat_load[..., at],
        gas_rate=gas_rate(used, strut.gas[at], strut.gas_fill[at]),
        datum=strut.datum[..., at],
        height=height,
        bump=np.array([bump_height(c) for c in corners]),
        strap=np.array([d if s is None else s for s, d in zip(strap, droop, strict=True)]),
        low=np.array([low for low, _ in spans]) - free,
        high=np.array([high for _, high in spans]) - free,
    )


def _known_length(stack: Stack) -> float:
    if stack.free_length is None:
        raise SpringsError(
            f'the free length of "{stack.name}" is unknown, so nobody can say where another spring would put the '
            "nut on its thread: write free_length of every spring in the truck file"
        )
    return stack.free_length


def _pairs(fit: Fit, candidates: Sequence[Candidate], at: Sequence[int]) -> Pairs:
    """Singles first, then every upper with every lower but a kept spring with itself."""
    count = len(candidates)
    upper, lower = (
        grid.ravel() for grid in np.meshgrid(np.arange(-1, count), np.arange(count), indexing="ij")
    )
    kept = np.array([c.kept is not None for c in candidates] + [False])
    real = ~(kept[upper] & (upper == lower))
    upper, lower = upper[real], lower[real]
    fitted = fit.parameters(fit.theta[None]).compliance[0][list(at)]  # (c, 2)
    each = np.array(
        [np.full(len(at), 1 / c.spring.rate) if c.kept is None else fitted[:, c.kept] for c in candidates]
    )
    each = np.vstack([each.reshape(count, len(at)), np.zeros(len(at))])
    solid = np.array([*(c.spring.travel_to_solid for c in candidates), 0.0])
    free = np.array([*(c.spring.free_length or np.nan for c in candidates), 0.0])
    return Pairs(
        upper=upper,
        lower=lower,
        compliance=np.stack([each[upper], each[lower]], axis=-1),
        solid_travel=np.stack([solid[upper], solid[lower]], axis=-1),
        free_length=free[upper] + free[lower],
        lower_length=free[lower],
    )


def _ring(fit: Fit, wanted: Wanted, place: Place, at: Sequence[int]) -> Ring:
    practice = fit.truck.practice
    ride, bump = place.height[0], place.bump
    if wanted.crossover is None:
        heights = np.stack([ride + share * (bump - ride) for share in reversed(practice.crossover)], axis=-1)
    else:
        heights = np.tile(wanted.crossover, (len(at), 1))
    rings = [(s.ring_gap, s.lower.free_length) for s in (fit.stacks[i] for i in at) if s.ring_gap is not None]
    gap, lower = min(rings, default=(None, None))
    return Ring(wanted.ring_moves, gap, lower, heights, practice.clear_of_solid)


def _broken(
    fit: Fit, candidates: Sequence[Candidate], pairs: Pairs, found: Outcome, at: Sequence[int], clear: float
) -> Array:
    """By how much each pair breaks each of REASONS (m), (k, reasons); the worst corner counts."""
    inside = np.array(
        [np.nan if c.inside_diameter is None else c.inside_diameter for c in candidates] + [np.nan]
    )
    shocks = [fit.truck.corners[CORNERS[i]].shock for i in at]
    over = [
        s.spring_inside_diameter for s in shocks if s is not None and s.spring_inside_diameter is not None
    ]

    def unlike(a: Array, b: Array) -> Array:
        return np.where(np.abs(a - b) > 0.02 * np.minimum(a, b), UNFIT, 0.0)  # unknown ones are let through

    misfit = np.zeros(len(pairs.upper))
    for shock in over:
        misfit = np.maximum(
            misfit, np.maximum(*(unlike(inside[s], np.array(shock)) for s in (pairs.upper, pairs.lower)))
        )
    worst = [
        -found.at_ride.min(axis=-1),
        -found.spare[..., 1],
        -found.spare[..., 0],
        np.where(found.ring_gap[:, None] < NO_STOP / 2, found.over_ring, 0.0),
        clear - found.left.min(axis=-1),
        fit.truck.practice.seated - found.at_strap,
    ]
    return np.stack(
        [unlike(inside[pairs.upper], inside[pairs.lower]), misfit, *(w.max(axis=1) for w in worst)], axis=-1
    )


def _distance(wanted: Wanted, pairs: Pairs, found: Outcome, ring: Ring) -> Array:
    """How far from what was asked for, in halves of each window, (k, 3); the worst corner counts.

    Preload from the middle of what the thread allows (short of snug, springs rattle on a hanging axle: that part
    of a thread does not count), frequency and crossover outside their windows.
    """
    least, most = found.preload - found.spare[..., 0], found.preload + found.spare[..., 1]
    least = np.maximum(least, 0.0)
    half = np.maximum((most - least) / 2, 0.01)
    preload = np.abs(found.preload - least - half) / half
    frequency = _outside(found.frequency, *np.array(wanted.frequency))
    crossover = np.nan_to_num(_outside(found.crossover, *ring.crossover.T), nan=1.0)
    return np.stack(
        [preload.max(axis=1), frequency, np.where(pairs.dual, crossover.max(axis=1), 0.0)], axis=-1
    )


def _outside(value: Array, low: Array, high: Array) -> Array:
    """How far outside a window, in halves of it."""
    return np.maximum(np.maximum(low - value, value - high), 0.0) / ((high - low) / 2)
