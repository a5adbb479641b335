"""Readings as CSV: in with every bad cell named at once, out so that reading them back loses nothing.

One row per corner per run, units in the header's brackets, as a spreadsheet keeps it.
"""

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any, cast

from tuning.faults import Fault, InputError, nearest
from tuning.log.table import (
    Bad,
    Column,
    Layout,
    Limits,
    Row,
    by_line,
    escaped,
    faults_of,
    file_text,
    name_in,
    quantity,
    read_table,
    table_text,
    text_in,
    time_in,
    unescaped,
    values_of,
)
from tuning.progress import Tell, untold
from tuning.readings import Reading, runs_of
from tuning.truck import CORNERS, Truck
from tuning.units import Kind, exact_text, shop_length, shown, unit_in

MAX_BYTES = 50_000_000

_QUANTITIES: dict[str, Kind] = {
    "height": "length",
    "load": "force",
    "preload": "length",
    "odometer": "distance",
}
_REQUIRED = ("run", "taken_at", "corner", "height", "load", "preload", "stack")
_COLUMNS = (*_REQUIRED, "settled", "odometer", "note")
_TEXTS = ("run", "stack", "note", "doubt")

_LIMITS = {  # beyond these it is a slip of the pen, whatever the truck
    "height": Limits(0.001, 2.0, "Write a height above zero and below 2 m"),
    "load": Limits(0.0, 100e3, "Write what one scale reads, up to 100 kN"),
    "preload": Limits(-1.0, 1.0, "Write the nut's travel from snug, within 1 m"),
    "odometer": Limits(0.0, 5e9, "Write zero or more"),
}
_PRELOAD_SLACK = 0.0254  # m beyond the thread's range at which a preload is still believed
_RUN_LASTS = timedelta(hours=24)


class ReadingsError(InputError):
    """A readings file that can't be used; `faults` names every bad cell by line and column."""


def _layout(truck: Truck) -> Layout:
    return Layout(_COLUMNS, _REQUIRED, _QUANTITIES, ReadingsError, truck.units, unlisted=("doubt",))


def read_readings_file(path: str | Path, truck: Truck, tell: Tell = untold) -> tuple[Reading, ...]:
    """The readings of a file. Raises ReadingsError, also where it can't be opened or is not UTF-8."""
    path = Path(path)
    text = file_text(path, ReadingsError, MAX_BYTES, "Split it by date")
    return read_readings(text, truck, path.name, tell)


def read_readings(
    text: str, truck: Truck, name: str = "readings.csv", tell: Tell = untold
) -> tuple[Reading, ...]:
    """The readings in a CSV text, in file order; an empty stack is filled in with the corner's own.

    `name` is the file's name in errors. Raises ReadingsError with every fault, all or nothing: header, cells,
    then what a row must agree on with its truck, its run and the runs before.
    """
    faults: list[Fault] = []
    layout = _layout(truck)
    table = read_table(text, layout, name, faults, tell)
    if table is None:
        raise ReadingsError(name, [Fault("", "no rows", f"Start with the header {layout.header}")])
    units, rows = table
    cells = _Cells(truck, units)
    lined = [(row.line, reading) for row in rows if (reading := _reading(row, cells, faults))]
    faults += _disagreements(lined, truck)
    if not lined and not faults:
        faults = [Fault("", "a header and no readings", "Add one row for each corner")]
    if faults:
        raise ReadingsError(name, by_line(faults))
    return tuple(reading for _, reading in lined)


# ---------------------------------------------------------------- cells


class _Cells:
    """How cells are read, by column: a value, None where a quantity or stack is empty, or a Bad."""

    def __init__(self, truck: Truck, units: dict[str, str]) -> None:
        self.truck = truck
        self.units = units
        self.preloads: dict[tuple[str, str], tuple[float, float]] = {}
        self.columns = {
            "run": Column(partial(name_in, what="run")),
            "taken_at": Column(time_in),
            "corner": Column(self.corner),
            "stack": Column(self.stack),
            "settled": Column(self.settled),
            "note": Column(text_in),
            "doubt": Column(text_in),
            **{column: Column(partial(self.quantity, column)) for column in _QUANTITIES},
        }

    def quantity(self, column: str, text: str) -> float | Bad | None:
        """A number in SI."""
        value = quantity(text, _QUANTITIES[column], self.units[column], _LIMITS[column])
        return Bad("empty", "Every row needs a height") if value is None and column == "height" else value

    def corner(self, text: str) -> str | Bad:
        """LF, RF, LR or RR."""
        name = text.strip().upper()
        return name if name in CORNERS else Bad(f'"{shown(text)}" is not a corner', "Write LF, RF, LR or RR")

    def stack(self, text: str) -> str | Bad | None:
        """The name of one of the truck's stacks."""
        name = unescaped(text).strip()
        if not name or name in self.truck.stacks:
            return name or None
        meant = nearest(name, self.truck.stacks)
        known = (
            f'Did you mean "{meant}"?' if meant else "Name one of the truck file's stacks, or add it there"
        )
        return Bad(f'"{shown(text)}" is no stack of this truck', known)

    def settled(self, text: str) -> str | Bad:
        """How the corner came to rest."""
        word = text.strip().lower()
        if word in ("above", "below", ""):
            return word
        return Bad(
            f'"{shown(text)}" is no way to settle', "Write above, below, or nothing if rolled and bounced"
        )

    def preload_limits(self, corner: str, stack: str) -> tuple[float, float]:
        """Preload that is believed at a corner with this stack on (m)."""
        if (corner, stack) not in self.preloads:
            low, high = self.truck.corners[corner].preload_range(self.truck.stacks[stack])
            self.preloads[corner, stack] = low - _PRELOAD_SLACK, high + _PRELOAD_SLACK
        return self.preloads[corner, stack]


