"""The tables a truck file is made of: which keys there are, in which units, and what is plausible.

Each table is checked alone and by itself here; what two of them must agree on is `truckchecks`' part.
"""

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import Annotated, Any, Literal, TypeVar

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    GetCoreSchemaHandler,
    ValidationInfo,
    model_validator,
)
from pydantic_core import CoreSchema, core_schema

from tuning.truck import Adjuster, CycleWalk, Noise, Practice, Shock, Spring, Stack, Target, Travel
from tuning.units import Kind, System, parse, shown, to_unit, unit_in


class TableError(ValueError):
    """A value that can't be taken. `key`: which of the table's own keys, where it was checked as a whole."""

    def __init__(self, problem: str, mend: str, key: str = "") -> None:
        """`problem` and `mend` as in a Fault."""
        super().__init__(problem)
        self.problem, self.mend, self.key = problem, mend, key


def described(value: object) -> str:
    """A value of the file as an error may repeat it: short, on one line, whatever it is."""
    match value:
        case str():
            return f'"{shown(value)}"'
        case bool():
            return str(value).lower()
        case int() if abs(value) >= 10**20:
            return "a number of many digits"
        case int() | float():
            return str(value)
        case dict():
            return "a table"
        case list():
            return "a list"
    return shown(str(value))


def in_shop_units(value: float, kind: Kind, system: System) -> str:
    """An SI value to four digits in the owner's unit, for an error."""
    unit = unit_in(kind, system)
    return f"{to_unit(value, unit):.4g} {unit}".rstrip()


_limit = cache(parse)  # limits are written as texts, to be said as they are


@dataclass(frozen=True)
class Quantity:
    """A text with a unit, between two others. `example` is what an error proposes."""

    kind: Kind
    low: str
    high: str
    example: str

    def read(self, value: object, info: ValidationInfo) -> float:
        """The SI value; raises UnitError or TableError."""
        if not isinstance(value, str):
            raise TableError(f"{described(value)} is not a text with a unit", f'Write "{self.example}"')
        number = parse(value, self.kind)
        low, high = _limit(self.low, self.kind), _limit(self.high, self.kind)
        if not low <= number <= high:
            span = " to ".join(in_shop_units(end, self.kind, info.context or "us") for end in (low, high))
            raise TableError(f"{described(value)} is not plausible here", f"Write {span}")
        return number

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """How pydantic is told."""
        return core_schema.with_info_plain_validator_function(self.read)


@dataclass(frozen=True)
class Number:
    """A plain number between two others, divided by `per` (a percentage by 100)."""

    low: float
    high: float
    example: str
    per: float = 1.0

    def read(self, value: object) -> float:
        """The number; raises TableError."""
        if isinstance(value, bool) or not isinstance(value, int | float) or math.isnan(value):
            raise TableError(f"{described(value)} is not a plain number", f"Write {self.example}")
        if not self.low <= value <= self.high:
            raise TableError(
                f"{described(value)} is not plausible here", f"Write {self.low:g} to {self.high:g}"
            )
        return value / self.per

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """How pydantic is told."""
        return core_schema.no_info_plain_validator_function(self.read)


def clean_name(value: object) -> str:
    """A name fit for a column, a file and a screen: 1 to 80 printable characters, no slashes; trimmed."""
    name = value.strip() if isinstance(value, str) else ""
    if not 1 <= len(name) <= 80 or not name.isprintable() or set(name) & set("/\\") or not name.strip("."):
        raise TableError(
            f"{described(value)} is not a name",
            "Write 1 to 80 letters, digits, spaces or signs, without slashes",
        )
    return name


Name = Annotated[str, BeforeValidator(clean_name)]
_USUAL = "usual"
_MOST_PLACES, _LONGEST_PLACE = 40, 32


def place_names(value: object) -> tuple[str, ...]:
    """Places to look at: a list of names, short enough for a line of a printed check list and few enough to walk."""
    if not isinstance(value, list):
        mend = f'Write ["{_USUAL}", "winch to tie rod"]; "{_USUAL}" stands for the usual places'
        raise TableError(f"{described(value)} is not a list of places", mend)
    names = tuple(clean_name(name) for name in value)
    if len(names) > _MOST_PLACES or any(len(name) > _LONGEST_PLACE for name in names):
        raise TableError(
            "too long a list", f"Name at most {_MOST_PLACES} places, each in at most {_LONGEST_PLACE} letters"
        )
    return names


