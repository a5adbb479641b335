"""Values of a truck file as fields of a form: what a field shows, and what of it goes into the file. Pure."""

import tomllib
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from tuning.faults import Fault
from tuning.tableedit import Path, Value
from tuning.units import Kind, System, UnitError, parse, unit_in


class Field(NamedTuple):
    """One key of the file. kind: of quantity; "" for words and choices."""

    path: Path
    label: str
    kind: Kind | str = ""
    help: str = ""

    @property
    def key(self) -> str:
        """Its path as errors have it."""
        text = ""
        for part in self.path:
            text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
        return text


def unit_of(field: Field, system: System) -> str:
    """The unit that a bare figure in this field is in."""
    if field.kind in ("", "number"):
        return ""
    return "%" if field.kind == "percent" else unit_in(field.kind, system)


def texts(toml: str, fields: Iterable[Field]) -> dict[str, str]:
    """What each field shows of a file: as somebody wrote it, empty where nothing is."""
    tables = tomllib.loads(toml)
    return {field.key: _text(tables, field.path) for field in fields}


def _text(tables: Any, path: Path) -> str:
    for key in path:
        try:
            tables = tables[key]
        except (KeyError, IndexError, TypeError):
            return ""
    return str(tables) if isinstance(tables, str | int | float) else ""


def values(
    typed: Mapping[str, str], before: Mapping[str, str], fields: Iterable[Field], system: System
) -> dict[Path, Value]:
    """What of the fields goes into the file: only what was changed, so that the rest stays as it was written."""
    return {
        field.path: value(typed[field.key], field, system)
        for field in fields
        if field.key in typed and typed[field.key].strip() != before.get(field.key, "").strip()
    }


def value(text: str, field: Field, system: System) -> Value:
    """A field as the file has it: with its unit, plain where there is none, None where it is empty.

    What can't be read is passed on as it is: the file's own checks say what is wrong with it.
    """
    text = " ".join(text.split())
    if not text or not field.kind:
        return text or None
    if field.kind in ("number", "percent"):
        try:
            return parse(text.removesuffix("%").strip(), "number")
        except UnitError:
            return text
    bare = not any(letter.isalpha() or letter in "\"'″′”’" for letter in text)
    return f"{text} {unit_of(field, system)}" if bare else text


def by_field(faults: Iterable[Fault], fields: Iterable[Field]) -> dict[str, str]:
    """What is wrong at each field, in one sentence; faults elsewhere are left out."""
    keys = {field.key for field in fields}
    found: dict[str, str] = {}
    for fault in faults:
        if fault.where in keys:
            found.setdefault(
                fault.where, " ".join(filter(None, (_sentence(fault.problem), _sentence(fault.mend))))
            )
    return found


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if not text or text.endswith(("?", ".")) else ".")


_PLACES = {
    "LF": "Left front",
    "RF": "Right front",
    "front": "Front, mean of both",
    "LR": "Left rear",
    "RR": "Right rear",
    "rear": "Rear, mean of both",
}
TARGETS = (
    *(Field(("target", key), label, "length") for key, label in _PLACES.items()),
    Field(("target", "cross_weight"), "Cross-weight", "percent"),
    Field(("target", "height_tolerance"), "Heights within", "length"),
    Field(("target", "cross_weight_tolerance"), "Cross-weight within", "percent"),
)
