"""What was typed into the form, read: readings, or what is wrong at which field. Pure.

A form is read as the rows of a readings file, so that the screen and a file allow the same.
"""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cached_property

from dashboard.words import listed, share
from tuning.doubt import TOO_MANY, Suspect
from tuning.log.files import ReadingsError, read_readings
from tuning.log.intake import unlikely
from tuning.log.shelf import Shelf
from tuning.readings import Reading, Run
from tuning.truck import CORNERS, Truck
from tuning.units import Kind, UnitError, parse, shop_length, shop_load, unit_in

# Runs. They know a corner far better than one tape does, and a field that is left is judged at once.
JUDGES = 100
RUN_LASTS = timedelta(hours=24)
SAME_NUT = 0.0005  # m that two ways to write one preload may differ by
HEIGHTS = ("height", "height-2", "height-3", "height-4")  # the same height, read again
FIELDS = (*HEIGHTS, "load", "preload", "stack")
_CELLS = ("height", "load", "preload", "stack")
_COLUMNS = ("run", "taken_at", "corner", *_CELLS, "settled", "note")


@dataclass(frozen=True)
class Form:
    """The form as typed. corners: by corner, the texts of its FIELDS."""

    run: str
    taken_at: str
    settled: str
    note: str
    corners: Mapping[str, Mapping[str, str]]

    def typed(self, corner: str, name: str) -> str:
        """The text of a field on one line, without space around it."""
        return " ".join(self.corners.get(corner, {}).get(name, "").split())

    @cached_property
    def places(self) -> tuple[tuple[str, str], ...]:
        """Corner and height field of each reading: a height that was read again is a reading of its own."""
        found = []
        for corner in CORNERS:
            heights = [name for name in HEIGHTS if self.typed(corner, name)]
            if not heights and self.typed(corner, "load"):
                heights = ["height"]
            found += [(corner, name) for name in heights]
        return tuple(found)

    @cached_property
    def rows(self) -> list[dict[str, str]]:
        """Each reading as a row of a readings file, as typed. The load was read once, and stands in the first row."""
        whole = {
            "run": " ".join(self.run.split()),
            "taken_at": self.taken_at.strip(),
            "settled": self.settled,
        }
        rows: list[dict[str, str]] = []
        for corner, name in self.places:
            first = corner not in [row["corner"] for row in rows]
            cells = {cell: self.typed(corner, cell) for cell in ("preload", "stack")}
            cells["load"] = self.typed(corner, "load") if first else ""
            note = " ".join(self.note.split()) if not rows else ""
            rows.append(whole | cells | {"corner": corner, "height": self.typed(corner, name), "note": note})
        return rows


@dataclass(frozen=True)
class Checked:
    """Readings of a form, or faults by (corner, field); the corner is empty for fields of the whole run."""

    readings: tuple[Reading, ...] = ()
    faults: dict[tuple[str, str], str] = field(default_factory=dict)


@dataclass(frozen=True)
class Asked:
    """Something to confirm before it is saved. key: the same as long as the same is read there."""

    key: str
    text: str
    corner: str = ""
    field: str = ""


