"""The cycle walk's table: rows in and out. The callers hold the transaction and the truck."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from tuning.findings import LEVEL, LOOKED_AT, RESULTS, STEERING, Finding, Measured, WalkRow
from tuning.log import schema
from tuning.log.schema import walk as table
from tuning.truck import END_NAMES

_MOST = schema.MOST
_COLUMNS = {  # of the table: the row's field, and what stands where it has none
    "axle": ("end", ""),
    "position": ("position", ""),
    "steering": ("steering", ""),
    "place": ("place", ""),
    "result": ("result", ""),
    "clearance_m": ("clearance", None),
    "height_m": ("height", None),
    "shaft_m": ("shaft", None),
    "note": ("note", ""),
    "photo": ("photo", ""),
    "taken_at": ("taken_at", None),
    "taken_by": ("by", ""),
}


@dataclass(frozen=True)
class LoggedWalkRow:
    """A row of a walk as it was saved; the last of each key counts."""

    id: int
    truck_version_id: int
    recorded_at: datetime
    row: WalkRow
    entry_key: str | None = None
    entry_row: int | None = None


@dataclass(frozen=True)
class WalkHeld:
    """Rows as one save put them in, whatever became of them since. truck: its name; toml: its file as of then."""

    truck: str
    toml: str
    rows: tuple[WalkRow, ...]


@dataclass(frozen=True)
class WalkSaved:
    """Ids of the rows that were new, in the order given; `already`: a save with the same key had put them there."""

    ids: tuple[int, ...]
    already: bool = False


def logged(conn: sa.Connection, truck_id: int | None) -> tuple[LoggedWalkRow, ...]:
    """Every row of a truck, in the order of saving."""
    query = sa.select(table).where(table.c.truck_id == truck_id).order_by(table.c.id)
    return tuple(_logged(row) for row in conn.execute(query))


def news(known: Iterable[LoggedWalkRow], rows: Iterable[WalkRow]) -> list[tuple[int, WalkRow]]:
    """Those rows that say what the log does not say already, each with its place among the given."""
    standing: dict[tuple[str, ...], WalkRow] = {one.row.key: one.row for one in known}
    found = []
    for place, row in enumerate(rows):
        if standing.get(row.key) != row:
            found.append((place, row))
            standing[row.key] = row
    return found


def under_key(conn: sa.Connection, key: str) -> dict[int, tuple[int, int, WalkRow]]:
    """What was saved under an entry's key: truck, id and row, by place in the entry."""
    found = conn.execute(sa.select(table).where(table.c.entry_key == key).order_by(table.c.entry_row))
    return {row.entry_row: (row.truck_id, row.id, _logged(row).row) for row in found}


def held(conn: sa.Connection, key: str) -> WalkHeld | None:
    """What was saved under an entry's key, in the order given."""
    version = schema.truck_version
    query = sa.select(table, schema.truck.c.name, version.c.toml)
    joined = query.select_from(table.join(version).join(schema.truck, schema.truck.c.id == table.c.truck_id))
    found = conn.execute(joined.where(table.c.entry_key == key).order_by(table.c.entry_row)).all()
    return WalkHeld(found[0].name, found[0].toml, tuple(_logged(row).row for row in found)) if found else None


def refusal(row: WalkRow) -> tuple[str, object, str] | None:
    """What of a row no table takes: its name, its value and what it must be; None where all is well."""
    words: list[tuple[str, str, Sequence[str]]] = [("end", row.end, END_NAMES)]
    figures: list[tuple[str, float | None, float]]
    if isinstance(row, Finding):
        if not row.place.strip():
            return "place", row.place, "a name"
        words += [("position", row.position, LOOKED_AT), ("result", row.result, RESULTS)]
        words += [("steering", row.steering, STEERING.get(row.end, ()))]
        figures = [("clearance", row.clearance, 0.0)]
    else:
        if (row.height is None) != (row.shaft is None):
            return "height and shaft", f"{row.height} and {row.shaft}", "given both or neither"
        words += [("position", row.position, LEVEL)]
        figures = [("height", row.height, 1e-9), ("shaft", row.shaft, -_MOST)]
    for what, text, allowed in words:
        if text not in allowed:
            return what, text, "one of " + ", ".join(name or "nothing" for name in allowed)
    for what, value, least in figures:
        if value is not None and not (math.isfinite(value) and least <= value < _MOST):
            return what, value, "a length that can be, or empty"
    return None


def columns(row: WalkRow) -> dict[str, Any]:
    """A row as the table has it."""
    return {column: getattr(row, name, empty) for column, (name, empty) in _COLUMNS.items()}


def insert(conn: sa.Connection, truck_id: int, first: int, rows: Sequence[dict[str, Any]]) -> tuple[int, ...]:
    """Write whole rows, their ids counted from `first`."""
    full = [row | {"id": id_, "truck_id": truck_id} for id_, row in enumerate(rows, first)]
    if full:
        conn.execute(table.insert(), full)
    return tuple(range(first, first + len(full)))


def _logged(row: sa.Row[Any]) -> LoggedWalkRow:
    same = {"end": row.axle, "position": row.position, "note": row.note, "photo": row.photo}
    same |= {"taken_at": row.taken_at, "by": row.taken_by}
    read: WalkRow
    if row.place:
        read = Finding(
            steering=row.steering, place=row.place, result=row.result, clearance=row.clearance_m, **same
        )
    else:
        read = Measured(height=row.height_m, shaft=row.shaft_m, **same)
    return LoggedWalkRow(row.id, row.truck_version_id, row.recorded_at, read, row.entry_key, row.entry_row)
