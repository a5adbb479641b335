"""Readings that are possible but unlikely, and what was probably meant. SI inside, words in the owner's units."""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from .ends import reach
from .fit import DOUBTFUL, KINDS, Fit, FitError, Kind, fit
from .progress import Tell, untold
from .readings import Reading, Run
from .sag.slips import without_slips
from .truck import CORNERS, Truck
from .units import System, decimal_length, shop_length, shop_load

SHARPENINGS = 8
SHARP_ENOUGH = 0.02  # share of the error by which it may still move
STANDS_OUT = 0.5  # of the worst t in the log: a gross slip makes sound readings look bad beside it
MAX_PASSES = 12
UNLIKE = 4.0  # times what a wheel usually carries, or under a quarter: no wheel of a truck does (from memory)
TOO_MANY = 3  # corners of one run in doubt at once: then the truck file is the likelier culprit
SLIP_IN = {"us": 0.0254, "metric": 0.001}
SLIPS = {"us": (10.0, 20.0, 1.0, 2.0, 12.0), "metric": (100.0, 200.0, 10.0, 20.0, 50.0, 90.0, 1000.0)}


@dataclass(frozen=True)
class Suspect:
    """A reading outside the model's 99.9 % band, and why in words."""

    reading: Reading
    kind: Kind
    reason: str


def suspects(
    truck: Truck,
    runs: Sequence[Run],
    only: Collection[str],
    trucks: Sequence[Truck] | None = None,
    tell: Tell = untold,
) -> tuple[Suspect, ...]:
    """Readings of the runs named in `only` that the other readings and the springs' data make unlikely.

    The worst of each run is questioned first and left out, then the rest are judged again without it. Nothing is
    questioned where the readings do not make a fit.
    """
    found = _unlike_loads(runs, only, truck.units)
    current = marked(runs, found)
    for number in range(MAX_PASSES):
        look = partial(_told, tell, number)
        try:
            look(0)
            worst = _worst(without_slips(fit(truck, current, trucks)), only)
            errors = _sharpened(truck, current, trucks, worst, look)
        except FitError:
            break
        if not worst:
            break
        said = [Suspect(r, kind, _reason(r, kind, errors[id(r)], t, truck.units)) for r, kind, _, t in worst]
        found += said
        current = marked(current, said)
    return tuple(found)


def _told(tell: Tell, passes: int, looks: int) -> None:
    """That the readings are looked through once more: the first time of a pass, or to sharpen what it found."""
    each = 1 + SHARPENINGS
    most = MAX_PASSES * each
    tell(f"Looking for unlikely readings, at most {most} times", passes * each + looks, most)


def marked(runs: Iterable[Run], doubted: Collection[Suspect]) -> tuple[Run, ...]:
    """The same runs with the suspects' doubts written beside them."""
    why = {id(s.reading): s.reason for s in doubted}
    return tuple(
        replace(
            run, readings=tuple(replace(r, doubt=why[id(r)]) if id(r) in why else r for r in run.readings)
        )
        for run in runs
    )


def set_aside(
    truck: Truck, runs: Sequence[Run], tell: Tell = untold
) -> tuple[tuple[Run, ...], tuple[str, ...]]:
    """Runs with unlikely readings out of the fit, and a line for each; for readings that no log keeps.

    Where most of a run is unlikely it is not the tape that errs but the truck file, and the readings stay in.
    """
    doubted = suspects(truck, runs, {run.name for run in runs}, tell=tell)
    corners: dict[str, set[str]] = {}
    for s in doubted:
        corners.setdefault(s.reading.run, set()).add(s.reading.corner)
    mistaken = {run for run, hit in corners.items() if len(hit) >= TOO_MANY}
    if _nothing_left(marked(runs, doubted)):
        mistaken = set(corners)
    left_out = [s for s in doubted if s.reading.run not in mistaken]
    notes = [f"{s.reading.run}: left out of the fit: {s.reason}" for s in left_out]
    notes += [
        f"{run}: {', '.join(sorted(corners[run]))} do not fit the truck file; check spring rates, free lengths, "
        "ring gap, preload and cycle table"
        for run in sorted(mistaken)
    ]
    return marked(runs, left_out), tuple(notes)


def _nothing_left(runs: Iterable[Run]) -> bool:
    """Whether some corner has no reading left that nobody doubts."""
    left = {r.corner for run in runs for r in run.readings if not r.doubt}
    return any(corner not in left for corner in CORNERS)


