"""A spring in a press: rate, free length, and the knee where a stiffer line begins. SI.

Force is the response and length the given: a press's gauge is off by pounds, while a ruler is off by a sixteenth of
the spring's travel at most. What the ruler's error leaves out makes the rate read low by its variance over that of the
lengths (`Pressed.read_low`; W. A. Fuller, Measurement Error Models, 1987, section 1.1), a thousandth as a rule. So
errors in both (Deming) are not needed. What shows is scatter: a gauge that reads 2 % high makes a rate 2 % high.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from .arrays import Array, Flags
from .faults import NoAnswerError
from .interval import LEVEL, Interval
from .regression import Regression, regress
from .solid import LEAST, NO_FORCE, RULER, solid

BESIDE_KNEE = 3  # lengths on each side of a knee, so that one wild reading makes none
FALSE_KNEES = 0.01  # of straight springs are given a knee
WILD = 0.01  # of presses without a slip have a reading called doubtful
CLOSEST = 0.1e-3  # m: no length is read closer, so no scatter is believed that is less than this much spring
_KNEES = 401  # places at which a knee is tried
_STRAIGHT = 999  # straight springs that the knee is held against


class PressError(NoAnswerError):
    """The readings give no rate; the message says why and what to do."""


@dataclass(frozen=True)
class Knee:
    """Where the spring turns stiffer (or softer): length (m), force (N), and the rate beyond it (N/m).

    open_ended: it may lie nearer to the ends of the readings than can be told.
    """

    length: Interval
    force: Interval
    rate: Interval
    open_ended: bool


@dataclass(frozen=True)
class Pressed:
    """What a press says of a spring. rate N/m and free_length m are those of the line from no load to the knee.

    forces (N), lengths (m): the readings as given. scatter: of the force about the lines (N, one standard deviation).
    knee_looked_for: there were readings enough. read_low: share by which the ruler's error may have lowered the rate.
    doubtful: place, from 0, of the reading that stands off furthest, if further than in one press of a hundred.
    solid: places of those at which the coils touch, least force first; all else is without them.
    """

    forces: Array
    lengths: Array
    rate: Interval
    free_length: Interval
    scatter: float
    knee: Knee | None
    knee_looked_for: bool
    read_low: float
    doubtful: int | None
    solid: tuple[int, ...]


def press(forces: Array, lengths: Array) -> Pressed:
    """Rate, free length and knee from pairs of force (N) and length between the plates (m), (n,) each, any order.

    Intervals are Student's, 90 %. Raises PressError where no rate can be told.
    """
    _refuse(forces, lengths)
    touching = np.nonzero(solid(forces, lengths))[0]
    order = np.lexsort((forces, lengths))  # so that the answer does not hang on the order of the readings
    order = order[~np.isin(order, touching)]
    force, length = forces[order], lengths[order]
    knees = _places(length)
    profile = None if knees is None else _Profile.of(force, length, knees)
    lines = _Lines.of(force, length, None if profile is None or not profile.is_knee else profile.best)
    wildest = _wildest(force, length, knees, lines.rate.mean)
    doubtful = None if wildest is None else int(order[wildest])
    if lines.rate.low <= 0:
        raise PressError(
            f"The readings scatter so much that no rate can be told from them. {_mend(doubtful, len(touching))}"
        )
    return Pressed(
        forces=forces,
        lengths=lengths,
        rate=lines.rate,
        free_length=lines.free_length,
        scatter=lines.scatter,
        knee=None if profile is None or lines.knee is None else _knee(lines, profile),
        knee_looked_for=profile is not None,
        read_low=float(RULER**2 / np.var(length)),
        doubtful=doubtful,
        solid=tuple(int(place) for place in touching[np.argsort(forces[touching], kind="stable")]),
    )


def _mend(doubtful: int | None, touching: int) -> str:
    if doubtful is not None:
        return f"Reading {doubtful + 1} stands off from all others: read it again, or take it out."
    if touching:
        return "At the last of them its coils touch: never press on, read more lengths before they do."
    return "Press further, short of solid, and read more lengths."


def _refuse(forces: Array, lengths: Array) -> None:
    if len(forces) < LEAST:
        raise PressError(f"Readings: {len(forces)}. A rate needs {LEAST}, better 8, spread over the travel.")
    if np.ptp(forces) < NO_FORCE or np.ptp(lengths) == 0:
        same = "force" if np.ptp(forces) < NO_FORCE else "length"
        raise PressError(f"Every reading has the same {same}. Press the spring to several lengths.")
    if np.cov(forces, lengths)[0, 1] >= 0:
        raise PressError(
            "The lengths grow with the force. Write the length between the plates, not how far they have come "
            "together."
        )


# ---------------------------------------------------------------- lines


@dataclass(frozen=True)
class _Lines:
    """One line, or two that meet at `knee`: force = level + rate (middle − length) + stiffer (knee − length)₊.

    about: of level and rate, and of `stiffer` and the knee where there is one; `degrees` of freedom.
    """

    middle: float
    knee: float | None
    fit: Regression
    scatter: float
    degrees: int

    @staticmethod
    def of(forces: Array, lengths: Array, knee: float | None) -> "_Lines":
        """Least squares. The knee's own error is in the covariance: its column is the slope of the force along it."""
        middle = float(lengths.mean())
        columns = np.column_stack([np.ones(len(lengths)), middle - lengths])
        if knee is None:
            fit, free = regress(columns, forces), columns
        else:
            columns = np.column_stack([columns, np.maximum(knee - lengths, 0.0)])
            free = np.column_stack([columns, lengths < knee])
            fit = regress(columns, forces)
        degrees = len(forces) - free.shape[1]
        scatter = max(float(np.sqrt(fit.chi_squared / degrees)), CLOSEST * abs(float(fit.estimate[1])))
        unit = regress(free, forces, known_variance=True).covariance
        whole = Regression(fit.estimate, scatter**2 * unit, fit.residuals)
        return _Lines(middle, knee, whole, scatter, degrees)

    @property
    def reach(self) -> float:
        """Half of a 90 % interval in standard errors."""
        return float(stdtrit(self.degrees, (1 + LEVEL) / 2))

    @property
    def rate(self) -> Interval:
        """From no load on (N/m)."""
        return self._sum(1)

    @property
    def rate_beyond(self) -> Interval:
        """Beyond the knee (N/m)."""
        return self._sum(1, 2)

    @property
    def free_length(self) -> Interval:
        """Where the first line meets no force (m)."""
        low, mean, high = crossing(self.fit, 0.0, self.reach)
        return Interval(self.middle - mean, self.middle - high, self.middle - low)

    def force(self, length: float) -> float:
        """On the first line (N)."""
        level, rate = self.fit.estimate[:2]
        return float(level + rate * (self.middle - length))

    def _sum(self, *places: int) -> Interval:
        mean = float(self.fit.estimate[list(places)].sum())
        half = self.reach * float(np.sqrt(self.fit.covariance[np.ix_(places, places)].sum()))
        return Interval(mean, mean - half, mean + half)


