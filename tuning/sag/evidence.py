"""The fit told again for questions about time. SI.

For choosing turns it is sound to take an unweighed truck to weigh what it last did. For asking where the height
went it is not: a tool box that nobody weighed would be taken for a spring's set. So a round that was not on scales
says nothing of set here. Sudden slips that the smooth drift of `drift.py` can't follow are put in as steps.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..arrays import Array, Flags
from ..drift import Drift
from ..fit import Fit, prior_rows, solve
from ..statics import OTHER_SIDE
from ..truck import CORNERS

SLIP_SD = 0.01  # m, prior spread of a sudden loss of length


@dataclass(frozen=True)
class Slip:
    """A sudden loss of stack length at a corner (index) some time before a run (index) and after the one before."""

    corner: int
    run: int


def runs_with(fit: Fit, corner: int) -> Flags:
    """Runs with today's stack at a corner, (runs,)."""
    names = [stacks[corner] for stacks in fit.evidence.stacks]
    return np.array([name == names[-1] for name in names], dtype=np.bool_)


def weighed(fit: Fit) -> Flags:
    """Rounds with both wheels of an end on scales, at each of its corners: (n, 4)."""
    missing: Flags = np.asarray(np.isnan(fit.evidence.rounds.load))
    return np.asarray(~(missing | missing[:, OTHER_SIDE]))


def retold(fit: Fit, slips: Sequence[Slip] = ()) -> Fit:
    """The same rows solved again, straight about the same place: unweighed rounds without trust in their weight,
    and slips as further unknowns, last in the order of `Drift.owner`."""
    unweighed: Flags = np.asarray(np.isnan(fit.evidence.rounds.load).all(axis=1))
    if not slips and (not unweighed.any() or unweighed.all()):
        return fit
    rows, drift = fit.rows, _with_slips(fit, slips)
    columns = np.concatenate([rows.columns, *(slip_rows(fit, slip)[..., None] for slip in slips)], axis=-1)
    covariance = rows.covariance
    if not unweighed.all():
        extra = rows.scale * (unweighed[:, None] * _usual_loads(fit))[:, None]
        covariance = covariance + extra @ extra.transpose(0, 2, 1)
    root = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
    white = np.linalg.solve(root, np.concatenate([columns, rows.response[..., None]], axis=-1))
    prior = np.concatenate([fit.prior, np.zeros(len(slips))])
    sd = np.concatenate([fit.prior_sd, np.full(len(slips), SLIP_SD)])
    evidence = replace(fit.evidence, drift=drift, unknowns=replace(fit.unknowns, drifts=drift.count))
    solved = solve(white[..., :-1], white[..., -1], prior_rows(evidence, prior, sd))
    return replace(
        fit,
        evidence=evidence,
        rows=replace(rows, columns=columns, covariance=covariance),
        regression=solved,
        whitened=white[..., :-1],
        response=white[..., -1],
        prior=prior,
        prior_sd=sd,
        root=root,
    )


def slip_rows(fit: Fit, slip: Slip) -> Array:
    """How the rows follow a slip, (n, 5)."""
    step = _slipped(fit, slip)
    against = (step - step[-1])[fit.evidence.rounds.run]
    return np.asarray(fit.rows.columns[:, :, slip.corner] * against[:, None])


def _slipped(fit: Fit, slip: Slip) -> Array:
    """1 at runs with today's stack from the slip on, 0 elsewhere, (runs,)."""
    return (runs_with(fit, slip.corner) & (np.arange(len(fit.runs)) >= slip.run)).astype(float)


def lost_between(fit: Fit, corner: int, before: int, now: int) -> Array:
    """How the length that today's stack has lost from run to run follows the drift unknowns, (q,)."""
    drift = fit.evidence.drift
    own = drift.belongs(CORNERS[corner], fit.evidence.stacks[-1][corner])
    return np.asarray((drift.lost[now, corner] - drift.lost[before, corner]) * own)


def _with_slips(fit: Fit, slips: Sequence[Slip]) -> Drift:
    drift, names = fit.evidence.drift, fit.evidence.stacks[-1]
    if not slips:
        return drift
    lost = np.zeros((len(fit.runs), 4, len(slips)))
    for k, slip in enumerate(slips):
        lost[:, slip.corner, k] = _slipped(fit, slip)
    return Drift(
        owner=drift.owner + tuple((CORNERS[s.corner], names[s.corner]) for s in slips),
        sd=np.concatenate([drift.sd, np.full(len(slips), SLIP_SD)]),
        lost=np.concatenate([drift.lost, lost], axis=-1),
        since_now=np.concatenate([drift.since_now, lost - lost[-1]], axis=-1),
    )


def _usual_loads(fit: Fit) -> Array:
    """Wheel loads of the truck standing even (N, (4,))."""
    front, rear, _ = fit.theta[fit.unknowns.weight]
    return np.array([front, front, rear, rear]) / 2
