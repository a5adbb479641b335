"""What every pair of springs would do at one end, all pairs at once. Lengths m, forces N, compliances m/N.

Arrays end in the corners of the end where they differ by corner: k pairs, c corners. Geometry as in `stack`:
the perch stays, the nut comes down from where the springs are snug at full extension, and the ring stays on the
body, so another lower spring moves the slider against it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .arrays import Array, Flags, Places
from .coil import STANDARD_GRAVITY
from .cycle import Cycle
from .stack import NO_STOP


@dataclass(frozen=True)
class Place:
    """What the corners of an end ask of their springs where the truck should stand. (..., c) each.

    force: in the springs at ride (N). seat_load (N), gas_rate (N/m), datum (m). height, bump, strap: at the seat
    (m). low, high: preload that the thread allows, less the free length of the springs (m).
    """

    cycle: Cycle
    stroke: Array
    force: Array
    seat_load: Array
    gas_rate: Array
    datum: Array
    height: Array
    bump: Array
    strap: Array
    low: Array
    high: Array

    def used(self, height: Array) -> Array:
        """Shock travel used (m) at a height."""
        return self.stroke - self.cycle.shaft(height)


@dataclass(frozen=True)
class Pairs:
    """k candidate stacks. upper, lower: places in the list they were made from, upper −1 for a single spring.

    compliance: (k, c, 2), zero where there is no upper. solid_travel: (k, 2). free_length, lower_length: (k,) m.
    """

    upper: Places
    lower: Places
    compliance: Array
    solid_travel: Array
    free_length: Array
    lower_length: Array

    @property
    def dual(self) -> Flags:
        """Which of them are two springs."""
        return self.upper >= 0

    def parts(self, size: int) -> "list[Pairs]":
        """The same pairs in order, at most `size` at a time; at least one part."""
        starts = range(0, max(len(self.upper), 1), size)
        return [Pairs(**{name: v[at : at + size] for name, v in vars(self).items()}) for at in starts]

    @property
    def soft(self) -> Array:
        """Compliance of both springs together (m/N), (k, c)."""
        return np.asarray(self.compliance.sum(axis=-1))


@dataclass(frozen=True)
class Ring:
    """Where the stop ring may go. moves: it may be put where the crossover is best; otherwise `gap` (m) is what it
    is for lower springs `gap_lower` long. crossover: wanted heights, least and most, (c, 2) m. clear: spring
    travel that should be left to solid at full bump (m)."""

    moves: bool
    gap: float | None
    gap_lower: float | None
    crossover: Array
    clear: float


def preload_needed(place: Place, compliance: Array, solid_travel: Array) -> Array:
    """Preload with which springs carry `place.force` at its height: p = D(F) + datum − s, (..., c) m.

    compliance, solid_travel: (..., c, 2). The slider is taken to be off its ring: on it no preload would do.
    """
    pressed = np.minimum(place.force[..., None] * compliance, solid_travel)
    return np.asarray(pressed.sum(axis=-1) + place.datum - place.used(place.height))


def ring_gaps(place: Place, pairs: Pairs, preload: Array, ring: Ring) -> Array:
    """Slider to ring with the springs snug and no preload (m), (k,); NO_STOP where there is no ring.

    A ring that may move stays all the same where it does; otherwise it puts the crossover in the middle of where it
    is wanted, or as near as keeps the slider off it at ride and both springs clear of solid at full bump. One gap for
    all corners.
    """
    stays = np.full(len(preload), NO_STOP)
    if ring.gap is not None:
        moved = 0.0 if ring.gap_lower is None else ring.gap_lower - pairs.lower_length
        stays = np.where(pairs.dual, ring.gap + moved, NO_STOP)
    if not ring.moves:
        return stays
    share = pairs.compliance[..., 0] / pairs.soft

    def gap_for(height: Array) -> Array:
        """The upper's part of the compression where the slider meets the ring, less the preload."""
        return np.asarray(share * _pressed(place, preload, height) - preload)

    low, high = ring.crossover.T
    middle, first, last = (gap_for(h) for h in ((low + high) / 2, high, low))
    solid = pairs.solid_travel[:, None]
    most = solid[..., 0] - ring.clear - preload
    bump, ride = _pressed(place, preload, place.bump), place.force * pairs.compliance[..., 0]
    least = np.maximum(bump - solid[..., 1] + ring.clear, ride) - preload
    # Hard limits first: coil bind breaks things, a crossover out of its window is a matter of taste.
    lowest = np.maximum(np.maximum(first, least).max(axis=1), 0.0)
    highest = np.minimum(last, most).min(axis=1)
    gap = np.where(
        (stays >= lowest) & (stays <= highest), stays, np.clip(middle.mean(axis=1), lowest, highest)
    )
    least, most = np.maximum(least.max(axis=1), 0.0), most.min(axis=1)
    gap = np.where(lowest <= highest, gap, np.clip(gap, least, np.maximum(least, most)))
    return np.where(pairs.dual, gap, NO_STOP)


