"""A truck file shown in the fields of the form, and changed by them; what is not changed stays as it was. Pure."""

import tomllib
from collections.abc import Mapping
from typing import Any

from dashboard.truck_checks import At, placed
from dashboard.truck_fields import Field, text_at, value
from dashboard.truck_parts import (
    COILOVER,
    CYCLE_WALK,
    FIELDS,
    OTHER_STACKS,
    OWN,
    PAIRS,
    ROWS,
    STEPS,
    apart_key,
    kind_key,
    on_the_right,
)
from dashboard.truck_written import Typed, filled_rows, kinds_of, pair, system_of, tables_of
from tuning.faults import Fault, InputError
from tuning.tableedit import EditError, Value, value_at, with_values
from tuning.tablelines import Path
from tuning.truck import END_NAMES, SIDES
from tuning.truckfile import read_truck

APART = {
    (group.part, step.end): tuple(on_the_right(field) for field in group.fields)
    for step in STEPS
    for group in step.groups
    if group.part
}  # the right corner's own fields
_PLAIN = tuple(
    field for field in FIELDS if field.path[1:2] != ("spring",) and field.path[1:2] not in {(p,) for p in OWN}
)
_STACKS = tuple(group.fields for group in OTHER_STACKS.groups)
_WALK = CYCLE_WALK.groups[0].fields
ALL_FIELDS = (
    *FIELDS,
    *_WALK,
    *(field for fields in _STACKS for field in fields),
    *(field for fields in APART.values() for field in fields),
)
_YES = "yes"


def shown(toml: str) -> dict[str, str]:
    """What each field and choice shows of a truck file. Where both sides are alike, the right one's show the same."""
    tables = tomllib.loads(toml)
    typed = {field.key: text_at(tables, _in_file(tables, field)) for field in ALL_FIELDS}
    for end in END_NAMES:
        typed[kind_key(end)] = "leaf" if "spring" in tables.get(end, {}) else "coilover"
        typed |= {apart_key(end, part): _YES if _owners(tables, end, part) else "" for part in OWN}
    return typed


def edited(toml: str, typed: Typed) -> str:
    """The truck file with what was typed, as far as it differs. Raises EditError where the file can't be changed."""
    return with_values(toml, changes(toml, shown(toml) | typed))


def edit_faults(toml: str, typed: Typed) -> tuple[At, tuple[Fault, ...]]:
    """What would be wrong at each field, and what belongs to none."""
    typed = shown(toml) | typed
    try:
        read_truck(edited(toml, typed))
    except EditError as error:
        return {}, error.faults
    except InputError as error:
        return placed(error.faults, typed, ALL_FIELDS, _names(toml, typed), strict=True)
    return {}, ()


# ---------------------------------------------------------------- where a part of an end stands in the file


def _owners(tables: Any, end: str, part: str) -> list[str]:
    """Corners of an end that have this part for themselves."""
    return [corner for corner in SIDES[end] if part in tables.get("corner", {}).get(corner, {})]


def _places(tables: Any, end: str, part: str, apart: bool) -> tuple[Path, Path]:
    """Tables of the left (or both) and of the right, as the file has them or would have them."""
    left, right = SIDES[end]
    owners = _owners(tables, end, part)
    of_end: Path = (end, part)
    if not apart:
        return of_end, of_end
    return (
        ("corner", left, part) if left in owners else of_end,
        of_end if owners == [left] else ("corner", right, part),
    )


def _in_file(tables: Any, field: Field) -> Path:
    """The path that a field's text is shown from."""
    if field.path[0] == "corner":
        corner, part, *rest = field.path[1:]
        end = next(name for name in END_NAMES if corner in SIDES[name])
    elif len(field.path) > 2 and field.path[1] in OWN:
        end, part, *rest = field.path
    else:
        return field.path
    here = _places(tables, str(end), str(part), bool(_owners(tables, str(end), str(part))))
    return (*here[field.path[0] == "corner"], *rest)


# ---------------------------------------------------------------- what changes


def changes(toml: str, typed: Typed) -> dict[Path, Value]:
    """Keys of the file and what they shall say. typed: every field and choice."""
    tables = tomllib.loads(toml)
    kinds, found = kinds_of(typed), dict[Path, Value]()
    found |= _table(tables, (), (*_PLAIN, *_WALK), 0, typed)
    for place, fields in enumerate(_STACKS):
        wanted = fields if any(typed[field.key].strip() for field in fields) else ()
        found |= _table(tables, ("stacks", place), wanted, 2, typed)
    for end in END_NAMES:
        spring = tuple(field for field in FIELDS if field.path[:2] == (end, "spring"))
        leaf = kinds[end] == "leaf"
        found |= _table(tables, (end, "spring"), spring if leaf else (), 2, typed)
        for part in OWN:
            found |= _part(tables, end, part, typed, there=not leaf or part not in COILOVER)
    return found


