"""Trucks to be set up, each with targets that its own adjusters can reach."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tests.truth.rest import Rest
from tests.truth.shop import Real, real_truck, stand
from tests.truth.trucks import IN, random_kind, random_truck
from tuning.truck import CORNERS, SIDES, Target, Truck

from .lattice import Lattice

Array = NDArray[np.float64]

FIRST_PRELOAD = 0.5 * IN
GRID = IN / 8  # people want round heights
ROOM = 0.5  # how near the best setting there is has to come, in tolerances


@dataclass(frozen=True)
class Case:
    """One job: the file, the real truck, where the nuts stand when it first comes down (m, (4,))."""

    number: int
    truck: Truck
    real: Real
    start: Array
    wish: str


def draw_case(number: int, seed: int, mast: float = 0.0) -> Case:
    """The job called `number`; the same numbers give the same job. mast: as in `real_truck`."""
    rng = np.random.default_rng([seed, number])
    while True:
        kind = random_kind(rng)
        truck, wheels = random_truck(rng, kind, f"truck {number}")
        real = real_truck(rng, truck, wheels, mast)
        wish = _wish(rng, kind.rear_leaf)
        start = np.where(real.machine.adjustable, FIRST_PRELOAD, 0.0)
        for _ in range(4):
            aimed = truck.with_target(_target(rng, real, wish))
            if best_possible(aimed, real, start)[1] <= ROOM:
                return Case(number, aimed, real, start, wish)


def _wish(rng: Generator, rear_leaf: bool) -> str:
    if rear_leaf:
        return str(rng.choice(["LF RF", "front cross"]))
    return str(rng.choice(["all cross", "all", "LF RF rear cross"], p=[0.5, 0.25, 0.25]))


def _target(rng: Generator, real: Real, wish: str) -> Target:
    """Level, at a round height near the middle of what the nuts can do."""
    preload = np.repeat(rng.uniform(1.0, 2.6, 2) * IN, 2) * real.machine.adjustable
    heights = stand(real, preload).heights
    front, rear = (round(float(pair.mean()) / GRID) * GRID for pair in (heights[:2], heights[2:]))
    words = wish.split()
    corners = {"LF": front, "RF": front} if "LF" in words or "all" in words else {}
    corners |= {"LR": rear, "RR": rear} if "all" in words else {}
    ends = {end: value for end, value in (("front", front), ("rear", rear)) if end in words}
    return Target(heights=corners, ends=ends, cross_weight=0.5 if "cross" in words else None)


def misses(target: Target, standing: Rest) -> Array:
    """How far each wish is off, in its tolerances: (..., wishes)."""
    off = [standing.heights[..., CORNERS.index(c)] - h for c, h in target.heights.items()]
    for end, height in target.ends.items():
        off.append(standing.heights[..., [CORNERS.index(c) for c in SIDES[end]]].mean(-1) - height)
    found = np.stack(off, -1) / target.height_tolerance
    if target.cross_weight is None:
        return found
    cross = (standing.cross - target.cross_weight) / target.cross_weight_tolerance
    return np.concatenate([found, cross[..., None]], -1)


def best_possible(truck: Truck, real: Real, start: Array) -> tuple[Array, float]:
    """The setting (m, (4,)) whose worst miss is least, and that miss in tolerances: what one who knows would turn."""
    lattice = Lattice.of(truck, start)
    machine = replace(real.machine, datum=real.machine.datum[None])

    def all_misses(preload: Array) -> Array:
        return misses(truck.target, stand(replace(real, machine=machine), preload))

    near = lattice.sweep(lambda p: (all_misses(p) ** 2).sum(-1))
    best = lattice.search(lambda p: np.abs(all_misses(p)).max(-1), near, (2, 1))
    return best, float(np.abs(all_misses(best[None])).max())
