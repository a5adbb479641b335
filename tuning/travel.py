"""Is the travel right: every corner at full bump, ride, strapped droop and full droop, today or after some turns. SI.

Bump, strap and droop are geometry: the cycle table gives the shaft, the stack the rest. Ride is where the truck
stands by its fit. Springs and datum are the fitted ones.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from .arrays import Array
from .bench import bench, load_known
from .check import Check
from .curve import at_best, crossover
from .cycle import Cycle
from .ends import ends_of_travel
from .fit import Fit
from .interval import NORMAL_HALF_WIDTH, Interval, from_draws
from .positions import Position, positions_at
from .statics import Struts
from .travel_case import Case
from .travel_checks import checks_of
from .truck import CORNERS, Stack
from .units import decimal_length, shop_length

POSITIONS = ("bump", "ride", "strap", "droop")


@dataclass(frozen=True)
class CornerTravel:
    """One corner. Lengths m; None where there is no shock or nothing is known.

    height: where it rides, with how sure. positions: by name, those of POSITIONS that are known, and `squashed`, a
    soft bump stop pressed solid. crossover: height. up_travel, down_travel: of the wheel from ride to full bump and to
    strapped droop. up_share: up-travel's part of both. unsure: of the spring lengths, half a 90 % interval.
    notes: what had to be taken for something else, in words.
    """

    corner: str
    stack: Stack
    preload: float | None
    height: Interval
    positions: dict[str, Position]
    crossover: float | None
    up_travel: float | None
    down_travel: float | None
    up_share: float | None
    unsure: float | None
    checks: tuple[Check, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class TravelAnswer:
    """The answer. turns: those it is about, by corner, empty for today's setting."""

    run: str
    turns: dict[str, float]
    corners: dict[str, CornerTravel]


def travel(
    fit: Fit, turns: Mapping[str, float] | None = None, draws: int = 1000, seed: int = 0
) -> TravelAnswer:
    """Every corner over its travel, at today's setting or after turns. Raises AdjustError for turns where no nut is."""
    given = {} if turns is None else dict(turns)
    table = bench(fit, draws, seed)
    wanted = table.given(given)
    strut = at_best(fit, fit.preload + wanted * table.per_turn)
    heights = table.outlook(wanted[None], table.draws).heights[0]
    expected = table.outlook(wanted[None], fit.theta[None])
    ride = _at_ride(fit, strut, expected.heights[0, 0], expected.loads[0, 0])
    found = ends_of_travel(fit.truck, strut)
    axle, stacks = fit.axle, fit.stacks
    ends = {name: positions_at(strut, axle, stacks, seats) for name, seats in found.items()}
    corners = {}
    for i, name in enumerate(CORNERS):
        own = {end: p for end, row in ends.items() if (p := row[i]) is not None} | {"ride": ride[i]}
        corners[name] = _corner(fit, strut, i, own, from_draws(heights[:, i]))
    return TravelAnswer(fit.runs[-1].name, given, corners)


def _at_ride(fit: Fit, strut: Struts, heights: Array, loads: Array) -> tuple[Position, ...]:
    """Where every corner stands, its height at the marks and its load by the weight; of a leaf nothing else."""
    seats = fit.axle.seat_heights(heights)
    found = []
    for i, position in enumerate(positions_at(strut, fit.axle, fit.stacks, seats)):
        load = float(loads[i]) if load_known(fit, i) else None
        own = Position(0.0, rate=float(1 / strut.compliance[i, 1])) if position is None else position
        found.append(replace(own, height=float(heights[i]), load=load))
    return tuple(found)


def _corner(
    fit: Fit, strut: Struts, i: int, positions: dict[str, Position], height: Interval
) -> CornerTravel:
    """One corner, put together and checked."""
    name = CORNERS[i]
    corner, stack = fit.truck.corners[name], fit.stacks[i]
    plan, ride = corner.travel, positions["ride"].height
    bump = positions["bump"].height if "bump" in positions else plan.height_full_bump
    strap = positions["strap"].height if "strap" in positions else plan.height_strap
    up = None if bump is None else ride - bump
    down = None if strap is None else strap - ride
    preload = None if corner.adjuster is None else float(strut.preload[i])
    met = None if corner.shock is None else crossover(strut, i)
    checks: tuple[Check, ...] = ()
    if corner.shock is not None:
        case = Case(
            truck=fit.truck,
            corner=corner,
            stack=stack,
            cycle=cycle_of(strut, i),
            preload=float(strut.preload[i]),
            preload_range=(0.0, 0.0) if corner.adjuster is None else corner.preload_range(stack),
            bump=positions["bump"],
            ride=positions["ride"],
            strap=positions["strap"],
            squashed=positions.get("squashed"),
            crossover=None if met is None else met[1],
            upper_share=float(strut.compliance[i, 0] / strut.compliance[i].sum()),
            first_run=len(fit.runs) == 1,
        )
        checks = checks_of(case)
    return CornerTravel(
        corner=name,
        stack=stack,
        preload=preload,
        height=height,
        positions=positions,
        crossover=None if met is None else met[1],
        up_travel=up,
        down_travel=down,
        up_share=up / (up + down) if up is not None and down is not None and up + down > 0 else None,
        unsure=None if corner.shock is None else NORMAL_HALF_WIDTH * _datum_sd(fit, i),
        checks=checks,
        notes=_notes(fit, i, positions),
    )


def cycle_of(strut: Struts, i: int) -> Cycle:
    """The cycle curve of one corner."""
    cycle = strut.cycle
    return Cycle(cycle.middle[i], cycle.a[i], cycle.b[i], cycle.c[i])


def _datum_sd(fit: Fit, i: int) -> float:
    return float(fit.regression.sd[fit.unknowns.datum][i])


def _notes(fit: Fit, i: int, positions: dict[str, Position]) -> tuple[str, ...]:
    """What had to be taken for something else, and what can't be."""
    corner, system = fit.truck.corners[CORNERS[i]], fit.truck.units
    if corner.shock is None:
        return ("no shock to measure on: only where it rides is known",)
    plan, said = corner.travel, []
    ride, bump, droop = (positions[name].height for name in ("ride", "bump", "droop"))
    if plan.height_full_bump is None:
        said.append(
            f"full bump is not measured: taken as the lowest height of the cycle table, {shop_length(bump, system)}"
        )
    if plan.height_strap is None:
        said.append("no strap is measured: strapped droop is taken as full droop")
    elif plan.height_strap > droop:
        over = decimal_length(plan.height_strap - droop, system)
        said.append(
            f"the shock is fully extended {over} before the strap is tight: it stops the axle, not the strap"
        )
    if ride <= bump:
        said.append(
            f"it rides {decimal_length(bump - ride, system)} below full bump: it stands on its bump stop"
        )
    if None in (
        positions["bump"].lower_length,
        positions["bump"].upper_length if fit.stacks[i].upper else 0.0,
    ):
        said.append("spring lengths are unknown where the truck file gives no free length")
    return tuple(said)
