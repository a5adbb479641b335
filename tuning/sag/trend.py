"""Whether a spring's set goes on: none, straight or settling (log-time), over days or over distance. SI.

Weighted least squares of the length lost, run by run (statsmodels), with standard errors that hold whatever the
scatter (HC3, MacKinnon and White 1985). The shape with the least corrected Akaike criterion (Hurvich and Tsai 1989)
is taken, and none unless its slope stands out from chance; so a steady spring is called steady. Only runs with
today's stack count, and only those that were on scales.
"""

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from scipy.special import stdtrit
from statsmodels.regression.linear_model import WLS

from ..arrays import Array, Flags, Places
from ..drift import BEDDING, days_of, days_on
from ..fit import Fit
from ..interval import LEVEL, Interval
from ..truck import CORNERS
from .evidence import Slip, runs_with, weighed

Shape = Literal["none", "straight", "settling"]
Clock = Literal["time", "distance"]
SHAPES: tuple[Shape, ...] = ("straight", "settling")
FEWEST = 5  # runs that a trend takes
MONTH = 30.4375  # days
STANDS_OUT = 0.01  # chance at which a steady spring may be given a trend; springs only ever get shorter
BEDDING_DISTANCE = 1000 * 1609.344  # m on which settling has slowed to half (from memory)
SCALES: dict[Clock, float] = {"time": BEDDING, "distance": BEDDING_DISTANCE}


@dataclass(frozen=True)
class Lost:
    """Length lost by one corner's stack, run by run: m against days on and, where all is logged, distance (m).

    spread: standard deviation of each (m). run: index of each.
    """

    run: Places
    days: Array
    distance: Array | None
    length: Array
    spread: Array


@dataclass(frozen=True)
class Trend:
    """The shape chosen. slope: m of length per unit of `basis`, slope_sd by HC3 (where there is no trend, that of a
    straight one over days); freedom: readings left over. now: where the clock stands (days or m). per_day: how fast
    it has run (1, or m a day). aicc: criterion of each shape tried."""

    shape: Shape
    clock: Clock
    slope: float
    slope_sd: float
    freedom: int
    now: float
    per_day: float
    aicc: dict[str, float]

    def basis(self, clock: Array) -> Array:
        """What the slope multiplies, at readings of the clock."""
        return _basis(self.shape, self.clock, clock)

    def draws(self, count: int, random: np.random.Generator) -> Array:
        """Equally likely slopes (Student's t)."""
        if self.shape == "none":
            return np.zeros(count)
        return np.asarray(self.slope + self.slope_sd * random.standard_t(self.freedom, count))

    def to_come(self, days: Array) -> Array:
        """What a slope of one adds from now until so many days later."""
        later = self.basis(self.now + days * self.per_day)
        return np.asarray(later - self.basis(np.array(self.now)))

    def per_month(self) -> Interval | None:
        """Length lost in a month of 30.44 days at today's pace; None where too few runs say."""
        if not self.freedom:
            return None
        shape = self if self.shape != "none" else replace(self, shape="straight")
        worth = float(shape.to_come(np.array(1.0))) * MONTH
        half = float(stdtrit(self.freedom, 0.5 + LEVEL / 2)) * self.slope_sd
        return Interval(worth * self.slope, worth * (self.slope - half), worth * (self.slope + half))


def served(fit: Fit, corner: int) -> Array:
    """Days that today's stack has been on at each run, (runs,)."""
    return days_on(days_of(fit.runs), runs_with(fit, corner))


def lost_by_run(fit: Fit, corner: int, slips: tuple[Slip, ...] = ()) -> Lost:
    """What each weighed run says of the length lost, less what went in sudden slips: the drift the fit has found and
    what that run's corner line is off by."""
    drift, rounds = fit.evidence.drift, fit.evidence.rounds
    own = drift.belongs(CORNERS[corner], fit.evidence.stacks[-1][corner])
    own[drift.count - len(slips) :] = 0.0
    found = (drift.lost[:, corner] * own) @ fit.theta[fit.unknowns.drift]
    off = (fit.rows.response - fit.rows.columns @ fit.theta)[:, corner]
    variance = fit.rows.covariance[:, corner, corner]
    usable = (
        weighed(fit)[:, corner] & ~np.isnan(rounds.height[:, corner]) & runs_with(fit, corner)[rounds.run]
    )
    say = np.bincount(rounds.run[usable], 1 / variance[usable], len(fit.runs))
    sums = np.bincount(rounds.run[usable], (off / variance)[usable], len(fit.runs))
    at = np.nonzero(say > 0)[0]
    driven = distance_on(fit, runs_with(fit, corner))
    return Lost(
        run=at,
        days=served(fit, corner)[at],
        distance=None if driven is None else driven[at],
        length=found[at] + sums[at] / say[at],
        spread=1 / np.sqrt(say[at]),
    )


def distance_on(fit: Fit, on: Flags) -> Array | None:
    """Distance driven with a stack on by each run (m); None unless every run has an odometer that never runs back."""
    read = [[r.odometer for r in run.readings if r.odometer is not None] for run in fit.runs]
    if not all(read):
        return None
    odometer = np.array([max(values) for values in read])
    if np.any(np.diff(odometer) < 0) or odometer[-1] <= odometer[0]:
        return None
    return np.cumsum(np.diff(odometer, prepend=odometer[:1]) * (on & np.roll(on, 1)))


def trend_of(lost: Lost) -> Trend:
    """The trend of one corner."""
    clocks: dict[Clock, Array] = {"time": lost.days}
    if lost.distance is not None:
        clocks["distance"] = lost.distance
    none = Trend("none", "time", 0.0, np.inf, 0, float(lost.days.max(initial=0.0)), 1.0, {})
    count = len(lost.run)
    if count < FEWEST or np.ptp(lost.days) <= 0:
        return none
    criteria = {"none": aicc(_solve(lost, []).llf, 2, count)}
    best = none
    for clock, values in clocks.items():
        for shape in SHAPES:
            solved = _solve(lost, [_basis(shape, clock, values)])
            slope, sd = float(solved.params[1]), float(solved.bse[1])
            key = f"{shape} over {clock}"
            criteria[key] = aicc(solved.llf, 3, count)
            if (shape, clock) == ("straight", "time") and best.shape == "none":
                best = replace(best, slope_sd=sd, freedom=count - 2)
            if criteria[key] == min(criteria.values()) and slope / sd > stdtrit(count - 2, 1 - STANDS_OUT):
                pace = float(np.ptp(values) / np.ptp(lost.days))
                best = Trend(shape, clock, slope, sd, count - 2, float(values[-1]), pace, {})
    return replace(best, aicc=criteria)


def _solve(lost: Lost, basis: list[Array]) -> Any:
    """Weighted least squares on a constant and the basis."""
    columns = np.column_stack([np.ones(len(lost.run)), *basis])
    model = WLS(lost.length, columns, weights=1 / lost.spread**2, missing="raise")
    return model.fit(cov_type="HC3", use_t=True)


def _basis(shape: Shape, clock: Clock, values: Array) -> Array:
    """In days or bedding distances, so that slopes are of a size."""
    if shape == "none":
        return np.zeros(np.shape(values))
    scaled = values / SCALES[clock]
    return np.asarray(np.log1p(scaled) if shape == "settling" else scaled)


def aicc(log_likelihood: float, unknowns: int, count: int) -> float:
    """Akaike's criterion, corrected for few readings: 2K − 2 ln L + 2K(K + 1)/(n − K − 1); K counts the spread."""
    k = unknowns
    return 2 * k - 2 * log_likelihood + 2 * k * (k + 1) / (count - k - 1)
