"""Tables as CSV: in with every bad cell named at once, out so that no spreadsheet runs what it finds.

The first row names the columns, units in brackets. Spreadsheets put in a byte order mark, semicolons, empty rows
and columns, and run any cell that begins like a formula; so text that does is written behind an apostrophe, which
is taken off again on reading.
"""

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

from tuning.faults import Fault, InputError, nearest
from tuning.progress import Tell, untold
from tuning.units import Kind, System, UnitError, parse, shown, unit_in, unit_named

_MOST_COLUMNS = 100
_PART = 2_000  # rows read between two words of how far it is: a few hundredths of a second
_CLOCKS_DIFFER = timedelta(days=1)
_LIKE_A_FORMULA = re.compile(r"[\s']*[=+\-@\t\r]")
_DATE = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}"
    r"(?:[T ][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,6})?)?(?:Z|[+-][0-9]{2}:[0-9]{2}(?::[0-9]{2})?)?)?"
)
_UNWRITABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")


class Bad(NamedTuple):
    """What is wrong with a heading or a cell, as in a Fault."""

    problem: str
    mend: str


class Row(NamedTuple):
    """Texts of one row by column, and the line it begins on."""

    line: int
    cells: dict[str, str]


class Limits(NamedTuple):
    """Least and most that is believed (SI), and what to write instead."""

    low: float
    high: float
    mend: str


@dataclass(frozen=True)
class Layout:
    """What a table holds. columns: every one there may be, as errors list them; quantities: those with a unit.

    unlisted: columns that are ours and that nobody is told to write. system: whose units a mend suggests.
    error: what is raised.
    """

    columns: tuple[str, ...]
    required: tuple[str, ...]
    quantities: dict[str, Kind]
    error: type[InputError]
    system: System = "us"
    unlisted: tuple[str, ...] = ()

    def heading(self, column: str) -> str:
        """`height [in]`, or `note`."""
        kind = self.quantities.get(column)
        return column if kind is None else f"{column} [{unit_in(kind, self.system)}]"

    @property
    def header(self) -> str:
        """The first row of a full file."""
        return ",".join(map(self.heading, self.columns))


class Column(dict[str, Any]):
    """What the texts of one column say, each distinct text read once: a long log repeats itself."""

    def __init__(self, read: Callable[[str], Any]) -> None:
        """read: a text to its value, or to a Bad."""
        super().__init__()
        self.read = read

    def __missing__(self, text: str) -> Any:
        """Read it and remember."""
        value = self[text] = self.read(text)
        return value


# ---------------------------------------------------------------- in


def file_text(path: Path, error: type[InputError], most_bytes: int, mend: str) -> str:
    """Text of a file. Raises `error` where it can't be opened, is too large (then `mend`) or is not UTF-8."""
    name = path.name or str(path)  # a folder may be called by nothing but dots
    try:
        with path.open("rb") as file:
            content = file.read(most_bytes + 1)
    except OSError as fault:
        raise error(name, [Fault("", f"can't be opened: {fault.strerror}")]) from None
    except ValueError:  # a null character in the name
        raise error(shown(path.name), [Fault("", "is no file name", "Name a CSV file")]) from None
    if len(content) > most_bytes:
        raise error(path.name, [Fault("", f"larger than {most_bytes // 10**6} MB", mend)])
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = content[: fault.start].count(b"\n") + 1
        wrong = Fault("", "a character that is not UTF-8", "Save it as CSV UTF-8", line=line)
        raise error(path.name, [wrong]) from None


def read_table(
    text: str, layout: Layout, name: str, faults: list[Fault], tell: Tell = untold
) -> tuple[dict[str, str], Iterator[Row]] | None:
    """Unit of each quantity, and the rows that hold anything; None where the text holds nothing at all.

    Faults of rows are put into `faults` as the rows are taken. Raises the layout's error, with the faults so far,
    where no header can be made of the first row.
    """
    rows = _rows(text.removeprefix("\ufeff"), faults)
    header = next(rows, None)
    if header is None:
        if faults:
            raise layout.error(name, faults)
        return None
    columns, units = _read_header(*header, layout, name)
    return units, _named(_told(rows, text.count("\n") + 1, tell), columns, faults)


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
            if any(map(str.strip, texts)):
                yield line, texts
            line = reader.line_num + 1
    except csv.Error as error:
        mend = "Close every quote, double those inside a quoted cell, and keep cells under 100,000 characters"
        faults.append(Fault("", f"a row that is no CSV ({error})", mend, line=line))


def _told(rows: Iterator[tuple[int, list[str]]], lines: int, tell: Tell) -> Iterator[tuple[int, list[str]]]:
    """The same rows, telling now and then how many lines are behind."""
    for number, (line, texts) in enumerate(rows):
        if number % _PART == 0:
            tell(f"Reading {lines:,} lines", min(line, lines), lines)
        yield line, texts


def _named(rows: Iterator[tuple[int, list[str]]], columns: list[str], faults: list[Fault]) -> Iterator[Row]:
    for line, texts in rows:
        texts += [""] * (len(columns) - len(texts))
        for extra in texts[len(columns) :]:
            if extra.strip():
                problem = f'"{shown(extra)}" stands beyond the last column'
                mend = "Put text with commas between quotes, or give the column a heading"
                faults.append(Fault("", problem, mend, found=extra, line=line))
        yield Row(line, dict(zip(columns, texts, strict=False)))


