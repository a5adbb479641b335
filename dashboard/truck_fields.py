"""Values of a truck file as fields of a form: what a field shows, and what of it goes into the file. Pure."""

import tomllib
from collections.abc import Iterable
from typing import Any, NamedTuple

from tuning.tableedit import Value
from tuning.tablelines import Path
from tuning.units import Kind, System, UnitError, parse, unit_in


class Field(NamedTuple):
    """One key of the file. kind: of quantity; "" for words and choices, `places` for a list. dim: what in the drawing
    it names; usual: what stands where it is left empty, by common practice; choices: the words it may be."""

    path: Path
    label: str
    kind: Kind | str = ""
    help: str = ""
    dim: str = ""
    usual: str = ""
    choices: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """Its path as errors have it."""
        text = ""
        for part in self.path:
            text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
        return text


def unit_of(field: Field, system: System) -> str:
    """The unit that a bare figure in this field is in."""
    if field.kind in ("", "number", "places"):
        return ""
    return "%" if field.kind == "percent" else unit_in(field.kind, system)


def texts(toml: str, fields: Iterable[Field]) -> dict[str, str]:
    """What each field shows of a file: as somebody wrote it, empty where nothing is."""
    tables = tomllib.loads(toml)
    return {field.key: text_at(tables, field.path) for field in fields}


def text_at(tables: Any, path: Path) -> str:
    """What a file says at one key, as a field shows it."""
    for key in path:
        try:
            tables = tables[key]
        except (KeyError, IndexError, TypeError):
            return ""
    if isinstance(tables, list) and all(isinstance(one, str) for one in tables):
        return ", ".join(tables)
    return str(tables) if isinstance(tables, str | int | float) else ""


def value(text: str, field: Field, system: System) -> Value:
    """A field as the file has it: with its unit, plain where there is none, None where it is empty.

    What can't be read is passed on as it is: the file's own checks say what is wrong with it.
    """
    text = " ".join(text.split())
    if not text or not field.kind:
        return text or None
    if field.kind == "places":
        return [place.strip() for place in text.split(",") if place.strip()]
    if field.kind in ("number", "percent"):
        try:
            return parse(text.removesuffix("%").strip(), "number")
        except UnitError:
            return text
    bare = not any(letter.isalpha() or letter in "\"'″′”’" for letter in text)
    return f"{text} {unit_of(field, system)}" if bare else text
