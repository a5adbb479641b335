"""Trucks whose first springs are so wrong at one end that no nut can mend it."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tests.truth.rest import Rest
from tests.truth.shop import RATE, Real, real_truck, stand
from tests.truth.trucks import IN, LBF_IN, random_kind, random_truck
from tuning.truck import CORNERS, END_OF, SIDES, Corner, Spring, Stack, Target, Travel, Truck

from .cases import FIRST_PRELOAD, GRID, ROOM, best_possible
from .springs_stock import Asked, asked_of, bump_of, solid_length

Array = NDArray[np.float64]

MISSED = 0.5 * IN  # by how much the best setting of the first springs misses a height, at least
FLIPPED = 0.4  # share of the trucks with leaves that have them in front
WRONG = {  # what is done to the springs of the end, more and more until the nut can't mend it
    "soft": tuple(np.arange(0.9, 0.45, -0.1)),
    "stiff": tuple(np.arange(1.15, 2.2, 0.15)),
    "short": tuple(np.arange(-0.5, -4.1, -0.5) * IN),
    "long": tuple(np.arange(0.5, 4.1, 0.5) * IN),
}


@dataclass(frozen=True)
class Place:
    """Where the targets are met as well as can be: seat heights (m), seat loads (N), (4,); preloads of the nuts
    there (m), which at the end with the wrong springs mean nothing. Whatever springs do it, it is the same."""

    heights: Array
    seats: Array
    preload: Array


@dataclass(frozen=True)
class Case:
    """One job: springs to be found for `end`. start: nuts at the first set-down (m, (4,)). luck: how far new springs
    of the upper and the lower place are off their list at each corner, a share (4, 2)."""

    number: int
    truck: Truck
    real: Real
    start: Array
    end: str
    wrong: str
    missed: float
    place: Place
    luck: Array

    @property
    def asked(self) -> Asked:
        """What the end truly asks of its springs."""
        return asked_of(self.truck, self.real.machine, self.end, self.place.heights, self.place.seats)


def draw_case(number: int, seed: int) -> Case:
    """The job called `number`; the same numbers give the same job."""
    rng = np.random.default_rng([seed, number, 3])
    while True:
        truck, wheels = _drawn_truck(rng, f"truck {number}")
        real = real_truck(rng, truck, wheels)
        truck = truck.with_target(_target(rng, truck, real))
        start = np.where(real.machine.adjustable, FIRST_PRELOAD, 0.0)
        preload, worst = best_possible(truck, real, start)
        if worst > ROOM:
            continue
        right = stand(real, preload)
        place = Place(right.seat_heights, right.seats, preload)
        end = str(rng.choice([e for e in SIDES if _coilover(truck, e)]))
        spoilt = _spoilt(rng, truck, real, end, start)
        if spoilt is not None:
            return Case(number, *spoilt, place, rng.normal(0, RATE, (4, 2)))


def _coilover(truck: Truck, end: str) -> bool:
    return truck.corners[SIDES[end][0]].adjuster is not None


def _drawn_truck(rng: Generator, name: str) -> tuple[Truck, Array]:
    """A truck with ends to its travel and springs that go solid; leaves behind, in front or nowhere."""
    kind = random_kind(rng)
    truck, wheels = random_truck(rng, kind, name)
    if kind.rear_leaf and rng.random() < FLIPPED:
        turned = dict(zip(CORNERS, (truck.corners[c] for c in ("LR", "RR", "LF", "RF")), strict=True))
        truck = replace(truck, front=truck.rear, rear=truck.front, corners=turned)
        wheels = wheels[[2, 3, 0, 1]]
    ends = {end: truck.corners[sides[0]] for end, sides in SIDES.items()}
    ends = {end: _fitted_out(rng, c, end) if c.shock else c for end, c in ends.items()}
    return _with_corners(truck, {c: ends[END_OF[c]] for c in CORNERS}), wheels


def _with_corners(truck: Truck, corners: dict[str, Corner]) -> Truck:
    return replace(truck, corners=corners, stacks={c.stack.name: c.stack for c in corners.values()})


def _fitted_out(rng: Generator, corner: Corner, end: str) -> Corner:
    """With bump, strap and sometimes a stop that squashes; a known inside diameter; springs like those one buys."""
    height, shaft = np.array(corner.cycle).T
    least = rng.uniform(0.75, 1.0) * IN
    strap = corner.shock.stroke - rng.uniform(1.5, 2.0) * IN
    bump, strap = (round(float(np.interp(s, shaft, height)) / GRID) * GRID for s in (least, strap))
    travel = Travel(height_full_bump=bump, height_strap=strap)
    if rng.random() < 0.3:
        squash = rng.uniform(1.0, 2.0) * IN
        travel = replace(
            travel, bump_stop="soft", bump_stop_travel=squash, bump_stop_contact=bump + squash - 0.125 * IN
        )
    inside = float(rng.choice([2.5, 3.0])) * IN if rng.random() < 0.6 else None
    shock = replace(corner.shock, spring_inside_diameter=inside)
    return replace(corner, shock=shock, travel=travel, stack=_bought(corner.stack, f"first {end} springs"))


def _bought(stack: Stack, name: str) -> Stack:
    """With the solid lengths that such springs have."""

    def real(spring: Spring | None) -> Spring | None:
        return spring and replace(spring, solid_length=solid_length(spring.rate, spring.free_length))

    return Stack(name, real(stack.lower), real(stack.upper), stack.ring_gap)


def _target(rng: Generator, truck: Truck, real: Real) -> Target:
    """Level at round heights that springs such as the truck was drawn with reach with the nuts half way."""
    adjustable = np.array(real.machine.adjustable)
    preload = np.repeat(rng.uniform(1.2, 2.2, 2) * IN, 2) * adjustable
    heights = stand(real, preload).heights
    wanted = {}
    for end, sides in SIDES.items():
        if _coilover(truck, end):
            at = [CORNERS.index(c) for c in sides]
            wanted |= dict.fromkeys(sides, round(float(heights[at].mean()) / GRID) * GRID)
    cross = 0.5 if rng.random() < 0.5 else None
    if cross is not None:  # the frame leaves room for three level corners and the cross-weight, not for four
        rear = {c: h for c, h in wanted.items() if END_OF[c] == "rear"}
        if len(wanted) == 4:
            fronts = {c: h for c, h in wanted.items() if c not in rear}
            return Target(heights=fronts, ends={"rear": rear["LR"]}, cross_weight=cross)
        end = END_OF[next(iter(wanted))]
        return Target(ends={end: next(iter(wanted.values()))}, cross_weight=cross)
    return Target(heights=wanted)


def _spoilt(
    rng: Generator, truck: Truck, real: Real, end: str, start: Array
) -> tuple[Truck, Real, Array, str, str, float] | None:
    """The same truck with wrong springs at one end, only as wrong as it takes; None where that can't stand."""
    wrong = str(rng.choice(list(WRONG)))
    for amount in WRONG[wrong]:
        bad, spoilt = _with_wrong(truck, real, end, wrong, float(amount))
        corner = bad.corners[SIDES[end][0]]
        first = start.copy()
        at = [CORNERS.index(c) for c in SIDES[end]]
        first[at] = np.clip(FIRST_PRELOAD, corner.adjuster.preload_min, corner.adjuster.preload_max)
        best, _ = best_possible(bad, spoilt, first)
        missed = float(np.abs(height_misses(bad.target, stand(spoilt, best), end)).max())
        if missed > MISSED:
            if _on_its_springs(bad, stand(spoilt, first)):
                return bad, spoilt, first, end, wrong, missed
            return None
    return None