def _read_header(line: int, texts: list[str], layout: Layout, name: str) -> tuple[list[str], dict[str, str]]:
    """Column names in the file's order, and the unit of each quantity. Raises the layout's error."""
    if len(texts) == 1 and (separator := re.search("[;\t]", texts[0])):
        what = "semicolons" if separator[0] == ";" else "tabs"
        mend = "Save it with commas between cells and points in numbers"
        raise layout.error(name, [Fault("", f"cells are separated by {what}", mend, line=line)])
    used = max(number for number, text in enumerate(texts, 1) if text.strip())
    if used > _MOST_COLUMNS:
        fault = Fault("", f"{used} columns", f"Columns are {', '.join(layout.columns)}", line=line)
        raise layout.error(name, [fault])
    faults, columns, units = [], [], {}
    for text in texts[:used]:
        found = re.fullmatch(r"([^\[\]]*)(?:\[([^\[\]]*)\])?", text[:200].strip())
        column = found[1].strip().lower() if found else ""
        columns.append(column)
        wrong = _wrong_heading(column, found and found[2], columns[:-1], layout)
        if wrong:
            faults.append(Fault(shown(text) or "header", *wrong, found=text, line=line))
        elif column in layout.quantities and found:
            units[column] = unit_named(found[2], layout.quantities[column])
    faults += [
        Fault(column, "no such column", f"Add the column {layout.heading(column)}", line=line)
        for column in layout.required
        if column not in columns
    ]
    if faults:
        raise layout.error(name, faults)
    return columns, units


def _wrong_heading(column: str, unit: str | None, before: list[str], layout: Layout) -> Bad | None:
    known = (*layout.columns, *layout.unlisted)
    if column not in known:
        meant = nearest(column, known)
        listed = f"Columns are {', '.join(layout.columns)}"
        return Bad("not a column here", f"Did you mean {layout.heading(meant)}?" if meant else listed)
    if column in before:
        return Bad("this column is there twice", "Leave one of them out")
    if column not in layout.quantities:
        return None if unit is None else Bad("this column has no unit", f"Write {column}")
    if unit is None:
        return Bad("no unit is given", f"Write {layout.heading(column)}")
    try:
        unit_named(unit, layout.quantities[column])
    except UnitError as error:
        return Bad(error.problem, f"Write one of {error.allowed}")
    return None


# ---------------------------------------------------------------- cells


def quantity(text: str, kind: Kind, unit: str, limits: Limits) -> float | Bad | None:
    """A number in the heading's unit, or with a unit of its own (SI); None where nothing is written."""
    text = text.strip()
    if not text:
        return None
    try:
        value = parse(text, kind, default_unit=unit)
    except UnitError as error:
        return Bad(error.problem, f"Write {error.allowed}")
    if limits.low <= value <= limits.high:
        return value
    return Bad(f'"{shown(text)}" is not plausible', limits.mend)


def name_in(text: str, what: str) -> str | Bad:
    """A name of 1 to 80 printable characters."""
    name = unescaped(text).strip()
    if 1 <= len(name) <= 80 and name.isprintable():
        return name
    return Bad(f'"{shown(text)}" is not a name for a {what}', "Write 1 to 80 printable characters")


def time_in(text: str) -> datetime | Bad:
    """When it was read: not before there were such trucks, not in the future."""
    text = text.strip()
    try:
        when = datetime.fromisoformat(text) if _DATE.fullmatch(text) else None
    except ValueError:  # a thirteenth month
        when = None
    if when is None or when.year < 1950:
        return Bad(f'"{shown(text)}" is not a time of reading', "Write it as 2025-05-31T14:30 or 2025-05-31")
    latest = datetime.now().astimezone() + _CLOCKS_DIFFER
    if when > (latest if when.tzinfo else latest.replace(tzinfo=None)):
        return Bad(f'"{shown(text)}" is yet to come', "Write when the reading was taken")
    return when


def text_in(text: str) -> str | Bad:
    """Free text."""
    if len(text) > 2000:
        return Bad(f"{len(text)} characters", "Keep it under 2000")
    if _UNWRITABLE.search(text):
        return Bad(f'"{shown(text)}" has control characters in it', "Write plain text")
    return unescaped(text)


def values_of(row: Row, columns: dict[str, Column]) -> tuple[dict[str, Any], dict[str, Bad]]:
    """What a row's cells say, and those that can't be read."""
    values = {column: columns[column][text] for column, text in row.cells.items()}
    return values, {column: value for column, value in values.items() if isinstance(value, Bad)}


def faults_of(row: Row, bad: dict[str, Bad]) -> list[Fault]:
    """The bad cells of a row as faults."""
    return [
        Fault(column, wrong.problem, wrong.mend, found=row.cells.get(column, ""), line=row.line)
        for column, wrong in bad.items()
    ]


def by_line(faults: Iterable[Fault]) -> list[Fault]:
    """Faults as somebody mends them: from the top of the file down."""
    return sorted(faults, key=lambda fault: fault.line or 0)


# ---------------------------------------------------------------- out


def table_text(header: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    """CSV, lines ended as RFC 4180 has it; write it to a file with newline=""."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows(rows)
    return out.getvalue()


def escaped(text: str) -> str:
    """Text that no spreadsheet takes for a formula."""
    return f"'{text}" if _LIKE_A_FORMULA.match(text) else text


def unescaped(text: str) -> str:
    """The text that `escaped` was given."""
    return text[1:] if text.startswith("'") and _LIKE_A_FORMULA.match(text[1:]) else text
