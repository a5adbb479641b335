"""Length lost by a corner's stack, run by run, as the weighed runs tell it; and the clocks it may go by. SI."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..arrays import Array, Flags, Places
from ..drift import days_of, days_on
from ..fit import Fit
from ..truck import CORNERS
from .evidence import Slip, runs_with, weighed

Clock = Literal["time", "distance"]


@dataclass(frozen=True)
class Now:
    """Days on and distance (m) at the latest run, and the length lost by then as the fit has it (m)."""

    days: float
    distance: float | None
    length: float


@dataclass(frozen=True)
class Lost:
    """Length lost by one corner's stack, run by run: m against days on and, where all is logged, distance (m).

    spread: standard deviation of each (m). run: index of each. now: the latest run, which may not be among them.
    """

    run: Places
    days: Array
    distance: Array | None
    length: Array
    spread: Array
    now: Now

    def clock(self, clock: Clock) -> Array:
        """Its readings, (runs,)."""
        found = self.days if clock == "time" else self.distance
        assert found is not None
        return found


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
    days, driven = served(fit, corner), distance_on(fit, runs_with(fit, corner))
    return Lost(
        run=at,
        days=days[at],
        distance=None if driven is None else driven[at],
        length=found[at] + sums[at] / say[at],
        spread=1 / np.sqrt(say[at]),
        now=Now(float(days[-1]), None if driven is None else float(driven[-1]), float(found[-1])),
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