def _pressed(place: Place, preload: Array, height: Array) -> Array:
    """Stack compression with no spring loose (m)."""
    return preload + place.used(height) - place.datum


@dataclass(frozen=True)
class Outcome:
    """What the pairs do, (k, c) unless said otherwise.

    preload (m). ring_gap: (k,) m, NO_STOP without ring. crossover: height (m), NaN where the slider has no ring.
    left: travel to solid left at full bump, (k, c, 2) m, below zero missing; at_ride: the same at ride.
    at_strap: compression left at strapped droop (m), below zero loose. over_ring: how far the slider is past its
    ring at ride (m), above zero on it. spare: thread left below and above, (k, c, 2) m. frequency: (k,) Hz.
    """

    preload: Array
    ring_gap: Array
    crossover: Array
    left: Array
    at_ride: Array
    at_strap: Array
    over_ring: Array
    spare: Array
    frequency: Array


def joined(parts: Sequence[Outcome]) -> Outcome:
    """What all the parts do, in their order."""
    return Outcome(**{name: np.concatenate([vars(part)[name] for part in parts]) for name in vars(parts[0])})


def outcome(place: Place, pairs: Pairs, ring: Ring) -> Outcome:
    """What each pair would do with the preload that puts the corners in their place."""
    solid = pairs.solid_travel[:, None]
    room = np.where(
        pairs.dual[:, None, None] | [False, True], solid, NO_STOP
    )  # an upper that is not there never binds
    preload = preload_needed(place, pairs.compliance, solid)
    gap = ring_gaps(place, pairs, preload, ring)
    stop = np.maximum(gap[:, None] + preload, 0.0)
    pressed = np.maximum(_pressed(place, preload, place.bump), 0.0)
    upper = np.minimum(pressed * pairs.compliance[..., 0] / pairs.soft, stop)
    carried = place.force[..., None] * pairs.compliance
    low, high = (end + pairs.free_length[:, None] for end in (place.low, place.high))
    return Outcome(
        preload=preload,
        ring_gap=gap,
        crossover=_crossover(place, pairs, preload, stop),
        left=room - np.stack([upper, pressed - upper], axis=-1),
        at_ride=room - carried,
        at_strap=_pressed(place, preload, place.strap),
        over_ring=carried[..., 0] - stop,
        spare=np.stack([preload - low, high - preload], axis=-1),
        frequency=ride_frequency(place, pairs.soft),
    )


def _crossover(place: Place, pairs: Pairs, preload: Array, stop: Array) -> Array:
    """Height at which the slider meets its ring (m): there both springs carry stop / c_upper."""
    upper = pairs.compliance[..., 0]
    force = np.divide(stop, upper, out=np.full(stop.shape, np.nan), where=(upper > 0) & (stop < NO_STOP / 2))
    used = force * pairs.soft + place.datum - preload
    return place.cycle.height(place.stroke - used)


def ride_frequency(place: Place, soft: Array) -> Array:
    """Frequency of an end's sprung mass on its wheel rate (Hz): √(Σ K / Σ m) / 2π, tyres left out.

    soft: compliance of each corner's springs at ride (..., c). K = (1/c + gas) m² − (S / m) dm/dh is the wheel rate in
    heave, m the motion ratio; the sprung mass is what the seats carry over standard gravity.
    Source: any vehicle dynamics text (Gillespie, Fundamentals of Vehicle Dynamics, ch. 5), from memory.
    """
    ratio = place.cycle.motion_ratio(place.height)
    rate = (1 / soft + place.gas_rate) * ratio**2 - place.seat_load / ratio * 2 * place.cycle.c
    mass = np.maximum(place.seat_load, 0.0).sum(axis=-1) / STANDARD_GRAVITY
    return np.asarray(np.sqrt(np.maximum(rate.sum(axis=-1), 0.0) / np.maximum(mass, 1e-9)) / (2 * np.pi))
