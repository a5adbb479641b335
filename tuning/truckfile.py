"""Truck files: TOML in, a Truck out, or every fault of the file at once, each with what to do about it."""

import re
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from importlib.resources import files
from pathlib import Path as FilePath
from typing import Any, get_args, get_origin

from pydantic import ValidationError

from tuning.faults import Fault, InputError, nearest
from tuning.truck import (
    CORNERS,
    END_NAMES,
    END_OF,
    SIDES,
    Corner,
    End,
    Stack,
    Target,
    Travel,
    Truck,
)
from tuning.truckchecks import (
    Cycle,
    Found,
    Path,
    PathOf,
    adjuster_findings,
    axle_findings,
    cycle_findings,
    suspension_findings,
    target_findings,
)
from tuning.trucktables import (
    AdjusterTable,
    AnyTable,
    CycleRow,
    EndTable,
    LeafTable,
    NoiseTable,
    Number,
    Part,
    PracticeTable,
    Quantity,
    ShockTable,
    StackTable,
    Table,
    TableError,
    TargetTable,
    TopTable,
    TravelTable,
    WalkTable,
    described,
)
from tuning.units import System, UnitError, parse, shown

MAX_FILE = 100_000  # characters; a full truck file has about four thousand
MAX_LINE = 2_000  # characters; tomllib's time grows with the square of the dots in a key

_TOML_QUOTES = 'Put quantities between straight quotes and write inches as in: wheelbase = "132 in"'
_TOML_TWICE = "Give each table and each key once"

_PARTS: dict[str, type[Part]] = {
    "shock": ShockTable,
    "adjuster": AdjusterTable,
    "travel": TravelTable,
    "stack": StackTable,
    "spring": LeafTable,
}
_CORNER_PARTS = ("stack", "shock", "adjuster", "cycle", "travel")
_TOP_TABLES = (*END_NAMES, "stacks", "corner", "target", "noise", "practice", "walk")


class TruckFileError(InputError):
    """A truck file that can't be used; `faults` says all that is wrong with it."""


def truck_template() -> str:
    """The commented example that a new truck file starts from. It is valid as it stands."""
    return (files("tuning") / "truck_template.toml").read_text("utf-8")


def load_truck(path: str | FilePath) -> Truck:
    """The truck of a file. Raises TruckFileError, also where the file can't be opened or is not UTF-8."""
    path = FilePath(path)
    try:
        with path.open("rb") as file:
            content = file.read(4 * MAX_FILE + 1)
        return read_truck(content.decode("utf-8-sig"), path.name)
    except OSError as error:
        raise TruckFileError(path.name, [Fault("", f"can't be opened: {error.strerror}")]) from None
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        fault = Fault("", "a character that is not UTF-8", "Save the file as UTF-8 text", line=line)
        raise TruckFileError(path.name, [fault]) from None


def read_truck(text: str, name: str = "truck.toml") -> Truck:
    """The truck that a file's text describes. `name` is the file's name in errors.

    Raises TruckFileError with every fault found: text that is no TOML, unknown or missing keys, quantities
    that can't be read or are not plausible, tables that contradict each other.
    """
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    document = _toml(text, name)
    reader = _Reader(document)
    truck = reader.truck()
    if reader.found or truck is None:
        lines = _line_numbers(text)
        faults = dict.fromkeys(_fault(found, lines) for found in reader.found)
        raise TruckFileError(name, sorted(faults, key=lambda fault: fault.line or 0))
    return truck


def _toml(text: str, name: str) -> dict[str, Any]:
    if len(text) > MAX_FILE:
        fault = Fault("", f"more than {MAX_FILE} characters", "Give a truck file; readings belong in another")
        raise TruckFileError(name, [fault])
    for number, content in enumerate(text.split("\n"), 1):
        if len(content) > MAX_LINE:
            fault = Fault("", f"more than {MAX_LINE} characters in a line", "Break it up", line=number)
            raise TruckFileError(name, [fault])
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise TruckFileError(name, [Fault("", "nested too deep", "Write tables as [front.shock]")]) from None
    except ValueError as error:  # TOMLDecodeError, and plain ones for numbers and dates that can't be
        said = re.fullmatch(
            r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", str(error), re.DOTALL
        )
        what, line, column = said.groups() if said else (str(error), None, None)
        fault = Fault(
            f"column {column}" if column else "",
            f"not readable as TOML ({shown(what[:1].lower() + what[1:], 90)})",
            _TOML_TWICE if re.search("twice|overwrite", what) else _TOML_QUOTES,
            line=int(line) if line else None,
        )
        raise TruckFileError(name, [fault]) from None


