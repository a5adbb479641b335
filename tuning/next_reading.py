"""Which reading to take next, when reading again would help more than turning."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .arrays import Array

if TYPE_CHECKING:
    from .bench import Bench, Wish


WORTH_IT = 0.2  # share of the miss's variance a reading has to take away before it is asked for


@dataclass(frozen=True)
class NextReading:
    """text: what to do; gain: share of the miss's variance it is expected to take away."""

    text: str
    gain: float


def next_reading(table: "Bench", wishes: tuple["Wish", ...], turns: Array) -> NextReading | None:
    """The reading that is expected to take most off the variance of the miss; None where none takes a fifth.

    Adding rows to a straight fit with known variances takes the same off its covariance whatever they will read,
    so each can be weighed beforehand: P − P Xᵀ (X P Xᵀ + V)⁻¹ X P.
    """
    fit = table.fit
    slope = _slope(table, wishes, turns)
    before = float(np.trace(slope @ fit.regression.covariance @ slope.T))
    best = None
    for text, columns, covariance in _offers(table):
        gain = columns @ fit.regression.covariance
        taken = gain.T @ np.linalg.solve(gain @ columns.T + covariance, gain)
        share = float(np.trace(slope @ taken @ slope.T)) / before if before > 0 else 0.0
        if share > WORTH_IT and (best is None or share > best.gain):
            best = NextReading(text, share)
    return best


def _slope(table: "Bench", wishes: tuple["Wish", ...], turns: Array) -> Array:
    """Change of each miss with each unknown, (wishes, p), by central differences of a tenth of their spread."""
    fit = table.fit
    step = 0.1 * fit.regression.sd
    theta = np.concatenate([fit.theta + np.diag(step), fit.theta - np.diag(step)])
    miss = table.outlook(turns[None], theta).miss(wishes)[0]
    p = len(step)
    return np.asarray(((miss[:p] - miss[p:]) / (2 * step)[:, None]).T)


def _offers(table: "Bench") -> list[tuple[str, Array, Array]]:
    """Readings a person could take now, as rows with their covariance: the latest round's rows, read otherwise."""
    fit = table.fit
    rows = fit.rows
    columns, covariance = rows.columns[-1], rows.covariance[-1]
    friction = rows.friction[-1]
    sd = np.sqrt(fit.held.variance[-1])
    rolled = (
        covariance - (friction * sd**2) @ friction.T
        if (fit.evidence.rounds.settled[-1] == 0).all()
        else covariance
    )
    # Settled from above and from below: friction enters with known signs and its middle with almost none.
    bracket = (friction * (0.1 * sd) ** 2) @ friction.T + rolled / 2
    offers = [
        (
            "Read all four heights twice more: once lifted and let down gently (settled above), "
            "once pushed down and let up gently (settled below). The middle is almost free of friction.",
            columns,
            bracket,
        ),
        ("Roll and bounce the truck, then read all four heights and loads once more.", columns, covariance),
    ]
    if not fit.loads_known:
        p = fit.unknowns.size
        weigh = np.zeros((3, p))
        weigh[:, fit.unknowns.weight] = np.eye(3)
        front, rear, _ = fit.theta[fit.unknowns.weight]
        noise = fit.truck.noise.load * np.array([front, rear, (front + rear) * 0.8])
        offers.append(
            ("Put all four wheels on scales and read heights and loads together.", weigh, np.diag(noise**2))
        )
    return offers
