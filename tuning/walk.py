"""The cycle walk: what is found round an axle that is cycled with its springs out. Lengths m.

The axle stands at bump, at droop and articulated both ways, in front with the steering straight and at both locks,
and at named places somebody looks whether anything touches. With both wheels alike, height and shaft showing are
measured too: that is the cycle table. Rows are kept in the order they were put down, and the last one counts.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Literal, NamedTuple, get_args

from .faults import Fault, InputError
from .truck import END_NAMES, SIDES, Truck
from .truckchecks import cycle_findings

Result = Literal["pass", "contact", "open"]
RESULTS: tuple[Result, ...] = get_args(Result)

LEVEL = ("bump", "low", "ride", "high", "droop")  # both wheels alike, from the bottom up
ARTICULATED = ("left up", "right up")
POSITIONS = (*LEVEL, *ARTICULATED)
LOOKED_AT = ("bump", "droop", *ARTICULATED)
STEERING = {"front": ("straight", "left lock", "right lock"), "rear": ("",)}
CURVE_FROM = 4  # positions from which the statics put a curve through a cycle table, not a straight line

Pairs = tuple[tuple[float, float], ...]


class WalkError(InputError):
    """A walk that can't be used; `faults` says all that is wrong with it."""


@dataclass(frozen=True)
class Finding:
    """What was found at one place with the axle and the steering so.

    steering: one of STEERING of the end. result: pass, contact, or open (to be looked at again; takes back what
    was found before). clearance: m, of a hose or a wire its slack; None where not measured. photo: a file's name.
    taken_at: when, None where not said. by: who.
    """

    end: str
    position: str
    steering: str
    place: str
    result: Result
    clearance: float | None = None
    note: str = ""
    photo: str = ""
    taken_at: datetime | None = None
    by: str = ""

    @property
    def key(self) -> tuple[str, ...]:
        """What a later finding must share to stand in this one's place."""
        return (self.end, self.position, self.steering, self.place)

    @property
    def contact(self) -> bool:
        """Something touches."""
        return self.result == "contact"


@dataclass(frozen=True)
class Measured:
    """Height and shaft showing (m) at one shock of an end, both wheels alike; both None takes the pair back."""

    end: str
    position: str
    height: float | None
    shaft: float | None
    note: str = ""
    photo: str = ""
    taken_at: datetime | None = None
    by: str = ""

    @property
    def key(self) -> tuple[str, ...]:
        """What a later pair must share to stand in this one's place."""
        return (self.end, self.position)


WalkRow = Finding | Measured


class Missing(NamedTuple):
    """Places nobody has looked at yet with the axle and the steering so."""

    position: str
    steering: str
    places: tuple[str, ...]


@dataclass(frozen=True)
class CycleTable:
    """Pairs of height and shaft (m), from bump to droop. held_back: why it does not take the place of the truck
    file's table; empty where it may."""

    pairs: Pairs
    held_back: str


@dataclass(frozen=True)
class EndWalk:
    """How far the walk of one end is. asked, done: findings wanted and there. contacts: as walked; close: passes
    with less than the least clearance, tightest first; clear: the other passes, tightest first, unmeasured last.

    missing: what nobody has looked at, in walking order. measured: from bump to droop. unmeasured: positions
    without height and shaft; none are asked for where the end has no shock.
    """

    end: str
    asked: int
    done: int
    contacts: tuple[Finding, ...]
    close: tuple[Finding, ...]
    clear: tuple[Finding, ...]
    missing: tuple[Missing, ...]
    measured: tuple[Measured, ...]
    unmeasured: tuple[str, ...]
    cycle: CycleTable

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Everything found, worst first."""
        return (*self.contacts, *self.close, *self.clear)

    @property
    def begun(self) -> bool:
        """Anything was put down."""
        return bool(self.findings or self.measured)

    @property
    def passed(self) -> bool:
        """All was looked at and nothing touches."""
        return not self.missing and not self.contacts


@dataclass(frozen=True)
class WalkAnswer:
    """How far a truck's walk is, by end. least_clearance: m, common practice where the owner has no other."""

    truck: str
    least_clearance: float
    ends: Mapping[str, EndWalk]

    @property
    def begun(self) -> bool:
        """Anything was put down."""
        return any(end.begun for end in self.ends.values())


# ---------------------------------------------------------------- what is asked for


def stations(end: str) -> Iterator[tuple[str, str]]:
    """Position and steering, in walking order: from bump down to droop, then articulated. Only a shock is measured
    at positions that are not LOOKED_AT."""
    for position in POSITIONS:
        for steering in STEERING[end] if position in LOOKED_AT else STEERING[end][:1]:
            yield position, steering


def places(truck: Truck, end: str, position: str, steering: str) -> tuple[str, ...]:
    """Where to look with the axle and the steering so."""
    if position not in LOOKED_AT:
        return ()
    return truck.walk.places(end, steering or "straight")


def has_shock(truck: Truck, end: str) -> bool:
    """A leaf or a fixed coil has no shaft to measure and no cycle table."""
    return any(truck.corners[corner].shock is not None for corner in SIDES[end])


# ---------------------------------------------------------------- what is there


def latest(rows: Iterable[WalkRow]) -> tuple[WalkRow, ...]:
    """The rows that count: the last of each key, unless it takes back; in the order of their first."""
    last: dict[tuple[str, ...], WalkRow] = {}
    for row in rows:
        last[row.key] = row
    return tuple(row for row in last.values() if not _takes_back(row))


def _takes_back(row: WalkRow) -> bool:
    return row.result == "open" if isinstance(row, Finding) else row.height is None


