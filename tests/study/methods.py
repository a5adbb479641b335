"""What to turn, from the file and the readings alone: the tool, and two ways of doing without it."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.truth import rest
from tests.truth.machine import Machine, machine_of, seat_force
from tests.truth.shop import Real, Visit, run_of, stand
from tuning.adjust import adjust
from tuning.fit import fit
from tuning.interval import Interval
from tuning.truck import CORNERS, SIDES, Truck

from .cases import misses
from .lattice import Lattice

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Advice:
    """preload: where to wind the nuts (m, (4,)). Where it says how sure it is: 90 % intervals (low, high) for
    heights and wheel loads (4, 2), cross-weight (2,) and the chance of being inside every tolerance."""

    preload: Array
    heights: Array | None = None
    wheels: Array | None = None
    cross: Array | None = None
    chance: float | None = None


def tool(truck: Truck, visits: list[Visit]) -> Advice:
    """What the tool says, and how sure it says it is."""
    answer = adjust(fit(truck, [run_of(truck, visit, i + 1) for i, visit in enumerate(visits)]))
    corners = [answer.corners[c] for c in CORNERS]
    assert answer.cross_weight_after is not None
    return Advice(
        preload=np.array([c.preload_after or 0.0 for c in corners]),
        heights=np.array([_ends(c.height_after) for c in corners]),
        wheels=np.array([_ends(c.load_after) for c in corners if c.load_after is not None]),
        cross=np.array(_ends(answer.cross_weight_after)),
        chance=answer.probability_in_tolerance,
    )


def _ends(interval: Interval) -> tuple[float, float]:
    return interval.low, interval.high


def as_found(visits: list[Visit]) -> tuple[Visit, Array, Array]:
    """The last visit, its mean heights (m) and mean wheel loads (N)."""
    last = visits[-1]
    return last, last.heights.mean(0), last.wheels.mean(0)


def rule_of_thumb(truck: Truck, visits: list[Visit]) -> Advice:
    """Each corner by itself: height wanted over height per turn. Cross-weight by a pair of turns in front.

    A half of the wheel load that has to cross over is asked of RF up and LF down, each by its own rate, unless
    both front heights are asked for.
    """
    last, heights, wheels = as_found(visits)
    machine, target = machine_of(truck), truck.target
    _, b, c = machine.shaft_terms.T
    ratio = b + 2 * c * heights
    wanted = dict(target.heights)
    for end, height in target.ends.items():
        short = height - np.mean([heights[CORNERS.index(name)] for name in SIDES[end]])
        wanted |= {name: heights[CORNERS.index(name)] + short for name in SIDES[end]}
    raise_by = np.array([wanted.get(name, heights[i]) - heights[i] for i, name in enumerate(CORNERS)])
    if target.cross_weight is not None and "LF" not in target.heights:
        _, rate = seat_force(machine, heights, last.preload)
        over = (target.cross_weight - (wheels[1] + wheels[2]) / wheels.sum()) * wheels.sum() / 4
        raise_by[:2] += np.array([-1, 1]) * over / rate[:2]
    return Advice(Lattice.of(truck, last.preload).snapped(last.preload + raise_by * ratio))


def springs_list(truck: Truck, visits: list[Visit]) -> Advice:
    """The listed truck shifted until it stands as found: all that differs is put down to datum and set."""
    last, heights, wheels = as_found(visits)
    listed = machine_of(truck)
    load = rest.Load.of(wheels, listed.track)
    machine = standing_as_found(listed, last.preload, heights, wheels)
    machine = replace(machine, datum=machine.datum[None])
    real = Real(machine, load, np.zeros(4))
    lattice = Lattice.of(truck, last.preload)

    def cost(preload: Array) -> Array:
        return (misses(truck.target, stand(real, preload)) ** 2).sum(-1)

    return Advice(lattice.sweep(cost))


def standing_as_found(machine: Machine, preload: Array, heights: Array, wheels: Array) -> Machine:
    """The machine with datum and set such that without friction it has these heights (m) and wheel loads (N)."""
    ratio = machine.spring_spacing / machine.height_spacing
    middle = (heights[[0, 2]] + heights[[1, 3]]) / 2
    half = (heights[[0, 2]] - heights[[1, 3]]) / 2
    seats = np.stack([middle + half * ratio, middle - half * ratio], -1).ravel()
    sums = wheels[[0, 2]] + wheels[[1, 3]] - machine.unsprung
    leverage = machine.track / machine.spring_spacing
    halves = (wheels[[0, 2]] - wheels[[1, 3]]) * leverage
    wanted = np.stack([sums + halves, sums - halves], -1).ravel() / 2
    low, high = np.full(4, -1.0), np.full(4, 1.0)  # m: more datum, less force
    for _ in range(60):
        datum = (low + high) / 2
        force, _ = seat_force(replace(machine, datum=datum), seats, preload)
        low, high = np.where(force > wanted, datum, low), np.where(force > wanted, high, datum)
    couples = (wheels[[0, 2]] - wheels[[1, 3]]) * machine.track / 2
    wound = couples[0] * (machine.frame_compliance + machine.tyre_compliance[0])
    wound -= couples[1] * machine.tyre_compliance[1]
    tilt = 2 * half / machine.height_spacing
    return replace(machine, datum=(low + high) / 2, set=np.array(tilt[0] - tilt[1] - wound))
