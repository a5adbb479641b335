"""The truck file that the fields of a new truck make. Pure."""

from collections.abc import Mapping
from typing import Any

import tomlkit

from dashboard.truck_fields import Field, value
from dashboard.truck_parts import COILOVER, FIELDS, FRICTION, PAIRS, ROWS, kind_key
from tuning.tablelines import Path
from tuning.truck import END_NAMES
from tuning.units import System

Typed = Mapping[str, str]  # what stands in each field and choice, by its key

_OWN = {"leaf": ("spring", "travel"), "same": ("travel",), "coilover": (*COILOVER, "travel")}
_LIKE = _OWN["coilover"]  # what a rear as the front takes from it, unless it has ends of travel of its own


def system_of(typed: Typed) -> System:
    """The units that bare figures are in."""
    return "metric" if typed.get("units") == "metric" else "us"


def kinds_of(typed: Typed) -> dict[str, str]:
    """What stands between frame and axle, by end: a key of `KINDS`."""
    return {end: typed.get(kind_key(end)) or "coilover" for end in END_NAMES}


def written(typed: Typed) -> str:
    """A whole truck file, with a note where common practice stands in for a figure."""
    document = tomlkit.document()
    document.add(tomlkit.comment("Measured step by step. Quantities stand in quotes with their unit."))
    kinds, tables = kinds_of(typed), tables_of(typed, FIELDS)
    for end in END_NAMES:
        tables.setdefault(end, {})
        for part in {"spring", "travel", *COILOVER} & set(tables[end]):
            if part not in _OWN[kinds[end]]:  # what was typed before somebody chose another kind
                del tables[end][part]
    assumed = {end for end in END_NAMES if "friction" not in tables[end]}
    for end in END_NAMES:
        if kinds[end] == "same":
            tables[end] = {part: tables["front"][part] for part in _LIKE if part in tables["front"]} | tables[
                end
            ]
        tables[end].setdefault("friction", FRICTION["leaf" if kinds[end] == "leaf" else "coilover"])
    for key, held in tables.items():
        document.add(key, held)
        if key in assumed:
            document[key]["friction"].comment("common practice")
    left_out = [f"[{name}]" for name in ("noise", "practice") if name not in tables]
    if left_out:
        document.add(tomlkit.comment(f"Left out, so that common practice stands: {' and '.join(left_out)}."))
    return tomlkit.dumps(document)


def tables_of(typed: Typed, fields: tuple[Field, ...], start: int = 0) -> dict[str, Any]:
    """What the fields say as plain tables, the first keys of each path left off; what is empty is left out."""
    tables: dict[str, Any] = {}
    for field in fields:
        read = value(typed.get(field.key, ""), field, system_of(typed))
        if read is not None:
            _put(tables, field.path[start:], read)
    for field in fields:
        path = field.path[start:]
        if field.path[-2:-1] and field.path[-2] in PAIRS and field.path[-1] == 0:
            _pair(tables, path[:-1], fields, field)
        elif field.path[-3:-2] == ("cycle",) and isinstance(rows := _at(tables, path[:-2]), dict):
            _at(tables, path[:-3])["cycle"] = [rows[row] for row in sorted(rows, key=int)]
    return tables


def pair(texts: tuple[Any, Any], least: Field, most: Field) -> list[Any]:
    """Least and most as a file has them: common practice where one of them is left empty and has any."""
    usual = [value(field.usual, field, "us") for field in (least, most)]
    return [
        "" if held is None else held
        for held in (b if a is None else a for a, b in zip(texts, usual, strict=True))
    ]


def _pair(tables: dict[str, Any], path: Path, fields: tuple[Field, ...], least: Field) -> None:
    if isinstance(held := _at(tables, path), dict):
        most = next(field for field in fields if field.path == (*least.path[:-1], 1))
        _at(tables, path[:-1])[str(path[-1])] = pair((held.get("0"), held.get("1")), least, most)


def _at(tables: Any, path: Path) -> Any:
    for key in path:
        tables = tables.get(str(key)) if isinstance(tables, dict) else None
    return tables


def _put(tables: dict[str, Any], path: Path, read: Any) -> None:
    for key in path[:-1]:
        tables = tables.setdefault(str(key), {})
    tables[str(path[-1])] = read


def filled_rows(typed: Typed, key: str) -> list[int]:
    """Rows of a cycle table's fields, counted from 1, in which anything stands."""
    return [
        row
        for row in range(1, ROWS + 1)
        if any(typed.get(f"{key}[{row}].{half}", "").strip() for half in ("height", "shaft"))
    ]


def row_names(typed: Typed) -> dict[str, str]:
    """Names in the file by the fields they come from: empty rows are left out of it, and a rear that is as the front
    has the front's fields."""
    names = {}
    for end in END_NAMES:
        key = f"{end}.cycle"
        names |= {f"{key}[{place}]": f"{key}[{row}]" for place, row in enumerate(filled_rows(typed, key), 1)}
    if kinds_of(typed)["rear"] == "same":
        own = any(text.strip() for key, text in typed.items() if key.startswith("rear.travel"))
        names |= {f"rear.{part}": f"front.{part}" for part in _LIKE if not (part == "travel" and own)}
        names |= {
            name.replace("front", "rear", 1): key for name, key in names.items() if name.startswith("front.")
        }
    return names