def crossing(line: Regression, value: float, reach: float) -> tuple[float, float, float]:
    """Low, estimate and high of the x at which a line (its first two unknowns: level, slope) has a value.

    The band of the mean, `reach` standard errors either way, turned over: Fieller 1954. The slope has to be surer
    than that band.
    """
    level, slope = line.estimate[0] - value, line.estimate[1]
    var, cov = reach**2 * np.diag(line.covariance)[:2], reach**2 * line.covariance[0, 1]
    a, b, c = slope**2 - var[1], level * slope - cov, level**2 - var[0]
    if a <= 0:
        return -np.inf, float(-level / slope), np.inf
    half = np.sqrt(max(b**2 - a * c, 0.0))
    return float((-b - half) / a), float(-level / slope), float((-b + half) / a)


# ---------------------------------------------------------------- knee


@dataclass(frozen=True)
class _Profile:
    """How well two lines do with a knee at each of many places. left: squared residuals (N²), (knees,)."""

    knees: Array
    left: Array
    best: float
    is_knee: bool

    @staticmethod
    def of(forces: Array, lengths: Array, knees: Array) -> "_Profile":
        """Try a knee everywhere, and hold the best against what straight springs at these lengths give by chance.

        What a knee takes off the squared residuals of one line is the square of its column's projection once
        the line is taken out of it (Frisch and Waugh 1933). The place being chosen, that is no F; but its share
        of the whole depends on nothing but the lengths, so simulated straight springs give its exact law.
        """
        line = _line(lengths)
        hinges = _hinges(line, lengths, knees)

        def straightened(rows: Array) -> Array:
            return np.asarray(rows - (rows @ line) @ line.T)

        def share(rows: Array) -> Array:
            return np.asarray(((rows @ hinges) ** 2).max(axis=-1) / (rows**2).sum(axis=-1))

        residuals = straightened(forces)
        left = residuals @ residuals - (residuals @ hinges) ** 2
        chance = straightened(np.random.default_rng(0).standard_normal((_STRAIGHT, len(lengths))))
        rate = abs(np.cov(forces, lengths)[0, 1] / np.var(lengths, ddof=1))
        rough = np.sqrt(np.mean(residuals**2)) > CLOSEST * rate
        met = 1 + np.count_nonzero(share(chance) >= share(residuals)) if rough else _STRAIGHT
        is_knee = bool(met <= FALSE_KNEES * (1 + _STRAIGHT))
        return _Profile(knees, left, float(knees[left.argmin()]), is_knee)

    def interval(self, reach: float, degrees: int, least: float) -> tuple[Interval, bool]:
        """Knees that do not do worse than the best by more than chance (m), up to the first on each side that do; and
        whether there is none such on a side. least: squared scatter believed (N²)."""
        allowed = self.left.min() + reach**2 * max(self.left.min() / degrees, least)
        good, last = np.nonzero(self.left <= allowed)[0], len(self.knees) - 1
        low, high = self.knees[max(good[0] - 1, 0)], self.knees[min(good[-1] + 1, last)]
        return Interval(self.best, float(low), float(high)), bool(good[0] == 0 or good[-1] == last)


