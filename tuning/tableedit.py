"""Keys set, changed and taken out in a truck file that keeps its comments, its order and everything else."""

import math
import tomllib
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import tomlkit

from .faults import Fault, InputError
from .tablelines import Path, has_header, with_key, with_table, without_table
from .truck import END_NAMES
from .trucktables import clean_name

Value = str | float | list[str | float] | Mapping[str, Any] | None

MOST_BLOCK = 4_000  # characters of one or a few stacks; a full one has about two hundred


class EditError(InputError):
    """A change that can't be made without losing something; `faults` says what to write by hand."""


def with_values(text: str, values: Mapping[Path, Value]) -> str:
    """A truck file with other values at these keys. None takes a key, a table or a row out; a table stands for a new
    one. What is new comes after what it goes with.

    What says the same already is left as it was typed. An empty table that a key leaves behind goes too.
    Rows of a list are counted as they are before, new ones go on from there.
    Raises EditError where the file is no TOML, or is written so that nothing but these keys could not be kept.
    """
    plain, _ = _both(text)
    wanted = {path: value for path, value in values.items() if value_at(plain, path) != value}
    changed = _changed(_plain(text), wanted)
    if changed is not None:
        return changed
    path, value = next(
        ((p, v) for p, v in wanted.items() if _changed(_plain(text), {p: v}) is None), (("",), None)
    )
    problem = "can't be changed here without losing something else in the file"
    mend = f"Write it by hand: {path[-1]} = {value!r}" if value is not None else "Change it by hand"
    raise EditError("truck file", [Fault(".".join(map(str, path)), problem, mend)])


def _changed(text: str, values: Mapping[Path, Value]) -> str | None:
    """The text with all of these, read back; None where it does not say just that."""
    try:
        wanted = tomllib.loads(text)
        gone = []
        for path, value in _in_order(values):
            if value is None:
                gone.append(_vanishing(wanted, path))
                _take_out(wanted, gone[-1])
            else:
                text = _with_value(text, wanted, path, value)
                _put(wanted, path, value)
        for path in gone:
            text = _without(text, path)
        return text if tomllib.loads(text) == wanted else None
    except (ValueError, LookupError, TypeError, AttributeError):
        return None


def _in_order(values: Mapping[Path, Value]) -> list[tuple[Path, Value]]:
    """What stays or comes first, then keys that go, then rows, from the last one: none moves before its turn."""
    stay = [(path, value) for path, value in values.items() if value is not None]
    go = sorted(((p, v) for p, v in values.items() if v is None), key=lambda one: -_row(one[0]))
    return [*stay, *go]


def _row(path: Path) -> float:
    return path[-1] if isinstance(path[-1], int) else math.inf


def _with_value(text: str, now: dict[str, Any], path: Path, value: Value) -> str:
    """One key in the text of a file that reads as `now`."""
    if value_at(now, path) is not None or not _has_place(text, now, path, value):
        document = tomlkit.parse(text)
        _put(document, path, value)
        return tomlkit.dumps(document)
    home = _home(path, value)
    if isinstance(path[-1], int) and isinstance(value, Mapping):
        return with_table(text, path, value)
    if value_at(now, home) is None:
        return with_table(text, home, _nested(path[len(home) :], value))
    inner = next(n for n in range(len(home), len(path)) if value_at(now, path[: n + 1]) is None)
    return with_key(text, path[: inner + 1], _nested(path[inner + 1 :], value))


def _has_place(text: str, now: dict[str, Any], path: Path, value: Value) -> bool:
    """Whether a new key can be written as a line of its own."""
    if isinstance(path[-1], int):
        return path[-1] == 0 or has_header(text, (*path[:-1], 0))
    there = max(n for n in range(len(path)) if value_at(now, path[:n]) is not None)
    return there < len(_home(path, value)) or has_header(text, path[:there])