def _part(tables: Any, end: str, part: str, typed: Typed, there: bool) -> dict[Path, Value]:
    """One part of an end: for both sides, or for each."""
    of_end = tuple(field for field in FIELDS if field.path[:2] == (end, part))
    apart = there and bool(typed[apart_key(end, part)])
    left, right = _places(tables, end, part, apart)
    wanted = {left: (of_end, 2), **({right: (APART[part, end], 3)} if apart else {})} if there else {}
    found: dict[Path, Value] = {}
    for path in ((end, part), *(("corner", corner, part) for corner in SIDES[end])):
        if path in wanted:
            found |= _table(tables, path, *wanted[path], typed)
        elif not (apart and path == (end, part)):  # an end's own stays, though each corner has another
            found |= {path: None}
    return found


def _table(tables: Any, path: Path, fields: tuple[Field, ...], start: int, typed: Typed) -> dict[Path, Value]:
    """What changes in one table. start: how many keys lead to it in its fields' paths."""
    held = value_at(tables, path)
    if held is None or not fields:
        rows = tables_of(typed, fields, start - 1).get(str(path[-1]), {}) if path and fields else None
        if isinstance(rows, list):
            return {(*path, row): held for row, held in enumerate(rows)}
        return {path: rows or None}
    found: dict[Path, Value] = {}
    for field in fields:
        at = (*path, *field.path[start:])
        if typed[field.key].strip() == text_at(tables, at).strip():
            continue
        if field.path[-2:-1] and field.path[-2] in PAIRS:
            found |= _pair(tables, at[:-1], field, fields, typed)
        else:
            found[at] = value(typed[field.key], field, system_of(typed))
    return _whole_rows(found, held, path) if isinstance(held, list) else found


def _pair(tables: Any, at: Path, field: Field, fields: tuple[Field, ...], typed: Typed) -> dict[Path, Value]:
    """Least and most go together: an end that is not touched stays as it was written."""
    least, most = (next(f for f in fields if f.path == (*field.path[:-1], side)) for side in (0, 1))
    texts = [value(typed[one.key], one, system_of(typed)) for one in (least, most)]
    if texts == [None, None]:
        return {at: None}
    both = pair((texts[0], texts[1]), least, most)
    if value_at(tables, at) is None:
        return {at: both}
    changed = [
        typed[one.key].strip() != text_at(tables, (*at, side)).strip()
        for side, one in enumerate((least, most))
    ]
    return {(*at, side): both[side] for side in (0, 1) if changed[side]}


def _whole_rows(found: dict[Path, Value], held: list[Any], path: Path) -> dict[Path, Value]:
    """Rows of a cycle table: one that is left empty goes, one that is new comes whole."""
    rows: dict[Path, dict[str, Value]] = {}
    for at, text in found.items():
        rows.setdefault(at[:-1], {})[str(at[-1])] = text
    whole: dict[Path, Value] = {}
    new = len(held)
    for at, keys in rows.items():
        row = at[-1]
        if isinstance(row, int) and row < len(held):
            gone = all(keys.get(key, text) is None for key, text in held[row].items())
            whole |= {at: None} if gone else {(*at, key): text for key, text in keys.items()}
        elif any(text is not None for text in keys.values()):
            whole[(*path, new)] = {key: text for key, text in keys.items() if text is not None}
            new += 1
    return whole


def _names(toml: str, typed: Typed) -> Mapping[str, str]:
    """Names in the changed file by the fields they come from."""
    tables = tomllib.loads(toml)
    filled = [n for n, fields in enumerate(_STACKS, 1) if any(typed[field.key].strip() for field in fields)]
    names = {f"stacks[{place}]": f"stacks[{n}]" for place, n in enumerate(filled, 1)}
    for end in END_NAMES:
        for part in OWN:
            apart = bool(typed[apart_key(end, part)])
            left, right = _places(tables, end, part, apart)
            for path, slot in {
                left: (end, part),
                **({right: ("corner", SIDES[end][1], part)} if apart else {}),
            }.items():
                at, key = ".".join(map(str, path)), ".".join(map(str, slot))
                names[at] = key
                if part == "cycle":
                    names |= _row_names(at, key, len(value_at(tables, path) or ()), typed)
    return names


def _row_names(at: str, key: str, before: int, typed: Typed) -> dict[str, str]:
    filled = filled_rows(typed, key)
    there = [
        *(r for r in range(1, before + 1) if r in filled or r > ROWS),
        *(r for r in filled if r > before),
    ]
    return {f"{at}[{place}]": f"{key}[{row}]" for place, row in enumerate(there, 1)}
