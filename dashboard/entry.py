"""What was typed into the form, read: readings, or what is wrong at which field. Pure.

A form is read as the rows of a readings file, so that the screen and a file allow the same.
"""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from dashboard.words import listed
from tuning.doubt import TOO_MANY
from tuning.log.files import ReadingsError, read_readings
from tuning.log.intake import unlikely
from tuning.log.shelf import Shelf
from tuning.readings import Reading, Run
from tuning.truck import CORNERS, Truck
from tuning.units import Kind, UnitError, parse, unit_in

RUN_LASTS = timedelta(hours=24)
_FIELDS = ("height", "load", "preload", "stack")
_COLUMNS = ("run", "taken_at", "corner", *_FIELDS, "settled", "note")


@dataclass(frozen=True)
class Form:
    """The form as typed. corners: by corner, the texts of height, load, preload and stack."""

    run: str
    taken_at: str
    settled: str
    note: str
    corners: Mapping[str, Mapping[str, str]]

    @property
    def read(self) -> list[str]:
        """Corners at which something was read."""
        return [c for c in CORNERS if any(self.typed(c, f) for f in ("height", "load"))]

    def typed(self, corner: str, name: str) -> str:
        """The text of a field, without space around it."""
        return self.corners.get(corner, {}).get(name, "").strip()


@dataclass(frozen=True)
class Checked:
    """Readings of a form, or faults by (corner, field); the corner is empty for fields of the whole run."""

    readings: tuple[Reading, ...] = ()
    faults: dict[tuple[str, str], str] = field(default_factory=dict)


@dataclass(frozen=True)
class Doubts:
    """What to ask before saving. questions: lines of text; doubted: why, by the reading's place in the form."""

    questions: tuple[str, ...]
    doubted: dict[int, str]


def check(form: Form, shelf: Shelf) -> Checked:
    """Read a form against its truck."""
    corners = form.read
    if not corners:
        problem = "Nothing is read yet. Write the height from the frame mark to the axle mark"
        return Checked(faults={(c, "height"): problem + "." for c in CORNERS})
    try:
        readings = read_readings(_as_file(form, corners, shelf.truck), shelf.truck, "form")
    except ReadingsError as error:
        return Checked(faults=_by_field(error, corners))
    readings = tuple(replace(r, taken_at=_in_the_logs_zone(r.taken_at, shelf)) for r in readings)
    faults = _against_run(readings[0], shelf)
    return Checked(faults=faults) if faults else Checked(readings)


def doubts(readings: tuple[Reading, ...], shelf: Shelf) -> Doubts:
    """What is unlikely about these readings, given the log without them."""
    before, at = [r for run in shelf.runs for r in run.readings], readings[0].taken_at
    # Sent twice, the first sending is in the log by now: the answer must be the same.
    others = [r for r in before if (r.run, r.taken_at) != (readings[0].run, at)]
    place = {id(reading): i for i, reading in enumerate(readings)}
    mine = unlikely(shelf.truck, shelf, others, readings)
    questions = []
    missing = [c for c in CORNERS if c not in {r.corner for r in readings}]
    if missing:
        questions.append(f"{listed(missing)} not read: save the other corners alone.")
    hit = {s.reading.corner for s in mine}
    if len(hit) >= TOO_MANY:
        questions.append(
            f"{len(hit)} corners do not fit the truck file: check spring rates, free lengths, ring gap, preload "
            "and cycle table. The readings are as I wrote them."
        )
        return Doubts(tuple(questions), {})
    questions += [f"{s.reason} I looked again and it is as I wrote it: save it as doubtful." for s in mine]
    return Doubts(tuple(questions), {place[id(s.reading)]: s.reason for s in mine})


def next_run(runs: tuple[Run, ...]) -> str:
    """A name for the next run: the last one counted on, or r and how many there are."""
    taken = {run.name for run in runs}
    last = runs[-1].name if runs else "r0"
    stem = last.rstrip("0123456789")
    number = int(last[len(stem) :][-9:]) + 1 if last != stem else 2
    stem = stem if last != stem else f"{stem} "
    while f"{stem}{number}" in taken:
        number += 1
    return f"{stem}{number}"


def amount(text: str, kind: Kind, truck: Truck) -> float | None:
    """A typed quantity (SI), None where it is none."""
    try:
        return parse(text, kind, default_unit=unit_in(kind, truck.units))
    except UnitError:
        return None


def latest_by_corner(shelf: Shelf) -> dict[str, Reading]:
    """The last reading of each corner, doubtful ones left out."""
    return {r.corner: r for run in shelf.runs for r in run.readings if not r.doubt}


def _as_file(form: Form, corners: list[str], truck: Truck) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    units = {"height": "length", "load": "force", "preload": "length"}
    writer.writerow(f"{c} [{unit_in(units[c], truck.units)}]" if c in units else c for c in _COLUMNS)
    for i, corner in enumerate(corners):
        note = " ".join(form.note.split()) if i == 0 else ""
        cells = [" ".join(form.typed(corner, name).split()) for name in _FIELDS]
        run, at = " ".join(form.run.split()), form.taken_at.strip()
        writer.writerow([run, at, corner, *cells, form.settled, note])
    return out.getvalue()


def _by_field(error: ReadingsError, corners: list[str]) -> dict[tuple[str, str], str]:
    """Faults by field: rows follow the header in the order of the corners."""
    found: dict[tuple[str, str], str] = {}
    for fault in error.faults:
        row = (fault.line or 2) - 2
        corner = corners[row] if fault.where in _FIELDS and 0 <= row < len(corners) else ""
        mend = f" {fault.mend}{'' if fault.mend.endswith('?') else '.'}" if fault.mend else ""
        found.setdefault((corner, fault.where), f"{fault.problem[:1].upper()}{fault.problem[1:]}.{mend}")
    return found


def _in_the_logs_zone(at: datetime, shelf: Shelf) -> datetime:
    """A time without a zone is the shop's own; it gets this machine's zone where the log's times have one."""
    zoned = bool(shelf.runs) and shelf.runs[-1].taken_at.tzinfo is not None
    return at.astimezone() if zoned and at.tzinfo is None else at


def _against_run(reading: Reading, shelf: Shelf) -> dict[tuple[str, str], str]:
    for run in shelf.runs:
        if run.name != reading.run:
            continue
        if (run.taken_at.tzinfo is None) != (reading.taken_at.tzinfo is None):
            return {("", "taken_at"): "The log's times have no zone. Leave the zone away."}
        if abs(run.taken_at - reading.taken_at) > RUN_LASTS:
            when = f"{run.taken_at:%Y-%m-%d}"
            return {("", "run"): f"{run.name} was read on {when}. Give this visit a name of its own."}
    return {}