class _Reader:
    """One pass over a document: builds what it can and keeps all that it finds wrong."""

    def __init__(self, document: dict[str, Any]) -> None:
        self.document = document
        self.found: list[Found] = []
        self.cycles: dict[str, Cycle] = {}  # by corner, of the corners that have one
        self.system: System = "metric" if document.get("units") == "metric" else "us"

    def truck(self) -> Truck | None:
        """The truck; None, or one not to be used, where `found` is not empty."""
        top = self.table(TopTable, self.document, (), others=_TOP_TABLES)
        overrides = self.overrides()
        ends, corners = {}, {}
        for name in END_NAMES:
            raw = self.document.get(name, {})
            if not raw:
                self.found.append(Found((name,), "missing", f"Add a [{name}] table"))
                continue
            axle = self.table(EndTable, raw, (name,), others=("cycle", *_PARTS))
            if not isinstance(raw, dict):
                continue
            self.found += suspension_findings(name, set(raw))
            parts = self.parts(raw, (name,), ("cycle", *_PARTS))
            if axle is not None:
                self.found += axle_findings(name, axle, self.system)
                ends[name] = _end(axle, leaf="spring" in raw)
            for corner in SIDES[name]:
                corners[corner] = self.corner(corner, parts, overrides.get(corner, {}), leaf="spring" in raw)
        stacks = self.stacks(corners, {name for name, own in overrides.items() if "stack" in own})
        target = self.target()
        noise = self.table(NoiseTable, self.document.get("noise", {}), ("noise",))
        practice = self.table(PracticeTable, self.document.get("practice", {}), ("practice",))
        walk = self.table(WalkTable, self.document.get("walk", {}), ("walk",))
        if self.found or top is None or noise is None or practice is None or walk is None:
            return None
        return Truck(
            name=top.name,
            units=top.units,
            wheelbase=top.wheelbase,
            front=ends["front"],
            rear=ends["rear"],
            corners={name: built for name in CORNERS if (built := corners[name])},
            stacks=stacks,
            target=target,
            noise=noise.built(),
            practice=practice.built(),
            walk=walk.built(),
            frame_twist_stiffness=top.frame_twist_stiffness,
        )

    def table(
        self, model: type[AnyTable], raw: object, path: Path, others: Iterable[str] = ()
    ) -> AnyTable | None:
        """One table, checked by itself; None where it has faults. `others`: keys that are read elsewhere."""
        if not isinstance(raw, dict):
            self.found.append(
                Found(path, f"{described(raw)} is not a table", f"Write [{_key(path)}], its keys below")
            )
            return None
        own = {key: value for key, value in raw.items() if key not in others}
        try:
            return model.model_validate(own, context=self.system)
        except ValidationError as error:
            self.found += _findings(error, model, path, others)
            return None

    def rows(self, model: type[AnyTable], raw: object, path: Path) -> list[AnyTable] | None:
        """A list of tables; None where one has faults."""
        if not isinstance(raw, list):
            self.found.append(
                Found(path, f"{described(raw)} is not a list of tables", f"Write [[{_key(path)}]]")
            )
            return None
        read = [self.table(model, row, (*path, number)) for number, row in enumerate(raw)]
        return None if None in read else [row for row in read if row is not None]

    def parts(self, raw: object, path: Path, names: Iterable[str]) -> dict[str, Any]:
        """What stands between frame and axle, as far as it is given and sound: tables by name, built."""
        built: dict[str, Any] = {}
        for name in names:
            if not isinstance(raw, dict) or name not in raw:
                continue
            if name == "cycle":
                rows = self.rows(CycleRow, raw[name], (*path, name))
                if rows is not None:
                    built[name] = tuple((row.height, row.shaft) for row in rows)
            elif (read := self.table(_PARTS[name], raw[name], (*path, name))) is not None:
                built[name] = read.built()
        return built

    def overrides(self) -> dict[str, dict[str, Any]]:
        """Parts that a corner has for itself."""
        raw = self.document.get("corner", {})
        if not isinstance(raw, dict):
            self.found.append(
                Found(("corner",), f"{described(raw)} is not a table", "Write [corner.RF.stack]")
            )
            return {}
        self.unknown(raw, ("corner",), CORNERS)
        read = {}
        for corner in CORNERS:
            own = raw.get(corner, {})
            self.unknown(own, ("corner", corner), _CORNER_PARTS)
            read[corner] = self.parts(own, ("corner", corner), _CORNER_PARTS)
        return read

    def unknown(self, raw: object, path: Path, known: Sequence[str]) -> None:
        """Keys of a table of tables that it doesn't have."""
        if not isinstance(raw, dict):
            self.found.append(Found(path, f"{described(raw)} is not a table", f"Write [{_key(path)}.stack]"))
            return
        self.found += [_unknown((*path, key), known) for key in raw if key not in known]

    def corner(self, name: str, end: dict[str, Any], own: dict[str, Any], leaf: bool) -> Corner | None:
        """A corner from its end's parts and its own, checked together; None where parts are missing."""
        if leaf:
            for part in sorted(set(own) - {"travel"}):
                problem = f"[{END_OF[name]}.spring] says that this corner has no coilover"
                self.found.append(
                    Found(("corner", name, part), problem, "Leave it out, or describe a coilover")
                )
            spring = end.get("spring")
            travel = own.get("travel", end.get("travel", Travel()))
            return None if spring is None else Corner(Stack(f"{END_OF[name]} spring", spring), travel=travel)
        parts = {**end, **own}

        def path_of(part: str) -> Path:
            return ("corner", name, part) if part in own else (END_OF[name], part)

        self.cycles[name] = parts.get("cycle", ())
        self.found += _coilover_findings(parts, path_of, self.system)
        if not {"stack", "shock", "adjuster", "cycle"} <= set(parts):
            return None
        return Corner(**{part: built for part, built in parts.items() if part != "spring"})

    def stacks(self, corners: dict[str, Corner | None], own: set[str]) -> dict[str, Stack]:
        """Every stack a reading may name, by name. `own`: corners that don't have their end's."""
        named: dict[str, Stack] = {}
        for corner, built in corners.items():
            if built is not None:
                place = ("corner", corner) if corner in own else (END_OF[corner],)
                self.name_stack(named, built.stack, (*place, "stack"))
        others = self.rows(StackTable, self.document.get("stacks", []), ("stacks",))
        for number, row in enumerate(others or []):
            self.name_stack(named, row.built(), ("stacks", number))
        return named

    def name_stack(self, named: dict[str, Stack], stack: Stack, path: Path) -> None:
        """Enter a stack under its name, which no other stack may have."""
        if named.setdefault(stack.name, stack) != stack:
            problem = f'another stack is called "{shown(stack.name)}" too, and differs'
            self.found.append(Found((*path, "name"), problem, "Give each stack its own name"))

    def target(self) -> Target:
        """What is wanted, checked against the heights the axle was cycled through."""
        table = self.table(TargetTable, self.document.get("target", {}), ("target",))
        if table is None:
            return Target()
        self.found += target_findings(table, self.cycles, self.system)
        return table.built()


