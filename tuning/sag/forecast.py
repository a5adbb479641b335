"""When a corner leaves its tolerance if its springs go on as they have. SI, days from the latest run."""

from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..fit import Fit
from ..truck import CORNERS, SIDES, Target
from .split import falls_per_length
from .trend import Trend

HORIZON = 5 * 365.25  # days
STEP = 7.0  # days
ODDS = (0.1, 0.5, 0.9)
Leaves = tuple[float | None, float | None, float | None]  # at those odds


@dataclass(frozen=True)
class Forecast:
    """One corner's height to come at the same weight and nuts: m, mean and 90 % band for the true height.

    days (k,) from the latest run. reading_sd: what tape and friction of one reading add to it (m). leaves: days until
    it is out of tolerance with a chance of 10, 50 and 90 %; None where it is not within five years, or has no target.
    """

    days: Array
    mean: Array
    low: Array
    high: Array
    reading_sd: float
    leaves: Leaves


def forecasts(
    fit: Fit, trends: tuple[Trend, ...], heights: Array, random: np.random.Generator
) -> tuple[Forecast, ...]:
    """The four corners' futures. heights: draws of where they stand now (n, 4); every corner's trend lowers them all
    through the frame."""
    days = np.arange(0.0, HORIZON + STEP, STEP)
    lost = np.stack([trend.draws(days, len(heights), random) for trend in trends], axis=-1)
    to_come = heights[:, None] - lost @ falls_per_length(fit).T
    out = _out_of_tolerance(fit.truck.target, to_come)
    reading = _reading_sd(fit)
    found = []
    for i, name in enumerate(CORNERS):
        low, high = np.quantile(to_come[..., i], [0.05, 0.95], axis=0)
        leaves: Leaves = _leaves(days, out[name]) if name in out else (None, None, None)
        found.append(Forecast(days, to_come[..., i].mean(axis=0), low, high, float(reading[i]), leaves))
    return tuple(found)


def _out_of_tolerance(target: Target, heights: Array) -> dict[str, Array]:
    """Whether each corner with a target has left it by each day, (n, k) of True; an end's mean stands for its corners.

    heights: (n, k, 4).
    """
    out = {}
    for i, name in enumerate(CORNERS):
        end = next(e for e, sides in SIDES.items() if name in sides)
        if name in target.heights:
            off = heights[..., i] - target.heights[name]
        elif end in target.ends:
            off = heights[..., [CORNERS.index(c) for c in SIDES[end]]].mean(axis=-1) - target.ends[end]
        else:
            continue
        out[name] = np.maximum.accumulate(np.abs(off) > target.height_tolerance, axis=1)
    return out


def _leaves(days: Array, out: Array) -> Leaves:
    share = out.mean(axis=0)
    first = [float(days[share.searchsorted(p)]) if share[-1] >= p else None for p in ODDS]
    return first[0], first[1], first[2]


def _reading_sd(fit: Fit) -> Array:
    """Standard deviation of one rolled-and-bounced reading about the true height, (4,)."""
    rows = fit.rows
    slope = -np.diagonal(rows.tape[-1, :4])
    per_force = np.diagonal(rows.friction[-1, :4]) / slope
    band = fit.theta[fit.unknowns.friction][[0, 0, 1, 1]]
    return np.asarray(np.sqrt(fit.evidence.noise.height**2 + (per_force * band) ** 2 / 3))
