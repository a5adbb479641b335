"""How much tapes, scales and friction lie: the file's figures, sharpened by repeats. SI."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from .readings import Run
from .truck import END_NAMES, SIDES, Noise, Truck

# Repeats worth this many degrees of freedom count as much as the file's own figure.
TRUST = 8.0


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
