"""Sudden losses of length that stayed: found by the chart, kept where they stand out."""

import numpy as np

from ..arrays import Array
from ..fit import DOUBTFUL, KINDS, Fit
from .chart import Chart, charts
from .evidence import Slip, retold, slip_rows

BELIEVED = 3.0  # standard deviations a slip has to stand out by


def slips_of(fit: Fit, found: tuple[Chart, ...]) -> tuple[Slip, ...]:
    """What the alarms of a chart take for sudden losses, each before the run from which on it fits the readings best.

    fit: as `retold`. The runs that come in question are those from where the sum left zero to the alarm; the best is
    that whose step would take most off the squared residuals (score test), if that is enough to be believed.
    """
    slips = []
    for corner, chart in enumerate(found):
        for begun, alarm in zip(chart.begun, chart.alarms, strict=True):
            tried = [Slip(corner, run) for run in chart.run[begun : alarm + 1]]
            gains = [_gain(fit, slip) for slip in tried]
            if max(gains) >= BELIEVED**2:
                slips.append(tried[int(np.argmax(gains))])
    return tuple(slips)


def _gain(fit: Fit, slip: Slip) -> float:
    """How much the sum of squared residuals would fall with a step there."""
    z = np.linalg.solve(fit.root, slip_rows(fit, slip)[..., None])[..., 0].reshape(-1)
    white = fit.whitened.reshape(len(z), -1)
    seen = white.T @ z
    left = z @ z - seen @ fit.regression.covariance @ seen
    return float((z @ fit.regression.residuals[: len(z)]) ** 2 / np.maximum(left, 1e-12))


def with_slips(fit: Fit, candidates: tuple[Slip, ...]) -> tuple[Fit, tuple[Slip, ...]]:
    """`retold` with those slips that stand out, and which these are."""
    kept = candidates
    while kept:
        told = retold(fit, kept)
        size = told.theta[-len(kept) :] / told.regression.sd[-len(kept) :]
        if size.min() >= BELIEVED:
            return told, kept
        kept = tuple(s for i, s in enumerate(kept) if i != int(size.argmin()))
    return retold(fit), ()


def without_slips(fit: Fit) -> Fit:
    """The fit to judge single readings by: with what slipped and stayed put down to slips, so that a corner which
    stands lower from some run on is not taken for a row of misread tapes.

    A slip has to be borne out by a later run, and to leave no reading of its corner in doubt: one gross misreading
    would otherwise be halved between a slip and itself.
    """
    if _worst(fit).max() <= DOUBTFUL:
        return fit
    plain = retold(fit)
    found = charts(plain)
    last = [chart.run[-1] if chart.run else 0 for chart in found]
    candidates = tuple(s for s in slips_of(plain, found) if s.run < last[s.corner])
    while True:
        told, kept = with_slips(fit, candidates)
        worst = _worst(told)
        candidates = tuple(s for s in kept if worst[s.corner] <= DOUBTFUL)
        if candidates == kept:
            return told if kept else fit


def _worst(fit: Fit) -> Array:
    """Largest departure of any reading at each corner, in standard deviations (4,)."""
    return np.asarray(np.max([np.abs(fit.deletions(kind)[1]).max(axis=0) for kind in KINDS], axis=0))