def _end(axle: EndTable, leaf: bool) -> End:
    """An axle with its defaults filled in; friction is common practice."""
    solid = axle.axle == "solid"
    spacing = axle.spring_spacing if solid and axle.spring_spacing is not None else axle.track
    friction = parse("60 lbf" if leaf else "25 lbf", "force") if axle.friction is None else axle.friction
    height_spacing = spacing if axle.height_spacing is None else axle.height_spacing
    return End(solid, axle.track, spacing, height_spacing, axle.unsprung_weight, friction, axle.tyre_rate)


def _coilover_findings(parts: dict[str, Any], path_of: PathOf, system: System) -> Iterator[Found]:
    if "cycle" in parts:
        yield from cycle_findings(parts["cycle"], parts.get("shock"), path_of, system)
    if "adjuster" in parts and "stack" in parts:
        yield from adjuster_findings(parts["adjuster"], parts["stack"], path_of, system)


# ---------------------------------------------------------------- saying what is wrong


def _findings(
    error: ValidationError, model: type[Table], path: Path, others: Iterable[str]
) -> Iterator[Found]:
    """pydantic's errors in words of ours."""
    for entry in error.errors(include_url=False):
        at: Path = (*path, *entry["loc"])
        table, key = _table_at(model, entry["loc"]), str(entry["loc"][-1]) if entry["loc"] else ""
        value = entry["input"]
        found = value if isinstance(value, str) else ""
        cause = entry.get("ctx", {}).get("error")
        match entry["type"]:
            case "missing" if key.isdigit():
                yield Found(at[:-1], "one value where two belong", _pair(table, str(entry["loc"][-2])))
            case "missing":
                yield Found(at, "missing", _proposal(table, key, at))
            case "extra_forbidden":
                yield _unknown(at, (*table.model_fields, *others))
            case "literal_error":
                allowed = entry["ctx"]["expected"].replace("'", '"')
                yield Found(at, f"{described(value)} is not a choice here", f"Write {allowed}", found)
            case "value_error" if isinstance(cause, UnitError):
                yield Found(at, cause.problem, f"Write {cause.allowed}", found)
            case "value_error" if isinstance(cause, TableError):
                yield Found((*at, cause.key) if cause.key else at, cause.problem, cause.mend, found)
            case "model_type" | "model_attributes_type":
                yield Found(at, f"{described(value)} is not a table", f"Write [{_key(at)}], its keys below")
            case _:  # what else is a list of the wrong length or kind is a pair
                yield Found(at, f"{described(value)} is not a pair", _pair(table, key))


