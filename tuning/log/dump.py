"""One truck's whole history as JSON text. Rows are numbered from 1, in the order of saving."""

import json
import re
from collections.abc import Sequence
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    PositiveInt,
    TypeAdapter,
    ValidationError,
)

from tuning.findings import Finding, Measured, WalkRow
from tuning.log.walks import LoggedWalkRow
from tuning.readings import Reading, Settled
from tuning.trucktables import described


def _iso(value: object) -> datetime:
    if not isinstance(value, str):
        raise ValueError("Input should be a time in ISO 8601")  # noqa: TRY004 - pydantic reports only these
    return datetime.fromisoformat(value)


_Time = Annotated[
    datetime, BeforeValidator(_iso)
]  # by the library that wrote it: pydantic's reads fewer offsets
_WALKED = dict.fromkeys(("end", "position", "steering", "place", "result"), "") | dict.fromkeys(
    ("clearance", "height", "shaft", "note", "photo", "taken_at", "by")
)
_READING = tuple(Reading.__dataclass_fields__)


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


class _Version(_Strict):
    recorded_at: _Time
    toml: str
    note: str


class _Row(_Strict):
    version: PositiveInt
    recorded_at: _Time
    run: str
    taken_at: _Time
    corner: str
    height: float | None
    load: float | None
    preload: float | None
    stack: str | None
    settled: Settled
    odometer: float | None
    note: str
    doubt: str
    replaces: PositiveInt | None
    because: str
    withdrawn: bool
    typed: dict[str, str] | None
    entry_key: str | None
    entry_row: int | None


class _Walked(_Strict):
    """A finding; or, with an empty place, a height and a shaft."""

    version: PositiveInt
    recorded_at: _Time
    end: str
    position: str
    steering: str
    place: str
    result: Literal["", "pass", "contact", "open"]
    clearance: float | None
    height: float | None
    shaft: float | None
    note: str
    photo: str
    taken_at: _Time | None
    by: str
    entry_key: str | None
    entry_row: int | None

    def row(self) -> WalkRow:
        """As it was saved. Raises ValueError where it is neither a finding nor a pair, or both."""
        same = {name: getattr(self, name) for name in ("end", "position", "note", "photo", "taken_at", "by")}
        if self.place and self.result and self.height is None and self.shaft is None:
            return Finding(
                steering=self.steering, place=self.place, result=self.result, clearance=self.clearance, **same
            )
        if self.place or self.result or self.steering or self.clearance is not None:
            raise ValueError("neither a finding nor a height with its shaft")
        return Measured(height=self.height, shaft=self.shaft, **same)


class _Dump(_Strict):
    format: Literal["tuning log 1"]
    truck: str
    versions: list[_Version]
    readings: list[_Row]
    walk: list[_Walked] = []  # written by none before there were walks


def write(truck: str, versions: Sequence[Any], rows: Sequence[Any], walk: Sequence[LoggedWalkRow]) -> str:
    """JSON text of a truck's versions, rows and walk, each with the log's own columns and ids."""
    version_number = {version.id: number for number, version in enumerate(versions, 1)}
    row_number = {row.id: number for number, row in enumerate(rows, 1)}
    dump = {
        "format": "tuning log 1",
        "truck": truck,
        "versions": [{"recorded_at": v.recorded_at, "toml": v.toml, "note": v.note} for v in versions],
        "readings": [
            dict(zip(_READING, row[: len(_READING)], strict=True))
            | {
                "version": version_number[row.truck_version_id],
                "recorded_at": row.recorded_at,
                "replaces": row_number.get(row.replaces_id),
                "because": row.because,
                "withdrawn": row.withdrawn,
                "typed": None if row.typed is None else json.loads(row.typed),
                "entry_key": row.entry_key,
                "entry_row": row.entry_row,
            }
            for row in rows
        ],
        "walk": [
            {
                "version": version_number[one.truck_version_id],
                "recorded_at": one.recorded_at,
                **{name: getattr(one.row, name, empty) for name, empty in _WALKED.items()},
                "entry_key": one.entry_key,
                "entry_row": one.entry_row,
            }
            for one in walk
        ],
    }
    return json.dumps(dump, default=datetime.isoformat, ensure_ascii=False, allow_nan=False, indent=1)


def read(text: str) -> tuple[str, list[dict[str, Any]], list[dict[str, Any]], list[LoggedWalkRow]]:
    """Truck name, versions, rows of a dump, a row's reading under `reading`, and the walk.

    Raises ValueError, in one line, where the text is no dump or breaks off, or points at what is not there.
    """
    try:
        dump = TypeAdapter(_Dump).validate_json(text)
    except ValidationError as exc:
        raise ValueError(_said(exc.errors(include_url=False)[0])) from None
    if not dump.versions:
        raise ValueError("versions: there is none, and every truck has one")
    seen: set[int] = set()
    for number, row in enumerate(dump.readings, 1):
        if row.version > len(dump.versions):
            raise ValueError(f"readings, {number}: there is no version {row.version}")
        if row.replaces is not None and (row.replaces >= number or row.replaces in seen):
            raise ValueError(f"readings, {number}: reading {row.replaces} comes later or was replaced before")
        seen.add(row.replaces or 0)
    walk = [_walked(one, number, len(dump.versions)) for number, one in enumerate(dump.walk, 1)]
    return dump.truck, [v.model_dump() for v in dump.versions], [_columns(r) for r in dump.readings], walk


_ALLOWED = {  # by what pydantic calls the fault
    "string_type": "text",
    "float_type": "a number",
    "finite_number": "a number",
    "int_type": "a whole number",
    "greater_than": "a whole number above zero",
    "bool_type": "true or false",
    "list_type": "a list",
    "dict_type": "keys with their texts",
    "value_error": "a time such as 2025-05-31T14:30:00",
}


def _said(fault: Any) -> str:
    """A fault that pydantic found, in words: where, what stands there, what is allowed."""
    kind, value, loc = fault["type"], fault["input"], fault["loc"]
    if kind == "json_invalid":
        at = re.search(r"line (\d+) column (\d+)", fault["msg"])
        return f"no whole JSON text: it goes wrong at line {at[1]}, letter {at[2]}" if at else "no JSON text"
    place = ", ".join(str(part + 1 if isinstance(part, int) else part) for part in loc)
    if kind == "missing":
        return f"{place}: missing"
    if kind == "extra_forbidden":
        return f"{place}: no history has this"
    found = described(value)
    allowed = fault["ctx"]["expected"] if kind == "literal_error" else _ALLOWED.get(kind, "a table")
    return f"{place}: {found} is not {allowed}" if place else f"{found}, not the history of a truck"


def _walked(one: _Walked, number: int, versions: int) -> LoggedWalkRow:
    if one.version > versions:
        raise ValueError(f"walk, {number}: there is no version {one.version}")
    try:
        row = one.row()
    except ValueError as error:
        raise ValueError(f"walk, {number}: {error}") from None
    return LoggedWalkRow(number, one.version, one.recorded_at, row, one.entry_key, one.entry_row)


def _columns(row: _Row) -> dict[str, Any]:
    values = row.model_dump()
    values["reading"] = Reading(**{name: values.pop(name) for name in _READING})
    values["truck_version_id"] = values.pop("version")
    values["replaces_id"] = values.pop("replaces")
    values["typed"] = None if row.typed is None else json.dumps(row.typed, ensure_ascii=False)
    return values