def _unlike_loads(runs: Sequence[Run], only: Collection[str], units: System) -> list[Suspect]:
    """Loads that no wheel of this truck carries. A scale errs by a share of what it reads, so that beside its own
    error a load ten times too large would look sound."""
    loads = [r.load for run in runs for r in run.readings if r.load is not None and not r.doubt]
    usual = float(np.median(loads)) if loads else 0.0
    found = []
    for reading in (r for run in runs if run.name in only for r in run.readings if not r.doubt):
        load = reading.load
        if load is None or usual / UNLIKE < load < usual * UNLIKE:
            continue
        much = f"over {UNLIKE:g} times" if load > usual else f"under 1/{UNLIKE:g} of"
        reason = (
            f"{reading.corner} load {shop_load(load, units)} is {much} what a wheel of this truck usually carries, "
            f"about {shop_load(usual, units)}: is a digit wrong?"
        )
        found.append(Suspect(reading, "load", reason))
    return found


def _worst(fitted: Fit, only: Collection[str]) -> list[tuple[Reading, Kind, float, float]]:
    """The reading of each run that stands farthest outside the band, with its error and t, where one does; only
    those that stand out as far as the worst of all does, by half."""
    rounds = fitted.evidence.rounds
    low, high = reach(fitted.truck, fitted.strut)
    worst: dict[int, tuple[Reading, Kind, float, float]] = {}
    merit: dict[int, tuple[bool, bool, float]] = {}  # one slip bends all lines: which is it that can't be?
    for kind in KINDS:
        error, t, _ = fitted.deletions(kind)
        for i, c in np.argwhere(np.abs(t) > DOUBTFUL):
            reading, run, size = rounds.readings[i][c], int(rounds.run[i]), float(abs(t[i, c]))
            if reading is None or reading.run not in only or getattr(reading, kind) is None:
                continue
            read, off = float(getattr(reading, kind)), float(error[i, c])
            least, most = (low[c], high[c]) if kind == "height" else (0.0, np.inf)
            told = (not least < read < most, bool(least < read - off < most), size)
            if run not in merit or told > merit[run]:
                worst[run], merit[run] = (reading, kind, off, size), told
    top = max((size for *_, size in worst.values()), default=0.0)
    return [found for found in worst.values() if found[3] >= STANDS_OUT * top]


def _sharpened(
    truck: Truck,
    runs: Sequence[Run],
    trucks: Sequence[Truck] | None,
    worst: Sequence[tuple[Reading, Kind, float, float]],
    look: Callable[[int], None],
) -> dict[int, float]:
    """Errors of the suspects (by identity), measured again with each put right: a gross slip bends the lines."""
    errors = {id(r): error for r, _, error, _ in worst}
    kinds = {id(r): kind for r, kind, _, _ in worst}
    for number in range(SHARPENINGS if worst else 0):
        look(1 + number)
        current = tuple(
            replace(run, readings=tuple(_put_right(r, kinds, errors) for r in run.readings)) for run in runs
        )
        first = {id(new): id(old) for a, b in zip(runs, current, strict=True) for old, new in _pairs(a, b)}
        fitted = fit(truck, current, trucks)
        left = {kind: fitted.deletions(kind)[0] for kind in KINDS}
        moved = 0.0
        for i, row in enumerate(fitted.evidence.rounds.readings):
            for c, r in enumerate(row):
                old = first.get(id(r), 0)
                if old in errors:
                    step = float(left[kinds[old]][i, c])
                    errors[old] += step
                    moved = max(moved, abs(step / errors[old]) if errors[old] else 0.0)
        if moved < SHARP_ENOUGH:
            break
    return errors


def _put_right(r: Reading, kinds: dict[int, Kind], errors: dict[int, float]) -> Reading:
    if id(r) not in errors:
        return r
    kind = kinds[id(r)]
    return replace(r, **{kind: max(getattr(r, kind) - errors[id(r)], 1e-3)})


def _pairs(before: Run, after: Run) -> Iterable[tuple[Reading, Reading]]:
    return zip(before.readings, after.readings, strict=True)


def _reason(reading: Reading, kind: Kind, error: float, t: float, units: System) -> str:
    """E.g. `RF height 32 1/2 in reads 10 in above what the other corners allow: 22 1/2 in?`."""
    read = float(getattr(reading, kind))
    side = "above" if error > 0 else "below"
    expected = max(read - error, 0.0)
    if kind == "load":
        return (
            f"{reading.corner} load {shop_load(read, units)} reads {shop_load(abs(error), units)} {side} "
            f"what the other readings allow: about {shop_load(expected, units)}?"
        )
    slips = np.array([sign * slip * SLIP_IN[units] for slip in SLIPS[units] for sign in (1, -1)])
    nearest = read - slips[np.argmin(np.abs(slips - error))]
    gross = abs(t) > 2 * DOUBTFUL  # a smaller miss may be scatter as well as a slip
    likely = gross and abs(nearest - expected) < 2 * abs(error / t)
    meant = shop_length(nearest, units) if likely else f"about {decimal_length(expected, units)}"
    return (
        f"{reading.corner} height {shop_length(read, units)} reads {decimal_length(abs(error), units)} {side} "
        f"what the other corners allow: {meant}?"
    )
