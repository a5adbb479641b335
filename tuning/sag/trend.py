"""Whether a spring's set goes on: none, straight or settling (log-time), over days or over distance. SI.

Weighted least squares of the length lost, run by run (statsmodels), with standard errors that hold whatever the
scatter (HC3, MacKinnon and White 1985). From none on, a shape is taken if its corrected Akaike criterion (Hurvich and
Tsai 1989) is less than that of all before it and its slope stands out from chance; so a steady spring is called
steady.

What is to come is drawn from all shapes that were tried, and from settling sooner or later than usual, each as often
as its Akaike weight says (Burnham and Anderson 2002, 2.9, from memory): the readings seldom tell which is right.
"""

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from scipy.special import stdtrit
from statsmodels.regression.linear_model import WLS

from ..arrays import Array
from ..drift import BEDDING
from ..interval import LEVEL, Interval
from .lost import Clock, Lost

Shape = Literal["none", "straight", "settling"]
FEWEST = 5  # runs that a trend takes
MONTH = 30.4375  # days
STANDS_OUT = 0.01  # chance at which a steady spring may be given a trend; springs only ever get shorter
BEDDING_DISTANCE = 1000 * 1609.344  # m on which settling has slowed to half (from memory)
SCALES: dict[Clock, float] = {"time": BEDDING, "distance": BEDDING_DISTANCE}
SOONER_OR_LATER = (1.0, 1 / 3.5, 3.5)  # times: so far from that may settling be, 4 to 49 days (from memory)


@dataclass(frozen=True)
class Line:
    """One shape through the lengths. scale: days or m that the clock is counted in; settling slows to half in one.

    slope: m of length per unit of `basis`, slope_sd by HC3; freedom: readings left over. now: where the clock stands
    (days or m). per_day: how fast it has run (1, or m a day). step: m lost by now on this line beyond what the fit
    has. criterion: its AICc.
    """

    shape: Shape
    clock: Clock
    scale: float
    slope: float
    slope_sd: float
    freedom: int
    now: float
    per_day: float
    step: float = 0.0
    criterion: float = np.inf

    def basis(self, clock: Array) -> Array:
        """What the slope multiplies, at readings of the clock."""
        return _basis(self.shape, clock / self.scale)

    def slopes(self, count: int, random: np.random.Generator) -> Array:
        """Equally likely slopes (Student's t)."""
        return np.asarray(self.slope + self.slope_sd * random.standard_t(self.freedom, count))

    def to_come(self, days: Array) -> Array:
        """What a slope of one adds from now until so many days later."""
        later = self.basis(self.now + days * self.per_day)
        return np.asarray(later - self.basis(np.array(self.now)))

    @property
    def usual(self) -> bool:
        """Not sooner or later to settle than others."""
        return self.scale == SCALES[self.clock]

    @property
    def stands_out(self) -> bool:
        """Whether its slope is more than chance would give a steady spring."""
        return bool(self.slope > self.slope_sd * stdtrit(self.freedom, 1 - STANDS_OUT))


@dataclass(frozen=True)
class Trend(Line):
    """The line chosen; where it is none, slope_sd and freedom are those of a straight one over days. tried: all lines,
    itself and none among them; none where too few runs say."""

    tried: tuple[Line, ...] = ()

    @property
    def aicc(self) -> dict[str, float]:
        """Criterion of each shape that could have been chosen."""
        return {
            "none" if line.shape == "none" else f"{line.shape} over {line.clock}": line.criterion
            for line in self.tried
            if line.usual
        }

    def draws(self, days: Array, count: int, random: np.random.Generator) -> Array:
        """Equally likely lengths lost from the latest run until so many days later (m), (count, days): each by a line
        picked by weight, which has its own idea of what is lost already. Nothing where no trend was chosen."""
        lost = np.zeros((count, len(days)))
        if self.shape == "none":
            return lost
        weights = akaike_weights(np.array([line.criterion for line in self.tried]))
        picked = random.choice(len(self.tried), count, p=weights)
        for i, line in enumerate(self.tried):
            at = picked == i
            lost[at] = line.step + line.slopes(int(at.sum()), random)[:, None] * line.to_come(days)
        return lost

    def per_month(self) -> Interval | None:
        """Length lost in a month of 30.44 days at today's pace; None where too few runs say."""
        if not self.freedom:
            return None
        shape = self if self.shape != "none" else replace(self, shape="straight")
        worth = float(shape.to_come(np.array(1.0))) * MONTH
        half = float(stdtrit(self.freedom, 0.5 + LEVEL / 2)) * self.slope_sd
        return Interval(worth * self.slope, worth * (self.slope - half), worth * (self.slope + half))


