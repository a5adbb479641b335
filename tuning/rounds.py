"""Readings laid out for arithmetic: a round is one reading at each corner, taken together.

A run with repeats has several rounds: the first rolled-and-bounced reading of every corner makes one, the second
another, the readings settled from above another. A corner that was not read in a round is NaN there.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .arrays import Array, Flags, Places
from .readings import Reading, Run
from .truck import CORNERS, Stack, Truck

SETTLED_SIGN = {"above": 1.0, "below": -1.0, "": 0.0}


@dataclass(frozen=True)
class Rounds:
    """height, load, preload (n, 4) in SI, NaN where not taken; settled (n, 4): +1 held high, −1 held low, 0 between.

    Loads that were read in one round only count for every round of their run. run (n,): index into the runs.
    nut_unsaid (n, 4): nobody said where that corner's nut stood in that run; preload then is where it stood before.
    height_near: the height, or where there is none the nearest one known of that corner, to be straight about.
    readings: who stands behind each number; None where nobody.
    """

    height: Array
    height_near: Array
    load: Array
    preload: Array
    nut_unsaid: Flags
    settled: Array
    run: Places
    readings: tuple[tuple[Reading | None, ...], ...]


def rounds_of(runs: Sequence[Run]) -> Rounds:
    """Rounds of all runs, doubtful readings left out."""
    rows: list[tuple[Reading | None, ...]] = []
    owner: list[int] = []
    for index, run in enumerate(runs):
        table: dict[tuple[str, int], dict[str, Reading]] = {}
        counts: dict[tuple[str, str], int] = {}
        for reading in run.readings:
            if reading.doubt:
                continue
            place = counts.get((reading.corner, reading.settled), 0)
            counts[reading.corner, reading.settled] = place + 1
            table.setdefault((reading.settled, place), {})[reading.corner] = reading
        rows += [tuple(row.get(c) for c in CORNERS) for row in table.values()]
        owner += [index] * len(table)

    def column(name: str) -> Array:
        values = [[getattr(r, name) if r else None for r in row] for row in rows]
        return np.array([[np.nan if v is None else v for v in row] for row in values], dtype=float).reshape(
            -1, 4
        )

    run_of_row = np.array(owner, dtype=np.intp)
    stated = nuts_said(runs)
    nuts = np.nan_to_num(_nearest_known(stated))
    height, load, preload = column("height"), column("load"), column("preload")
    said = ~np.isnan(stated)
    unsaid = (~said & said.any(axis=0))[run_of_row]
    preload = np.where(np.isnan(preload), nuts[run_of_row], preload)
    near = _nearest_known(_mean_where_missing(height, run_of_row))
    settled = np.array([[SETTLED_SIGN[r.settled] if r else 0.0 for r in row] for row in rows]).reshape(-1, 4)
    return Rounds(
        height, near, _mean_where_missing(load, run_of_row), preload, unsaid, settled, run_of_row, tuple(rows)
    )


def nuts_said(runs: Sequence[Run]) -> Array:
    """Preload at each corner in each run as last said there (m), (runs, 4), whatever became of the height read
    beside it; NaN where nothing was said."""
    said = np.full((len(runs), 4), np.nan)
    for row, run in zip(said, runs, strict=True):
        for reading in run.readings:
            if reading.preload is not None:
                row[CORNERS.index(reading.corner)] = reading.preload
    return said


def nuts_of(runs: Sequence[Run]) -> Array:
    """The same with gaps filled: where it was last said to stand, before that where it was first said to; zero where
    there is no nut."""
    return np.nan_to_num(_nearest_known(nuts_said(runs)))


def _mean_where_missing(values: Array, run: Places) -> Array:
    """Gaps filled with the mean of the same corner in the same run, where there is one."""
    size = int(run.max()) + 1 if run.size else 0
    taken = ~np.isnan(values)
    total, count = np.zeros((size, 4)), np.zeros((size, 4))
    np.add.at(total, run, np.where(taken, values, 0.0))
    np.add.at(count, run, taken)
    mean = np.divide(total, count, out=np.full(total.shape, np.nan), where=count > 0)
    return np.where(taken, values, mean[run])


def _nearest_known(values: Array) -> Array:
    """Gaps filled from the rows before, then from the rows after."""
    filled = values
    for way in (1, -1):
        filled = filled[::way]
        place = np.where(np.isnan(filled), 0, np.arange(len(filled))[:, None])
        last = np.maximum.accumulate(place, axis=0)
        filled = np.take_along_axis(filled, last, axis=0)[::way]
    return filled


def stacks_of(runs: Sequence[Run], trucks: Sequence[Truck]) -> list[tuple[Stack, ...]]:
    """Stacks at the four corners in each run; a corner not read keeps the one it had, at first its own."""
    current: dict[str, Stack] = {}
    answer = []
    for run, truck in zip(runs, trucks, strict=True):
        for corner in CORNERS:
            named = [r.stack for r in run.at(corner) if r.stack]
            if named:
                current[corner] = truck.stacks[named[-1]]
            elif corner not in current or truck.corners[corner].adjuster is None:
                current[corner] = truck.corners[corner].stack
        answer.append(tuple(current[c] for c in CORNERS))
    return answer
