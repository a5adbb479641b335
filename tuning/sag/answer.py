"""Where the height went, at all four corners: the answer of `tuning sag`. SI inside.

    found = sag(fit(truck, runs))            # since the first run with today's stack
    found = sag(fit(truck, runs), "spring")  # since a run by name

Everything in the answer is a frozen dataclass; see `Sag` and `CornerSag`.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from ..arrays import Array
from ..drift import days_of
from ..fit import Fit
from ..interval import Interval, from_draws
from ..truck import CORNERS
from .chart import Chart, charts
from .evidence import Slip, retold
from .forecast import Forecast, Leaves, forecasts
from .lost import Lost, distance_on, lost_by_run
from .parts import Parts, Verdict, parts_of
from .rate import rate_changes
from .reference import first_read, last_read, notes_on, run_called
from .shift import shifts
from .slips import slips_of, with_slips
from .split import split, stand_at
from .trend import Trend, trend_of

DRAWS = 1000


@dataclass(frozen=True)
class Sudden:
    """A loss of length at once (m), after the run `after` and by the run `by`."""

    after: str
    by: str
    length: Interval


@dataclass(frozen=True)
class CornerSag:
    """One corner since its reference run.

    rate_change: of today's stack since it went on, share (below zero: softer); None where the loads varied too little.
    rate_per_month: m of spring a month as the trend now goes. history: length lost run by run. sudden: losses at once
    that the log shows beyond doubt. alarm: the latest run rings the chart, so read that corner again. leaves_on: when
    it is out of tolerance with a chance of 10, 50 and 90 %; None: not within five years, or no target. leaves_at: the
    same on the odometer (m), None where distance is not logged throughout.
    """

    since: str
    parts: Parts
    rate_change: Interval | None
    rate_per_month: Interval | None
    trend: Trend
    history: Lost
    chart: Chart
    sudden: tuple[Sudden, ...]
    alarm: bool
    forecast: Forecast
    leaves_on: tuple[date | None, date | None, date | None]
    leaves_at: Leaves | None

    @property
    def verdict(self) -> Verdict:
        """In a word."""
        return self.parts.verdict


@dataclass(frozen=True)
class Sag:
    """The answer. run: the latest, taken_at its time; corners by name; notes: what to know about the log."""

    run: str
    taken_at: datetime
    corners: dict[str, CornerSag]
    notes: tuple[str, ...]


def sag(fit: Fit, since: str | None = None, now: datetime | None = None, seed: int = 0) -> Sag:
    """Where the height of each corner went since a run, the first with its present stack where none is named.

    now: the time at which it is asked, to judge dates by; left out, nothing is said of dates to come.
    Raises InputError where no run, or more than one, is called `since`.
    """
    last = int(fit.evidence.rounds.run[-1])
    asked = None if since is None else run_called(fit, since)
    references = [first_read(fit, c, asked) for c in range(4)]
    plain = retold(fit)
    chart = charts(plain)
    told, slips = with_slips(fit, slips_of(plain, chart))
    random = np.random.default_rng(seed)
    theta = told.draws(DRAWS, seed)
    spans = list(zip(references, [last_read(fit, c) for c in range(4)], strict=True))
    needed = dict.fromkeys([last, *(run for span in spans for run in span)])
    stands = {run: stand_at(told, run, theta, random) for run in needed}
    splits = {
        span: split(told, stands[span[0]], stands[span[1]], theta, random) for span in dict.fromkeys(spans)
    }
    shifted = {span: shifts(told, stands[span[0]], stands[span[1]], found) for span, found in splits.items()}
    history = tuple(lost_by_run(told, c, slips) for c in range(4))
    trends = tuple(trend_of(lost) for lost in history)
    future = forecasts(told, trends, stands[last].heights, random)
    rates, run = rate_changes(told), fit.runs[last]
    corners = {
        name: CornerSag(
            since=fit.runs[spans[i][0]].name,
            parts=parts_of(
                told, i, stands[spans[i][0]], stands[spans[i][1]], splits[spans[i]], shifted[spans[i]]
            ),
            rate_change=rates[name],
            rate_per_month=trends[i].per_month(),
            trend=trends[i],
            history=history[i],
            chart=chart[i],
            sudden=_sudden(told, i, slips, theta) if len(history[i].run) else (),
            alarm=chart[i].rings_at(last),
            forecast=future[i],
            leaves_on=_dates(run.taken_at, future[i].leaves),
            leaves_at=_odometer(fit, future[i].leaves),
        )
        for i, name in enumerate(CORNERS)
    }
    return Sag(run.name, run.taken_at, corners, notes_on(fit, asked, now))


def _dates(start: datetime, leaves: Leaves) -> tuple[date | None, date | None, date | None]:
    first, middle, last = (None if d is None else (start + timedelta(days=d)).date() for d in leaves)
    return first, middle, last


def _odometer(fit: Fit, leaves: Leaves) -> Leaves | None:
    """What the odometer will show then, at the pace of the whole log."""
    driven, days = distance_on(fit, np.ones(len(fit.runs), dtype=np.bool_)), days_of(fit.runs)
    if driven is None or days[-1] <= 0:
        return None
    shown = max(r.odometer for r in fit.runs[-1].readings if r.odometer is not None)
    pace = float(driven[-1] / days[-1])
    first, middle, last = (None if d is None else shown + d * pace for d in leaves)
    return first, middle, last


def _sudden(fit: Fit, corner: int, slips: tuple[Slip, ...], theta: Array) -> tuple[Sudden, ...]:
    """The slips at one corner, with their size."""
    sizes = theta[:, theta.shape[1] - len(slips) :]
    return tuple(
        Sudden(fit.runs[slip.run - 1].name, fit.runs[slip.run].name, from_draws(sizes[:, k]))
        for k, slip in enumerate(slips)
        if slip.corner == corner
    )