def _table_at(model: type[Table], loc: tuple[str | int, ...]) -> type[Table]:
    """The table that the last key of `loc` belongs to."""
    for key in loc[:-1]:
        known = model.model_fields.get(str(key))
        kinds = get_args(known.annotation) or (known.annotation,) if known else ()
        model = next((kind for kind in kinds if isinstance(kind, type) and issubclass(kind, Table)), model)
    return model


def _proposal(table: type[Table], key: str, path: Path) -> str:
    """`Write rate = "300 lbf/in" with the true value`: an example of what is missing at a path."""
    known = table.model_fields.get(key)
    if known is not None and get_origin(known.annotation) is tuple:
        return _pair(table, key).replace("Write ", f"Write {key} = ")
    if table is StackTable and key == "name":
        return f'Write name = "{_springs_at(path)}", or what you call these springs'
    for rule in known.metadata if known else ():
        if isinstance(rule, Quantity):
            return f'Write {key} = "{rule.example}" with the true value'
        if isinstance(rule, Number):
            return f"Write {key} = {rule.example}"
    examples = {
        "name": 'name = "Night shift"',
        "axle": 'axle = "solid"',
        "kind": 'kind = "hydraulic"',
        "lower": 'lower = { rate = "300 lbf/in" } with the true rate',
    }
    return f"Write {examples.get(key, key + ' = …')}"


def _springs_at(path: Path) -> str:
    """`front springs`, `RF springs`, `springs 2`: names that no two stacks of a truck share."""
    match path:
        case ("stacks", int(row), *_):
            return f"springs {row + 1}"
        case ("corner", corner, *_):
            return f"{corner} springs"
    return f"{path[0]} springs"


def _pair(table: type[Table], key: str) -> str:
    """`Write ["0 in", "3 1/2 in"]`, from what each of the two proposes."""
    rules = [get_args(part)[1] for part in get_args(table.model_fields[key].annotation)]
    examples = [f'"{rule.example}"' if isinstance(rule, Quantity) else rule.example for rule in rules]
    return f"Write [{', '.join(examples)}]"


def _unknown(path: Path, known: Sequence[str]) -> Found:
    meant = nearest(str(path[-1]), known)
    return Found(
        path,
        "not a key here",
        f"Did you mean {meant}?" if meant else f"Keys here are {', '.join(known)}",
        str(path[-1]),
    )


def _key(path: Path) -> str:
    """`front.cycle[2].shaft`; rows of a list count from one."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{shown(part)}" if text else shown(part)
    return text


def _fault(found: Found, lines: dict[Path, int]) -> Fault:
    path = found.path  # a missing key has no line of its own; its table has
    while path and path not in lines:
        path = path[:-1]
    return Fault(_key(found.path), found.problem, found.mend, found.found, lines.get(path))


_HEADER = re.compile(r"(\[\[?)([\w.\- ]+)\]", re.ASCII)
_ASSIGNED = re.compile(r"\s*([\w.\-]+)\s*=", re.ASCII)


def _line_numbers(text: str) -> dict[Path, int]:
    """Where each key stands, in files as people write them; a help for errors, not a second parser."""
    if '"""' in text or "'''" in text:  # lines of a long string look like keys
        return {}
    at: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    table: Path = ()
    for number, line in enumerate(text.split("\n"), 1):
        if header := _HEADER.match(line.lstrip()):
            table = tuple(part.strip() for part in header[2].split("."))
            if header[1] == "[[":
                counts[table] = counts.get(table, -1) + 1
                at.setdefault(table, number)
                table = (*table, counts[table])
            at[table] = number
            for length in range(1, len(table)):
                at.setdefault(table[:length], number)
        elif key := _ASSIGNED.match(line):
            at[(*table, *key[1].split("."))] = number
    return at
