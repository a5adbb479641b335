"""Whether a spring's rate has changed while it was on: only a log whose loads went up and down can tell. SI.

A rate that fell and a length that was lost look alike at one load. So each corner's compliance is given a straight
change over the days its stack has been on, beside the drift, and the change is told only where the readings
themselves pin it down.
"""

import numpy as np
from scipy.linalg import block_diag

from ..arrays import Array
from ..fit import Fit, solve
from ..interval import Interval, from_sd
from ..truck import CORNERS
from .evidence import runs_with
from .lost import served

CHANGE_SD = 0.10  # share of the rate, prior spread over the whole time
TOLD = 0.015  # share of the rate: a change known no better than this is not told


def rate_changes(fit: Fit) -> dict[str, Interval | None]:
    """Change of each corner's stack rate since it went on (share, below zero: softer); None where it can't be told."""
    extra = np.stack([_columns(fit, corner) for corner in range(4)], axis=-1)
    white = np.concatenate([fit.whitened, np.linalg.solve(fit.root, extra)], axis=-1)
    columns, right = fit.prior_rows
    below = block_diag(columns, np.eye(4) / CHANGE_SD), np.concatenate([right, np.zeros(4)])
    solved = solve(white, fit.response, below)
    found = zip(CORNERS, solved.estimate[-4:], solved.sd[-4:], strict=True)
    return {name: from_sd(-float(m), float(s)) if s <= TOLD else None for name, m, s in found}


def _columns(fit: Fit, corner: int) -> Array:
    """How the rows follow the change of this corner's compliance, counted from today, (n, 5)."""
    days, on = served(fit, corner), runs_with(fit, corner)
    if days[-1] <= 0:
        return np.zeros(fit.response.shape)
    aged = np.where(on, days / days[-1] - 1.0, 0.0)[fit.evidence.rounds.run]
    places = [int(p) for p in fit.spring_index[corner] if p < fit.unknowns.size]
    return np.asarray(fit.rows.columns[:, :, places].sum(axis=-1) * aged[:, None])
