"""Two years of a truck's life: springs that settle, weight that comes and goes, nuts that are turned, and what was
read of it. Written apart from the tool; where it stands is `rest.settle`."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tuning.readings import Reading, Run
from tuning.truck import CORNERS, Noise, Target, Truck

from . import rest
from .shop import SCALE, SETTLED, WAYS, Real, real_truck
from .trucks import IN, LBF, random_kind, random_truck

Array = NDArray[np.float64]

TAPE = 0.001  # one sd, m
TAPE_GRID = 0.001  # written down to the millimetre
FIRST = datetime(2022, 3, 1, 9, tzinfo=UTC)


@dataclass(frozen=True)
class Life:
    """What happens to one truck. days (runs,); lost (runs, 4) m of stack length; load: the wheels' at each run, as
    Load with arrays (runs,); preload (runs, 4) m; weighed (runs,): whether it was on scales."""

    days: Array
    lost: Array
    load: rest.Load
    preload: Array
    weighed: NDArray[np.bool_]
    way: str
    slow: Array  # (4,) days until settling has slowed to half


@dataclass(frozen=True)
class Years:
    """A truck, its life, its log, and the truth: heights without friction at every run, (runs, 4) m."""

    truck: Truck
    real: Real
    life: Life
    runs: tuple[Run, ...]
    heights: Array

    @property
    def loads(self) -> Array:
        """True wheel loads without friction, (runs, 4) N."""
        return _standing(self.real, self.life, 0.0).wheels


def settling(days: Array, whole: float, slow: float) -> Array:
    """A set in log-time: `whole` (m) by the last day, `slow` days until it has slowed to half."""
    return whole * np.log1p(days / slow) / np.log1p(days[-1] / slow)


def dates(rng: Generator, count: int, irregular: bool) -> Array:
    """Days of visits over two years."""
    if irregular:
        return np.sort(np.concatenate([[0.0, 730.0], rng.uniform(1, 729, count - 2)]))
    return np.linspace(0, 730, count)


def payload(weight: float, along: float, across: float) -> tuple[float, float, float]:
    """Front, rear and couple that a weight (N) adds, put `along` the wheelbase from the front axle (share of it)
    and `across` to the left of the middle (m)."""

    return weight * (1 - along), weight * along, weight * across


def lived(rng: Generator, truck: Truck, real: Real, life: Life) -> Years:
    """The log of a life."""
    ways = WAYS[life.way]
    side = np.array(ways, float)[:, None, None]
    shape = (len(ways), len(life.days), 4)
    friction = real.friction * np.where(side == 0, rng.uniform(-1, 1, shape), side)
    standing = _standing(real, life, friction)
    heights = np.round((standing.heights + rng.normal(0, TAPE, shape)) / TAPE_GRID) * TAPE_GRID
    scales = standing.wheels * (1 + rng.normal(0, SCALE, shape))
    runs = tuple(_run(truck, life, i, heights[:, i], scales[:, i]) for i in range(len(life.days)))
    return Years(truck, real, life, runs, _standing(real, life, 0.0).heights)


def _standing(real: Real, life: Life, friction: Array | float) -> rest.Rest:
    machine = replace(real.machine, datum=real.machine.datum + life.lost)
    return rest.settle(machine, life.load, life.preload, friction)


def _run(truck: Truck, life: Life, i: int, heights: Array, scales: Array) -> Run:
    name, when = f"r{i + 1}", FIRST + timedelta(days=float(life.days[i]))
    readings = []
    for row, way in enumerate(WAYS[life.way]):
        for c, corner in enumerate(CORNERS):
            nut = truck.corners[corner].adjuster is not None
            readings.append(
                Reading(
                    run=name,
                    taken_at=when,
                    corner=corner,
                    height=float(heights[row, c]),
                    load=float(scales[row, c]) if life.weighed[i] else None,
                    preload=float(life.preload[i, c]) if nut else None,
                    stack=truck.corners[corner].stack.name if nut else None,
                    settled=SETTLED[way],
                )
            )
    return Run(name, when, tuple(readings))


def random_life(rng: Generator, truck: Truck, real: Real, story: str, way: str, loads: str) -> Life:
    """story: neither, set, payload or both. loads: all, some or none of the runs weighed."""
    irregular = bool(rng.random() < 0.5)
    days = dates(rng, int(rng.integers(18, 31)) if irregular else 25, irregular)
    n = len(days)
    lost, slow = np.zeros((n, 4)), np.ones(4)
    if story in ("set", "both"):
        for corner in rng.choice(4, rng.integers(1, 3), replace=False):
            slow[corner] = np.exp(rng.uniform(np.log(5), np.log(90)))
            lost[:, corner] = settling(days, rng.uniform(0, 0.012), float(slow[corner]))
    added = np.zeros((n, 3))
    if story in ("payload", "both"):
        for _ in range(rng.integers(1, 3)):
            weight = rng.uniform(60, 300) * LBF
            step = payload(weight, rng.uniform(-0.1, 1.2), rng.uniform(-0.6, 0.6))
            added += (days >= rng.uniform(30, 700))[:, None] * np.array(step)
    load = rest.Load(
        real.load.front + added[:, 0], real.load.rear + added[:, 1], real.load.couple + added[:, 2]
    )
    preload = np.repeat(np.where(real.machine.adjustable, 1.0 * IN, 0.0)[None], n, axis=0)
    for _ in range(rng.integers(0, 4)):
        turned = np.round(rng.uniform(-4, 8, 4)) * IN / 24 * np.array(real.machine.adjustable)
        preload = preload + (days >= rng.uniform(0, 700))[:, None] * turned
    preload = np.clip(preload, 0, 3.5 * IN)
    weighed = {"all": np.ones(n, bool), "none": np.zeros(n, bool), "some": rng.random(n) < 0.6}[loads]
    return Life(days, lost, load, preload, weighed, way, slow)


def random_years(seed: int, number: int, story: str, way: str, loads: str) -> Years:
    """Log `number` of a study."""
    rng = np.random.default_rng([seed, number])
    kind = random_kind(rng)
    truck, wheels = random_truck(rng, kind, f"truck {number}")
    truck = replace(truck, noise=Noise(height=TAPE, load=SCALE))
    real = real_truck(rng, truck, wheels)
    life = random_life(rng, truck, real, story, way, loads)
    first = _standing(real, life, 0.0).heights[0]
    aims = {c: float(first[i]) for i, c in enumerate(CORNERS)}
    return lived(rng, truck.with_target(Target(heights=aims, height_tolerance=IN / 4)), real, life)