@dataclass(frozen=True)
class Doubts:
    """What to ask before saving. doubted: why, by the reading's place in the form."""

    asked: tuple[Asked, ...]
    doubted: dict[int, str]

    def marked(self, readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
        """The readings with their doubts written beside them."""
        return tuple(replace(r, doubt=self.doubted.get(i, "")) for i, r in enumerate(readings))


def check(form: Form, shelf: Shelf) -> Checked:
    """Read a form against its truck."""
    if not form.places:
        problem = "Nothing is read yet. Write the height from the frame mark to the axle mark"
        return Checked(faults={(c, "height"): problem + "." for c in CORNERS})
    try:
        readings = read_readings(_as_file(form, shelf.truck), shelf.truck, "form")
    except ReadingsError as error:
        return Checked(faults=_by_field(error, form))
    readings = tuple(replace(r, taken_at=_in_the_logs_zone(r.taken_at, shelf)) for r in readings)
    faults = _against_run(readings[0], shelf)
    return Checked(faults=faults) if faults else Checked(readings)


def doubts(readings: tuple[Reading, ...], shelf: Shelf) -> Doubts:
    """What is unlikely about these readings, given the latest `JUDGES` runs of the log without them."""
    before, at = [r for run in shelf.runs[-JUDGES:] for r in run.readings], readings[0].taken_at
    # Sent twice, the first sending is in the log by now: the answer must be the same.
    others = [r for r in before if (r.run, r.taken_at) != (readings[0].run, at)]
    place = {id(reading): i for i, reading in enumerate(readings)}
    mine = unlikely(shelf.truck, shelf, others, readings)
    asked = _nuts_turned(readings, shelf)
    missing = [c for c in CORNERS if c not in {r.corner for r in readings}]
    if missing:
        text = f"{listed(missing)} not read: save the other corners alone?"
        asked.append(Asked(f"missing {','.join(missing)}", text))
    hit = sorted({s.reading.corner for s in mine}, key=CORNERS.index)
    if len(hit) >= TOO_MANY:
        text = (
            f"{len(hit)} corners do not fit the truck file: check spring rates, free lengths, ring gap, preload and "
            "cycle table. Are the readings as you wrote them?"
        )
        return Doubts((*asked, Asked(f"truck file {','.join(hit)}", text)), {})
    asked += [_asked(s, readings, place[id(s.reading)]) for s in mine]
    return Doubts(tuple(asked), {place[id(s.reading)]: s.reason for s in mine})


def sums(form: Form, truck: Truck) -> list[tuple[str, str, str]]:
    """Sum, front, left and cross-weight of the loads typed so far as term, value, remark: what is typed at all four,
    once it is there."""
    loads = {c: amount(form.typed(c, "load"), "force", truck) for c in CORNERS}
    known = {c: v for c, v in loads.items() if v is not None}
    if not known:
        return [("Cross-weight", "unknown", "no loads typed")]
    total = sum(known.values())
    whole = len(known) == len(CORNERS)
    facts = [("Sum", shop_load(total, truck.units), "" if whole else f"of {', '.join(known)}")]
    if whole and total > 0:
        facts += [
            ("Cross-weight", share((known["RF"] + known["LR"]) / total), "RF and LR of all"),
            ("Front", share((known["LF"] + known["RF"]) / total), ""),
            ("Left", share((known["LF"] + known["LR"]) / total), ""),
        ]
    return facts


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


def zoned(shelf: Shelf) -> bool:
    """Whether the times of a truck's log have a zone. Where there is none yet they are the shop's own."""
    return bool(shelf.runs) and shelf.runs[-1].taken_at.tzinfo is not None


def _nuts_turned(readings: tuple[Reading, ...], shelf: Shelf) -> list[Asked]:
    """Nuts that stand elsewhere than the same run has it already: somebody has turned them, so it is another run."""
    asked = []
    at, system = readings[0].taken_at, shelf.truck.units
    before = [r for run in shelf.runs for r in run.readings if r.run == readings[0].run and r.taken_at != at]
    said = {r.corner: r.preload for r in before if r.preload is not None}
    for corner, now in {r.corner: r.preload for r in readings}.items():
        if now is not None and corner in said and abs(now - said[corner]) > SAME_NUT:
            text = (
                f"{readings[0].run} has {corner} at {shop_length(said[corner], system)} of preload already, this says "
                f"{shop_length(now, system)}. After a turn it is a new run: give it a name of its own?"
            )
            asked.append(Asked(f"{corner} nut {now:.6g}", text, corner, "preload"))
    return asked


def _asked(suspect: Suspect, readings: tuple[Reading, ...], index: int) -> Asked:
    reading, kind = suspect.reading, suspect.kind
    before = [r for r in readings[:index] if r.corner == reading.corner]
    value = getattr(reading, kind)
    name = HEIGHTS[len(before)] if kind == "height" else kind
    return Asked(f"{reading.corner} {kind} {value:.6g}", suspect.reason, reading.corner, name)


def _as_file(form: Form, truck: Truck) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    units = {"height": "length", "load": "force", "preload": "length"}
    writer.writerow(f"{c} [{unit_in(units[c], truck.units)}]" if c in units else c for c in _COLUMNS)
    writer.writerows([row[column] for column in _COLUMNS] for row in form.rows)
    return out.getvalue()


def _by_field(error: ReadingsError, form: Form) -> dict[tuple[str, str], str]:
    """Faults by field: rows follow the header in the order of the form's readings."""
    found: dict[tuple[str, str], str] = {}
    for fault in error.faults:
        index, corner, name = (fault.line or 2) - 2, "", fault.where
        if fault.where in _CELLS and 0 <= index < len(form.places):
            corner, height = form.places[index]
            name = height if fault.where == "height" else fault.where
        mend = f" {fault.mend}{'' if fault.mend.endswith('?') else '.'}" if fault.mend else ""
        found.setdefault((corner, name), f"{fault.problem[:1].upper()}{fault.problem[1:]}.{mend}")
    return found


def _in_the_logs_zone(at: datetime, shelf: Shelf) -> datetime:
    """A time without a zone is the shop's own; it gets this machine's zone where the log's times have one."""
    return at.astimezone() if zoned(shelf) and at.tzinfo is None else at


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
