"""Spring set, height lost, verdict, trend and forecast of simulated logs against what was put in."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tests.truth import rest
from tests.truth.trucks import IN
from tests.truth.years import Years, random_years
from tuning.doubt import set_aside
from tuning.fit import fit
from tuning.interval import Interval
from tuning.sag.answer import sag
from tuning.truck import CORNERS

from .sag_dates import DAYS, heights_to_come

Array = NDArray[np.float64]

STORIES = ("neither", "set", "payload", "both")
LATER = 182.0  # days after the last run at which the forecast is looked at
CLEARLY, HARDLY = IN / 8, IN / 32  # m of height: above the one a cause is there, below the other it is not


@dataclass(frozen=True)
class Recovered:
    """One corner of one log; lengths m. The `in` flags: whether the 90 % interval holds the truth, None: not told.

    stays: whether it truly is within its tolerance for five years more; dated: whether it is said to leave (even odds).
    """

    log: int
    corner: str
    story: str
    way: str
    loads: str
    set_true: float
    set_found: float | None
    set_in: bool | None
    set_width: float | None
    lost_true: float
    lost_found: float | None
    lost_in: bool | None
    truth: str
    verdict: str
    trend: str
    later_in: bool
    stays: bool
    dated: bool


def drawn(number: int, seed: int) -> tuple[str, str, str, Years]:
    """Story, way of reading, loads and log of a number; all mixtures come round in turn."""
    rng = np.random.default_rng([seed, number, 1])
    story, way = STORIES[number % 4], "ABC"[number // 4 % 3]
    loads = str(rng.choice(["all", "some", "none"], p=[0.6, 0.25, 0.15]))
    return story, way, loads, random_years(seed, number, story, way, loads)


def recovery(logs: int, seed: int) -> pd.DataFrame:
    """A row for every corner of every log: the fields of `Recovered`."""
    rows = [asdict(row) for number in range(logs) for row in _recovered(number, seed)]
    return pd.DataFrame(rows)


def _recovered(number: int, seed: int) -> Iterator[Recovered]:
    story, way, loads, years = drawn(number, seed)
    runs, _ = set_aside(years.truck, years.runs)  # as the command does
    found = sag(fit(years.truck, runs), years.runs[0].name)
    lost = years.heights[0] - years.heights[-1]
    by_set, by_weight = _causes(years)
    later = heights_to_come(years, np.array([LATER]))[0]
    off = np.abs(heights_to_come(years, DAYS) - years.heights[0])
    stays = (off <= years.truck.target.height_tolerance).all(axis=0)  # its target is where it first stood
    for i, name in enumerate(CORNERS):
        corner, true_set = found.corners[name], float(years.life.lost[-1, i])
        parts, step = corner.parts, int(LATER / 7)
        yield Recovered(
            log=number,
            corner=name,
            story=story,
            way=way,
            loads=loads,
            set_true=true_set,
            set_found=None if parts.spring_set is None else parts.spring_set.mean,
            set_in=_holds(parts.spring_set, true_set),
            set_width=None if parts.spring_set is None else parts.spring_set.high - parts.spring_set.low,
            lost_true=float(lost[i]),
            lost_found=None if parts.height_lost is None else parts.height_lost.mean,
            lost_in=_holds(parts.height_lost, float(lost[i])),
            truth=_truth(float(by_set[i]), float(by_weight[i]), parts.spring_set is not None),
            verdict=corner.verdict,
            trend=corner.trend.shape,
            later_in=bool(corner.forecast.low[step] <= later[i] <= corner.forecast.high[step]),
            stays=bool(stays[i]),
            dated=corner.forecast.leaves[1] is not None,
        )


def _holds(interval: Interval | None, true: float) -> bool | None:
    return None if interval is None else bool(interval.low <= true <= interval.high)


def _truth(by_set: float, by_weight: float, told: bool) -> str:
    """What the verdict should be; `between` where a cause is too small to be sure of and too large to be nothing."""
    if by_set >= CLEARLY:
        return "settling" if told else "low"
    if by_weight >= CLEARLY and by_set < HARDLY:
        return "loaded" if told else "low"
    return "steady" if max(by_set, by_weight) < HARDLY else "between"


def _stand(years: Years, lost: Array, load: rest.Load) -> Array:
    """Heights (4,) at the last run's nuts with these lengths lost and this load, no friction."""
    machine = replace(years.real.machine, datum=years.real.machine.datum + lost)
    return rest.settle(machine, load, years.life.preload[-1]).heights


def _causes(years: Years) -> tuple[Array, Array]:
    """How much lower each corner stands for its own spring's set, and for the weight that came (m, (4,) each)."""
    life = years.life
    now = _stand(years, life.lost[-1], life.load.at(-1))
    own = [_stand(years, life.lost[-1] * (np.arange(4) != c), life.load.at(-1))[c] - now[c] for c in range(4)]
    return np.array(own), _stand(years, life.lost[-1], life.load.at(0)) - now
