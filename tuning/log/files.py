"""Readings as CSV: in with every bad cell named at once, out so that reading them back loses nothing.

One row per corner per run, units in the header's brackets, as a spreadsheet keeps it. Spreadsheets also put
in a byte order mark, semicolons, empty rows and columns, and run any cell that begins like a formula; so text
that does is written behind an apostrophe, which is taken off again on reading.
"""

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple, cast

from tuning.faults import Fault, InputError, nearest
from tuning.readings import Reading, runs_of
from tuning.truck import CORNERS, Truck
from tuning.units import Kind, UnitError, exact_text, parse, shop_length, shown, unit_in, unit_named

MAX_BYTES = 50_000_000

_QUANTITIES: dict[str, Kind] = {
    "height": "length",
    "load": "force",
    "preload": "length",
    "odometer": "distance",
}
_COLUMNS = (
    "run",
    "taken_at",
    "corner",
    "height",
    "load",
    "preload",
    "stack",
    "settled",
    "odometer",
    "note",
    "doubt",
)
_REQUIRED = _COLUMNS[:7]
_MOST_COLUMNS = 100
_TEXTS = ("run", "stack", "note", "doubt")

_LIMITS = {  # SI, and what to write; beyond these it is a slip of the pen, whatever the truck
    "height": (0.001, 2.0, "Write a height above zero and below 2 m"),
    "load": (0.0, 100e3, "Write what one scale reads, up to 100 kN"),
    "preload": (-1.0, 1.0, "Write the nut's travel from snug, within 1 m"),
    "odometer": (0.0, 5e9, "Write zero or more"),
}
_PRELOAD_SLACK = 0.0254  # m beyond the thread's range at which a preload is still believed
_RUN_LASTS = timedelta(hours=24)
_CLOCKS_DIFFER = timedelta(days=1)

_DATE = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}"
    r"(?:[T ][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,6})?)?(?:Z|[+-][0-9]{2}:[0-9]{2}(?::[0-9]{2})?)?)?"
)
_LIKE_A_FORMULA = re.compile(r"[\s']*[=+\-@\t\r]")
_UNWRITABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")


class ReadingsError(InputError):
    """A readings file that can't be used; `faults` names every bad cell by line and column."""


class _Bad(NamedTuple):
    """What is wrong with a cell, as in a Fault."""

    problem: str
    mend: str


class _Row(NamedTuple):
    line: int
    cells: dict[str, str]


def read_readings_file(path: str | Path, truck: Truck) -> tuple[Reading, ...]:
    """The readings of a file. Raises ReadingsError, also where it can't be opened or is not UTF-8."""
    path = Path(path)
    try:
        with path.open("rb") as file:
            content = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise ReadingsError(path.name, [Fault("", f"can't be opened: {error.strerror}")]) from None
    if len(content) > MAX_BYTES:
        raise ReadingsError(
            path.name, [Fault("", f"larger than {MAX_BYTES // 10**6} MB", "Split it by date")]
        )
    try:
        return read_readings(content.decode("utf-8-sig"), truck, path.name)
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        fault = Fault("", "a character that is not UTF-8", "Save it as CSV UTF-8", line=line)
        raise ReadingsError(path.name, [fault]) from None


def read_readings(text: str, truck: Truck, name: str = "readings.csv") -> tuple[Reading, ...]:
    """The readings in a CSV text, in file order; an empty stack is filled in with the corner's own.

    `name` is the file's name in errors. Raises ReadingsError with every fault, all or nothing: header, cells,
    then what a row must agree on with its truck, its run and the runs before.
    """
    faults: list[Fault] = []
    rows = _rows(text.removeprefix("\ufeff"), faults)
    header = next(rows, None)
    if header is None:
        raise ReadingsError(name, faults or [Fault("", "no rows", f"Start with the header {_header(truck)}")])
    columns, units = _read_header(header[1], truck, name)
    cells = _Cells(truck, units)
    lined: list[tuple[int, Reading]] = []
    for line, texts in rows:
        if any(map(str.strip, texts)):
            row = _Row(line, dict(zip(columns, texts + [""] * (len(columns) - len(texts)), strict=False)))
            faults += _surplus(row, texts[len(columns) :])
            if reading := _reading(row, cells, faults):
                lined.append((line, reading))
    faults += _disagreements(lined, truck)
    if not lined and not faults:
        faults = [Fault("", "a header and no readings", "Add one row for each corner")]
    if faults:
        raise ReadingsError(name, sorted(faults, key=lambda fault: fault.line or 0))
    return tuple(reading for _, reading in lined)


def _rows(text: str, faults: list[Fault]) -> Iterator[tuple[int, list[str]]]:
    """Rows with the line each begins on. What no row can be made of is a fault, and ends the reading."""
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        faults.append(Fault("", "a null character", "Save it as CSV UTF-8 text", line=line))
        return
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    line = 1
    try:
        for texts in reader:
            if texts:
                yield line, texts
            line = reader.line_num + 1
    except csv.Error as error:
        mend = "Close every quote, double those inside a quoted cell, and keep cells under 100,000 characters"
        faults.append(Fault("", f"a row that is no CSV ({error})", mend, line=line))