Places = Annotated[tuple[str, ...], BeforeValidator(place_names)]
_HEIGHT = Quantity("length", "1 in", "80 in", "22 1/2 in")
Height = Annotated[float, _HEIGHT]
_MARGIN = Quantity("length", "0.0005 in", "4 in", "1/16 in")
_SHORT = Quantity("length", "0 in", "20 in", "1/2 in")
_SPACING = Quantity("length", "4 in", "160 in", "34 in")
_RATE = Quantity("rate", "0.5 lbf/in", "5000 lbf/in", "225 lbf/in")
_SMALL_PERCENT = Number(0.001, 50.0, "0.5", per=100)


class Table(BaseModel):
    """One table of the file. Keys it doesn't have are faults."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Part(Table):
    """What stands between frame and axle, or a piece of it."""

    def built(self) -> Any:
        """As the truck holds it."""
        raise NotImplementedError


class TopTable(Table):
    """What stands above the first table."""

    name: Name
    units: Literal["us", "metric"] = "us"
    wheelbase: Annotated[float, Quantity("length", "40 in", "480 in", "132 in")]
    frame_twist_stiffness: (
        Annotated[float, Quantity("torsion", "50 N*m/deg", "300000 N*m/deg", "3000 N*m/deg")] | None
    ) = None


class EndTable(Table):
    """An axle."""

    axle: Literal["solid", "independent"]
    track: Annotated[float, Quantity("length", "20 in", "160 in", "68 in")]
    spring_spacing: Annotated[float, _SPACING] | None = None
    height_spacing: Annotated[float, _SPACING] | None = None
    unsprung_weight: Annotated[float, Quantity("force", "0 lbf", "10000 lbf", "780 lbf")]
    friction: Annotated[float, Quantity("force", "0 lbf", "1000 lbf", "25 lbf")] | None = None
    tyre_rate: Annotated[float, Quantity("rate", "50 lbf/in", "50000 lbf/in", "2100 lbf/in")] | None = None


def _short(example: str) -> Quantity:
    return replace(_SHORT, example=example)


def _frequency(example: str) -> Quantity:
    return Quantity("frequency", "0.2 Hz", "5 Hz", example)


class SpringTable(Table):
    """A coil."""

    rate: Annotated[float, _RATE]
    free_length: Annotated[float, Quantity("length", "1 in", "60 in", "14 in")] | None = None
    solid_length: Annotated[float, Quantity("length", "1/4 in", "60 in", "5.2 in")] | None = None

    @model_validator(mode="after")
    def _solid_is_shorter(self) -> "SpringTable":
        if self.free_length and self.solid_length and self.solid_length >= self.free_length:
            raise TableError(
                "a spring is shorter coil-bound than free", "Make it less than free_length", "solid_length"
            )
        return self

    def built(self) -> Spring:
        """As the truck holds it."""
        return Spring(self.rate, self.free_length, self.solid_length)


class LeafTable(Part):
    """A spring without adjuster."""

    rate: Annotated[float, _RATE]

    def built(self) -> Spring:
        """As the truck holds it."""
        return Spring(self.rate)


class StackTable(Part):
    """Springs in series on one shock."""

    name: Name
    ring_gap: Annotated[float, Quantity("length", "0 in", "40 in", "3 in")] | None = None
    upper: SpringTable | None = None
    lower: SpringTable

    @model_validator(mode="after")
    def _ring_needs_a_slider(self) -> "StackTable":
        if self.ring_gap is not None and self.upper is None:
            raise TableError(
                "a stop ring needs a slider, and with one spring there is none",
                "Leave ring_gap out, or give the upper spring",
                "ring_gap",
            )
        return self

    def built(self) -> Stack:
        """As the truck holds it."""
        return Stack(self.name, self.lower.built(), self.upper.built() if self.upper else None, self.ring_gap)


class ShockTable(Part):
    """A shock; the gas keys only where they are known."""

    stroke: Annotated[float, Quantity("length", "1 in", "60 in", "14 in")]
    shaft_diameter: Annotated[float, Quantity("length", "1/4 in", "3 in", "7/8 in")] | None = None
    gas_pressure: Annotated[float, Quantity("pressure", "0 psi", "1500 psi", "200 psi")] | None = None
    gas_volume: Annotated[float, Quantity("volume", "0.1 in^3", "1000 in^3", "12 in^3")] | None = None
    spring_inside_diameter: Annotated[float, Quantity("length", "1 in", "12 in", "2 1/2 in")] | None = None
    side_lean: Annotated[float, Quantity("angle", "0 deg", "60 deg", "3 deg")] | None = None

    @model_validator(mode="after")
    def _gas_has_room(self, info: ValidationInfo) -> "ShockTable":
        if self.gas_pressure is not None and self.shaft_diameter is None:
            raise TableError(
                "the gas pushes on the shaft, and shaft_diameter is not given",
                'Add shaft_diameter = "7/8 in" with its true size, or leave gas_pressure out',
                "gas_pressure",
            )
        if self.gas_volume is not None and self.shaft_diameter is not None:
            displaced = math.pi / 4 * self.shaft_diameter**2 * self.stroke
            if self.gas_volume <= displaced:
                room = in_shop_units(displaced, "volume", info.context or "us")
                raise TableError(
                    f"the shaft takes up {room} over its stroke, which leaves the gas no room",
                    "Give the gas volume at full extension, or leave gas_volume out",
                    "gas_volume",
                )
        return self

    def built(self) -> Shock:
        """As the truck holds it."""
        return Shock(
            self.stroke,
            self.shaft_diameter,
            self.gas_pressure,
            self.gas_volume,
            self.spring_inside_diameter,
            self.side_lean,
        )


class AdjusterTable(Part):
    """The nut and its thread."""

    travel_per_turn: Annotated[float, Quantity("length", "0.2 mm", "10 mm", "1/12 in")]
    range: tuple[
        Annotated[float, Quantity("length", "-12 in", "40 in", "0 in")],
        Annotated[float, Quantity("length", "-12 in", "40 in", "3 1/2 in")],
    ]
    step: Annotated[float, Number(0.01, 2.0, "0.25")] = 0.25

    @model_validator(mode="after")
    def _range_runs_upward(self) -> "AdjusterTable":
        if self.range[0] >= self.range[1]:
            raise TableError(
                "the first preload is not below the second",
                "Write the least preload first, then the most",
                "range",
            )
        return self

    def built(self) -> Adjuster:
        """As the truck holds it."""
        return Adjuster(self.travel_per_turn, *self.range, self.step)


class CycleRow(Table):
    """One position of the cycled axle."""

    height: Height
    shaft: Annotated[float, Quantity("length", "-1/4 in", "60 in", "3/4 in")]


class BumpStopTable(Table):
    """A bump stop."""

    kind: Literal["hydraulic", "soft"]
    travel: Annotated[float, Quantity("length", "1/16 in", "20 in", "2 in")] | None = None
    contact: Height | None = None


class TravelTable(Part):
    """Planned ends of axle travel."""

    height_full_bump: Height | None = None
    height_strap: Height | None = None
    bump_stop: BumpStopTable | None = None

    @model_validator(mode="after")
    def _strap_is_above_bump(self) -> "TravelTable":
        if self.height_full_bump and self.height_strap and self.height_full_bump >= self.height_strap:
            raise TableError(
                "full bump is not below the strap's height",
                "Heights grow upward: frame mark above axle mark",
                "height_full_bump",
            )
        return self

    def built(self) -> Travel:
        """As the truck holds it."""
        stop = self.bump_stop
        kind, travel, contact = (stop.kind, stop.travel, stop.contact) if stop else (None, None, None)
        return Travel(self.height_full_bump, self.height_strap, kind, travel, contact)


class TargetTable(Table):
    """What is wanted."""

    LF: Height | None = None
    RF: Height | None = None
    LR: Height | None = None
    RR: Height | None = None
    front: Height | None = None
    rear: Height | None = None
    cross_weight: Annotated[float, Number(30, 70, "50.0", per=100)] | None = None
    height_tolerance: Annotated[float, _MARGIN] = Target.height_tolerance
    cross_weight_tolerance: Annotated[float, Number(0.01, 20, "0.5", per=100)] = Target.cross_weight_tolerance

    def heights(self, *names: str) -> dict[str, float]:
        """Those of the named corners or ends that have a target (m)."""
        return {name: height for name in names if (height := getattr(self, name)) is not None}

    def built(self) -> Target:
        """As the truck holds it."""
        return Target(
            self.heights("LF", "RF", "LR", "RR"),
            self.heights("front", "rear"),
            self.cross_weight,
            self.height_tolerance,
            self.cross_weight_tolerance,
        )


class NoiseTable(Table):
    """One standard deviation each."""

    height: Annotated[float, _MARGIN] = Noise.height
    load: Annotated[float, _SMALL_PERCENT] = Noise.load
    spring_rate: Annotated[float, _SMALL_PERCENT] = Noise.spring_rate
    datum: Annotated[float, _MARGIN] = Noise.datum
    floor: Annotated[float, _MARGIN] = Noise.floor

    def built(self) -> Noise:
        """As the truck holds it."""
        return Noise(self.height, self.load, self.spring_rate, self.datum, self.floor)


class PracticeTable(Table):
    """Limits of good practice that this owner goes by."""

    shaft_at_bump: tuple[Annotated[float, _SHORT], Annotated[float, _short("1 in")]] = Practice.shaft_at_bump
    strap_before_extension: tuple[
        Annotated[float, _short("1 1/2 in")],
        Annotated[float, _short("2 in")],
    ] = Practice.strap_before_extension
    first_preload: Annotated[float, _SHORT] = Practice.first_preload
    side_lean: Annotated[float, Quantity("angle", "0 deg", "60 deg", "5 deg")] = Practice.side_lean
    ride_frequency: tuple[
        Annotated[float, _frequency("1 Hz")],
        Annotated[float, _frequency("1.5 Hz")],
    ] = Practice.ride_frequency
    crossover: tuple[Annotated[float, Number(-1, 2, "0")], Annotated[float, Number(-1, 2, "1")]] = (
        Practice.crossover
    )
    clear_of_solid: Annotated[float, _SHORT] = Practice.clear_of_solid
    seated: Annotated[float, _SHORT] = Practice.seated

    @model_validator(mode="after")
    def _pairs_run_upward(self) -> "PracticeTable":
        for key in ("shaft_at_bump", "strap_before_extension", "ride_frequency", "crossover"):
            low, high = getattr(self, key)
            if low >= high:
                raise TableError(
                    "the first is not below the second", "Write the least first, then the most", key
                )
        return self

    def built(self) -> Practice:
        """As the truck holds it."""
        return Practice(
            self.shaft_at_bump,
            self.strap_before_extension,
            self.first_preload,
            self.side_lean,
            self.ride_frequency,
            self.crossover,
            self.clear_of_solid,
            self.seated,
        )


class WalkTable(Table):
    """Where to look while an axle is cycled. `usual` in a list stands for the usual places."""

    front: Places = ("usual",)
    front_at_locks: Places = ("usual",)
    rear: Places = ("usual",)
    clearance: Annotated[float, Quantity("length", "0 in", "6 in", "1/2 in")] = CycleWalk.least_clearance

    @model_validator(mode="after")
    def _each_place_is_known_once(self) -> "WalkTable":
        for key in ("front", "front_at_locks", "rear"):
            names = _with_usual(key, getattr(self, key))
            twice = next((name for name in names if names.count(name) > 1), None)
            if twice is not None:
                raise TableError(f'"{shown(twice)}" is there twice', "Name each place once", key)
        front = _with_usual("front", self.front)
        stray = next((n for n in self.front_at_locks if n not in (*front, _USUAL)), None)
        if stray is not None:
            problem = f'"{shown(stray)}" is no place of the front'
            raise TableError(problem, "Name it in front too", "front_at_locks")
        return self

    def built(self) -> CycleWalk:
        """As the truck holds it; places left out of the front are not looked at at the locks either."""
        front = _with_usual("front", self.front)
        at_locks = tuple(n for n in _with_usual("front_at_locks", self.front_at_locks) if n in front)
        return CycleWalk(front, at_locks, _with_usual("rear", self.rear), self.clearance)


def _with_usual(key: str, names: tuple[str, ...]) -> tuple[str, ...]:
    usual: tuple[str, ...] = getattr(CycleWalk, key)
    return tuple(place for name in names for place in (usual if name == _USUAL else (name,)))


AnyTable = TypeVar("AnyTable", bound=Table)
