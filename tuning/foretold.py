"""What the runs before the latest foretold of it, beside what was then read. SI.

The earlier runs are fitted by themselves and asked where the truck would stand with its nuts where the latest run
found them: the check of the model that every run gives for nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from .adjust import predict
from .faults import NoAnswerError
from .fit import fit
from .interval import Interval
from .readings import Reading, Run
from .rounds import nuts_of, stacks_of
from .truck import CORNERS, Truck


class ForetoldError(NoAnswerError):
    """Nothing was foretold of the latest run; the message says why."""


@dataclass(frozen=True)
class CornerForetold:
    """One corner. height, load: 90 % for the true value, m and N; load None where it could not be known.

    read, read_load: mean of what was read in that run, None where nothing was.
    """

    height: Interval
    read: float | None
    load: Interval | None
    read_load: float | None


@dataclass(frozen=True)
class Foretold:
    """run: the latest. before: the last run that was known then. Cross-weights are shares, None where unknown."""

    run: str
    before: str
    corners: dict[str, CornerForetold]
    cross_weight: Interval | None
    read_cross_weight: float | None


def foretell(truck: Truck, runs: Sequence[Run], trucks: Sequence[Truck] | None = None) -> Foretold:
    """What the runs but the last say of the last, by its nuts and nothing else of it.

    trucks: the truck as it was at each run; `truck`, as it is now, where left out. Raises ForetoldError where there is
    no earlier run or other springs are on, FitError where the earlier runs can't be fitted.
    """
    if len(runs) < 2:
        raise ForetoldError("this is the first run: there was nothing to foretell it from")
    then = list(trucks) if trucks is not None else [truck] * len(runs)
    *_, before, latest = stacks_of(runs, then)
    changed = [c for c, old, new in zip(CORNERS, before, latest, strict=True) if old.name != new.name]
    if changed:
        raise ForetoldError(f"other springs are on at {', '.join(changed)} since the run before")
    earlier = fit(truck, runs[:-1], then[:-1])
    moved = nuts_of(runs)[-1] - earlier.preload
    turns = {}
    for name, preload in zip(CORNERS, moved, strict=True):
        adjuster = truck.corners[name].adjuster
        if adjuster is not None:
            turns[name] = float(preload) / adjuster.travel_per_turn
    said, run = predict(earlier, turns), runs[-1]
    loads = {c: _mean(run.at(c), "load") for c in CORNERS}
    return Foretold(
        run=run.name,
        before=runs[-2].name,
        corners={
            c: CornerForetold(one.height_after, _mean(run.at(c), "height"), one.load_after, loads[c])
            for c, one in said.corners.items()
        },
        cross_weight=said.cross_weight_after,
        read_cross_weight=_cross_weight(loads),
    )


def _mean(readings: Sequence[Reading], what: str) -> float | None:
    """Mean of the readings that are not in doubt."""
    found = [v for r in readings if not r.doubt and (v := getattr(r, what)) is not None]
    return sum(found) / len(found) if found else None


def _cross_weight(loads: dict[str, float | None]) -> float | None:
    """(RF + LR) / total, None where a wheel was not weighed."""
    known = {c: load for c, load in loads.items() if load is not None}
    total = sum(known.values())
    return (known["RF"] + known["LR"]) / total if len(known) == len(CORNERS) and total > 0 else None