# ---------------------------------------------------------------- header


def _header(truck: Truck) -> str:
    """The header of a full file, in the truck's units."""
    return ",".join(_heading(column, truck) for column in _COLUMNS[:10])


def _heading(column: str, truck: Truck) -> str:
    return f"{column} [{unit_in(column, truck.units)}]" if column in _QUANTITIES else column


def _read_header(texts: list[str], truck: Truck, name: str) -> tuple[list[str], dict[str, str]]:
    """Column names in the file's order, and the unit of each quantity. Raises ReadingsError."""
    if len(texts) == 1 and (separator := re.search("[;\t]", texts[0])):
        what = "semicolons" if separator[0] == ";" else "tabs"
        mend = "Save it with commas between cells and points in numbers"
        raise ReadingsError(name, [Fault("", f"cells are separated by {what}", mend, line=1)])
    used = max((number for number, text in enumerate(texts, 1) if text.strip()), default=0)
    texts = texts[:used]
    if len(texts) > _MOST_COLUMNS:
        fault = Fault("", f"{len(texts)} columns", f"Columns are {', '.join(_COLUMNS[:10])}", line=1)
        raise ReadingsError(name, [fault])
    faults, columns, units = [], [], {}
    for text in texts:
        found = re.fullmatch(r"([^\[\]]*)(?:\[([^\[\]]*)\])?", text[:200].strip())
        column = found[1].strip().lower() if found else ""
        columns.append(column)
        wrong = _wrong_heading(column, found and found[2], columns[:-1], truck)
        if wrong:
            faults.append(Fault(shown(text) or "header", *wrong, found=text, line=1))
        elif column in _QUANTITIES and found:
            units[column] = unit_named(found[2], _QUANTITIES[column])
    faults += [
        Fault(column, "no such column", f"Add the column {_heading(column, truck)}", line=1)
        for column in _REQUIRED
        if column not in columns
    ]
    if faults:
        raise ReadingsError(name, faults)
    return columns, units


def _wrong_heading(column: str, unit: str | None, before: list[str], truck: Truck) -> _Bad | None:
    if column not in _COLUMNS:
        meant = nearest(column, _COLUMNS)
        choice = (
            f"Did you mean {_heading(meant, truck)}?" if meant else f"Columns are {', '.join(_COLUMNS[:10])}"
        )
        return _Bad("not a column here", choice)
    if column in before:
        return _Bad("this column is there twice", "Leave one of them out")
    if column not in _QUANTITIES:
        return None if unit is None else _Bad("this column has no unit", f"Write {column}")
    if unit is None:
        return _Bad("no unit is given", f"Write {_heading(column, truck)}")
    try:
        unit_named(unit, _QUANTITIES[column])
    except UnitError as error:
        return _Bad(error.problem, f"Write one of {error.allowed}")
    return None


# ---------------------------------------------------------------- cells


class _Column(dict[str, Any]):
    """What the texts of one column say, each distinct text read once: a long log repeats itself."""

    def __init__(self, read: Callable[[str], Any]) -> None:
        super().__init__()
        self.read = read

    def __missing__(self, text: str) -> Any:
        value = self[text] = self.read(text)
        return value


