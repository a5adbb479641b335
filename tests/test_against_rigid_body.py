"""Where a truck stands against a rigid-body engine: true geometry, finite angles, a centre of gravity up in the air.

The tool takes angles as small and the weight on each axle and side as given. Both differ from the engine:

- Finite angles. Struts lean and levers shorten with the square of the angle. At the same weight on the wheels this
  is all that is left: hundredths of a millimetre at one degree, tenths at four.
- The centre of gravity. Where the frame pitches or leans, a weight high above it moves over to the low side and
  takes load with it: axle sums and roll couple are not those of the level truck. What the tool is given is what
  scales read where the truck stands, so it has this in it; but turning nuts until the truck stands otherwise moves
  weight that the tool does not move. The last test says how much.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest

from tests.truth import rigid
from tests.truth.machine import Machine, machine_of
from tests.truth.rest import Load, Mast, settle_on_mast
from tests.truth.trucks import IN, random_kind, random_truck
from tuning.statics import Weight, settle
from tuning.truck import CORNERS, Truck

TRUCKS = 24
LEVEL_WITH_MARKS, ABOVE = 0.0, 0.25  # m
NEAR_HEIGHT, NEAR_LOAD = 0.0005, 0.005  # m; share of the whole weight


@dataclass(frozen=True)
class Engine:
    """What the engine was given and what came of it."""

    truck: Truck
    machine: Machine
    level: Load
    preload: np.ndarray
    heights: np.ndarray
    wheels: np.ndarray
    pitch: float
    rolls: tuple[float, float]


@cache
def engine(seed: int, gravity_centre: float) -> Engine:
    """A random truck at rest, its nuts a little uneven."""
    rng = np.random.default_rng([seed, 11])
    kind = random_kind(rng)
    truck, wheels = random_truck(rng, kind)
    datum = rng.normal(0, 0.004, 4)
    if kind.rear_leaf:
        datum[2:] = -rng.uniform(0.6, 0.7)
    machine = replace(machine_of(truck), datum=datum)
    level = Load.of(wheels, machine.track)
    preload = np.where(machine.adjustable, rng.uniform(1.0, 2.0, 4) * IN, 0.0)
    body = rigid.Body(truck.wheelbase, (truck.front.solid, truck.rear.solid), gravity_centre)
    start = float(np.mean([h for h, _ in truck.corners["LF"].cycle]))
    heights, loads, (pitch, *rolls) = rigid.stand(machine, level, preload, body, start)
    return Engine(truck, machine, level, preload, heights, loads, pitch, (rolls[0], rolls[1]))


def tool(ran: Engine, load: Load) -> tuple[np.ndarray, np.ndarray]:
    """Heights and wheel loads as the tool has them for a truck that weighs `load`."""
    standing = settle(
        ran.truck,
        Weight(float(load.front), float(load.rear), float(load.couple)),
        dict(zip(CORNERS, ran.preload.tolist(), strict=True)),
        dict(zip(CORNERS, ran.machine.datum.tolist(), strict=True)),
    )
    return np.array([standing.heights[c] for c in CORNERS]), np.array([standing.loads[c] for c in CORNERS])


def assert_near(ran: Engine, load: Load) -> None:
    heights, wheels = tool(ran, load)
    assert heights == pytest.approx(ran.heights, abs=NEAR_HEIGHT)
    assert wheels == pytest.approx(ran.wheels, abs=NEAR_LOAD * ran.wheels.sum())


@pytest.mark.parametrize("seed", range(TRUCKS // 2))
def test_finite_angles_alone_change_next_to_nothing(seed):
    ran = engine(seed, LEVEL_WITH_MARKS)
    assert_near(ran, ran.level)


@pytest.mark.parametrize("seed", range(TRUCKS))
def test_tool_stands_as_the_engine_does_under_what_the_scales_read(seed):
    ran = engine(seed, ABOVE)
    assert_near(ran, Load.of(ran.wheels, ran.machine.track))


@pytest.mark.parametrize("seed", range(TRUCKS))
def test_what_else_differs_is_the_centre_of_gravity_moving(seed):
    """Moved as a weight on a mast moves when its foot tilts, it brings the tool back to the engine."""
    ran = engine(seed, ABOVE)
    sprung = np.array([ran.level.front, ran.level.rear]) - ran.machine.unsprung
    aft = -sprung * ABOVE * np.sin(ran.pitch)  # moments about the axles, nose up is negative pitch
    over = -sprung * ABOVE * np.sin(ran.rolls)
    moved = aft.sum() / ran.truck.wheelbase
    assert_near(ran, Load(ran.level.front - moved, ran.level.rear + moved, ran.level.couple + over.sum()))


@pytest.mark.parametrize("seed", range(TRUCKS))
def test_simulator_moves_its_weight_as_the_engine_does(seed):
    ran = engine(seed, ABOVE)
    standing = settle_on_mast(ran.machine, ran.level, ran.preload, Mast(ABOVE, ran.truck.wheelbase))
    assert standing.heights == pytest.approx(ran.heights, abs=NEAR_HEIGHT)
    assert standing.wheels == pytest.approx(ran.wheels, abs=NEAR_LOAD * ran.wheels.sum())


def test_a_centre_of_gravity_up_high_matters_where_a_truck_leans():
    """Or the test above would prove nothing: left out, it costs millimetres."""
    off = [
        np.abs(tool(ran, ran.level)[0] - ran.heights).max()
        for ran in map(engine, range(TRUCKS), [ABOVE] * TRUCKS)
    ]
    assert np.median(off) > NEAR_HEIGHT
