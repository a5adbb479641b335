"""The fitted model in numbers a person asks for. SI inside; words and units come later."""

from dataclasses import dataclass

import numpy as np

from . import stack as springs
from .arrays import Array
from .fit import DOUBTFUL, ROBUST_DISAGREES, Check, Fit
from .interval import Interval, from_draws, from_sd
from .truck import CORNERS, END_NAMES

DRAWS = 1000


@dataclass(frozen=True)
class CornerSummary:
    """datum m; rate_factor: rate over nominal with all springs working, by stack; rate_now N/m, of the stack on
    the shock as it stands; readings: heights in the fit; residual_sd m, of heights about the corner line."""

    datum: Interval
    rate_factor: dict[str, Interval]
    rate_now: Interval
    readings: int
    residual_sd: float | None


@dataclass(frozen=True)
class FitSummary:
    """twist_compliance rad per N·m, twist_offset rad, friction N by end. doubtful: worth a second look."""

    corners: dict[str, CornerSummary]
    twist_compliance: Interval
    twist_offset: Interval
    friction: dict[str, Interval]
    doubtful: tuple[Check, ...]
    robust_agrees: bool


def summarise(fit: Fit, seed: int = 0) -> FitSummary:
    """Estimates with 90 % intervals."""
    theta = fit.draws(DRAWS, seed)
    padded = np.concatenate([theta, np.zeros((DRAWS, 1))], axis=1)
    parameters = fit.parameters(theta)
    corners = {name: _corner(fit, i, name, padded, parameters.compliance) for i, name in enumerate(CORNERS)}
    friction = fit.unknowns.friction
    bands = zip(END_NAMES, fit.theta[friction], fit.regression.sd[friction], strict=True)
    offset = fit.unknowns.offset
    return FitSummary(
        corners=corners,
        twist_compliance=from_draws(parameters.twist),
        twist_offset=from_sd(float(fit.theta[offset]), float(fit.regression.sd[offset])),
        friction={end: from_sd(float(mean), float(sd)) for end, mean, sd in bands},
        doubtful=tuple(c for c in fit.checks if abs(c.t) > DOUBTFUL),
        robust_agrees=fit.robust_shift <= ROBUST_DISAGREES,
    )


def _corner(fit: Fit, i: int, name: str, theta: Array, compliance: Array) -> CornerSummary:
    factors = {}
    for corner, stack, _ in fit.unknowns.springs:
        if corner == name:
            nominal = springs.compliances(stack)
            places = fit.unknowns.springs_at([stack] * 4)[i]
            fitted = (nominal * (1 + theta[:, places])).sum(axis=1)
            factors[stack.name] = from_draws(nominal.sum() / fitted)
    rows = ~np.isnan(fit.evidence.rounds.height[:, i])
    slope = -fit.rows.tape[:, :4].diagonal(axis1=1, axis2=2)[:, i]
    residual = ((fit.rows.response - fit.rows.columns @ fit.theta)[:, i] / slope)[rows]
    return CornerSummary(
        datum=from_draws(theta[:, i]),
        rate_factor=factors,
        rate_now=from_draws(1 / (compliance[:, i] * _working_now(fit)[i]).sum(axis=-1)),
        readings=int(rows.sum()),
        residual_sd=float(np.sqrt(np.mean(residual**2))) if rows.sum() > 1 else None,
    )


def _working_now(fit: Fit) -> Array:
    """Which springs are off their stops, (4, 2); of a bound stack the lower, so that a rate can be given."""
    compliance = fit.parameters(fit.theta[None]).compliance[0]
    on = springs.working(fit.force_now, compliance, fit.strut.limit())
    return np.where(on.sum(axis=-1, keepdims=True) > 0, on, np.array([0.0, 1.0]))