def _home(path: Path, value: Value) -> Path:
    """The table with a header that a key belongs in: [corner.RF.shock], [front.shock], [noise]."""
    table = path if isinstance(value, Mapping) else path[:-1]
    return table[: 3 if path[0] == "corner" else 2 if path[0] in END_NAMES else 1]


def _nested(path: Path, value: Any) -> Any:
    for key in reversed(path):
        value = {str(key): value}
    return value


def _vanishing(tables: dict[str, Any], path: Path) -> Path:
    """What goes with a key: tables and lists that would be left empty."""
    while len(path) > 1 and len(value_at(tables, path[:-1]) or ()) <= 1:
        path = path[:-1]
    return path


def _without(text: str, path: Path) -> str:
    if any(has_header(text, (*path, *more)) for more in ((), (0,))):
        return without_table(text, path)
    document = tomlkit.parse(text)
    _take_out(document, path)
    return tomlkit.dumps(document)


def with_stacks(text: str, block: str) -> str:
    """A truck file with more stacks: `block` is one or a few [[stacks]] tables, put after what is there.

    Raises EditError where the block is too long, or holds anything but [[stacks]].
    """
    block = _plain(block).strip()
    mend = 'Begin with [[stacks]], then name = "…" and lower = { rate = "300 lbf/in" } with the true figures'
    if len(block) > MOST_BLOCK:
        problem = f"more than {MOST_BLOCK} characters"
        raise EditError("stack", [Fault("", problem, "Add a few stacks at a time")])
    _, document = _both(text)
    found, _ = _both(block, "stack")
    rows = found.get("stacks")
    if set(found) != {"stacks"} or not isinstance(rows, list) or not rows:
        raise EditError("stack", [Fault("", "not a stack as a truck file has it", mend)])
    if isinstance(document.get("stacks"), list) and not isinstance(document["stacks"], tomlkit.items.AoT):
        problem = "this file has its stacks in one list"
        raise EditError("truck file", [Fault("stacks", problem, "Write each as [[stacks]]")])
    return f"{_plain(text).rstrip()}\n\n{block}\n"


def named(text: str) -> str:
    """The name that a truck file gives its truck. Raises EditError where it gives none."""
    found, _ = _both(text)
    try:
        return clean_name(found.get("name"))
    except ValueError:
        raise EditError("truck file", [Fault("name", "missing", 'Write name = "Night shift"')]) from None


def _plain(text: str) -> str:
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")


def _both(text: str, file: str = "truck file") -> tuple[dict[str, Any], Any]:
    """A text as plain tables, and as a document that keeps its comments."""
    try:
        return tomllib.loads(_plain(text)), tomlkit.parse(_plain(text))
    except (ValueError, RecursionError) as error:
        said = str(error).replace("\n", " ")[:120]
        raise EditError(file, [Fault("", f"not readable as TOML ({said})", "Mend it first")]) from None


def value_at(tables: Any, path: Path) -> Any:
    """What stands at a path in plain tables or in a document; None where nothing does."""
    for key in path:
        if isinstance(tables, dict):
            tables = tables.get(str(key))
        elif isinstance(tables, list) and isinstance(key, int) and key < len(tables):
            tables = tables[key]
        else:
            return None
    return tables


def _put(tables: Any, path: Path, value: Any) -> None:
    """Set one key in plain tables or in a document; tables and lists that are missing come too."""
    kept = isinstance(tables, tomlkit.TOMLDocument)
    for key, then in pairwise(path):
        if isinstance(key, str) and key not in tables:
            tables[key] = [] if isinstance(then, int) else tomlkit.table() if kept else {}
        tables = tables[key]
    if isinstance(path[-1], int) and path[-1] == len(tables):
        tables.append(value)
    else:
        tables[path[-1]] = value


def _take_out(tables: Any, path: Path) -> None:
    """Take one key out of plain tables or of a document, where it is there."""
    for key in path[:-1]:
        tables = tables[key]
    tables.pop(path[-1])
