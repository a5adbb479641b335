"""A number with how sure it is."""

from dataclasses import dataclass

import numpy as np

from .arrays import Array

LEVEL = 0.90
NORMAL_HALF_WIDTH = 1.6448536269514722  # of a 90 % interval, in standard deviations


@dataclass(frozen=True)
class Interval:
    """Mean and 90 % interval, in the unit of the thing itself."""

    mean: float
    low: float
    high: float


def from_draws(draws: Array) -> Interval:
    """Mean and the middle 90 % of equally likely draws, (n,)."""
    low, high = np.quantile(draws, [(1 - LEVEL) / 2, (1 + LEVEL) / 2])
    return Interval(float(draws.mean()), float(low), float(high))


def from_sd(mean: float, sd: float) -> Interval:
    """90 % interval of a normal distribution."""
    return Interval(mean, mean - NORMAL_HALF_WIDTH * sd, mean + NORMAL_HALF_WIDTH * sd)
