"""A truck's log visit by visit and what happened between, as the history page draws, lists and sends it. Pure. SI."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from typing import Literal

import numpy as np

from tuning.bench import CROSS
from tuning.log.shelf import Shelf
from tuning.log.store import Entry
from tuning.log.table import escaped, table_text
from tuning.readings import Reading, Run
from tuning.truck import CORNERS, Truck
from tuning.units import System, shop_length, shop_load, to_unit, turns_text, unit_in

EventKind = Literal["stack", "nut", "corrected", "doubtful"]
SAME_NUT = 1e-5  # m


@dataclass(frozen=True)
class Event:
    """Something that happened at a visit, in words."""

    kind: EventKind
    text: str


@dataclass(frozen=True)
class Visit:
    """One run as it counts today. heights, preload m, loads N by corner, mean of the readings nobody doubts; cross a
    share, None without all four loads; doubted: corners with a reading in doubt; odometer m."""

    run: str
    taken_at: datetime
    odometer: float | None
    heights: dict[str, float]
    loads: dict[str, float]
    preload: dict[str, float]
    cross: float | None
    doubted: frozenset[str]
    note: str
    events: tuple[Event, ...]


@dataclass(frozen=True)
class Range:
    """Which visits to show, both ends among them; None: no limit. low, high: odometer (m)."""

    start: date | None = None
    end: date | None = None
    low: float | None = None
    high: float | None = None

    def holds(self, visit: Visit) -> bool:
        """Whether a visit is in it; one without odometer is in no range of the odometer."""
        day, driven = visit.taken_at.date(), visit.odometer
        if (self.start and day < self.start) or (self.end and day > self.end):
            return False
        if self.low is None and self.high is None:
            return True
        return driven is not None and (self.low or 0.0) <= driven <= (
            np.inf if self.high is None else self.high
        )


def visits_of(shelf: Shelf, entries: Sequence[Entry]) -> tuple[Visit, ...]:
    """Every run of a truck, oldest first. entries: all rows of its log, for what was corrected and why."""
    corrected = _corrections(entries, shelf.truck.units)
    visits, before = [], dict[str, Reading]()
    for run, truck in zip(shelf.runs, shelf.trucks, strict=True):
        events = [*_turned(run, truck, before), *corrected.pop(run.name, ())]
        events += [Event("doubtful", f"{r.corner} in doubt: {r.doubt}") for r in run.readings if r.doubt]
        visits.append(_visit(run, events))
        before |= {r.corner: r for r in run.readings}
    for name, events in corrected.items():  # nothing of the run counts any more
        at = min(e.reading.taken_at for e in entries if e.reading.run == name)
        visits.append(_visit(Run(name, at, ()), events))
    return tuple(sorted(visits, key=lambda v: v.taken_at)) if corrected else tuple(visits)


def _visit(run: Run, events: Sequence[Event]) -> Visit:
    sound = [r for r in run.readings if not r.doubt]
    loads = _means(sound, "load")
    carried = np.array([loads.get(c, np.nan) for c in CORNERS])
    cross = float(carried @ CROSS / carried.sum())
    driven = [r.odometer for r in run.readings if r.odometer is not None]
    return Visit(
        run=run.name,
        taken_at=run.taken_at,
        odometer=max(driven, default=None),
        heights=_means(sound, "height"),
        loads=loads,
        preload=_means(run.readings, "preload"),
        cross=None if np.isnan(cross) else cross,
        doubted=frozenset(r.corner for r in run.readings if r.doubt),
        note="; ".join(dict.fromkeys(r.note for r in run.readings if r.note)),
        events=tuple(events),
    )


def _means(readings: Sequence[Reading], what: str) -> dict[str, float]:
    """Mean of each corner that has any."""
    values: dict[str, list[float]] = {}
    for reading in readings:
        if (value := getattr(reading, what)) is not None:
            values.setdefault(reading.corner, []).append(value)
    return {c: sum(values[c]) / len(values[c]) for c in CORNERS if c in values}


def _turned(run: Run, truck: Truck, before: dict[str, Reading]) -> list[Event]:
    """Nuts turned and stacks changed since each corner was read before."""
    found = []
    for corner in CORNERS:
        now, then = next(iter(run.at(corner)), None), before.get(corner)
        adjuster = truck.corners[corner].adjuster
        if now is None or then is None or adjuster is None:
            continue
        if now.stack != then.stack:
            found.append(Event("stack", f"{corner} stack {then.stack} changed for {now.stack}"))
        moved = (now.preload or 0.0) - (then.preload or 0.0)
        if now.preload is not None and then.preload is not None and abs(moved) > SAME_NUT:
            found.append(Event("nut", f"{corner} {_turns(moved / adjuster.travel_per_turn)}"))
    return found


def _turns(turns: float) -> str:
    """Preload is written down to a few decimals, turns are whole eighths: what is near one is one."""
    eighths = round(turns * 8) / 8
    return turns_text(eighths if abs(turns - eighths) < 0.02 else turns)


# ---------------------------------------------------------------- corrections


def _corrections(entries: Sequence[Entry], system: System) -> dict[str, list[Event]]:
    """What was replaced, by run, each with its reason."""
    old = {e.id: e.reading for e in entries}
    found: dict[str, list[Event]] = {}
    for entry in entries:
        if entry.replaces is not None:
            text = f"{_change(old[entry.replaces], entry, system)}: {entry.because}"
            found.setdefault(entry.reading.run, []).append(Event("corrected", text))
    return found


def _change(old: Reading, entry: Entry, system: System) -> str:
    """`RF height corrected from 32 1/2 in to 22 1/2 in`."""
    new, corner = entry.reading, entry.reading.corner
    if entry.withdrawn:
        return f"{corner} withdrawn"
    if old.height != new.height and old.height and new.height:
        return f"{corner} height corrected from {shop_length(old.height, system)} to {shop_length(new.height, system)}"
    if old.load != new.load and old.load and new.load:
        return f"{corner} load corrected from {shop_load(old.load, system)} to {shop_load(new.load, system)}"
    if old.doubt != new.doubt:
        return f"{corner} put in doubt" if new.doubt else f"{corner} cleared of doubt"
    return f"{corner} corrected"


# ---------------------------------------------------------------- in words


def odometer_text(value: float | None, system: System) -> str:
    """`20,410 mi`, or nothing."""
    if value is None:
        return ""
    unit = unit_in("odometer", system)
    return f"{round(to_unit(value, unit)):,} {unit}"


def cross_text(visit: Visit) -> str:
    """`50.2 %`, or why there is none."""
    if visit.cross is None:
        return "a load is missing" if visit.loads else "not weighed"
    return f"{100 * visit.cross:.1f} %"


def height_text(visit: Visit, corner: str, system: System) -> str:
    """`22 1/2 in`, or why there is none."""
    if corner in visit.heights:
        return shop_length(visit.heights[corner], system)
    return "in doubt" if corner in visit.doubted else "not read"


def visits_csv(visits: Sequence[Visit], system: System) -> str:
    """What is shown as a table with one row for each run, units in its heading; odometer, note and events as text."""
    quantities = {"height": "heights", "load": "loads", "preload": "preload"}
    heads = [f"{c} {what} [{unit_in(what, system)}]" for what in quantities for c in CORNERS]
    header = ["run", "taken_at", f"odometer [{unit_in('odometer', system)}]", *heads]

    def cells(visit: Visit) -> list[str]:
        numbers = [
            _number(getattr(visit, name).get(c), unit_in(what, system))
            for what, name in quantities.items()
            for c in CORNERS
        ]
        happened = "; ".join(event.text for event in visit.events)
        cross = _number(visit.cross, "%")
        first = [
            escaped(visit.run),
            visit.taken_at.isoformat(),
            _number(visit.odometer, unit_in("odometer", system)),
        ]
        return [*first, *numbers, cross, escaped(visit.note), escaped(happened)]

    return table_text([*header, "cross-weight [%]", "note", "events"], map(cells, visits))


def _number(value: float | None, unit: str) -> str:
    return "" if value is None else f"{to_unit(value, unit):.4f}".rstrip("0").rstrip(".")


def by_kind(visits: Sequence[Visit]) -> dict[EventKind, list[Visit]]:
    """Visits at which something of each kind happened, kinds that never did left out."""
    pairs = sorted(((e.kind, i) for i, v in enumerate(visits) for e in v.events))
    grouped = groupby(dict.fromkeys(pairs), key=lambda pair: pair[0])
    return {kind: [visits[i] for _, i in group] for kind, group in grouped}
