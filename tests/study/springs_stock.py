"""A catalogue of invented springs, and every pair of them tried at one end by plain arithmetic.

Written apart from the tool: one formula a line, each limit of good practice by itself. It serves the doers who do
without the tool, the one who knows, and the question whether anything in the catalogue could have done.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.truth.machine import Machine, gas_force
from tests.truth.trucks import IN, LBF_IN
from tuning.catalogue import StockSpring
from tuning.truck import CORNERS, SIDES, Practice, Spring, Truck

Array = NDArray[np.float64]

RATES = (80, 90, 100, 110, 125, 140, 150, 175, 200, 225, 250, 275, 300, 350, 400, 450, 500, 600)  # lbf/in
LENGTHS = (8, 10, 12, 14, 16, 18, 20, 22)  # in
INSIDE = (2.5, 3.0)  # in
SOFTER_IF_LONG = 20  # in: from here on no spring is stiffer than
LONG_RATE = 275  # lbf/in
GRAVITY = 9.80665


def solid_length(rate: float, free_length: float) -> float:
    """Of an invented spring (m): stiffer wire is thicker and stacks up higher."""
    return free_length * (0.30 + 0.035 * rate / (100 * LBF_IN))


def catalogue() -> tuple[StockSpring, ...]:
    """The whole stock, named by inside diameter, length and rate."""
    return tuple(
        StockSpring(
            f"{inside:g}-{length:02d}-{rate}",
            Spring(rate * LBF_IN, length * IN, solid_length(rate * LBF_IN, length * IN)),
            inside * IN,
        )
        for inside in INSIDE
        for length in LENGTHS
        for rate in RATES
        if length < SOFTER_IF_LONG or rate <= LONG_RATE
    )


@dataclass(frozen=True)
class Asked:
    """What the two corners of an end ask of their springs; (2,) each.

    force: of the springs at ride (N). ride, bump, strap: shock travel used there (m). datum (m). low, high: preload
    that the thread allows, less the free length on it (m). ratio: motion ratio at ride; beside: wheel rate that is
    not the springs' (N/m); mass: on both seats (kg). inside: diameter that fits the shock, None where not known (m).
    """

    force: Array
    ride: Array
    bump: Array
    strap: Array
    datum: Array
    low: Array
    high: Array
    ratio: Array
    beside: Array
    mass: float
    inside: float | None
    practice: Practice


def used_at(machine: Machine, height: Array) -> Array:
    """Shock travel used (m, (4,)) at seat heights."""
    a, b, c = machine.shaft_terms.T
    return machine.stroke - (a + height * (b + height * c))


def bump_of(truck: Truck, corner: str) -> float:
    """Lowest height a corner gets to (m)."""
    travel = truck.corners[corner].travel
    if travel.bump_stop != "soft":
        return float(travel.height_full_bump)
    return float(min(travel.height_full_bump, travel.bump_stop_contact - travel.bump_stop_travel))


def asked_of(truck: Truck, machine: Machine, end: str, seat_height: Array, seat_load: Array) -> Asked:
    """What an end asks of its springs when it stands at these seat heights (m) under these seat loads (N), (4,)."""
    at = [CORNERS.index(c) for c in SIDES[end]]
    corners = [truck.corners[c] for c in SIDES[end]]
    _, b, c = machine.shaft_terms.T
    ratio, used = b + 2 * c * seat_height, used_at(machine, seat_height)
    gas, growth = gas_force(machine, used)
    bump = np.array([0.5 if v.shock is None else bump_of(truck, n) for n, v in truck.corners.items()])
    strap = np.array([v.travel.height_strap or 0.5 for v in truck.corners.values()])
    free = np.array([sum(s.free_length for s in v.stack.springs) for v in corners])
    return Asked(
        force=(seat_load / ratio - gas)[at],
        ride=used[at],
        bump=used_at(machine, bump)[at],
        strap=used_at(machine, strap)[at],
        datum=np.broadcast_to(machine.datum, (4,))[at],
        low=np.array([v.adjuster.preload_min for v in corners]) - free,
        high=np.array([v.adjuster.preload_max for v in corners]) - free,
        ratio=ratio[at],
        beside=(growth * ratio**2 - seat_load / ratio * 2 * c)[at],
        mass=float(seat_load[at].sum()) / GRAVITY,
        inside=corners[0].shock.spring_inside_diameter,
        practice=truck.practice,
    )


@dataclass(frozen=True)
class Loose:
    """One spring of a list. rates: at each of the end's corners (N/m, (2,))."""

    name: str
    rates: Array
    free_length: float
    travel: float
    inside: float | None


