"""What a set-up sheet is: its texts, how it is printed as a document, named as a file and cut to a page."""

import unicodedata
from dataclasses import asdict, dataclass, replace
from typing import Literal

from .report.shared import Document
from .report.travel import STATES
from .truck import CORNERS

Paper = Literal["a4", "letter"]
ATTENTION = STATES[False]
NOTHING = "–"
LONGEST_IN_FILE = 40  # letters of a truck's or a run's name that go into a file's
LONGEST_ADDRESS = 160  # letters that a code of 2 cm can hold and a phone still reads (common practice)
TO_WRITE = ""  # a field that is filled in by hand


@dataclass(frozen=True)
class Section:
    """rows: a label, then a text for each of CORNERS. lines: sentences below. main: label of the row that matters
    most. cut: rows that a full page may lose from the end."""

    title: str
    rows: tuple[tuple[str, ...], ...] = ()
    lines: tuple[str, ...] = ()
    main: str = ""
    cut: bool = False


@dataclass(frozen=True)
class Sheet:
    """One page. paper: what the truck's owner has in the drawer. address: of the truck in the dashboard, None where
    no phone could open it."""

    truck: str
    run: str
    taken: str
    odometer: str
    runs: str
    paper: Paper
    sections: tuple[Section, ...]
    order_of_work: tuple[str, ...]
    caution: str
    address: str | None = None


def sheet_document(whole: Sheet) -> Document:
    """The sheet as `tuning sheet --json` prints it; empty texts are fields to write in."""
    sections = [
        {
            "title": section.title,
            "rows": [dict(zip(("what", *CORNERS), row, strict=True)) for row in section.rows],
            "lines": list(section.lines),
        }
        for section in whole.sections
    ]
    return asdict(whole) | {"sections": sections, "order_of_work": list(whole.order_of_work)}


def shortened(whole: Sheet, most: int) -> Sheet:
    """The sheet with at most so many lines, and rows that may be lost, in a section; it says how many more."""
    return replace(whole, sections=tuple(_shortened(s, most) for s in whole.sections))


def _shortened(section: Section, most: int) -> Section:
    rows, lines = section.rows, section.lines
    lost = max(len(rows) - most, 0) if section.cut else 0
    if len(lines) > most:
        lines = (*lines[:most], f"…and {len(lines) - most} more.")
    if lost:
        rows, lines = rows[:most], (f"…and {lost} more checks.", *lines)
    return replace(section, rows=rows, lines=lines)


def file_name(whole: Sheet) -> str:
    """`sheet-night-shift-r3.pdf`: letters and figures that any disk takes."""
    parts = ("sheet", _safe(whole.truck) or "truck", _safe(whole.run) or "run")
    return f"{'-'.join(parts)}.pdf"


def _safe(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    words = "".join(c if c.isalnum() else " " for c in plain).split()
    return "-".join(words)[:LONGEST_IN_FILE].strip("-")
