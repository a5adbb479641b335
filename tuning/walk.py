"""The cycle walk: how far it is, what touches, what is close, what is missing, and its cycle table. Lengths m.

A person walks round an axle that is cycled with its springs out; `findings` has the words and the rows.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from .faults import Fault, InputError
from .findings import LEVEL, LOOKED_AT, POSITIONS, STEERING, Finding, Measured, WalkRow, latest, measured_at
from .truck import END_NAMES, SIDES, Truck
from .truckchecks import cycle_findings

CURVE_FROM = 4  # positions from which the statics put a curve through a cycle table, not a straight line

Pairs = tuple[tuple[float, float], ...]


class WalkError(InputError):
    """A walk that can't be used; `faults` says all that is wrong with it."""


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
