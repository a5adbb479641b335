"""What there is to measure on a truck, in the order of the work: the fields of its file, part by part. Pure."""

from typing import NamedTuple

from dashboard.truck_fields import Field
from tuning.tablelines import Path
from tuning.truck import END_NAMES, SIDES

ROWS = 12  # positions that a cycle table has room for here; the file takes more
STACKS = 8  # other stacks that there is room for here; the file takes more
KINDS = {"coilover": "Coilovers", "leaf": "Leaf or coil without adjuster", "same": "Coilovers as the front's"}
FRICTION = {"coilover": "25 lbf", "leaf": "60 lbf"}  # a corner, where it is left out, as `truckfile` has it
OWN = ("shock", "adjuster", "stack", "cycle", "travel")  # parts that a corner may have for itself
COILOVER = ("shock", "adjuster", "stack", "cycle")
PAIRS = ("range", "shaft_at_bump", "strap_before_extension", "ride_frequency", "crossover")  # least and most


class Group(NamedTuple):
    """Fields that belong together. part: the table of an end that they fill, which a corner may have for itself.
    only: `coilover` or `leaf`, where the others have no such thing. rows: a cycle table."""

    title: str
    fields: tuple[Field, ...]
    part: str = ""
    only: str = ""
    rows: bool = False

    @property
    def springs(self) -> bool:
        """Whether it is a stack."""
        return any(field.path[-2:] == ("lower", "rate") for field in self.fields)


class Step(NamedTuple):
    """One screen, or one fold. drawing: its picture's name; end: `front`, `rear` or neither."""

    title: str
    drawing: str
    groups: tuple[Group, ...]
    end: str = ""
    may_skip: bool = False


def kind_key(end: str) -> str:
    """Name of the choice between coilovers and leaves."""
    return f"{end}-kind"


def apart_key(end: str, part: str) -> str:
    """Name of the choice to have the right corner's part apart from the left's."""
    return f"{end}.{part}-apart"


def on_the_right(field: Field) -> Field:
    """The same field of the right corner alone."""
    end, *rest = field.path
    return field._replace(path=("corner", SIDES[str(end)][1], *rest))


def _lengths(at: Path, *fields: tuple[str, str, str, str]) -> tuple[Field, ...]:
    return tuple(Field((*at, key), label, "length", help_, dim) for key, label, help_, dim in fields)


def _cycle(end: str) -> tuple[Field, ...]:
    return tuple(
        Field((end, "cycle", row, name), label, "length", dim=name)
        for row in range(ROWS)
        for name, label in (("height", "Height"), ("shaft", "Shaft"))
    )


def _stack(at: Path, about: str = "Such as 200 over 300.") -> tuple[Field, ...]:
    return (
        Field((*at, "name"), "Name of this stack", "", about),
        *_spring((*at, "upper"), "Upper"),
        Field((*at, "ring_gap"), "Slider to stop ring", "length", "Springs snug, no preload.", "gap"),
        *_spring((*at, "lower"), "Lower, or the only one"),
    )


def _spring(at: Path, word: str) -> tuple[Field, ...]:
    return (
        Field((*at, "rate"), f"{word}: rate", "rate", dim=str(at[-1])),
        Field((*at, "free_length"), f"{word}: free length", "length", dim=str(at[-1])),
        Field((*at, "solid_length"), f"{word}: length coil-bound", "length", dim=str(at[-1])),
    )


def _axle(end: str) -> Step:
    usual = "Empty: 25 lbf (111 N) at coilovers, 60 lbf (267 N) at leaves; common practice."
    fields = (
        Field((end, "axle"), "Axle", dim="axle", choices=("solid", "independent")),
        *_lengths(
            (end,),
            ("track", "Track: tyre middle to tyre middle", "", "track"),
            ("spring_spacing", "Spring seat to spring seat", "Solid axle only.", "seats"),
            ("height_spacing", "Height mark to height mark", "Empty: as the springs.", "marks"),
        ),
        Field(
            (end, "unsprung_weight"),
            "Unsprung weight, both wheels",
            "load",
            "What the springs don't carry.",
            "axle",
        ),
        Field((end, "friction"), "Friction a corner, half band", "load", usual),
        Field((end, "tyre_rate"), "Rate of one tyre", "rate", "May be left empty.", "tyre"),
    )
    leaf = Group(
        "Spring", (Field((end, "spring", "rate"), "Rate of one spring", "rate", dim="spring"),), "", "leaf"
    )
    return Step(f"{end.capitalize()} axle", "axle", (Group("", fields), leaf), end)


def _coilover(end: str) -> Step:
    shock, nut = (end, "shock"), (end, "adjuster")
    may = "May be left empty."
    of_shock = (
        Field((*shock, "stroke"), "Stroke: shaft showing, fully extended", "length", dim="shaft"),
        Field((*shock, "shaft_diameter"), "Shaft diameter", "length", may, "rod"),
        Field((*shock, "gas_pressure"), "Gas pressure, fully extended", "pressure", may, "body"),
        Field((*shock, "gas_volume"), "Gas volume, fully extended", "volume", may, "body"),
        Field(
            (*shock, "spring_inside_diameter"),
            "Inside diameter of springs",
            "length",
            "To choose springs.",
            "body",
        ),
        Field((*shock, "side_lean"), "Lean seen from the side, at ride", "angle", may),
    )
    of_nut = (
        Field((*nut, "travel_per_turn"), "Travel for one turn", "length", "12 threads an inch: 1/12.", "nut"),
        Field((*nut, "range", 0), "Least preload on the thread", "length", dim="nut"),
        Field((*nut, "range", 1), "Most preload on the thread", "length", dim="nut"),
        Field((*nut, "step"), "Finest turn you care for", "number", dim="nut", usual="0.25"),
    )
    groups = (
        ("Shock", of_shock, "shock"),
        ("Nut", of_nut, "adjuster"),
        ("Springs in use", _stack((end, "stack")), "stack"),
    )
    return Step(
        f"{end.capitalize()} shock, nut and springs",
        "coilover",
        tuple(Group(title, fields, part, "coilover") for title, fields, part in groups),
        end,
    )