class _Cells:
    """How cells are read, by column: a value, None where a quantity or stack is empty, or a _Bad."""

    def __init__(self, truck: Truck, units: dict[str, str]) -> None:
        self.truck = truck
        self.units = units
        self.latest = datetime.now().astimezone() + _CLOCKS_DIFFER
        self.preloads: dict[tuple[str, str], tuple[float, float]] = {}
        self.columns = {
            "run": _Column(self.run),
            "taken_at": _Column(self.taken_at),
            "corner": _Column(self.corner),
            "stack": _Column(self.stack),
            "settled": _Column(self.settled),
            "note": _Column(self.note),
            "doubt": _Column(self.note),
            **{column: _Column(partial(self.quantity, column)) for column in _QUANTITIES},
        }

    def quantity(self, column: str, text: str) -> float | _Bad | None:
        """A number in the header's unit, or with a unit of its own (SI)."""
        text = text.strip()
        if not text:
            return _Bad("empty", "Every row needs a height") if column == "height" else None
        try:
            value = parse(text, _QUANTITIES[column], default_unit=self.units[column])
        except UnitError as error:
            return _Bad(error.problem, f"Write {error.allowed}")
        low, high, mend = _LIMITS[column]
        return value if low <= value <= high else _Bad(f'"{shown(text)}" is not plausible', mend)

    def run(self, text: str) -> str | _Bad:
        """A run's name."""
        name = _unescaped(text).strip()
        if 1 <= len(name) <= 80 and name.isprintable():
            return name
        return _Bad(f'"{shown(text)}" is not a name for a run', "Write 1 to 80 printable characters")

    def taken_at(self, text: str) -> datetime | _Bad:
        """When it was read."""
        text = text.strip()
        try:
            when = datetime.fromisoformat(text) if _DATE.fullmatch(text) else None
        except ValueError:  # a thirteenth month
            when = None
        if when is None or when.year < 1950:
            return _Bad(
                f'"{shown(text)}" is not a time of reading', "Write it as 2025-05-31T14:30 or 2025-05-31"
            )
        if when > (self.latest if when.tzinfo else self.latest.replace(tzinfo=None)):
            return _Bad(f'"{shown(text)}" is yet to come', "Write when the reading was taken")
        return when

    def corner(self, text: str) -> str | _Bad:
        """LF, RF, LR or RR."""
        name = text.strip().upper()
        return name if name in CORNERS else _Bad(f'"{shown(text)}" is not a corner', "Write LF, RF, LR or RR")

    def stack(self, text: str) -> str | _Bad | None:
        """The name of one of the truck's stacks."""
        name = _unescaped(text).strip()
        if not name or name in self.truck.stacks:
            return name or None
        meant = nearest(name, self.truck.stacks)
        known = (
            f'Did you mean "{meant}"?' if meant else "Name one of the truck file's stacks, or add it there"
        )
        return _Bad(f'"{shown(text)}" is no stack of this truck', known)

    def settled(self, text: str) -> str | _Bad:
        """How the corner came to rest."""
        word = text.strip().lower()
        if word in ("above", "below", ""):
            return word
        return _Bad(
            f'"{shown(text)}" is no way to settle', "Write above, below, or nothing if rolled and bounced"
        )

    def note(self, text: str) -> str | _Bad:
        """Free text."""
        if len(text) > 2000:
            return _Bad(f"{len(text)} characters", "Keep it under 2000")
        if _UNWRITABLE.search(text):
            return _Bad(f'"{shown(text)}" has control characters in it', "Write plain text")
        return _unescaped(text)

    def preload_limits(self, corner: str, stack: str) -> tuple[float, float]:
        """Preload that is believed at a corner with this stack on (m)."""
        if (corner, stack) not in self.preloads:
            low, high = self.truck.corners[corner].preload_range(self.truck.stacks[stack])
            self.preloads[corner, stack] = low - _PRELOAD_SLACK, high + _PRELOAD_SLACK
        return self.preloads[corner, stack]


def _reading(row: _Row, cells: _Cells, faults: list[Fault]) -> Reading | None:
    """One row's reading; None, and its faults entered, where a cell is bad."""
    values = {column: cells.columns[column][text] for column, text in row.cells.items()}
    bad = {column: value for column, value in values.items() if isinstance(value, _Bad)}
    if not bad:
        own = cells.truck.corners[values["corner"]]
        values["stack"] = values["stack"] or own.stack.name
        bad = _contradictions(values, cells)
    if bad:
        faults += [
            Fault(column, wrong.problem, wrong.mend, found=row.cells[column], line=row.line)
            for column, wrong in bad.items()
        ]
        return None
    return Reading(**values)


def _contradictions(values: dict[str, Any], cells: _Cells) -> dict[str, _Bad]:
    """Preload and stack against what stands at the corner."""
    corner, stack, preload = values["corner"], values["stack"], values["preload"]
    own, system = cells.truck.corners[corner], cells.truck.units
    bad = {}
    if own.adjuster is None:
        if preload is not None:
            bad["preload"] = _Bad(f"{corner} has no adjuster", "Leave it empty")
        if stack != own.stack.name:
            bad["stack"] = _Bad(f"{corner} has no adjuster and always the same spring", "Leave it empty")
    elif preload is None:
        bad["preload"] = _Bad("empty", f"{corner} has an adjuster: write the nut's travel from snug")
    else:
        low, high = cells.preload_limits(corner, stack)
        if not low <= preload <= high:
            span = " to ".join(
                shop_length(end, system) for end in (low + _PRELOAD_SLACK, high - _PRELOAD_SLACK)
            )
            problem = f"{shop_length(preload, system)} is far off the thread of {corner} with this stack"
            bad["preload"] = _Bad(problem, f"The thread allows {span}")
    return bad


def _surplus(row: _Row, extra: list[str]) -> Iterator[Fault]:
    for text in extra:
        if text.strip():
            mend = "Put text with commas between quotes, or give the column a heading"
            yield Fault("", f'"{shown(text)}" stands beyond the last column', mend, found=text, line=row.line)


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
    """CSV in the truck's units, lines ended as RFC 4180 has it; write it to a file with newline="".

    `read_readings` gives the same readings back, to the last bit: a quantity is written as a decimal that
    reads back as the same float. `stack` is left empty where there is no adjuster, and the column `doubt`
    comes only where a reading has one.
    """
    readings = tuple(readings)
    columns = _COLUMNS if any(reading.doubt for reading in readings) else _COLUMNS[:10]
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
        return _escaped(value) if column in _TEXTS else str(value)

    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_heading(column, truck) for column in columns)
    writer.writerows([cell(reading, column) for column in columns] for reading in readings)
    return out.getvalue()


def _escaped(text: str) -> str:
    return f"'{text}" if _LIKE_A_FORMULA.match(text) else text


def _unescaped(text: str) -> str:
    return text[1:] if text.startswith("'") and _LIKE_A_FORMULA.match(text[1:]) else text
