"""Where the truck should stand, whatever springs put it there. SI inside.

Springs and nuts only lift corners: what heights, loads and cross-weight go together is settled by the weight and
the frame. So the place nearest to the targets is found once, with make-believe springs that never bind and nuts
that never end, and every real pair of springs is then asked for that place.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from . import stack as springs
from .allowed import allowed_turns
from .arrays import Array, Flags
from .bench import Bench, Outlook, Wish
from .fit import Fit
from .statics import Struts, equilibrium
from .truck import CORNERS, END_OF, SIDES

ROUNDS = 12
NUDGE = 1e-4  # m of preload, for slopes
DONE = 1e-6  # m of preload
STRIDES = np.array([1.0, 0.5, 0.2, 0.05])
KEEP_OTHER = (
    0.1 / 0.0254
)  # tolerances per metre: a nut at the end that keeps its springs is moved for a reason
KEEP_OWN = 1e-3 / 0.0254  # so that what no target asks for stays as it is


@dataclass(frozen=True)
class Plan:
    """Where the truck should stand, for each vector of unknowns: (n, 4) each, m and N.

    preload: of the nuts at an end that keeps its springs; at an end whose springs are sought, of the make-believe
    ones.
    """

    strut: Struts
    heights: Array
    loads: Array
    seat_height: Array
    seat_load: Array
    preload: Array

    @property
    def force(self) -> Array:
        """Spring force each corner needs (N)."""
        return self.strut.spring_force(self.seat_load, self.seat_height)


def plan(fit: Fit, ends: tuple[str, ...], wishes: tuple[Wish, ...], theta: Array, even: float = 0.0) -> Plan:
    """The place nearest to the wishes (squared miss in tolerances) when the springs at `ends` may be any.

    theta: (n, p). even: how dear it is, in tolerances, that the springs at one side of such an end carry all and the
    others nothing. Without it a stiff frame that has to meet four heights exactly may ask of springs that are
    bought in pairs to carry very unlike loads.

    The nuts of an end that keeps its springs are held inside what they allow. On a ring or at the end of its thread
    such a nut shows no slope to follow; so the search starts from today, and again from where its springs would have
    to be if every spring might be any, and the nearer place counts.
    """
    p = fit.parameters(theta)
    nuts = np.array([fit.truck.corners[c].adjuster is not None for c in CORNERS])
    sought = np.array([END_OF[c] in ends for c in CORNERS]) & nuts
    keep = np.where(sought, KEEP_OWN, KEEP_OTHER)
    real = replace(fit.strut, compliance=p.compliance, datum=p.datum)
    here = _seats(fit, *equilibrium(real, fit.axle, p.weight, p.offset, p.twist))

    def nearest(strut: Struts, home: Array, start: Array, reach: tuple[Array, Array]) -> tuple[Array, Array]:
        def miss(preload: Array) -> Array:
            moved = replace(strut, preload=preload)
            outlook = Outlook(*equilibrium(moved, fit.axle, p.weight, p.offset, p.twist))
            one_sided = _one_sided(fit.axle.seat_loads(outlook.loads), ends)
            return np.concatenate([outlook.miss(wishes), even * one_sided], axis=-1)

        return _nearest(miss, home, start, (*reach, nuts), keep)

    strut, anywhere = _make_believe(real, sought), (np.full(4, -springs.NO_STOP), np.full(4, springs.NO_STOP))
    reach = _reach(fit, sought)
    home = np.where(sought, _preload_for(strut, *here), fit.preload)
    preload, miss = nearest(strut, home, home, reach)
    if (nuts & ~sought).any():
        free = _make_believe(real, nuts)
        start = np.where(nuts, _preload_for(free, *here), fit.preload)
        ideal, _ = nearest(free, start, start, anywhere)
        moved = replace(free, preload=ideal)
        there = _seats(fit, *equilibrium(moved, fit.axle, p.weight, p.offset, p.twist))
        start = np.where(sought, ideal, np.clip(_preload_for(real, *there), *reach))
        other, other_miss = nearest(strut, home, start, reach)
        preload = np.where((other_miss < miss)[:, None], other, preload)
    strut = replace(strut, preload=preload)
    heights, loads = equilibrium(strut, fit.axle, p.weight, p.offset, p.twist)
    return Plan(strut, heights, loads, *_seats(fit, heights, loads)[::-1], preload)


def _seats(fit: Fit, heights: Array, loads: Array) -> tuple[Array, Array]:
    """Seat loads (N) and seat heights (m) of a stand."""
    return fit.axle.seat_loads(loads), fit.axle.seat_heights(heights)


def _one_sided(seat_load: Array, ends: tuple[str, ...]) -> Array:
    """Left minus right load of each end, as a share of both, (..., ends)."""
    pairs = [seat_load[..., [CORNERS.index(c) for c in SIDES[end]]] for end in ends]
    return np.stack([(pair[..., 0] - pair[..., 1]) / pair.sum(axis=-1) for pair in pairs], axis=-1)


def _make_believe(strut: Struts, sought: Flags) -> Struts:
    """Springs without stops where springs are sought."""
    return replace(
        strut,
        ring_gap=np.where(sought, springs.NO_STOP, strut.ring_gap),
        solid_travel=np.where(sought[:, None], springs.NO_STOP, strut.solid_travel),
    )


def _preload_for(strut: Struts, seat_load: Array, seat_height: Array) -> Array:
    """Preload with which springs off their ring carry a load at a height: p = Σ min(F/k, to solid) + datum − s."""
    used = strut.stroke - strut.cycle.shaft(seat_height)
    force = np.maximum(strut.spring_force(seat_load, seat_height), 0.0)
    return np.asarray(springs.deflection(force, strut.compliance, strut.solid_travel) + strut.datum - used)


def _reach(fit: Fit, sought: Flags) -> tuple[Array, Array]:
    """Least and most preload at each corner (m)."""
    bench = Bench(fit, fit.theta[None])
    low, high = np.full(4, -springs.NO_STOP), np.full(4, springs.NO_STOP)
    for corner, room in allowed_turns(bench).items():
        i = CORNERS.index(corner)
        if not sought[i]:
            low[i] = fit.preload[i] + room.low * bench.per_turn[i]
            high[i] = fit.preload[i] + room.high * bench.per_turn[i]
    return low, high


def _nearest(
    missed: Callable[[Array], Array],
    home: Array,
    start: Array,
    reach: tuple[Array, Array, Flags],
    keep: Array,
) -> tuple[Array, Array]:
    """Preloads (n, 4) of least squared miss, and that miss with what it costs to be away from home, (n,).

    missed: from preloads (..., n, 4) to misses in tolerances (..., n, misses).

    Gauss and Newton's steps, shortened where a knee makes them too long; a nut at the end of its thread is let go of
    as soon as it would turn back. keep: (4,), how dear a metre away from home is, in tolerances.
    """
    low, high, nuts = reach

    def cost(preload: Array) -> Array:
        away = keep * (preload - home)
        return np.asarray((missed(preload) ** 2).sum(axis=-1) + (away**2).sum(axis=-1))

    preload, best = start, cost(start)
    for _ in range(ROUNDS):
        nudged = missed(preload + NUDGE * np.vstack([np.zeros(4), np.eye(4)])[:, None])
        miss, slope = nudged[0], np.moveaxis((nudged[1:] - nudged[0]) / NUDGE, 0, -1)
        back = np.swapaxes(slope, -1, -2)
        pull = (back @ miss[..., None])[..., 0] + keep**2 * (preload - home)
        ended = ((preload <= low + DONE) & (pull > 0)) | ((preload >= high - DONE) & (pull < 0))
        open_ = nuts & ~ended
        slope = slope * open_[:, None]
        normal = np.swapaxes(slope, -1, -2) @ slope + np.diag(keep**2)
        step = -np.linalg.solve(normal, (pull * open_)[..., None])[..., 0]
        tries = np.clip(preload + STRIDES[:, None, None] * step, low, high)
        costs = cost(tries)
        choice = costs.argmin(axis=0)
        moved, gained = tries[choice, np.arange(len(start))], costs.min(axis=0)
        better = gained < best
        done = not better.any() or np.abs(np.where(better[:, None], moved - preload, 0.0)).max() < DONE
        preload, best = np.where(better[:, None], moved, preload), np.minimum(best, gained)
        if done:
            break
    return preload, best
