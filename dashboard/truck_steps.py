"""A truck measured step by step: which fields, in which order, and the truck file they make. Pure."""

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

import tomlkit
from pydantic import ValidationError

from dashboard.truck_fields import TARGETS, Field, value
from tuning.faults import Fault, InputError
from tuning.tableedit import Path
from tuning.truck import END_NAMES, Stack
from tuning.truckfile import read_truck
from tuning.trucktables import StackTable
from tuning.units import System, UnitError, parse

ROWS = 6  # positions that a cycle table has room for here; the file takes more
KINDS = {"coilover": "Coilovers", "leaf": "Leaf or coil without adjuster", "same": "Coilovers as the front's"}
PRACTICE = {
    "coilover": "25 lbf",
    "same": "25 lbf",
    "leaf": "60 lbf",
}  # friction a corner, as `truckfile` has it


class Step(NamedTuple):
    """One screen. drawing: its picture's name; parts: fields under a heading, which end and kind they belong to."""

    title: str
    drawing: str
    parts: tuple["Group", ...]


class Group(NamedTuple):
    """Fields that belong together. only: `coilover` or `leaf`, where the others have no such thing."""

    title: str
    fields: tuple[Field, ...]
    only: str = ""


def kind_key(end: str) -> str:
    """Name of the choice between coilovers and leaves."""
    return f"{end}-kind"


def _cycle(end: str) -> tuple[Field, ...]:
    return tuple(
        Field((end, "cycle", row, name), f"{label} {row + 1}", "length")
        for row in range(ROWS)
        for name, label in (("height", "Height"), ("shaft", "Shaft showing"))
    )


def _spring(end: str, which: str, word: str) -> tuple[Field, ...]:
    at = (end, "stack", which)
    return (
        Field((*at, "rate"), f"{word}: rate", "rate"),
        Field((*at, "free_length"), f"{word}: free length", "length"),
        Field((*at, "solid_length"), f"{word}: length coil-bound", "length"),
    )


def _axle(end: str) -> Step:
    fields = (
        Field((end, "axle"), "Axle", "", "solid independent"),
        Field((end, "track"), "Track: tyre middle to tyre middle", "length"),
        Field((end, "spring_spacing"), "Spring seat to spring seat", "length", "Solid axle only."),
        Field((end, "height_spacing"), "Height mark to height mark", "length", "Empty: as the springs."),
        Field(
            (end, "unsprung_weight"), "Unsprung weight, both wheels", "load", "What the springs don't carry."
        ),
        Field((end, "friction"), "Friction a corner, half band", "load", "Empty: common practice."),
        Field((end, "tyre_rate"), "Rate of one tyre", "rate", "May be left empty."),
    )
    leaf = Group("Spring", (Field((end, "spring", "rate"), "Rate of one spring", "rate"),), "leaf")
    return Step(f"{end.capitalize()} axle", "axle", (Group("", fields), leaf))


def _shock(end: str) -> Step:
    shock, nut = (end, "shock"), (end, "adjuster")
    return Step(
        f"{end.capitalize()} shock, nut and springs",
        "coilover",
        (
            Group(
                "Shock",
                (
                    Field((*shock, "stroke"), "Stroke: shaft showing, fully extended", "length"),
                    Field((*shock, "shaft_diameter"), "Shaft diameter", "length", "May be left empty."),
                    Field(
                        (*shock, "gas_pressure"),
                        "Gas pressure, fully extended",
                        "pressure",
                        "May be left empty.",
                    ),
                    Field(
                        (*shock, "gas_volume"), "Gas volume, fully extended", "volume", "May be left empty."
                    ),
                    Field(
                        (*shock, "spring_inside_diameter"),
                        "Inside diameter of springs",
                        "length",
                        "To choose springs.",
                    ),
                    Field(
                        (*shock, "side_lean"),
                        "Lean seen from the side, at ride",
                        "angle",
                        "May be left empty.",
                    ),
                ),
                "coilover",
            ),
            Group(
                "Nut",
                (
                    Field(
                        (*nut, "travel_per_turn"),
                        "Travel for one turn",
                        "length",
                        "12 threads an inch: 1/12.",
                    ),
                    Field((*nut, "range", 0), "Least preload on the thread", "length"),
                    Field((*nut, "range", 1), "Most preload on the thread", "length"),
                    Field(
                        (*nut, "step"),
                        "Finest turn you care for",
                        "number",
                        "Empty: a quarter, common practice.",
                    ),
                ),
                "coilover",
            ),
            Group(
                "Springs",
                (
                    Field((end, "stack", "name"), "Name of this stack", "", "Such as 200 over 300."),
                    *_spring(end, "upper", "Upper"),
                    Field(
                        (end, "stack", "ring_gap"),
                        "Slider to stop ring",
                        "length",
                        "Springs snug, no preload.",
                    ),
                    *_spring(end, "lower", "Lower, or the only one"),
                ),
                "coilover",
            ),
        ),
    )


