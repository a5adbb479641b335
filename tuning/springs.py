"""Which springs instead: every pair of a catalogue at one end, ranked, with the reason each loser lost. SI inside.

Hard limits come first: the springs fit each other and the shock, the nut reaches, the slider is off its ring at
ride, nothing binds at full bump, nothing is loose at strapped droop. Among those that pass, the distance from what
was asked for decides (nut near the middle of its thread, ride frequency and crossover inside their windows), to a
quarter; then the number of springs to buy; then whether the softer spring is on top; then the room left to coil bind.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .arrays import Array, Places
from .catalogue import StockSpring
from .fit import Fit
from .pairs import Outcome, Pairs, Place, Ring, joined, outcome
from .plan import Plan
from .progress import Tell, untold
from .spring_places import Candidate, Wanted, on_the_truck, pairs_of, place_of, ring_of
from .stack import NO_STOP
from .truck import CORNERS, SIDES, Stack

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
NEARLY = 0.25  # of half a window: pairs that lie no further apart are as good as each other
UNFIT = 1e3  # m: what no fraction of an inch would mend
PART = 20_000  # pairs gone through at a time: a few hundredths of a second


@dataclass(frozen=True)
class Search:
    """All pairs for some corners of an end, alike at each. Arrays (k, ...) as in `pairs.Outcome`.

    own: the stack that is on now, where all corners wear the same.
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
    own: Stack | None
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

    def changed(self, at: int) -> bool:
        """Whether a pair differs from what is on the truck: another spring, another place, or the ring moved."""
        upper, lower = self.springs(at)
        own = (0, 1) if upper is not None else (None, 1)
        same = (upper.kept if upper is not None else None, lower.kept) == own
        return (
            not same
            or self.ring_moved(at)
            or (self.own is None)
            or (self.own.upper is None) != (upper is None)
        )

    def ring_moved(self, at: int) -> bool:
        """Whether the ring has to be moved, or put on, for a pair."""
        gap, own = float(self.outcome.ring_gap[at]), self.ring.gap
        if gap >= NO_STOP / 2:
            return False
        shift = (
            (self.ring.gap_lower or 0.0) - float(self.pairs.lower_length[at]) if self.ring.gap_lower else 0.0
        )
        return own is None or abs(own + shift - gap) > ALIKE

    def least_bad(self) -> int | None:
        """The pair that breaks its worst limit by least; None where no two springs go together at all."""
        if not len(self.broken):
            return None
        best = int(self.broken.max(axis=1).argmin())
        return best if self.broken[best].max() < UNFIT else None

    def find(self, upper: str | None, lower: str) -> int | None:
        """The pair of these names; None where it was not among those searched."""
        names = {c.name: at for at, c in reversed(list(enumerate(self.candidates)))}
        above = -1 if upper is None else names.get(upper, len(names))
        found = np.nonzero((self.pairs.upper == above) & (self.pairs.lower == names.get(lower, len(names))))[
            0
        ]
        return int(found[0]) if len(found) else None

    def springs(self, at: int) -> tuple[Candidate | None, Candidate]:
        """Upper and lower of a pair."""
        upper = int(self.pairs.upper[at])
        return None if upper < 0 else self.candidates[upper], self.candidates[int(self.pairs.lower[at])]

    def stack(self, at: int) -> Stack:
        """A pair as the truck would hold it, named after its springs; the truck's own where nothing changes."""
        upper, lower = self.springs(at)
        if self.own is not None and not self.changed(at):
            return self.own
        gap = float(self.outcome.ring_gap[at])
        side = f" ({self.corners[0]})" if len(self.corners) == 1 else ""
        return Stack(
            self.said(at) + side,
            lower.spring,
            None if upper is None else upper.spring,
            None if gap >= NO_STOP / 2 else gap,
        )

    def said(self, at: int) -> str:
        """`A over B`, or `B`."""
        upper, lower = self.springs(at)
        return lower.name if upper is None else f"{upper.name} over {lower.name}"


def search(
    fit: Fit,
    catalogue: Sequence[StockSpring],
    corners: Sequence[str],
    wanted: Wanted,
    standing: Plan,
    tell: Tell = untold,
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
    pairs = pairs_of(fit, candidates, at)
    ring = ring_of(fit, wanted, place, at)
    founds, brokens, distances, batches = [], [], [], pairs.parts(PART)
    for number, part in enumerate(batches):
        tell(f"Going through {len(pairs.upper):,} stacks", number, len(batches))
        founds.append(outcome(place, part, ring))
        brokens.append(_broken(fit, candidates, part, founds[-1], at, ring.clear))
        distances.append(_distance(wanted, part, founds[-1], ring))
    found, broken, distance = joined(founds), np.concatenate(brokens), np.concatenate(distances)
    sound = np.nonzero((broken <= ALIKE).all(axis=1))[0]
    bought = np.array([c.kept is None for c in candidates] + [False], dtype=int)
    total, parts = distance[sound].sum(axis=1), (bought[pairs.upper] + bought[pairs.lower])[sound]
    room = found.left[sound].min(axis=(1, 2))
    upper, lower = pairs.compliance[sound].mean(axis=1).T
    upside_down = pairs.dual[sound] & (
        upper < lower
    )  # the ring stops the upper: that should be the softer one
    order = sound[np.lexsort((-room, np.round(total, 3), upside_down, parts, np.round(total / NEARLY)))]
    end = "front" if corners[0] in SIDES["front"] else "rear"
    stacks = {fit.stacks[i] for i in at}
    own = stacks.pop() if len(stacks) == 1 else None
    return Search(
        end,
        tuple(corners),
        wanted,
        candidates,
        place,
        pairs,
        ring,
        own,
        found,
        broken,
        distance,
        order,
    )


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
