"""Dates at which a corner leaves its tolerance, as forecast, against the day it truly does."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace

import numpy as np
import pandas as pd

from tests.truth import rest
from tests.truth.trucks import IN
from tests.truth.years import Array, Years, random_years
from tuning.doubt import set_aside
from tuning.fit import fit
from tuning.sag.answer import sag
from tuning.sag.forecast import HORIZON, STEP
from tuning.truck import CORNERS, Target

DAYS = np.arange(0.0, HORIZON + STEP, STEP)  # from the last run
SOON = 13  # weeks: none truly leaves before
FALLS = 0.001  # m: a corner that falls less than this in five years more is not asked about


@dataclass(frozen=True)
class Dated:
    """One corner of one log; days from the last run, inf: not within five years. true: the day it truly leaves."""

    log: int
    corner: str
    way: str
    loads: str
    trend: str
    true: float
    early: float
    middle: float
    late: float


def dates(logs: int, seed: int) -> pd.DataFrame:
    """A row for every corner that truly leaves its tolerance within five years: the fields of `Dated`."""
    return pd.DataFrame([asdict(row) for number in range(logs) for row in _dated(number, seed)])


def leaving(number: int, seed: int) -> tuple[str, str, Years, dict[str, float]]:
    """Way of reading, loads, a log of springs that settle, and the day (from the last run) each such corner leaves.

    How much room each has left before is drawn evenly among what it still falls in five years.
    """
    rng = np.random.default_rng([seed, number, 3])
    way, loads = "ABC"[number // 2 % 3], str(rng.choice(["all", "some"], p=[0.7, 0.3]))
    years = random_years(seed, number, ("set", "both")[number % 2], way, loads)
    heights = heights_to_come(years, DAYS)
    aims, true = dict(years.truck.target.heights), {}
    for i, corner in enumerate(CORNERS):
        fall = heights[0, i] - heights[:, i]
        if fall[-1] >= FALLS:
            room = rng.uniform(fall[SOON], fall[-1])
            aims[corner] = float(heights[0, i] - room) + IN / 4
            true[corner] = float(DAYS[np.argmax(fall > room)])
    truck = years.truck.with_target(Target(heights=aims, height_tolerance=IN / 4))
    return way, loads, replace(years, truck=truck), true


def heights_to_come(years: Years, days: Array) -> Array:
    """True heights (k, 4) so many days after the last run, its springs going on as they did, weight and nuts kept."""
    life, end = years.life, years.life.days[-1]
    grown = np.log1p((end + days)[:, None] / life.slow) / np.log1p(end / life.slow)
    machine = replace(years.real.machine, datum=years.real.machine.datum + life.lost[-1] * grown)
    return rest.settle(machine, life.load.at(-1), life.preload[-1]).heights


def _dated(number: int, seed: int) -> Iterator[Dated]:
    way, loads, years, true = leaving(number, seed)
    runs, _ = set_aside(years.truck, years.runs)  # as the command does
    found = sag(fit(years.truck, runs), years.runs[0].name)
    for corner, day in true.items():
        told = found.corners[corner]
        early, middle, late = (np.inf if d is None else d for d in told.forecast.leaves)
        yield Dated(number, corner, way, loads, told.trend.shape, day, early, middle, late)
