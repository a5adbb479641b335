"""A cycle walk as CSV: one row for each place looked at, one for each position where height and shaft were measured."""

from collections.abc import Iterable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from tuning.faults import Fault, nearest
from tuning.findings import (
    LEVEL,
    LOOKED_AT,
    POSITIONS,
    RESULTS,
    STEERING,
    Finding,
    Measured,
    WalkRow,
    measured_at,
)
from tuning.log.table import (
    Bad,
    Column,
    Layout,
    Limits,
    Row,
    by_line,
    escaped,
    faults_of,
    file_text,
    quantity,
    read_table,
    table_text,
    text_in,
    time_in,
    values_of,
)
from tuning.truck import END_NAMES, Truck
from tuning.units import Kind, exact_text, shown, unit_in
from tuning.walk import WalkError, cycle_faults

MAX_BYTES = 5_000_000

_QUANTITIES: dict[str, Kind] = {"clearance": "length", "height": "length", "shaft": "length"}
_REQUIRED = ("end", "position", "steering", "place", "result")
_COLUMNS = (
    *("end", "position", "steering", "place", "clearance", "result", "note", "photo", "height", "shaft"),
    *("taken_at", "by"),
)
_LIMITS = {  # beyond these it is a slip of the pen, whatever the truck
    "clearance": Limits(0.0, 1.0, "Write what is between the two, up to 1 m"),
    "height": Limits(0.001, 2.0, "Write a height above zero and below 2 m"),
    "shaft": Limits(-0.00635, 1.6, "Write the shaft showing, up to 1.6 m"),
}
_TOUCHES = 1e-6  # m: less than this between two things is contact


def _layout(truck: Truck) -> Layout:
    return Layout(_COLUMNS, _REQUIRED, _QUANTITIES, WalkError, truck.units)


def read_walk_file(path: str | Path, truck: Truck) -> tuple[WalkRow, ...]:
    """The walk in a file. Raises WalkError, also where it can't be opened or is not UTF-8."""
    path = Path(path)
    return read_walk(file_text(path, WalkError, MAX_BYTES, "Split it by end"), truck, path.name)


def read_walk(text: str, truck: Truck, name: str = "walk.csv") -> tuple[WalkRow, ...]:
    """The walk in a CSV text, in file order.

    `name` is the file's name in errors. Raises WalkError with every fault, all or nothing: header, cells, then
    what rows must agree on.
    """
    faults: list[Fault] = []
    table = read_table(text, _layout(truck), name, faults)
    if table is None:
        raise WalkError(name, [Fault("", "no rows", f"Start with the header {_layout(truck).header}")])
    units, rows = table
    columns = _columns(units)
    lined = [(row.line, read) for row in rows if (read := _walk_row(row, columns, truck, faults))]
    faults += _doubles(lined)
    if not faults:
        faults += _cycle_faults(lined, truck)
    if not lined and not faults:
        faults = [Fault("", "a header and no findings", "Add a row for each place looked at")]
    if faults:
        raise WalkError(name, by_line(faults))
    return tuple(row for _, row in lined)


# ---------------------------------------------------------------- cells


def _columns(units: dict[str, str]) -> dict[str, Column]:
    return {
        "end": Column(partial(_word, END_NAMES, "end")),
        "position": Column(partial(_word, POSITIONS, "position of the axle")),
        "steering": Column(partial(_word, ("", *STEERING["front"]), "way to steer")),
        "place": Column(_plain),
        "result": Column(partial(_word, ("", *RESULTS), "result")),
        "note": Column(_note),
        "photo": Column(_photo),
        "taken_at": Column(lambda text: time_in(text) if text.strip() else None),
        "by": Column(_plain),
        **{
            column: Column(partial(_length, column, unit))
            for column, unit in units.items()
            if column in _QUANTITIES
        },
    }


def _word(known: tuple[str, ...], what: str, text: str) -> str | Bad:
    word = " ".join(text.lower().split())
    if word in known:
        return word
    allowed = [name for name in known if name]
    meant = nearest(word, allowed)
    mend = f"Did you mean {meant}?" if meant else f"Write {', '.join(allowed[:-1])} or {allowed[-1]}"
    return Bad(f'"{shown(text)}" is no {what}', mend)


def _length(column: str, unit: str, text: str) -> float | Bad | None:
    return quantity(text, "length", unit, _LIMITS[column])


def _plain(text: str) -> str | Bad:
    """A name on one line, or nothing."""
    read = text_in(text)
    if isinstance(read, Bad):
        return read
    name = " ".join(read.split())
    if len(name) > 80 or not name.isprintable():
        return Bad(f'"{shown(text)}" is not a name', "Write up to 80 printable characters")
    return name


def _note(text: str) -> str | Bad:
    read = text_in(text)
    return read if isinstance(read, Bad) else read.strip()


def _photo(text: str) -> str | Bad:
    name = _plain(text)
    if isinstance(name, Bad) or not set(name) & set('/\\:*?"<>|'):
        return name
    return Bad(
        f'"{shown(text)}" is not a file\'s name', "Write the photo's file name alone, without its folder"
    )