def _reading(row: Row, cells: _Cells, faults: list[Fault]) -> Reading | None:
    """One row's reading; None, and its faults entered, where a cell is bad."""
    values, bad = values_of(row, cells.columns)
    if not bad:
        own = cells.truck.corners[values["corner"]]
        values["stack"] = values["stack"] or own.stack.name
        bad = _contradictions(values, cells)
    if bad:
        faults += faults_of(row, bad)
        return None
    return Reading(**values)


def _contradictions(values: dict[str, Any], cells: _Cells) -> dict[str, Bad]:
    """Preload and stack against what stands at the corner."""
    corner, stack, preload = values["corner"], values["stack"], values["preload"]
    own, system = cells.truck.corners[corner], cells.truck.units
    bad = {}
    if own.adjuster is None:
        if preload is not None:
            bad["preload"] = Bad(f"{corner} has no adjuster", "Leave it empty")
        if stack != own.stack.name:
            bad["stack"] = Bad(f"{corner} has no adjuster and always the same spring", "Leave it empty")
    elif preload is None:
        bad["preload"] = Bad("empty", f"{corner} has an adjuster: write the nut's travel from snug")
    else:
        low, high = cells.preload_limits(corner, stack)
        if not low <= preload <= high:
            span = " to ".join(
                shop_length(end, system) for end in (low + _PRELOAD_SLACK, high - _PRELOAD_SLACK)
            )
            problem = f"{shop_length(preload, system)} is far off the thread of {corner} with this stack"
            bad["preload"] = Bad(problem, f"The thread allows {span}")
    return bad


# ---------------------------------------------------------------- rows against each other


def _disagreements(lined: list[tuple[int, Reading]], truck: Truck) -> Iterator[Fault]:
    """Time zones mixed, a run that lasts for days, an odometer that runs backwards."""
    if not lined:
        return
    first_line, first = lined[0]
    for line, reading in lined:
        if (reading.taken_at.tzinfo is None) != (first.taken_at.tzinfo is None):
            here, there = ("a zone", "none") if reading.taken_at.tzinfo else ("no zone", "one")
            problem = f"a time with {here}, where line {first_line} has {there}"
            yield Fault("taken_at", problem, "Give every time a zone, or none", line=line)
            return  # the times can't be compared
    yield from _long_runs(lined)
    yield from _odometer_faults(lined, truck)


def _long_runs(lined: list[tuple[int, Reading]]) -> Iterator[Fault]:
    begun: dict[str, tuple[int, datetime]] = {}
    for line, reading in lined:
        began, start = begun.setdefault(reading.run, (line, reading.taken_at))
        if abs(reading.taken_at - start) > _RUN_LASTS:
            problem = f'more than a day from line {began}, which is run "{shown(reading.run)}" too'
            yield Fault("taken_at", problem, "A run is one visit: give each visit its own name", line=line)


def _odometer_faults(lined: list[tuple[int, Reading]], truck: Truck) -> Iterator[Fault]:
    line_of = {id(reading): line for line, reading in lined}
    unit = unit_in("odometer", truck.units)
    highest, holder = 0.0, ""
    for run in runs_of(reading for _, reading in lined):
        taken = [reading for reading in run.readings if reading.odometer is not None]
        for reading in taken:
            if cast(float, reading.odometer) < highest:
                most = exact_text(highest, unit, "distance")
                problem = f'less than the {most} {unit} of run "{shown(holder)}" before it'
                mend = "See which is wrong, the odometer or the dates"
                yield Fault("odometer", problem, mend, line=line_of[id(reading)])
        if taken and (top := max(cast(float, reading.odometer) for reading in taken)) > highest:
            highest, holder = top, run.name


# ---------------------------------------------------------------- out


def write_readings(readings: Iterable[Reading], truck: Truck) -> str:
    """CSV in the truck's units, as `table_text` has it.

    `read_readings` gives the same readings back, to the last bit: a quantity is written as a decimal that
    reads back as the same float. `stack` is left empty where there is no adjuster, and the column `doubt`
    comes only where a reading has one.
    """
    readings = tuple(readings)
    columns = (*_COLUMNS, "doubt") if any(reading.doubt for reading in readings) else _COLUMNS
    units = {column: unit_in(column, truck.units) for column in _QUANTITIES}
    written: dict[tuple[str, float], str] = {}

    def cell(reading: Reading, column: str) -> str:
        value = getattr(reading, column)
        if value is None or (column == "stack" and truck.corners[reading.corner].adjuster is None):
            return ""
        if column == "taken_at":
            return str(value.isoformat())
        if column in _QUANTITIES:
            key = (column, value)
            if key not in written:
                written[key] = exact_text(value, units[column], _QUANTITIES[column])
            return written[key]
        return escaped(value) if column in _TEXTS else str(value)

    rows = ([cell(reading, column) for column in columns] for reading in readings)
    return table_text(map(_layout(truck).heading, columns), rows)
