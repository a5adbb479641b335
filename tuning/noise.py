"""How much tapes, scales and friction lie: the file's figures, sharpened by repeats. SI."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from .arrays import Array
from .readings import Run
from .rounds import Rounds
from .truck import END_NAMES, SIDES, Noise, Truck

# Repeats worth this many degrees of freedom count as much as the file's own figure. Friction is the vaguer one.
TRUST = 8.0
FRICTION_TRUST = 4.0


def sharpened(truck: Truck, runs: Sequence[Run]) -> Noise:
    """The truck's noise figures after what repeats in the runs say of tape and scale.

    Tape: readings repeated in one run after settling from the same side, so that friction is the same in each.
    Scale: axle sums of repeats in one run, which friction can't change. Each variance is the mean of the file's
    and the repeats', weighted by degrees of freedom with `TRUST` for the file (scaled inverse chi-squared prior).
    """
    tape = _pooled(
        [r.height for r in run.at(corner) if r.settled == side and r.height is not None and not r.doubt]
        for run in runs
        for end in END_NAMES
        for corner in SIDES[end]
        for side in ("above", "below")
    )
    scale = _pooled(_relative_axle_sums(run, end) for run in runs for end in END_NAMES)
    noise = truck.noise
    # A sum of two wheels is surer than either, by the root of two for wheels that carry alike.
    return replace(
        noise, height=_blend(noise.height, tape), load=_blend(noise.load, (2 * scale[0], scale[1]))
    )


def _relative_axle_sums(run: Run, end: str) -> list[float]:
    loads = defaultdict(list)
    for corner in SIDES[end]:
        loads[corner] = [r.load for r in run.at(corner) if r.load is not None and not r.doubt]
    sums = np.array([a + b for a, b in zip(*loads.values(), strict=False)])
    return (sums / sums.mean()).tolist() if len(sums) > 1 and sums.mean() > 0 else []


def _pooled(groups: Iterable[list[float]]) -> tuple[float, int]:
    """Sum of squares about each group's own mean, and its degrees of freedom."""
    total, freedom = 0.0, 0
    for group in groups:
        if len(group) > 1:
            total += float(np.var(group)) * len(group)
            freedom += len(group) - 1
    return total, freedom


def _blend(own: float, repeats: tuple[float, int]) -> float:
    total, freedom = repeats
    return float(np.sqrt((TRUST * own**2 + total) / (TRUST + freedom)))


def friction_from_repeats(
    rounds: Rounds, residual: Array, per_force: Array, own: Array, tape: float
) -> Array:
    """Half band of friction of each end (N), (2,), after what rolled-and-bounced repeats in one run say.

    residual: of the corner lines as heights (m), (n, 4); per_force: height a unit of friction is worth (m/N),
    (n, 4); own: the file's figures (N), (2,); tape: m. Repeats scatter by tape² + (per_force · f)²/3; their
    variance over the one expected, blended with `FRICTION_TRUST` for the file, stretches the whole, and what is
    more than the tape's is friction's. Not below a quarter of the file's figure.
    """
    usable = ~np.isnan(rounds.height) & (rounds.settled == 0)
    found = own.copy()
    for end in (0, 1):
        scatter, freedom, worth = 0.0, 0.0, []
        for corner in (2 * end, 2 * end + 1):
            rows = np.nonzero(usable[:, corner])[0]
            run, values = rounds.run[rows], residual[rows, corner]
            count = np.bincount(run)
            mean = np.bincount(run, values) / np.maximum(count, 1)
            expected = tape**2 + (per_force[rows, corner] * own[end]) ** 2 / 3
            scatter += float(((values - mean[run]) ** 2 / expected).sum())
            freedom += float(np.maximum(count - 1, 0).sum())
            worth.append(np.mean(per_force[rows, corner] ** 2) / 3 if rows.size else 0.0)
        if freedom and min(worth) > 0:
            stretch = (FRICTION_TRUST + scatter) / (FRICTION_TRUST + freedom)
            unit = float(np.mean(worth))
            left = stretch * (tape**2 + unit * own[end] ** 2) - tape**2
            found[end] = max(np.sqrt(max(left, 0.0) / unit), own[end] / 4)
    return found
