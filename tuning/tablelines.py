"""Where the tables of a TOML file stand in its text: lines put in and taken out there, every comment left alone.

A help for files as people write them, not a second parser: who uses it reads back what came of it.
"""

import re
from collections.abc import Mapping
from typing import Any, NamedTuple

import tomlkit

Path = tuple[str | int, ...]

_HEADER = re.compile(r"\s*(\[\[?)\s*([\w\-]+(?:\s*\.\s*[\w\-]+)*)\s*\]\]?\s*(?:#.*)?", re.ASCII)


class _Section(NamedTuple):
    """path: rows of a list of tables counted from 0. Lines from its header to before the next one."""

    path: Path
    begin: int
    end: int


def has_header(text: str, path: Path) -> bool:
    """Whether a table has a header of its own, or is all that stands above the first one."""
    return not path or any(one.path == path for one in _sections(text.split("\n")))


def with_key(text: str, path: Path, value: Any) -> str:
    """A new key after the last one of its table, which has a header."""
    lines = text.split("\n")
    section = next(one for one in _sections(lines) if one.path == path[:-1])
    lines.insert(_last_key(lines, section) + 1, f"{path[-1]} = {written(value)}")
    return "\n".join(lines)


def with_table(text: str, path: Path, values: Mapping[str, Any]) -> str:
    """A new table, or a new row of a list of tables, after those that it goes with; else at the end."""
    lines = text.rstrip().split("\n")
    row = isinstance(path[-1], int)
    name = ".".join(str(key) for key in path if isinstance(key, str))
    block = [f"[[{name}]]" if row else f"[{name}]", *(f"{key} = {written(v)}" for key, v in values.items())]
    kin = _kin(_sections(lines), path)
    joins = row and kin is not None and kin.path[:-1] == path[:-1]
    place = len(lines) if kin is None else _last_key(lines, kin) + 1
    after = [] if place == len(lines) or not lines[place].strip() or joins else [""]
    lines[place:place] = [*([] if joins else [""]), *block, *after]
    return "\n".join(lines).rstrip() + "\n"


def without_table(text: str, path: Path) -> str:
    """A table with its header, all in it and under it taken out; whole lines of comment stay."""
    lines = text.split("\n")
    for section in reversed(_sections(lines)):
        if section.path[: len(path)] != path or not path:
            continue
        last = _last_key(lines, section)
        kept = [line for line in lines[section.begin : last + 1] if line.lstrip().startswith("#")]
        tail = lines[last + 1 : section.end]
        before = lines[: section.begin]
        while tail and not kept and not tail[0].strip() and (not before or not before[-1].strip()):
            tail = tail[1:]
        lines = [*before, *kept, *tail, *lines[section.end :]]
    return "\n".join(lines).rstrip() + "\n"


def written(value: Any) -> str:
    """A value as TOML has it, a table in one line."""
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{key} = {written(held)}' for key, held in value.items())} }}"
    return str(tomlkit.item(value).as_string())


def _sections(lines: list[str]) -> list[_Section]:
    begun: list[tuple[Path, int]] = [((), 0)]
    counts: dict[tuple[str, ...], int] = {}
    for number, line in enumerate(lines):
        if not (header := _HEADER.fullmatch(line)):
            continue
        names = tuple(part.strip() for part in header[2].split("."))
        if header[1] == "[[":
            counts[names] = counts.get(names, -1) + 1
            begun.append(((*names, counts[names]), number))
        else:
            begun.append((_within(names, counts), number))
    ends = [*(number for _, number in begun[1:]), len(lines)]
    return [_Section(path, number, end) for (path, number), end in zip(begun, ends, strict=True)]


def _within(names: tuple[str, ...], counts: dict[tuple[str, ...], int]) -> Path:
    """`stacks.upper` under the latest row of `[[stacks]]`."""
    path: list[str | int] = []
    for length, name in enumerate(names, 1):
        path.append(name)
        if length < len(names) and names[:length] in counts:
            path.append(counts[names[:length]])
    return tuple(path)


def _kin(sections: list[_Section], path: Path) -> _Section | None:
    """The last table that begins as this one does, as far as possible."""
    for length in range(len(path) - 1, 0, -1):
        if found := [one for one in sections if one.path[:length] == path[:length]]:
            return found[-1]
    return None


def _last_key(lines: list[str], section: _Section) -> int:
    """The last line of a table that is neither empty nor a comment: its header, where it has no key."""
    for number in range(section.end - 1, section.begin, -1):
        if lines[number].strip() and not lines[number].lstrip().startswith("#"):
            return number
    return (
        section.begin
        if section.path or section.end == 0
        else section.begin - (not lines[section.begin].strip())
    )
