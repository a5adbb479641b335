"""What was typed at one position of a cycle walk, read: rows, or what is wrong at which field. Pure.

A form is read as the rows of a walk file, so that the screen and a file allow the same. Only what was changed since
the form was drawn is a row: what others put down meanwhile stays, and where both put down something it is asked.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from dashboard.words import entry_length
from tuning.findings import LEVEL, Finding, Measured, WalkRow, latest
from tuning.log.table import escaped, table_text
from tuning.log.walk_file import read_walk
from tuning.log.walks import LoggedWalkRow
from tuning.truck import Truck
from tuning.units import System, UnitError, parse, unit_in
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
    of height and shaft stands under the empty place. units: what its lengths are written in, whatever the truck
    file says by now."""

    station: Station
    typed: Mapping[str, Texts]
    shown: Mapping[str, Texts]
    taken_at: str
    by: str
    units: System

    def text(self, place: str, name: str) -> str:
        """A field's text on one line, without space around it."""
        return _text(self.typed, place, name)

    @property
    def changed(self) -> list[str]:
        """Places at which something is other than it was drawn."""
        return [
            place
            for place in self.typed
            if any(
                _text(self.typed, place, name) != _text(self.shown, place, name) for name in _fields(place)
            )
        ]


@dataclass(frozen=True)
class Checked:
    """Rows of a form, or faults by (place, field); `""` is the pair's place, and a fault of no field has no field."""

    rows: tuple[WalkRow, ...] = ()
    faults: dict[tuple[str, str], str] = field(default_factory=dict)


@dataclass(frozen=True)
class Asked:
    """A place at which the log says something else by now than the form was drawn with. key: the same as long as
    that stays; there: what stands in the log, as the form would show it."""

    key: str
    place: str
    text: str
    there: Texts


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
    """Read what was changed."""
    changed = form.changed
    if not changed:
        return Checked()
    faults = {
        (place, "result"): "Say pass or contact."
        for place in changed
        if place and form.text(place, "result") == "open" and any(form.text(place, f) for f in FIELDS[1:])
    }
    try:
        rows = read_walk(_as_file(form, changed), truck, "form")
    except WalkError as error:
        return Checked(faults=_by_field(error, changed) | faults)
    if faults:
        return Checked(faults=faults)
    return Checked(rows)


def meanwhile(form: Form, truck: Truck, logged: Sequence[LoggedWalkRow]) -> tuple[Asked, ...]:
    """Places where somebody else put down something since the form was drawn, other than what is typed now."""
    here = rows_here(tuple(one.row for one in logged), form.station)
    last = {one.row.key: one.id for one in logged}
    asked = []
    for place in form.changed:
        row, there = here.get(place), texts_of(place, here.get(place), truck)
        if there in (_drawn(form, form.shown, place, truck), _drawn(form, form.typed, place, truck)):
            continue
        station = form.station
        key = (station.end, station.position, *((station.steering, place) if place else ()))
        text = f"Since this was opened, {row.by if row and row.by else 'somebody'} put down here: "
        text += f"{_told(there, truck)}. Which of the two is right?"
        asked.append(Asked(f"{place} {last.get(key, 0)}", place, text, there))
    return tuple(asked)


def texts_of(place: str, row: WalkRow | None, truck: Truck) -> dict[str, str]:
    """A place's row as the form shows it in the truck's units; the pair's under the empty place."""

    def length(value: float | None) -> str:
        return "" if value is None else entry_length(value, truck.units)

    if isinstance(row, Finding):
        clearance = "" if row.contact else length(row.clearance)
        note, photo = (" ".join(text.split()) for text in (row.note, row.photo))
        return {"result": row.result, "clearance": clearance, "note": note, "photo": photo}
    if isinstance(row, Measured):
        return {"height": length(row.height), "shaft": length(row.shaft)}
    return {"result": "open"} | dict.fromkeys(FIELDS[1:], "") if place else dict.fromkeys(PAIR, "")


def _drawn(form: Form, texts: Mapping[str, Texts], place: str, truck: Truck) -> dict[str, str]:
    """A form's texts as they would be drawn once they are in the log."""
    drawn = {name: _text(texts, place, name) for name in _fields(place)}
    drawn |= {"result": drawn["result"] or "open"} if place else {}
    for name in {"clearance", *PAIR} & drawn.keys():
        try:
            length = parse(drawn[name], "length", default_unit=unit_in("length", form.units))
        except UnitError:
            continue
        drawn[name] = entry_length(length, truck.units)
    return drawn


def _told(texts: Texts, truck: Truck) -> str:
    """`contact; inner lip; fender.jpg`."""
    unit = unit_in("length", truck.units)
    if "height" in texts:
        return (
            f"height {texts['height']} {unit}, shaft {texts['shaft']} {unit}"
            if texts["height"]
            else "nothing"
        )
    result = "not yet looked at" if texts["result"] == "open" else texts["result"]
    clearance = f"{texts['clearance']} {unit}" if texts["clearance"] else ""
    return "; ".join(filter(None, (result, clearance, texts["note"], texts["photo"])))


def _text(texts: Mapping[str, Texts], place: str, name: str) -> str:
    return " ".join(texts.get(place, {}).get(name, "").split())


def _fields(place: str) -> tuple[str, ...]:
    return FIELDS if place else PAIR


def _as_file(form: Form, changed: list[str]) -> str:
    unit = unit_in("length", form.units)
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