def _with_wrong(truck: Truck, real: Real, end: str, wrong: str, amount: float) -> tuple[Truck, Real]:
    """Rates times a factor, or the lower spring longer by a length, with which the nut's thread shifts."""
    corner, machine = truck.corners[SIDES[end][0]], real.machine
    stack, adjuster = corner.stack, corner.adjuster
    at = np.isin(CORNERS, SIDES[end])
    if wrong in ("soft", "stiff"):
        lower, upper = (
            s and replace(s, rate=round(s.rate * amount / LBF_IN / 5) * 5 * LBF_IN)
            for s in (stack.lower, stack.upper)
        )
        gain = [
            new.rate / old.rate if old else 1.0 for new, old in ((upper, stack.upper), (lower, stack.lower))
        ]
        machine = replace(
            machine,
            upper_rate=machine.upper_rate * np.where(at, gain[0], 1.0),
            lower_rate=machine.lower_rate * np.where(at, gain[1], 1.0),
        )
    else:
        lower, upper = replace(stack.lower, free_length=stack.lower.free_length + amount), stack.upper
        adjuster = replace(
            adjuster, preload_min=adjuster.preload_min + amount, preload_max=adjuster.preload_max + amount
        )
    stack = _bought(Stack(stack.name, lower, upper, stack.ring_gap), stack.name)
    machine = replace(
        machine,
        lower_travel=np.where(at, stack.lower.travel_to_solid, machine.lower_travel),
        upper_travel=np.where(at, stack.upper.travel_to_solid, machine.upper_travel)
        if stack.upper
        else machine.upper_travel,
    )
    corner = replace(corner, stack=stack, adjuster=adjuster)
    corners = {c: corner if END_OF[c] == end else truck.corners[c] for c in CORNERS}
    return _with_corners(truck, corners), replace(real, machine=machine)


def height_misses(target: Target, standing: Rest, end: str | None = None) -> Array:
    """How far each height asked for is off (m), of one end or of all."""
    off = [
        standing.heights[..., CORNERS.index(c)] - h
        for c, h in target.heights.items()
        if end in (None, END_OF[c])
    ]
    off += [
        standing.heights[..., [CORNERS.index(c) for c in SIDES[e]]].mean(-1) - h
        for e, h in target.ends.items()
        if end in (None, e)
    ]
    return np.stack(off, -1)


def _on_its_springs(truck: Truck, standing: Rest) -> bool:
    """Off its bump stops and straps, so that readings are about springs."""
    return all(
        corner.shock is None
        or bump_of(truck, name) + 0.25 * IN < standing.seat_heights[i] < corner.travel.height_strap
        for i, (name, corner) in enumerate(truck.corners.items())
    )
