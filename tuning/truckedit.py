"""Changes to a truck file that keep its comments, its order and everything else."""

import tomllib
from collections.abc import Iterable
from typing import Any, cast

import tomlkit
from tomlkit.items import AoT, Array, Comment, InlineTable, Table

from .faults import Fault
from .findings import Measured, WalkRow
from .truck import END_NAMES, Truck
from .truckfile import TruckFileError, read_truck
from .units import System, UnitError, exact_text, parse, shop_length, unit_in
from .walk import Pairs, WalkError, cycle_table, in_truck


def with_walk(text: str, known: Iterable[WalkRow], new: Iterable[WalkRow]) -> tuple[str, tuple[str, ...]]:
    """A truck file as a walk leaves it, and the ends whose cycle table the walk put there.

    known, new: rows that were in the log before, and those that come now. Only an end that is measured anew can
    change: a table somebody wrote by hand since then stays.
    Raises WalkError where a new table does not check, by itself or with the rest of the file; TruckFileError where
    the file was no truck file before.
    """
    new = tuple(new)
    rows = (*known, *new)
    truck = read_truck(text)
    changed = []
    for end in END_NAMES:
        if not any(isinstance(row, Measured) and row.end == end for row in new):
            continue
        table = cycle_table(truck, end, rows)
        if table.pairs and not table.held_back and not in_truck(truck, end, table.pairs):
            text = with_cycle(text, end, table.pairs, truck.units)
            changed.append(end)
    if changed:
        _check(text, truck)
    return text, tuple(changed)


def _check(text: str, truck: Truck) -> None:
    try:
        read_truck(text)
    except TruckFileError as error:
        faults = [Fault(fault.where, fault.problem, fault.mend) for fault in error.faults]
        raise WalkError(f"{truck.name} with the cycle table of the walk", faults) from None


def with_cycle(text: str, end: str, pairs: Pairs, system: System) -> str:
    """A truck file with other rows in an end's cycle table.

    pairs: height and shaft (m), from bump to droop. Rows are filled in place, so a comment at the end of a line
    stays with its row; rows too many go, whole lines of comment in them stay.
    Raises WalkError where the file is written in a way that can't be changed without losing something.
    """
    wanted = [
        {"height": length_text(height, system), "shaft": length_text(shaft, system)}
        for height, shaft in pairs
    ]
    try:
        document = tomlkit.parse(text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n"))
        _fill(cast(Any, document)[end]["cycle"], wanted)  # [[front.cycle]], or cycle = [{ height = … }, …]
        changed = tomlkit.dumps(document)
        same = tomllib.loads(changed) == _expected(text, end, wanted)
    except (ValueError, LookupError, TypeError, AttributeError):
        same, changed = False, text
    if not same:
        lines = "; ".join(f'height = "{row["height"]}", shaft = "{row["shaft"]}"' for row in wanted)
        problem = "this file's cycle table can't be changed without losing something else in it"
        raise WalkError("truck file", [Fault(f"{end}.cycle", problem, f"Write by hand: {lines}")])
    return changed


def length_text(value: float, system: System) -> str:
    """A length as a truck file has it, exact to the last bit: as a tape shows it where that is what it is."""
    text = shop_length(value, system)
    try:
        exact = parse(text, "length") == value
    except UnitError:
        exact = False
    unit = unit_in("length", system)
    return text if exact else f"{exact_text(value, unit, 'length')} {unit}"


def _expected(text: str, end: str, wanted: list[dict[str, str]]) -> dict[str, Any]:
    document = tomllib.loads(text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n"))
    document[end]["cycle"] = wanted
    return document


def _fill(rows: AoT | Array, wanted: list[dict[str, str]]) -> None:
    """Rows are added and taken out before the last one: what stands after a table hangs on to its last row."""
    while len(rows) < len(wanted):
        row = tomlkit.table() if isinstance(rows, AoT) else tomlkit.inline_table()
        row.update({"height": "", "shaft": ""})
        rows.insert(len(rows) - 1, row)
    while len(rows) > len(wanted):
        kept = _lines_of_comment(rows[-2])
        del rows[len(rows) - 2]
        for item in kept:
            rows[max(len(rows) - 2, 0)].add(item)
    for row, values in zip(rows, wanted, strict=True):
        for key, value in values.items():
            row[key] = value


def _lines_of_comment(row: Table | InlineTable) -> list[Comment]:
    return [item for key, item in row.value.body if key is None and isinstance(item, Comment)]