def _travel(end: str) -> Step:
    at = (end, "travel")
    ends = (
        Field((*at, "height_full_bump"), "Height at full bump", "length", "May be left empty."),
        Field((*at, "height_strap"), "Height where the strap stops it", "length", "May be left empty."),
        Field((*at, "bump_stop", "kind"), "Bump stop", "", "hydraulic soft"),
        Field(
            (*at, "bump_stop", "contact"),
            "Height where the stop first touches",
            "length",
            "May be left empty.",
        ),
        Field((*at, "bump_stop", "travel"), "Stop's travel until solid", "length", "May be left empty."),
    )
    title = f"{end.capitalize()} cycle table"
    return Step(
        title,
        "cycle",
        (
            Group("Height and shaft showing, springs out", _cycle(end), "coilover"),
            Group("Ends of travel", ends),
        ),
    )


STEPS = (
    Step(
        "Name and wheelbase",
        "chassis",
        (
            Group(
                "",
                (
                    Field(("name",), "Name of the truck"),
                    Field(("units",), "Answers in", "", "us metric"),
                    Field(("wheelbase",), "Wheelbase", "length"),
                    Field(
                        ("frame_twist_stiffness",),
                        "Frame stiffness in twist",
                        "torsion",
                        "May be left empty.",
                    ),
                ),
            ),
        ),
    ),
    *(build(end) for end in END_NAMES for build in (_axle, _shock, _travel)),
    Step("What you want", "height", (Group("What is left empty is free", TARGETS),)),
)
FIELDS = tuple(field for step in STEPS for group in step.parts for field in group.fields)


def system_of(typed: Mapping[str, str]) -> System:
    """The units that bare figures are in."""
    return "metric" if typed.get("units") == "metric" else "us"


def written(typed: Mapping[str, str]) -> str:
    """The truck file that the fields make, with a note where common practice stands in for a figure."""
    document = tomlkit.document()
    document.add(tomlkit.comment("Measured step by step. Quantities stand in quotes with their unit."))
    kinds = {end: typed.get(kind_key(end)) or "coilover" for end in END_NAMES}
    tables: dict[str, Any] = {}
    for field in FIELDS:
        read = value(typed.get(field.key, ""), field, system_of(typed))
        if read is not None and _belongs(field.path, kinds):
            _put(tables, field.path, read)
    assumed = {end for end in END_NAMES if "friction" not in tables.setdefault(end, {})}
    for end in END_NAMES:
        _finish(tables[end], kinds[end], tables.get("front", {}))
    for key, held in tables.items():
        document.add(key, held)
        if key in assumed:
            document[key]["friction"].comment("common practice")
    document.add(tomlkit.comment("[noise] and [practice] are left out: common practice stands for them."))
    return tomlkit.dumps(document)