def trend_of(lost: Lost) -> Trend:
    """The trend of one corner."""
    if len(lost.run) < FEWEST or not _tells(lost.days):
        return Trend("none", "time", BEDDING, 0.0, np.inf, 0, lost.now.days, 1.0)
    driven = lost.distance is not None and _tells(lost.distance)
    clocks: list[Clock] = ["time", "distance"] if driven else ["time"]
    none = _line(lost, "none", "time", BEDDING)
    tried = [none]
    for clock in clocks:
        tried.append(_line(lost, "straight", clock, SCALES[clock]))
        tried += [_line(lost, "settling", clock, SCALES[clock] * times) for times in SOONER_OR_LATER]
    best, least = replace(none, slope_sd=tried[1].slope_sd, freedom=tried[1].freedom), none.criterion
    for line in tried[1:]:
        if line.usual and line.criterion < least:
            best, least = (line if line.stands_out else best), line.criterion
    return Trend(**vars(best), tried=tuple(tried))


def _tells(clock: Array) -> bool:
    """Whether a slope does not hang on one run: without it nothing would tell how sure it is."""
    inner = np.sort(clock)
    return bool(inner[0] < inner[-2] and inner[1] < inner[-1])


def _line(lost: Lost, shape: Shape, clock: Clock, scale: float) -> Line:
    """That shape through the lengths by weighted least squares."""
    values, count = lost.clock(clock), len(lost.run)
    now = lost.now.days if clock == "time" else lost.now.distance
    assert now is not None
    basis = [] if shape == "none" else [_basis(shape, values / scale)]
    model = WLS(lost.length, np.column_stack([np.ones(count), *basis]), weights=1 / lost.spread**2)
    solved: Any = model.fit(cov_type="HC3", use_t=True)
    level, slope, slope_sd = float(solved.params[0]), 0.0, 0.0
    if basis:
        slope, slope_sd = float(solved.params[1]), float(solved.bse[1])
    return Line(
        shape=shape,
        clock=clock,
        scale=scale,
        slope=slope,
        slope_sd=slope_sd,
        freedom=count - 1 - len(basis),
        now=now,
        per_day=1.0 if clock == "time" else float(np.ptp(values) / np.ptp(lost.days)),
        step=level + slope * float(_basis(shape, np.array(now / scale))) - lost.now.length,
        criterion=aicc(solved.llf, 2 + len(basis), count),
    )


def _basis(shape: Shape, scaled: Array) -> Array:
    """scaled: days or distance in its scale, so that slopes are of a size."""
    if shape == "none":
        return np.zeros(np.shape(scaled))
    return np.asarray(np.log1p(scaled) if shape == "settling" else scaled)


def akaike_weights(criteria: Array) -> Array:
    """How much each shape counts: exp(−Δ/2) with Δ its criterion beyond the least, summing to one (n,)."""
    weights = np.exp(-(criteria - criteria.min()) / 2)
    return np.asarray(weights / weights.sum())


def aicc(log_likelihood: float, unknowns: int, count: int) -> float:
    """Akaike's criterion, corrected for few readings: 2K − 2 ln L + 2K(K + 1)/(n − K − 1); K counts the spread."""
    k = unknowns
    return 2 * k - 2 * log_likelihood + 2 * k * (k + 1) / (count - k - 1)
