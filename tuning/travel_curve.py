"""Load against height over the whole travel of one corner, with what happens on the way. SI."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from . import stack as springs
from .arrays import Array
from .bench import Bench
from .curve import at_best, knee
from .ends import ends_of_travel
from .fit import Fit
from .statics import Struts
from .truck import CORNERS

POINTS = 81
BUMP, SQUASHED, RIDE, STRAP, DROOP = "full bump", "bump stop solid", "ride", "strap", "full droop"
TOUCH, CROSSOVER, LOOSE = "bump stop touches", "crossover", "springs loose"
SOLID = ("upper coil-bound", "lower coil-bound")
ONE_SOLID = "spring coil-bound"


@dataclass(frozen=True)
class Event:
    """Something that happens at a height (m). load: at the spring seat (N), None where the springs can't be pressed
    so far."""

    name: str
    height: float
    load: float | None


@dataclass(frozen=True)
class TravelCurve:
    """Load at the axle's spring seat (N), springs and gas, against height (m), from as high as the axle can come up
    to full droop. events: lowest first."""

    corner: str
    height: Array
    load: Array
    events: tuple[Event, ...]


def travel_curve(fit: Fit, corner: str, turns: Mapping[str, float] | None = None) -> TravelCurve | None:
    """The curve of a corner at today's setting or after turns; None where there is no shock.

    Raises ValueError for a name that is no corner, AdjustError for turns where no nut is.
    """
    i = CORNERS.index(corner)
    if fit.truck.corners[corner].shock is None:
        return None
    table = Bench(fit, fit.theta[None])
    wanted = table.given(turns or {})
    strut = at_best(fit, fit.preload + wanted * table.per_turn)
    stands = fit.axle.seat_heights(table.outlook(wanted[None], fit.theta[None]).heights[0, 0])
    places = {**_ends(fit, strut, i), RIDE: float(stands[i]), **dict(_on_the_way(fit, strut, i))}
    least = places.get(SQUASHED, places[BUMP])
    lowest = max(least, _fully_pressed(strut, i))
    places = {name: h for name, h in places.items() if least - 1e-9 <= h <= places[DROOP] + 1e-9}
    inside = [height for height in places.values() if height >= lowest]
    heights = np.unique([*np.linspace(lowest, places[DROOP], POINTS), *inside])
    loads = dict(zip(heights.tolist(), _loads(strut, i, heights).tolist(), strict=True))
    events = [Event(name, height, loads.get(height)) for name, height in places.items()]
    return TravelCurve(
        corner, heights, np.array(list(loads.values())), tuple(sorted(events, key=lambda e: e.height))
    )


def _ends(fit: Fit, strut: Struts, i: int) -> dict[str, float]:
    """Ends of travel by name: a strap and a bump stop only where they were measured."""
    found = {name: float(heights[i]) for name, heights in ends_of_travel(fit.truck, strut).items()}
    travel = fit.truck.corners[CORNERS[i]].travel
    ends = {BUMP: found["bump"], DROOP: found["droop"]}
    if travel.height_strap is not None:
        ends[STRAP] = found["strap"]
    if travel.bump_stop_contact is not None:
        ends[TOUCH] = travel.bump_stop_contact
    if found["squashed"] < found["bump"]:
        ends[SQUASHED] = found["squashed"]
    return ends


def _on_the_way(fit: Fit, strut: Struts, i: int) -> Iterator[tuple[str, float]]:
    """Heights at which springs stop or come loose, those above as high as the axle comes."""
    limit, solid_travel = strut.limit()[i], strut.solid_travel[i]
    by_ring = fit.stacks[i].ring_gap is not None and limit[0] < solid_travel[0]
    last = ONE_SOLID if fit.stacks[i].upper is None else SOLID[1]
    for which, name in enumerate((CROSSOVER if by_ring else SOLID[0], last)):
        stop = knee(strut, i, which)
        if stop is not None and stop[1] >= _fully_pressed(strut, i) - 1e-9:
            yield name, stop[1]
    yield LOOSE, _height_of(strut, i, 0.0)


def _height_of(strut: Struts, i: int, compression: float) -> float:
    """Seat height (m) with the springs pressed together by so much."""
    shaft = strut.preload + strut.stroke - strut.datum - compression
    return float(strut.cycle.height(shaft)[i])


def _fully_pressed(strut: Struts, i: int) -> float:
    """Seat height (m) at which every spring is on its stop; far below all where that is not known."""
    most = float(strut.limit()[i].sum())
    return _height_of(strut, i, most) if most < springs.NO_STOP else -np.inf


def _loads(strut: Struts, i: int, heights: Array) -> Array:
    """Seat loads (n,) of a corner at seat heights (n,) down to fully pressed."""
    grid, limit = np.repeat(heights[:, None], 4, axis=1), strut.limit()
    pressed = np.minimum(strut.compression(grid) - strut.datum, limit.sum(axis=-1))
    return np.asarray(strut.seat_load(springs.force(pressed, strut.compliance, limit), grid)[:, i])
