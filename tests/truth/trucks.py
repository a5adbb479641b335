"""Random trucks as a fabricator would list them: springs, shocks, cycle tables, axles. All invented."""

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from tuning.truck import Adjuster, Corner, End, Noise, Shock, Spring, Stack, Truck

IN, LBF = 0.0254, 4.4482216152605
LBF_IN = LBF / IN
DEGREE = np.pi / 180
COILOVER_FRICTION, LEAF_FRICTION = 25 * LBF, 60 * LBF

# What the owner writes of tape and scales is true of them; the floor of a shop is as level as it was last time.
NOISE = Noise(height=IN / 16, load=0.001, floor=0.0003)


@dataclass(frozen=True)
class Kind:
    """What sort of truck: springs a corner, which end is on leaves or independent, what is in the shock."""

    front_dual: bool
    rear_dual: bool = False
    rear_leaf: bool = False
    independent: bool = False
    gas: bool = True
    gas_volume: bool = True
    curved_cycle: bool = False
    own_marks: bool = False  # marks for the tape not above the seats


def random_kind(rng: Generator) -> Kind:
    """One of the mixtures met in a shop."""
    leaf = rng.random() < 0.35
    return Kind(
        front_dual=rng.random() < 0.55,
        rear_dual=not leaf and rng.random() < 0.55,
        rear_leaf=leaf,
        independent=rng.random() < 0.2,
        gas=rng.random() < 0.85,
        gas_volume=rng.random() < 0.6,
        curved_cycle=rng.random() < 0.5,
        own_marks=rng.random() < 0.3,
    )


def random_truck(rng: Generator, kind: Kind, name: str = "drawn") -> tuple[Truck, np.ndarray]:
    """A truck file's worth, and four wheel loads (N) under which it stands near the middle of its travel."""
    seat_load = rng.uniform(750, 1250, 2) * LBF
    seat_load[1] *= rng.uniform(0.8, 1.0)
    front = _end(rng, solid=not kind.independent, leaf=False, own_marks=kind.own_marks)
    rear = _end(rng, solid=True, leaf=kind.rear_leaf, own_marks=kind.own_marks)
    front_corner = _coilover(rng, seat_load[0], kind, kind.front_dual, front.solid, "front")
    if kind.rear_leaf:
        rear_corner = Corner(stack=Stack("leaves", Spring(rng.uniform(220, 360) * LBF_IN)))
    else:
        rear_corner = _coilover(rng, seat_load[1], kind, kind.rear_dual, True, "rear")
    corners = {"LF": front_corner, "RF": front_corner, "LR": rear_corner, "RR": rear_corner}
    wheels = np.repeat(seat_load + np.array([front.unsprung_weight, rear.unsprung_weight]) / 2, 2)
    lean = rng.normal(0, 0.02)
    wheels = wheels * (1 + np.array([lean, -lean, lean, -lean]))
    truck = Truck(
        noise=NOISE,
        name=name,
        units="us",
        wheelbase=rng.uniform(105, 140) * IN,
        front=front,
        rear=rear,
        corners=corners,
        stacks={c.stack.name: c.stack for c in corners.values()},
        frame_twist_stiffness=rng.uniform(1500, 4500) / DEGREE,
    )
    return truck, wheels


def _end(rng: Generator, solid: bool, leaf: bool, own_marks: bool) -> End:
    track = rng.uniform(62, 72) * IN
    spacing = (rng.uniform(30, 44) if solid else track / IN) * IN
    return End(
        solid=solid,
        track=track,
        spring_spacing=spacing,
        height_spacing=spacing * rng.uniform(0.85, 1.2) if own_marks else spacing,
        unsprung_weight=rng.uniform(550, 850) * LBF,
        friction=LEAF_FRICTION if leaf else COILOVER_FRICTION,
        tyre_rate=rng.uniform(1500, 2600) * LBF_IN,
    )


def _coilover(rng: Generator, seat_load: float, kind: Kind, dual: bool, solid: bool, name: str) -> Corner:
    """Springs chosen so that the corner rides at about half its shaft with about 1.6 in of preload."""
    stroke = rng.choice([10.0, 12.0, 14.0]) * IN
    ratio = rng.uniform(0.82, 1.0) if solid else rng.uniform(0.55, 0.75)
    shock = _shock(rng, stroke, kind)
    showing, preload = rng.uniform(0.38, 0.5) * stroke, 1.6 * IN
    used = stroke - showing
    carried = seat_load / ratio - _gas_at(shock, used)
    stack = _stack(rng, carried, preload, used, dual, f"{name} coils", stroke)
    return Corner(
        stack=stack,
        shock=shock,
        adjuster=Adjuster(travel_per_turn=IN / 12, preload_min=0.0, preload_max=3.5 * IN, step=0.25),
        cycle=_cycle(rng, stroke, ratio, kind.curved_cycle),
    )


def _shock(rng: Generator, stroke: float, kind: Kind) -> Shock:
    diameter = rng.choice([5 / 8, 7 / 8]) * IN
    if not kind.gas:
        return Shock(stroke, diameter)
    swept = np.pi * diameter**2 / 4 * stroke
    volume = swept * rng.uniform(1.8, 3.5) if kind.gas_volume else None
    return Shock(stroke, diameter, rng.uniform(120, 220) * 6894.757293168, volume)


def _gas_at(shock: Shock, used: float) -> float:
    if shock.gas_pressure is None:
        return 0.0
    area = np.pi / 4 * shock.shaft_diameter**2
    return shock.gas_pressure * area / (1 - (area * used / shock.gas_volume if shock.gas_volume else 0.0))


def _stack(
    rng: Generator, carried: float, preload: float, used: float, dual: bool, name: str, stroke: float
) -> Stack:
    """One spring, or two of which the upper meets its ring near ride, well past it, or never."""
    rate = carried / (preload + used)
    room = stroke + 4.5 * IN  # springs that never bind within the thread's range
    if not dual:
        return Stack(name, Spring(_listed(rate), 6 * IN + room, 6 * IN))
    split = rng.uniform(0.9, 1.8)  # lower over upper
    upper, lower = _listed(rate * (1 + 1 / split)), _listed(rate * (1 + split))
    share = split / (1 + split)
    springs = (
        Spring(upper, 5 * IN + share * room, 5 * IN),
        Spring(lower, 6 * IN + (1.15 - share) * room, 6 * IN),
    )
    where = rng.random()
    taken = carried / upper - preload  # ring gap at which the slider just touches at ride
    if where < 0.45:
        gap = taken + rng.uniform(-0.25, 1.0) * IN
    elif where < 0.8:
        gap = taken + rng.uniform(1.0, 2.5) * IN
    else:
        return Stack(name, springs[1], springs[0])
    return Stack(name, springs[1], springs[0], max(gap, 0.25 * IN))


def _listed(rate: float) -> float:
    """To the next 10 lbf/in."""
    return round(rate / LBF_IN / 10) * 10 * LBF_IN


def _cycle(rng: Generator, stroke: float, ratio: float, curved: bool) -> tuple[tuple[float, float], ...]:
    """Positions from near full bump to full extension, read to a thirty-second of an inch."""
    bump = rng.uniform(13, 17) * IN
    shaft = np.linspace(0.75 * IN, stroke, rng.integers(4, 7) if curved else rng.integers(2, 4))
    along = (shaft - shaft[0]) / ratio
    bow = rng.uniform(-0.03, 0.03) if curved else 0.0
    height = bump + along * (1 + bow * (along / along[-1] - 1))
    grid = IN / 32
    return tuple((round(h / grid) * grid, round(s / grid) * grid) for h, s in zip(height, shaft, strict=True))
