"""Where the truck should stand, whatever springs put it there. SI inside.

Springs and nuts only lift corners: what heights, loads and cross-weight go together is settled by the weight and
the frame. So the place nearest to the targets is found once, with make-believe springs that never bind and nuts
that never end, and every real pair of springs is then asked for that place.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from . import stack as springs
from .adjust import Bench, Outlook, Wish, allowed_turns
from .arrays import Array, Flags
from .fit import Fit
from .statics import Struts, equilibrium
from .truck import CORNERS, END_OF

ROUNDS = 12
NUDGE = 1e-4  # m of preload, for slopes
DONE = 1e-6  # m of preload
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


def plan(fit: Fit, ends: tuple[str, ...], wishes: tuple[Wish, ...], theta: Array) -> Plan:
    """The place nearest to the wishes (squared miss in tolerances) when the springs at `ends` may be any.

    theta: (n, p). Gauss and Newton's steps in the preloads, from where the truck stands now, with nuts of the
    other end held inside what they allow.
    """
    sought = np.array([END_OF[c] in ends for c in CORNERS])
    p = fit.parameters(theta)
    strut = replace(fit.strut, compliance=p.compliance, datum=p.datum)
    heights, loads = equilibrium(strut, fit.axle, p.weight, p.offset, p.twist)
    seat_height, seat_load = fit.axle.seat_heights(heights), fit.axle.seat_loads(loads)
    strut = _make_believe(strut, sought)
    now = _preload_for(strut, strut.spring_force(seat_load, seat_height), seat_height)
    preload = np.where(sought, now, fit.preload)
    low, high, free = _reach(fit, sought)

    def outlook(at: Array) -> Outlook:
        moved = replace(strut, preload=at)
        return Outlook(*equilibrium(moved, fit.axle, p.weight, p.offset, p.twist))

    preload = _nearest(outlook, wishes, preload, (low, high, free), np.where(sought, KEEP_OWN, KEEP_OTHER))
    there = outlook(preload)
    return Plan(
        replace(strut, preload=preload),
        there.heights,
        there.loads,
        fit.axle.seat_heights(there.heights),
        fit.axle.seat_loads(there.loads),
        preload,
    )


def _make_believe(strut: Struts, sought: Flags) -> Struts:
    """Springs without stops where springs are sought."""
    return replace(
        strut,
        ring_gap=np.where(sought, springs.NO_STOP, strut.ring_gap),
        solid_travel=np.where(sought[:, None], springs.NO_STOP, strut.solid_travel),
    )


def _preload_for(strut: Struts, force: Array, seat_height: Array) -> Array:
    """Preload with which springs without stops carry a force at a height: p = Σ F/k + datum − s."""
    used = strut.stroke - strut.cycle.shaft(seat_height)
    return np.asarray(force * strut.compliance.sum(axis=-1) + strut.datum - used)


def _reach(fit: Fit, sought: Flags) -> tuple[Array, Array, Flags]:
    """Least and most preload at each corner (m), and which nuts may be moved at all."""
    bench = Bench(fit, fit.theta[None])
    low, high = np.full(4, -springs.NO_STOP), np.full(4, springs.NO_STOP)
    for corner, room in allowed_turns(bench).items():
        i = CORNERS.index(corner)
        if not sought[i]:
            low[i] = fit.preload[i] + room.low * bench.per_turn[i]
            high[i] = fit.preload[i] + room.high * bench.per_turn[i]
    return low, high, bench.per_turn > 0


def _nearest(
    outlook: Callable[[Array], Outlook],
    wishes: tuple[Wish, ...],
    start: Array,
    reach: tuple[Array, Array, Flags],
    keep: Array,
) -> Array:
    """Preloads (n, 4) of least squared miss. keep: (4,), how dear a metre away from the start is, in tolerances."""
    low, high, free = reach
    preload, stuck = start, np.zeros(start.shape, dtype=bool)
    for _ in range(ROUNDS):
        miss = outlook(preload).miss(wishes)
        nudged = [outlook(preload + NUDGE * nut).miss(wishes) for nut in np.eye(4)]
        slope = np.stack([(n - miss) / NUDGE for n in nudged], axis=-1) * (free & ~stuck)[:, None]
        back = np.swapaxes(slope, -1, -2)
        pull = (back @ miss[..., None])[..., 0] + keep**2 * (preload - start)
        step = -np.linalg.solve(back @ slope + np.diag(keep**2), pull[..., None])[..., 0]
        wanted = preload + step * (free & ~stuck)
        stuck |= (wanted < low) | (wanted > high)
        moved = np.clip(wanted, low, high)
        if np.abs(moved - preload).max() < DONE:
            return moved
        preload = moved
    return preload
