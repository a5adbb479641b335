"""Keys set, changed and taken out in a truck file that keeps its comments, its order and everything else."""

import tomllib
from collections.abc import Mapping
from typing import Any

import tomlkit

from .faults import Fault, InputError
from .trucktables import clean_name

Path = tuple[str | int, ...]
Value = str | float | list[str] | None

MOST_BLOCK = 4_000  # characters of one or a few stacks; a full one has about two hundred


class EditError(InputError):
    """A change that can't be made without losing something; `faults` says what to write by hand."""


def with_values(text: str, values: Mapping[Path, Value]) -> str:
    """A truck file with other values at these keys. None takes a key out; a table that is missing is put at the end.

    What says the same already is left as it was typed. An empty table that a key leaves behind goes too.
    Raises EditError where the file is no TOML, or is written so that nothing but these keys could not be kept.
    """
    plain, document = _both(text)
    wanted = tomllib.loads(_plain(text))
    for path, value in values.items():
        if _at(plain, path) == value:
            continue
        try:
            _set(document, path, value)
            _set(wanted, path, value)
            changed = tomlkit.dumps(document)
            same = tomllib.loads(changed) == wanted
        except (ValueError, LookupError, TypeError, AttributeError):
            same = False
        if not same:
            said = ".".join(map(str, path))
            problem = "can't be changed here without losing something else in the file"
            raise EditError("truck file", [Fault(said, problem, f"Write it by hand: {path[-1]} = {value!r}")])
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


def _at(tables: Any, path: Path) -> Any:
    for key in path:
        if isinstance(tables, dict):
            tables = tables.get(str(key))
        elif isinstance(tables, list) and isinstance(key, int) and key < len(tables):
            tables = tables[key]
        else:
            return None
    return tables


def _set(tables: Any, path: Path, value: Value) -> None:
    """Set one key, or take it out, in plain tables and in a document alike."""
    kept = not isinstance(tables, tomlkit.TOMLDocument)
    parents = [tables]
    for key in path[:-1]:
        if isinstance(key, str) and key not in parents[-1]:
            if value is None:
                return
            parents[-1][key] = {} if kept else tomlkit.table()
        parents.append(parents[-1][key])
    if value is None:
        parents[-1].pop(path[-1], None)
    else:
        parents[-1][path[-1]] = value
    for parent, key in zip(parents[-2::-1], path[-2::-1], strict=True):
        if isinstance(parent, dict) and isinstance(parent[key], dict) and not parent[key]:
            del parent[key]
