"""How a real truck differs from its list, and what tape and scales say of it on the shop floor."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tuning.readings import Reading, Run
from tuning.truck import CORNERS, Truck

from . import rest
from .machine import ATMOSPHERE, Machine, machine_of
from .trucks import IN

Array = NDArray[np.float64]

TAPE = IN / 16  # one sd of a tape reading, which is then written down to the next TAPE_GRID
TAPE_GRID = IN / 16
SCALE = 0.001  # one sd, share of reading
RATE = 0.03  # one sd, share of the listed rate, each spring for itself
DATUM = 0.004  # one sd, m
SET = 0.003  # one sd, rad: frame bent, floor not level
FRAME_STIFFNESS = (0.5, 1.5)  # of what the file says
FRICTION_SPREAD = 0.3  # one sd of log: an end's friction against the file's
FRICTION_SIDES = 0.1  # one sd: one side against the other

# Reading habits: how often a corner is read in one visit, and which way it was brought to rest each time
# (+1 let down from above, −1 let up from below, 0 rolled and bounced).
WAYS = {"A": (0,), "B": (0, 0, 0, 0), "C": (1, -1)}
SETTLED = {1: "above", -1: "below", 0: ""}


@dataclass(frozen=True)
class Real:
    """One real truck: what it is, what it weighs, and the half band of friction at each seat (N, (4,))."""

    machine: Machine
    load: rest.Load
    friction: Array
    mast: rest.Mast | None = None  # with one, its weight moves as it leans, which no truck file knows

    def settle(self, preload: Array, friction: Array | float = 0.0) -> rest.Rest:
        """Where it stands, friction (N) helping each spring."""
        if self.mast is None:
            return rest.settle(self.machine, self.load, preload, friction)
        return rest.settle_on_mast(self.machine, self.load, preload, self.mast, friction)


@dataclass(frozen=True)
class Visit:
    """All readings of one visit. heights (m) and wheels (N): (readings, 4); ways: (readings,); preload m: (4,)."""

    heights: Array
    wheels: Array
    ways: tuple[int, ...]
    preload: Array


def real_truck(rng: Generator, truck: Truck, wheels: Array, mast: float = 0.0) -> Real:
    """A truck built to this list by real people out of real parts, under these nominal wheel loads (N).

    mast: how far its sprung centre of gravity is above the frame's marks (m).
    """
    listed = machine_of(truck, ATMOSPHERE)
    low, high = FRAME_STIFFNESS
    friction = np.array([truck.end(c).friction for c in CORNERS])
    ends = np.repeat(np.exp(rng.normal(0, FRICTION_SPREAD, 2)), 2)
    machine = replace(
        listed,
        upper_rate=listed.upper_rate * (1 + rng.normal(0, RATE, 4)),
        lower_rate=listed.lower_rate * (1 + rng.normal(0, RATE, 4)),
        frame_compliance=listed.frame_compliance / rng.uniform(low, high),
        set=np.array(rng.normal(0, SET)),
    )
    datum = rng.normal(0, DATUM, 4)
    leaf = ~np.array(listed.adjustable)
    if leaf.any():  # where it rides, and so how high it stands free, is for no file to know
        ride = rng.uniform(17, 22) * IN + rng.normal(0, 0.008, 4)
        datum = np.where(leaf, -(ride + wheels / machine.lower_rate), datum)
    machine = replace(machine, datum=datum)
    return Real(
        machine,
        rest.Load.of(wheels, listed.track),
        friction * ends * (1 + rng.normal(0, FRICTION_SIDES, 4)),
        rest.Mast(mast, truck.wheelbase) if mast else None,
    )


def stand(real: Real, preload: Array) -> rest.Rest:
    """Where it would stand if nothing rubbed: what the truck is."""
    return real.settle(preload)


def visit(rng: Generator, real: Real, preload: Array, ways: tuple[int, ...]) -> Visit:
    """Read every corner once per entry of `ways`; all four are brought to rest together each time."""
    side = np.array(ways, float)[:, None]
    anywhere = rng.uniform(-1, 1, (len(ways), 4))
    friction = real.friction * np.where(side == 0, anywhere, side)
    standing = real.settle(np.broadcast_to(preload, friction.shape), friction)
    tape = standing.heights + rng.normal(0, TAPE, friction.shape)
    scales = standing.wheels * (1 + rng.normal(0, SCALE, friction.shape))
    return Visit(np.round(tape / TAPE_GRID) * TAPE_GRID, scales, ways, np.array(preload))


def run_of(truck: Truck, visit: Visit, number: int) -> Run:
    """The visit as it would be logged."""
    name, day = f"r{number}", datetime(2024, 3, 1, 9, tzinfo=UTC) + timedelta(days=number)
    readings = []
    for row, way in enumerate(visit.ways):
        for i, corner in enumerate(CORNERS):
            nut = truck.corners[corner].adjuster is not None
            readings.append(
                Reading(
                    run=name,
                    taken_at=day,
                    corner=corner,
                    height=float(visit.heights[row, i]),
                    load=float(visit.wheels[row, i]),
                    preload=float(visit.preload[i]) if nut else None,
                    stack=truck.corners[corner].stack.name if nut else None,
                    settled=SETTLED[way],
                )
            )
    return Run(name, day, tuple(readings))