def _belongs(path: Path, kinds: Mapping[str, str]) -> bool:
    """A leaf has no shock, whatever was typed before somebody chose it."""
    if path[0] not in kinds or len(path) == 2:
        return True
    own = {
        "leaf": ("spring", "travel"),
        "same": (),
        "coilover": ("shock", "adjuster", "cycle", "travel", "stack"),
    }
    return path[1] in own[kinds[str(path[0])]]


def _put(tables: dict[str, Any], path: Path, read: Any) -> None:
    for key in path[:-1]:
        tables = tables.setdefault(str(key), {})
    tables[str(path[-1])] = read


def _finish(end: dict[str, Any], kind: str, front: dict[str, Any]) -> None:
    if kind == "same":
        end |= {
            part: front[part] for part in ("shock", "adjuster", "cycle", "travel", "stack") if part in front
        }
    end.setdefault("friction", PRACTICE[kind])
    if isinstance(rows := end.get("cycle"), dict):
        end["cycle"] = [rows[row] for row in sorted(rows, key=int)]
    nut = end.get("adjuster", {})
    if isinstance(pair := nut.get("range"), dict):
        nut["range"] = [pair.get("0", ""), pair.get("1", "")]


def faults(typed: Mapping[str, str], strict: bool) -> tuple[dict[str, str], tuple[Fault, ...]]:
    """What is wrong at each field, and what belongs to none. The checks are the truck file's own.

    strict: also what is not filled in yet.
    """
    try:
        read_truck(written(typed))
    except InputError as error:
        return _placed(error.faults, typed, strict)
    return {}, ()


def _placed(
    found: Iterable[Fault], typed: Mapping[str, str], strict: bool
) -> tuple[dict[str, str], tuple[Fault, ...]]:
    at, homeless = {}, []
    names = _renamed(typed)
    for fault in found:
        where = names.get(fault.where, fault.where)
        key = next((f.key for f in FIELDS if f.key == where), None)
        key = key or next((f.key for f in FIELDS if f.key.startswith((f"{where}[", f"{where}."))), None)
        if key is None:
            homeless.append(fault)
        elif strict or typed.get(key, "").strip():
            at.setdefault(key, f"{fault.problem[:1].upper()}{fault.problem[1:]}. {fault.mend}.")
    return at, tuple(homeless) if strict else ()


def _renamed(typed: Mapping[str, str]) -> dict[str, str]:
    """Rows of the file's cycle table by the fields they came from: empty ones are left out of the file."""
    names = {}
    for end in END_NAMES:
        rows = [
            r
            for r in range(ROWS)
            if any(typed.get(f"{end}.cycle[{r + 1}].{name}", "").strip() for name in ("height", "shaft"))
        ]
        for place, row in enumerate(rows, 1):
            names |= {
                f"{end}.cycle[{place}]{rest}": f"{end}.cycle[{row + 1}]{rest}"
                for rest in ("", ".height", ".shaft")
            }
    return names


# ---------------------------------------------------------------- what appears while it is typed


def pairs(typed: Mapping[str, str], end: str) -> list[tuple[float, float]]:
    """Heights and shafts (m) of the rows that can be read, from bump to droop."""
    found = []
    for field in _cycle(end)[::2]:
        texts = [str(value(typed.get(key, ""), field, system_of(typed)) or "") for key in _row(field.key)]
        try:
            found.append((parse(texts[0], "length"), parse(texts[1], "length")))
        except UnitError:
            continue
    return sorted(found)


def _row(key: str) -> tuple[str, str]:
    return key, key.removesuffix("height") + "shaft"


def stack_of(typed: Mapping[str, str], end: str) -> Stack | None:
    """The stack as far as it can be read; None where it can't."""
    tables: dict[str, Any] = {}
    for field in FIELDS:
        if field.path[:2] == (end, "stack") and (
            read := value(typed.get(field.key, ""), field, system_of(typed))
        ):
            _put(tables, field.path[2:], read)
    try:
        return StackTable.model_validate({"name": "stack"} | tables, context=system_of(typed)).built()
    except ValidationError:
        return None