def loose(stock: tuple[StockSpring, ...]) -> list[Loose]:
    """Springs of a catalogue at their listed rates."""
    return [
        Loose(
            s.name,
            np.full(2, s.spring.rate),
            s.spring.free_length,
            s.spring.travel_to_solid,
            s.inside_diameter,
        )
        for s in stock
    ]


@dataclass(frozen=True)
class Tried:
    """Every pair, (k,) or (k, 2). upper −1: one spring alone. fits: breaks none of the limits. score: how far the
    nut is from the middle of its thread and the ride frequency from its window, in halves of each."""

    upper: NDArray[np.intp]
    lower: NDArray[np.intp]
    preload: Array
    gap: Array
    fits: NDArray[np.bool_]
    score: Array

    def best(self) -> int | None:
        """The pair of the least score that fits."""
        return int(np.where(self.fits, self.score, np.inf).argmin()) if self.fits.any() else None


def try_all(asked: Asked, springs: list[Loose], twice: NDArray[np.bool_] | None = None) -> Tried:
    """Every spring alone and every one on every other. twice: springs there are enough of to pair with themselves."""
    n = len(springs)
    upper, lower = (g.ravel() for g in np.meshgrid(np.arange(-1, n), np.arange(n), indexing="ij"))
    if twice is not None:
        real = (upper != lower) | twice[lower]
        upper, lower = upper[real], lower[real]
    soft = np.array([*(1 / s.rates for s in springs), np.zeros(2)])
    travel = np.array([*(s.travel for s in springs), 1e3])[:, None]
    free = np.array([*(s.free_length for s in springs), 0.0])
    over, under = soft[upper], soft[lower]
    length = (free[upper] + free[lower])[:, None]
    preload = asked.force * (over + under) + asked.datum - asked.ride
    at_bump, at_strap = (preload + used - asked.datum for used in (asked.bump, asked.strap))
    clear, dual = asked.practice.clear_of_solid, upper >= 0

    # How much of the compression at full bump the upper takes: at most its share, less where the ring stops it.
    # The ring must let it take what it has at ride, and whatever the lower cannot.
    share = over / (over + under) * at_bump
    needs = np.maximum(asked.force * over, at_bump - (travel[lower] - clear))
    room = np.where(dual[:, None], travel[upper] - clear, 1e3)
    least = np.maximum((needs - preload).max(1), 0.0)
    most = np.where((share <= room).all(1), np.inf, (room - preload).min(1))
    middle = ((asked.force * over + share) / 2 - preload).mean(1)
    gap = np.clip(middle, least, np.maximum(most, least))

    solid = np.stack([travel[upper] - asked.force * over, travel[lower] - asked.force * under])
    checks = [
        _suits(np.array([s.inside or np.nan for s in springs] + [np.nan]), upper, lower, asked.inside),
        (solid >= 0).all((0, 2)),
        (preload >= asked.low + length).all(1),
        (preload <= asked.high + length).all(1),
        ~dual | ((least <= most) & (at_bump - share <= travel[lower] - clear).all(1)),
        dual | (at_bump <= travel[lower] - clear).all(1),
        (at_strap >= asked.practice.seated).all(1),
    ]
    return Tried(upper, lower, preload, gap, np.all(checks, 0), _score(asked, preload, length, over + under))


def _suits(inside: Array, upper: Array, lower: Array, shock: float | None) -> Array:
    """Whether springs fit each other and the shock, to 2 %; what is not known is let through."""

    def alike(a: Array, b: Array) -> Array:
        return ~(np.abs(a - b) > 0.02 * np.minimum(a, b))

    fits = alike(inside[upper], inside[lower])
    if shock is not None:
        fits &= alike(inside[upper], np.array(shock)) & alike(inside[lower], np.array(shock))
    return fits


def _score(asked: Asked, preload: Array, length: Array, soft: Array) -> Array:
    low, high = np.maximum(asked.low + length, 0.0), asked.high + length
    half = np.maximum((high - low) / 2, 0.01)
    nut = (np.abs(preload - low - half) / half).max(1)
    rate = (asked.ratio**2 / soft + asked.beside).sum(1)
    hertz = np.sqrt(np.maximum(rate, 0) / asked.mass) / (2 * np.pi)
    slow, quick = asked.practice.ride_frequency
    return nut + np.maximum(np.maximum(slow - hertz, hertz - quick), 0) / ((quick - slow) / 2)