def _walk_row(row: Row, columns: dict[str, Column], truck: Truck, faults: list[Fault]) -> WalkRow | None:
    """One row; None, and its faults entered, where a cell is bad."""
    values, bad = values_of(row, columns)
    values = dict.fromkeys(_QUANTITIES) | {"note": "", "photo": "", "taken_at": None, "by": ""} | values
    if not bad:
        bad = _finding_faults(values, truck) if values["place"] else _measured_faults(values)
    if bad:
        faults += faults_of(row, bad)
        return None
    kept = {name: values[name] for name in ("end", "position", "note", "photo", "taken_at", "by")}
    if not values["place"]:
        return Measured(height=values["height"], shaft=values["shaft"], **kept)
    found = {name: values[name] for name in ("steering", "place", "result", "clearance")}
    return Finding(**kept, **found)


def _finding_faults(values: dict[str, Any], truck: Truck) -> dict[str, Bad]:
    """What a row with a place must agree on. Puts the place's name as the truck file has it."""
    end, position, result, clearance = (values[key] for key in ("end", "position", "result", "clearance"))
    bad = _steering_faults(end, values["steering"], STEERING[end])
    if position not in LOOKED_AT:
        mend = f"Places are looked at at {', '.join(LOOKED_AT)}; leave place empty to give height and shaft"
        bad["position"] = Bad(f'"{position}" is only for height and shaft', mend)
    known = {place.lower(): place for place in truck.walk.places(end)}
    if values["place"].lower() in known:
        values["place"] = known[values["place"].lower()]
    else:
        meant = nearest(values["place"], known.values())
        mend = f'Did you mean "{meant}"?' if meant else f"Add it to {end} under [walk] in the truck file"
        bad["place"] = Bad(f'"{shown(values["place"])}" is no place of the {end}', mend)
    if not result:
        bad["result"] = Bad("empty", "Write pass, contact, or open to have it looked at again")
    elif result == "open" and clearance is not None:
        bad["clearance"] = Bad("a clearance where nothing was looked at", "Leave it out, or write pass")
    elif clearance is not None and (clearance < _TOUCHES) != (result == "contact"):
        what = "no clearance is contact" if result == "pass" else "with contact there is no clearance"
        bad["clearance"] = Bad(what, "See which is wrong, the clearance or the result")
    for column in ("height", "shaft"):
        if values[column] is not None:
            bad[column] = Bad("belongs in a row without a place", "Give height and shaft a row of their own")
    return bad


def _measured_faults(values: dict[str, Any]) -> dict[str, Bad]:
    """What a row with height and shaft must agree on; `open` takes them back."""
    end, result = values["end"], values["result"]
    # The wheels stand as they do, but nobody turns them for this.
    bad = _steering_faults(end, values["steering"], ("", *STEERING[end][:1]))
    if values["position"] not in LEVEL:
        mend = f"Measure with both wheels alike: at {', '.join(LEVEL)}"
        bad["position"] = Bad(f'"{values["position"]}" has no one height', mend)
    if result not in ("", "open"):
        return {"place": Bad(f"empty, with the result {result}", "Name the place looked at")}
    for column in ("height", "shaft"):
        if (values[column] is None) != (result == "open"):
            what = "a figure that is taken back" if result == "open" else "empty"
            mend = (
                "Leave height and shaft out" if result == "open" else "Give height and shaft, or name a place"
            )
            bad.setdefault(column, Bad(what, mend))
    if values["clearance"] is not None:
        bad["clearance"] = Bad("a clearance without a place", "Name the place looked at")
    return bad


def _steering_faults(end: str, steering: str, allowed: tuple[str, ...]) -> dict[str, Bad]:
    if steering in allowed:
        return {}
    if end == "rear":
        return {"steering": Bad(f'"{steering}" at the rear, which has no steering', "Leave it empty")}
    found = f'"{steering}" where only a place is looked at' if steering else "empty"
    return {"steering": Bad(found, f"Write {', '.join(filter(None, allowed))}")}


# ---------------------------------------------------------------- rows against each other


def _doubles(lined: list[tuple[int, WalkRow]]) -> list[Fault]:
    first: dict[tuple[str, ...], int] = {}
    faults = []
    for line, row in lined:
        if (before := first.setdefault(row.key, line)) != line:
            what = "place" if isinstance(row, Finding) else "position"
            problem = f"{', '.join(filter(None, row.key))}: line {before} has it already"
            faults.append(Fault(what, problem, "Keep the one that is right", line=line))
    return faults


def _cycle_faults(lined: list[tuple[int, WalkRow]], truck: Truck) -> list[Fault]:
    line_of = {id(row): line for line, row in lined}
    return [
        replace(fault, line=line_of[id(row)])
        for end in END_NAMES
        for row, fault in cycle_faults(truck, end, measured_at(end, (row for _, row in lined)))
    ]


# ---------------------------------------------------------------- out


def write_walk(rows: Iterable[WalkRow], truck: Truck) -> str:
    """CSV in the truck's units; `read_walk` gives the same rows back, to the last bit."""
    layout = _layout(truck)
    unit = unit_in("length", truck.units)

    def cell(row: WalkRow, column: str) -> str:
        value = getattr(row, column, None)
        if column == "result" and isinstance(row, Measured) and row.height is None:
            return "open"
        if value is None or value == "":
            return ""
        if column in _QUANTITIES:
            return exact_text(value, unit, "length")
        return value.isoformat() if column == "taken_at" else escaped(value)

    return table_text(map(layout.heading, _COLUMNS), ([cell(row, c) for c in _COLUMNS] for row in rows))
