"""The fitted line of one corner as a person expects to see it: load against height at today's preload. SI."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from . import stack as springs
from .arrays import Array
from .fit import Check, Fit
from .lines import Evidence, evidence_of
from .readings import Reading
from .statics import Struts
from .truck import CORNERS, Truck


@dataclass(frozen=True)
class Point:
    """A reading on the picture: load on the springs (N) and height at the seat (m), moved to today's preload."""

    reading: Reading
    load: float
    height: float
    height_sd: float
    check: Check | None


@dataclass(frozen=True)
class CornerCurve:
    """Height (m) against load on the springs (N) at today's preload, with its 90 % band for the true line.

    nominal: the same from the truck file alone. crossover: (load, height) where the slider meets its ring, None
    where it never does. bump, droop: heights at the ends of travel, None where not known.
    """

    corner: str
    preload: float
    loads: Array
    height: Array
    low: Array
    high: Array
    nominal: Array
    crossover: tuple[float, float] | None
    bump: float | None
    droop: float | None
    points: tuple[Point, ...]


def corner_curve(fit: Fit, corner: str, draws: int = 300, count: int = 61) -> CornerCurve:
    """The line of a corner. Raises ValueError for a name that is no corner."""
    i = CORNERS.index(corner)
    points = _points(fit, i)
    now = max([p.load for p in points], default=5000.0)
    loads = np.linspace(0.35 * now, 1.6 * now, count)
    grid = np.repeat(loads[:, None], 4, axis=1)

    def heights(theta: Array) -> Array:
        """(draws, count)"""
        p = fit.parameters(theta)
        strut = replace(fit.strut, compliance=p.compliance[:, None], datum=p.datum[:, None])
        return _heights(strut, grid)[..., i]

    spread = heights(fit.draws(draws))
    best = heights(fit.theta[None])[0]
    low, high = np.quantile(spread, [0.05, 0.95], axis=0)
    nominal = _heights(fit.strut, grid)[..., i]
    if not fit.evidence.has_datum[i]:  # nothing nominal is known of a leaf's free height: hang it on the fit
        nominal = nominal + np.interp(now, loads, best) - np.interp(now, loads, nominal)
    table, travel = fit.truck.corners[corner].cycle, fit.truck.corners[corner].travel
    return CornerCurve(
        corner=corner,
        preload=float(fit.preload[i]),
        loads=loads,
        height=best,
        low=low,
        high=high,
        nominal=nominal,
        crossover=crossover(at_best(fit), i),
        bump=travel.height_full_bump if travel.height_full_bump or not table else min(h for h, _ in table),
        droop=travel.height_strap if travel.height_strap or not table else max(h for h, _ in table),
        points=points,
    )


def _heights(strut: Struts, loads: Array) -> Array:
    return strut.height_under(loads, springs.ladder(strut.compliance, strut.limit()))


def at_best(fit: Fit, preload: Array | None = None) -> Struts:
    """Today's corners by the best estimate, (4,), at today's preload or at another (4,) m."""
    best = fit.parameters(fit.theta[None])
    nuts = fit.preload if preload is None else preload
    return replace(fit.strut, compliance=best.compliance[0], datum=best.datum[0], preload=nuts)


def crossover(strut: Struts, i: int) -> tuple[float, float] | None:
    """Load and height at a corner's seat at which the upper stops on its ring or goes solid; None: it never does."""
    return knee(strut, i, 0)


def knee(strut: Struts, i: int, which: int) -> tuple[float, float] | None:
    """The same for the upper (0) or the lower (1), at its own stop."""
    limit, compliance = strut.limit()[i, which], strut.compliance[i, which]
    if compliance == 0 or limit >= springs.NO_STOP:
        return None
    force = np.full(4, limit / compliance)
    deflected = springs.deflection(force, strut.compliance, strut.limit())
    height = strut.cycle.height(strut.preload + strut.stroke - strut.datum - deflected)
    return float(strut.seat_load(force, height)[i]), float(height[i])


def doubtful_points(fit: Fit, corner: str, trucks: Sequence[Truck]) -> tuple[Point, ...]:
    """Readings of a corner that are in doubt, where they would stand: the fit knows nothing of them.

    trucks: one for each run of the fit. height_sd is NaN.
    """
    if not any(r.doubt for run in fit.runs for r in run.at(corner)):
        return ()
    original: dict[int, Reading] = {}

    def cleared(reading: Reading) -> Reading:
        clear = replace(reading, doubt="")
        original[id(clear)] = reading
        return clear

    runs = [replace(run, readings=tuple(cleared(r) for r in run.readings)) for run in fit.runs]
    evidence = evidence_of(runs, trucks, fit.stacks)
    if evidence.unknowns != fit.unknowns:
        return ()
    placed = _placed(fit, evidence, CORNERS.index(corner))
    found = [(original[id(reading)], load, height) for _, reading, load, height in placed]
    return tuple(Point(r, load, height, float("nan"), None) for r, load, height in found if r.doubt)


def _points(fit: Fit, i: int) -> tuple[Point, ...]:
    """Readings of a corner that were weighed, with how sure each is."""
    sd = np.sqrt(np.diagonal(fit.rows.covariance, axis1=1, axis2=2)[:, :4]) / -np.diagonal(
        fit.rows.tape[:, :4], axis1=1, axis2=2
    )
    checks = {id(c.reading): c for c in fit.checks_at(CORNERS[i], "height")}
    return tuple(
        Point(reading, load, height, float(sd[row, i]), checks.get(id(reading)))
        for row, reading, load, height in _placed(fit, fit.evidence, i)
    )


def _placed(fit: Fit, evidence: Evidence, i: int) -> list[tuple[int, Reading, float, float]]:
    """Readings of a corner that were weighed, each moved to today's preload and springs by the model: its round, load
    (N) and height (m) at the seat."""
    seat_load = evidence.axle.seat_loads(evidence.rounds.load)
    seat_height = evidence.axle.seat_heights(evidence.rounds.height)
    share = np.append(fit.theta, 0.0)
    then = replace(
        evidence.strut,
        compliance=evidence.strut.compliance * (1 + share[evidence.spring_index]),
        datum=evidence.datum(fit.theta),
    )
    safe = np.nan_to_num(seat_load, nan=1000.0)
    moved = seat_height + _heights(at_best(fit), safe) - _heights(then, safe)
    found = []
    for row in np.nonzero(~np.isnan(seat_load + seat_height)[:, i])[0]:
        reading = evidence.rounds.readings[row][i]
        if reading is not None and reading.height is not None:
            found.append((int(row), reading, float(seat_load[row, i]), float(moved[row, i])))
    return found