def measured_at(end: str, rows: Iterable[WalkRow]) -> tuple[Measured, ...]:
    """Pairs of an end that count, from bump to droop."""
    found = [row for row in latest(rows) if isinstance(row, Measured) and row.end == end]
    return tuple(sorted(found, key=lambda row: LEVEL.index(row.position)))


def progress(truck: Truck, rows: Iterable[WalkRow]) -> WalkAnswer:
    """What is done, what touches, what is close and what is missing.

    rows: findings and pairs in the order they were put down. A finding at a place that the truck file does not
    name (any more) is shown but was not asked for.
    Heights and shafts that contradict each other hold their cycle table back.
    """
    rows = tuple(rows)
    ends = {end: _end_walk(truck, end, rows) for end in END_NAMES}
    return WalkAnswer(truck.name, truck.walk.least_clearance, ends)


def _end_walk(truck: Truck, end: str, rows: tuple[WalkRow, ...]) -> EndWalk:
    found = [row for row in latest(rows) if isinstance(row, Finding) and row.end == end]
    walk = {key: number for number, key in enumerate(stations(end))}
    found.sort(key=lambda row: walk[row.position, row.steering])
    passes = sorted((row for row in found if not row.contact), key=_clearance)
    close = [row for row in passes if _clearance(row) < truck.walk.least_clearance]
    done = {row.key for row in found}
    missing, asked = [], 0
    for position, steering in stations(end):
        wanted = places(truck, end, position, steering)
        asked += len(wanted)
        if left := tuple(place for place in wanted if (end, position, steering, place) not in done):
            missing.append(Missing(position, steering, left))
    measured = measured_at(end, rows)
    taken = {row.position for row in measured}
    return EndWalk(
        end=end,
        asked=asked,
        done=asked - sum(len(one.places) for one in missing),
        contacts=tuple(row for row in found if row.contact),
        close=tuple(close),
        clear=tuple(passes[len(close) :]),
        missing=tuple(missing),
        measured=measured,
        unmeasured=tuple(p for p in LEVEL if p not in taken) if has_shock(truck, end) else (),
        cycle=_cycle_or_why_not(truck, end, measured),
    )


def _cycle_or_why_not(truck: Truck, end: str, measured: tuple[Measured, ...]) -> CycleTable:
    try:
        return cycle_table(truck, end, measured)
    except WalkError as error:
        return CycleTable(_pairs(measured), "; ".join(fault.said() for fault in error.faults))


def _clearance(row: Finding) -> float:
    return float("inf") if row.clearance is None else row.clearance


# ---------------------------------------------------------------- the cycle table


def cycle_table(truck: Truck, end: str, rows: Iterable[WalkRow]) -> CycleTable:
    """The cycle table that an end's measured positions give.

    It takes the place of the truck file's once it reaches from bump to droop, and not where it would make a
    straight line of what the truck file has as a curve.
    Raises WalkError where it would not do in a truck file.
    """
    measured = measured_at(end, rows)
    if faults := cycle_faults(truck, end, measured):
        raise WalkError("cycle table", [fault for _, fault in faults])
    return CycleTable(_pairs(measured), _held_back(truck, end, measured))


def cycle_faults(truck: Truck, end: str, measured: Sequence[Measured]) -> list[tuple[Measured, Fault]]:
    """What is wrong with measured positions, and at which: height and shaft must grow from bump to droop, at a
    motion ratio a truck can have and within the stroke."""
    if not has_shock(truck, end):
        mend = "Leave height and shaft out"
        return [(row, Fault(row.position, f"the {end} has no shock to measure", mend)) for row in measured]
    faults = []
    for lower, upper in pairwise(measured):
        if _pair(upper)[0] <= _pair(lower)[0]:
            problem = f"not higher than at {lower.position}, which comes before {upper.position}"
            mend = f"Heights grow in the order {', '.join(LEVEL)}; see which is wrong"
            faults.append((upper, Fault(f"{end}, {upper.position}: height", problem, mend)))
    if faults:  # the shafts can't be judged on heights in disorder
        return faults
    shock = truck.corners[SIDES[end][0]].shock
    names = [row.position for row in measured]
    pairs = tuple(_pair(row) for row in measured)
    for found in cycle_findings(pairs, shock, lambda _: (), truck.units, names):
        if found.path:  # one position alone is a walk begun, not a fault
            row, column = measured[int(found.path[0])], found.path[1]
            faults.append((row, Fault(f"{end}, {row.position}: {column}", found.problem, found.mend)))
    return faults


def in_truck(truck: Truck, end: str, pairs: Pairs) -> bool:
    """These pairs are a cycle table that the truck has at this end."""
    return any(sorted(truck.corners[corner].cycle) == sorted(pairs) for corner in SIDES[end])


def _pair(row: Measured) -> tuple[float, float]:
    assert row.height is not None and row.shaft is not None, "a pair taken back is no position"  # noqa: PT018
    return row.height, row.shaft


def _pairs(measured: Sequence[Measured]) -> Pairs:
    return tuple(_pair(row) for row in measured)


def _held_back(truck: Truck, end: str, measured: Sequence[Measured]) -> str:
    positions = [row.position for row in measured]
    if missing := [position for position in ("bump", "droop") if position not in positions]:
        return f"it needs {' and '.join(missing)}" if positions else ""
    there = max(len(truck.corners[corner].cycle) for corner in SIDES[end])
    if len(positions) < CURVE_FROM <= there:
        return (
            f"a curve goes through the {there} positions of the truck file, and only a straight line would through "
            f"these {len(positions)}: measure {CURVE_FROM} or more"
        )
    return ""
