"""Where a truck stands against the lowest point of its potential energy, found by scipy over every free body.

The energy knows each spring by itself, sliders and tyres included; it has no rule for springs in series, no
crossover, no equation for the frame's couple. Angles are small in both: they must agree to rounding.
"""

from dataclasses import replace

import numpy as np
import pytest

from tests.truth import energy, rest
from tests.truth.machine import Machine, machine_of
from tests.truth.trucks import IN, Kind, random_kind, random_truck
from tuning.statics import Weight, settle
from tuning.truck import CORNERS, Spring, Stack, Truck

CASES = 60
LEAF_HEIGHTS = (0.5, 0.7)  # m, free


def drawn(seed: int) -> tuple[Truck, Machine, rest.Load, np.ndarray]:
    """A random truck with a random datum at each corner, its load, and preloads anywhere on the thread."""
    rng = np.random.default_rng(seed)
    kind = random_kind(rng)
    truck, wheels = random_truck(rng, kind)
    datum = rng.normal(0, 0.004, 4)
    if kind.rear_leaf:
        datum[2:] = -rng.uniform(*LEAF_HEIGHTS)
    machine = replace(machine_of(truck), datum=datum)
    preload = np.where(machine.adjustable, rng.uniform(0, 3.5 * IN, 4), 0.0)
    return truck, machine, rest.Load.of(wheels, machine.track), preload


def tool(
    truck: Truck, machine: Machine, load: rest.Load, preload: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Heights and wheel loads as the tool has them."""
    standing = settle(
        truck,
        Weight(float(load.front), float(load.rear), float(load.couple)),
        dict(zip(CORNERS, preload.tolist(), strict=True)),
        dict(zip(CORNERS, machine.datum.tolist(), strict=True)),
    )
    return [np.array([by_corner[c] for c in CORNERS]) for by_corner in (standing.heights, standing.loads)]


@pytest.mark.parametrize("seed", range(CASES))
def test_tool_stands_where_the_energy_is_lowest(seed):
    truck, machine, load, preload = drawn(seed)
    heights, wheels = energy.stand(machine, load, preload, rest.settle(machine, load, preload).heights)
    tool_heights, tool_wheels = tool(truck, machine, load, preload)
    assert tool_heights == pytest.approx(heights, abs=1e-7)
    assert tool_wheels == pytest.approx(wheels, abs=1e-6 * wheels.sum())


@pytest.mark.parametrize("seed", range(CASES))
def test_simulator_stands_where_the_energy_is_lowest(seed):
    """It has more to it than a truck file: a set of the floor, and gas on its absolute pressure."""
    _, machine, load, preload = drawn(seed)
    machine = replace(machine, set=np.array(0.006), atmosphere=101325.0)
    standing = rest.settle(machine, load, preload)
    heights, wheels = energy.stand(machine, load, preload, standing.heights + 0.02)
    assert standing.heights == pytest.approx(heights, abs=1e-7)
    assert standing.wheels == pytest.approx(wheels, abs=1e-6 * wheels.sum())


def test_every_slider_can_sit_on_its_ring_or_hang_free():
    """The draws above must hold both sides of the crossover, or they'd prove nothing about it."""
    on_ring = off_ring = 0
    for seed in range(CASES):
        _, machine, load, preload = drawn(seed)
        heights = rest.settle(machine, load, preload).seat_heights
        a, b, c = machine.shaft_terms.T
        pressed = preload + machine.stroke - (a + b * heights + c * heights**2) - machine.datum
        gap = machine.ring_gap + preload
        soft_limit = gap * (1 + machine.upper_rate / machine.lower_rate)
        dual = machine.upper_rate < 1e14
        on_ring += int((dual & (pressed > soft_limit)).sum())
        off_ring += int((dual & (pressed < soft_limit)).sum())
    assert on_ring >= 10
    assert off_ring >= 10


def test_heights_stay_right_while_one_nut_is_wound_across_the_crossover():
    rng = np.random.default_rng(7)
    truck, wheels = random_truck(rng, Kind(front_dual=True, rear_dual=True, curved_cycle=True))
    stack = truck.corners["LF"].stack
    tight = replace(truck.corners["LF"], stack=replace(stack, ring_gap=wheels[0] / stack.upper.rate * 0.6))
    truck = replace(truck, corners={**truck.corners, "LF": tight})
    machine = machine_of(truck)
    load = rest.Load.of(wheels, machine.track)
    for wound in np.linspace(0, 3.5 * IN, 15):
        preload = np.array([wound, 0.03, 0.04, 0.05])
        start = rest.settle(machine, load, preload).heights
        heights, _ = energy.stand(machine, load, preload, start)
        assert tool(truck, machine, load, preload)[0] == pytest.approx(heights, abs=1e-7)


def test_heights_stay_right_at_a_corner_that_hangs_loose():
    """Springs far too short rattle on their shock and the other three corners carry the truck.

    How far the loose corner hangs is left out: the springs no longer say.
    """
    truck, wheels = random_truck(np.random.default_rng(3), Kind(front_dual=False, gas=False))
    stiff = Stack("stiff", Spring(80e3))
    truck = replace(truck, corners={c: replace(corner, stack=stiff) for c, corner in truck.corners.items()})
    truck = replace(truck, frame_twist_stiffness=4e5)
    machine = replace(machine_of(truck), datum=np.array([0.09, 0.0, 0.0, 0.05]))
    load = rest.Load.of(wheels, machine.track)
    preload = np.array([0.0, 0.06, 0.06, 0.0])
    standing = rest.settle(machine, load, preload)
    assert standing.seats.min() == pytest.approx(0, abs=1e-6)
    heights, loads = tool(truck, machine, load, preload)
    assert loads == pytest.approx(standing.wheels, abs=1e-3)
    assert heights[1:] == pytest.approx(standing.heights[1:], abs=1e-6)