def _line(lengths: Array) -> Array:
    """Columns of one line, upright on each other and of length one: (n, 2)."""
    return np.linalg.qr(np.column_stack([np.ones(len(lengths)), lengths - lengths.mean()])).Q


def _hinges(line: Array, lengths: Array, knees: Array) -> Array:
    """What a knee at each place adds to the columns of one line, upright on them and of length one: (n, knees)."""
    hinges = np.maximum(knees - lengths[:, None], 0.0)
    hinges -= line @ (line.T @ hinges)
    return np.asarray(hinges / np.sqrt((hinges**2).sum(axis=0)))


def _places(lengths: Array) -> Array | None:
    """Lengths at which a knee is tried (m), None where there are too few readings to look for one."""
    distinct = np.unique(lengths)
    if len(distinct) < 2 * BESIDE_KNEE:
        return None
    return np.linspace(distinct[BESIDE_KNEE - 1], distinct[-BESIDE_KNEE], _KNEES)


def _knee(lines: _Lines, profile: _Profile) -> Knee:
    length, open_ended = profile.interval(lines.reach, lines.degrees, lines.scatter**2)
    force = Interval(*map(lines.force, (length.mean, length.high, length.low)))
    return Knee(length, force, lines.rate_beyond, open_ended)


# ---------------------------------------------------------------- slips


def _wildest(forces: Array, lengths: Array, knees: Array | None, rate: float) -> int | None:
    """The reading without which all others lie closer to their lines than chance allows, Bonferroni over the readings
    (Cook and Weisberg, Residuals and Influence in Regression, 1982, section 2.2.2). The worst alone: it drags others.

    Two lines are allowed wherever a knee can be, found or not: a slip hides a knee, and would pass for the curve.
    Without reading i the squares are less by e_i² / (1 − h_i), at each knee.
    """
    line, spare = _line(lengths), len(forces) - 3
    left, leverage = (forces - line @ (line.T @ forces))[:, None], (line**2).sum(axis=1)[:, None]
    if knees is not None:
        hinges = _hinges(line, lengths, knees)
        left, leverage, spare = left - hinges * (left.T @ hinges), leverage + hinges**2, spare - 2
    if spare < 1:
        return None
    squares = (left**2).sum(axis=0)
    without = squares - left**2 / np.maximum(1 - leverage, 1e-9)
    if knees is not None:
        without[~_knees_left(lengths, knees)] = np.inf
    least = without.min(axis=1)
    worst = int(least.argmin())
    believed = max(least[worst] / spare, (CLOSEST * rate) ** 2)
    far = stdtrit(spare, 1 - WILD / 2 / len(forces))
    return worst if squares.min() - least[worst] > far**2 * believed else None


def _knees_left(lengths: Array, knees: Array) -> Flags:
    """Knees that may still be tried when one reading is gone, (n, knees); none where too few lengths are left."""
    left = []
    for i in range(len(lengths)):
        distinct = np.unique(np.delete(lengths, i))
        left.append((distinct[BESIDE_KNEE - 1] <= knees) & (knees <= distinct[-BESIDE_KNEE]))
    return np.array(left)