def _travel(end: str) -> Step:
    at, may = (end, "travel"), "May be left empty."
    stop = (*at, "bump_stop")
    ends = (
        Field((*at, "height_full_bump"), "Height at full bump", "length", may, "bump"),
        Field((*at, "height_strap"), "Height where the strap stops it", "length", may, "droop"),
        Field((*stop, "kind"), "Bump stop", help=may, dim="stop", choices=("hydraulic", "soft")),
        Field((*stop, "contact"), "Height where the stop first touches", "length", may, "stop"),
        Field((*stop, "travel"), "Stop's travel until solid", "length", may, "stop"),
    )
    rows = Group("Height and shaft showing, springs out", _cycle(end), "cycle", "coilover", rows=True)
    return Step(
        f"{end.capitalize()} cycle table and travel",
        "cycle",
        (rows, Group("Ends of travel", ends, "travel")),
        end,
    )


_PLACES = {
    "LF": "Left front",
    "RF": "Right front",
    "front": "Front, mean of both",
    "LR": "Left rear",
    "RR": "Right rear",
    "rear": "Rear, mean of both",
}
TARGETS = (
    *(Field(("target", key), label, "length", dim="height") for key, label in _PLACES.items()),
    Field(("target", "cross_weight"), "Cross-weight", "percent"),
    Field(("target", "height_tolerance"), "Heights within", "length", dim="height", usual="1/8 in"),
    Field(("target", "cross_weight_tolerance"), "Cross-weight within", "percent", usual="0.5"),
)
_NOISE = (
    Field(("noise", "height"), "Tape", "length", dim="height", usual="1/16 in"),
    Field(("noise", "load"), "Scales, of the reading", "percent", usual="0.2"),
    Field(("noise", "spring_rate"), "Spring rate, of the nominal", "percent", usual="3"),
    Field(("noise", "datum"), "Marks and mounts of a corner", "length", dim="marks", usual="4 mm"),
    Field(("noise", "floor"), "One wheel's stand from run to run", "length", dim="floor", usual="1 mm"),
)


def _least_most(key: str, label: str, kind: str, dim: str, least: str, most: str) -> tuple[Field, Field]:
    at = ("practice", key)
    return (
        Field((*at, 0), f"{label}: least", kind, dim=dim, usual=least),
        Field((*at, 1), f"{label}: most", kind, dim=dim, usual=most),
    )


_PRACTICE = (
    *_least_most("shaft_at_bump", "Shaft showing at full bump", "length", "shaft", "1/2 in", "1 in"),
    *_least_most(
        "strap_before_extension", "Shock travel left at the strap", "length", "droop", "1 1/2 in", "2 in"
    ),
    Field(
        ("practice", "clear_of_solid"),
        "Clear of coil bind at full bump",
        "length",
        dim="bump",
        usual="1/4 in",
    ),
    Field(
        ("practice", "seated"),
        "Springs pressed at the strap, at least",
        "length",
        dim="droop",
        usual="1/4 in",
    ),
    Field(("practice", "first_preload"), "Preload for the first set-down", "length", usual="1/2 in"),
    Field(("practice", "side_lean"), "Shock's lean from the side, at most", "angle", usual="5"),
    *_least_most("ride_frequency", "Ride frequency", "frequency", "", "1", "1.5"),
    *_least_most("crossover", "Slider meets its ring, from ride 0 to bump 1", "number", "", "0", "1"),
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
                    Field(("units",), "Answers in", choices=("us", "metric")),
                    Field(("wheelbase",), "Wheelbase", "length", dim="wheelbase"),
                    Field(
                        ("frame_twist_stiffness",),
                        "Frame stiffness in twist",
                        "torsion",
                        "May be left empty.",
                        "frame",
                    ),
                ),
            ),
        ),
    ),
    *(build(end) for end in END_NAMES for build in (_axle, _coilover, _travel)),
    Step("What you want", "height", (Group("What is left empty is free", TARGETS),)),
    Step("How well you measure", "height", (Group("One standard deviation each", _NOISE),), may_skip=True),
    Step(
        "What you hold to be good practice", "cycle", (Group("Checks go by these", _PRACTICE),), may_skip=True
    ),
)
FIELDS = tuple(field for step in STEPS for group in step.groups for field in group.fields)
OTHER_STACKS = Step(
    "Other stacks",
    "coilover",
    tuple(
        Group(f"Stack {n + 1}", _stack(("stacks", n), "Readings may name it. A stack left all empty goes."))
        for n in range(STACKS)
    ),
)
_WALK = (
    Field(
        ("walk", "front"),
        "At the front",
        "places",
        "Names with commas between; “usual” stands for the usual ones.",
    ),
    Field(("walk", "front_at_locks"), "At the front, wheels at both locks", "places", "As above."),
    Field(("walk", "rear"), "At the rear", "places", "As above."),
    Field(("walk", "clearance"), "Less than this is a close pass", "length", usual="1/2 in"),
)
CYCLE_WALK = Step("What to look at on a cycle walk", "cycle", (Group("Places", _WALK),), may_skip=True)
EVERY_STEP = (*STEPS, OTHER_STACKS, CYCLE_WALK)  # of a truck that is there
