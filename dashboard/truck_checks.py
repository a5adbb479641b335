"""What is wrong with what is typed, said at its field. The checks are the truck file's own. Pure."""

import re
from collections.abc import Iterable, Mapping

from dashboard.truck_fields import Field
from dashboard.truck_parts import FIELDS
from dashboard.truck_written import Typed, row_names, written
from tuning.faults import Fault, InputError
from tuning.truckfile import read_truck

At = dict[str, str]  # a sentence at each field that has one, by the field's key

_LABELS = {str(field.path[-1]): field.label for field in FIELDS if "_" in str(field.path[-1])}
_KEY = re.compile(r"\b[a-z]+(?:_[a-z]+)+\b")
_SAID = re.compile(r'(?<![\w.])([a-z]\w*) = "?([^",]+)"?')


def new_faults(typed: Typed, strict: bool) -> tuple[At, tuple[Fault, ...]]:
    """A new truck: what is wrong at each field, and what belongs to none. strict: also what is not filled in yet."""
    return checked(written(typed), typed, FIELDS, row_names(typed), strict)


def checked(
    text: str, typed: Typed, fields: Iterable[Field], names: Mapping[str, str], strict: bool
) -> tuple[At, tuple[Fault, ...]]:
    """A truck file's faults at the fields it came from. names: what of the file the form calls otherwise."""
    try:
        read_truck(text)
    except InputError as error:
        return placed(error.faults, typed, fields, names, strict)
    return {}, ()


def placed(
    found: Iterable[Fault], typed: Typed, fields: Iterable[Field], names: Mapping[str, str], strict: bool
) -> tuple[At, tuple[Fault, ...]]:
    """Faults at their fields, and those that have none."""
    at: At = {}
    homeless: list[Fault] = []
    keys = [field.key for field in fields]
    for fault in found:
        where = _in_form(fault.where, names)
        key = (
            where
            if where in keys
            else next((k for k in keys if k.startswith((f"{where}[", f"{where}."))), None)
        )
        if key is None or not where:
            homeless.append(fault)
        elif strict or typed.get(key, "").strip() or _beside(key, typed):
            at.setdefault(key, _rows_by_their_fields(in_words(fault), fault.where, names))
    return at, tuple(homeless)


def _beside(key: str, typed: Typed) -> bool:
    """An empty field is told of, where the other half of its row or pair is filled."""
    if key.endswith((".height", ".shaft")):
        table = key.rpartition(".")[0]
        return any(typed.get(f"{table}.{half}", "").strip() for half in ("height", "shaft"))
    return key.endswith("]") and any(typed.get(f"{key[:-3]}[{half}]", "").strip() for half in (1, 2))


def _in_form(where: str, names: Mapping[str, str]) -> str:
    for name in sorted(names, key=len, reverse=True):
        if where == name or where.startswith((f"{name}.", f"{name}[")):
            return names[name] + where[len(name) :]
    return where


def _rows_by_their_fields(text: str, where: str, names: Mapping[str, str]) -> str:
    """The file counts its positions; the form has a number at each row."""
    table = where.partition("[")[0]

    def row(position: re.Match[str]) -> str:
        field = names.get(f"{table}[{position[1]}]", "")
        return f"row {field.rpartition('[')[2].rstrip(']')}" if field else position[0]

    return re.sub(r"position (\d+)", row, text)


def in_words(fault: Fault) -> str:
    """A fault as a form says it: labels where the file has keys, and no signs of its own."""
    if fault.problem == "missing":
        example = re.search(r'= "?([^"]+?)"?(?: with|,|$)', fault.mend)
        return f"Not filled in yet. Such as {example[1]}." if example else "Not filled in yet."
    return " ".join(_sentence(_plain(part)) for part in (fault.problem, fault.mend) if part)


def _plain(text: str) -> str:
    text = _SAID.sub(lambda said: f"{_label(said[1])} {said[2]}", text)
    return _KEY.sub(lambda key: _label(key[0]), text)


def _label(key: str) -> str:
    return f"“{_LABELS[key]}”" if key in _LABELS else key


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(("?", ".")) else ".")
