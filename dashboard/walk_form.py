"""What was typed at one position of a cycle walk, read: rows, or what is wrong at which field. Pure.

A form is read as the rows of a walk file, so that the screen and a file allow the same. Only what was changed since
the form was drawn is a row: what others put down meanwhile stays.
"""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from tuning.findings import LEVEL, Finding, Measured, WalkRow, latest
from tuning.log.table import escaped, table_text
from tuning.log.walk_file import read_walk
from tuning.truck import Truck
from tuning.units import unit_in
from tuning.walk import WalkError, has_shock, places

FIELDS = ("result", "clearance", "note", "photo")
PAIR = ("height", "shaft")
_COLUMNS = ("end", "position", "steering", "place", *FIELDS, *PAIR, "taken_at", "by")

Texts = Mapping[str, str]


@dataclass(frozen=True)
class Station:
    """One end with its axle and steering so."""

    end: str
    position: str
    steering: str


@dataclass(frozen=True)
class Form:
    """A station's form as typed and, under `shown`, as it was drawn. Each: texts by place, each by field; the pair
    of height and shaft stands under the empty place."""

    station: Station
    typed: Mapping[str, Texts]
    shown: Mapping[str, Texts]
    taken_at: str
    by: str

    def text(self, place: str, name: str) -> str:
        """A field's text on one line, without space around it."""
        return " ".join(self.typed.get(place, {}).get(name, "").split())

    @property
    def changed(self) -> list[str]:
        """Places at which something is other than it was drawn."""
        return [
            place
            for place in self.typed
            if any(
                self.text(place, name) != " ".join(self.shown.get(place, {}).get(name, "").split())
                for name in (FIELDS if place else PAIR)
            )
        ]


@dataclass(frozen=True)
class Checked:
    """Rows of a form, or faults by (place, field); `""` is the pair's place, and a fault of no field has no field."""

    rows: tuple[WalkRow, ...] = ()
    faults: dict[tuple[str, str], str] = field(default_factory=dict)
    key: str = ""


def measured_here(truck: Truck, station: Station) -> bool:
    """Height and shaft are measured once at each level position, where there is a shock."""
    return (
        station.position in LEVEL and station.steering in ("", "straight") and has_shock(truck, station.end)
    )


def places_here(truck: Truck, station: Station) -> tuple[str, ...]:
    """Where to look at a station."""
    return places(truck, station.end, station.position, station.steering)


def rows_here(rows: tuple[WalkRow, ...], station: Station) -> dict[str, WalkRow]:
    """What counts at a station, by place; the pair under the empty place."""
    found: dict[str, WalkRow] = {}
    for row in latest(rows):
        if (row.end, row.position) != (station.end, station.position):
            continue
        if isinstance(row, Measured):
            found[""] = row
        elif row.steering == station.steering:
            found[row.place] = row
    return found


def check(form: Form, truck: Truck) -> Checked:
    """Read what was changed. `key`: the same for the same rows, so that they are saved once."""
    changed = form.changed
    if not changed:
        return Checked()
    faults = {
        (place, "result"): "Say pass or contact."
        for place in changed
        if place and form.text(place, "result") == "open" and any(form.text(place, f) for f in FIELDS[1:])
    }
    text = _as_file(form, changed, truck)
    try:
        rows = read_walk(text, truck, "form")
    except WalkError as error:
        return Checked(faults=_by_field(error, changed) | faults)
    if faults:
        return Checked(faults=faults)
    return Checked(rows, key=hashlib.sha256(text.encode()).hexdigest()[:16])


def _as_file(form: Form, changed: list[str], truck: Truck) -> str:
    unit = unit_in("length", truck.units)
    header = [f"{c} [{unit}]" if c in ("clearance", *PAIR) else c for c in _COLUMNS]
    here = form.station
    rows = []
    for place in changed:
        cells = {name: form.text(place, name) for name in (*FIELDS, *PAIR)}
        if not place and not any(cells[name] for name in PAIR):
            cells["result"] = "open"  # emptied: taken back
        if cells["result"] == "open":
            cells["clearance"] = ""
        texts = {
            "end": here.end,
            "position": here.position,
            "taken_at": form.taken_at,
            "by": escaped(form.by),
        }
        texts |= {"steering": here.steering if place else "", "place": escaped(place)} | cells
        texts |= {"note": escaped(cells["note"]), "photo": escaped(cells["photo"])}
        rows.append([texts[column] for column in _COLUMNS])
    return table_text(header, rows)


def _by_field(error: WalkError, changed: list[str]) -> dict[tuple[str, str], str]:
    """Faults by field: rows follow the header in the order of the changed places."""
    found: dict[tuple[str, str], str] = {}
    for fault in error.faults:
        row = (fault.line or 2) - 2
        place = changed[row] if 0 <= row < len(changed) else ""
        name = fault.where if fault.where in (*FIELDS, *PAIR) else ""
        mend = f" {fault.mend}{'' if fault.mend.endswith('?') else '.'}" if fault.mend else ""
        found.setdefault((place, name), f"{fault.problem[:1].upper()}{fault.problem[1:]}.{mend}")
    return found


def shown_texts(row: WalkRow | None, as_text: Callable[[float], str]) -> dict[str, str]:
    """A row as the form shows it. as_text: a length (m) as it would be typed."""

    def length(value: float | None) -> str:
        return "" if value is None else as_text(value)

    if isinstance(row, Measured):
        return {"height": length(row.height), "shaft": length(row.shaft)}
    if isinstance(row, Finding):
        clearance = "" if row.contact else length(row.clearance)
        return {"result": row.result, "clearance": clearance, "note": row.note, "photo": row.photo}
    return {"result": "open"}
