"""One truck's whole history as JSON text. Rows are numbered from 1, in the order of saving."""

import json
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

from tuning.readings import Reading, Settled


def _iso(value: object) -> datetime:
    if not isinstance(value, str):
        raise ValueError("Input should be a time in ISO 8601")  # noqa: TRY004 - pydantic reports only these
    return datetime.fromisoformat(value)


_Time = Annotated[
    datetime, BeforeValidator(_iso)
]  # by the library that wrote it: pydantic's reads fewer offsets
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


class _Dump(_Strict):
    format: Literal["tuning log 1"]
    truck: str
    versions: list[_Version]
    readings: list[_Row]


def write(truck: str, versions: Sequence[Any], rows: Sequence[Any]) -> str:
    """JSON text of a truck's versions and rows, each with the log's own columns and ids."""
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
    }
    return json.dumps(dump, default=datetime.isoformat, ensure_ascii=False, allow_nan=False, indent=1)


def read(text: str) -> tuple[str, list[dict[str, Any]], list[dict[str, Any]]]:
    """Truck name, versions and rows of a dump, a row's reading under `reading`.

    Raises ValueError, in one line, where the text is no dump or breaks off, or points at what is not there.
    """
    try:
        dump = TypeAdapter(_Dump).validate_json(text)
    except ValidationError as exc:
        fault = exc.errors(include_url=False)[0]
        place = ", ".join(str(part) for part in fault["loc"]) or "text"
        raise ValueError(f"{place}: {fault['msg']}") from None
    if not dump.versions:
        raise ValueError("versions: there is none, and every truck has one")
    seen: set[int] = set()
    for number, row in enumerate(dump.readings, 1):
        if row.version > len(dump.versions):
            raise ValueError(f"readings, {number}: there is no version {row.version}")
        if row.replaces is not None and (row.replaces >= number or row.replaces in seen):
            raise ValueError(f"readings, {number}: reading {row.replaces} comes later or was replaced before")
        seen.add(row.replaces or 0)
    return dump.truck, [v.model_dump() for v in dump.versions], [_columns(r) for r in dump.readings]


def _columns(row: _Row) -> dict[str, Any]:
    values = row.model_dump()
    values["reading"] = Reading(**{name: values.pop(name) for name in _READING})
    values["truck_version_id"] = values.pop("version")
    values["replaces_id"] = values.pop("replaces")
    values["typed"] = None if row.typed is None else json.dumps(row.typed, ensure_ascii=False)
    return values
