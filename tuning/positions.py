"""Where nut, slider, ring, perch and shaft are at a height of the axle, and what the springs do there. SI.

        ── nut       on the body; comes down by the preload p from where the springs are snug at full extension
         upper
        ══ ring      on the body, above the slider by the ring gap when the springs are snug and p = 0
        ── slider
         lower
        ── perch     on the end of the shaft

With the shaft in by s = stroke − shaft, the springs are pressed together by x = p + s − datum. A spring's length is
its free length less its part of x, and the slider is below its ring by ring gap + p − the upper's part.

By hand: upper 200 over lower 300 lbf/in, ring gap 2 in, p = 1 in, s = 4 in, datum 0. Then x = 5 in. Both working
share it as 1/200 : 1/300, so the upper takes 3 in, which is just ring gap + p: the slider meets its ring, at
600 lbf. An inch of shaft more goes into the lower alone: 3 in each, 900 lbf, at 300 lbf/in.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from . import stack as springs
from .arrays import Array
from .statics import Axles, Struts
from .truck import Spring, Stack

BOTH, ONE, BOUND, LOOSE = "both springs", "the spring", "bound", "loose"
ON_RING = "lower only: slider on its ring"
UPPER_SOLID, LOWER_SOLID = "lower only: upper is coil-bound", "upper only: lower is coil-bound"


@dataclass(frozen=True)
class Position:
    """One corner at one height of its axle. m, N, N/m; None what the truck file doesn't say or a leaf doesn't have.

    shaft: showing; below zero the shock would have bottomed. upper_left, lower_left: travel to solid left, below
    zero missing. works: which springs give way there, in the words above. rate: theirs along the shock, None where
    bound. load: at the wheel, None where the springs can't be pressed so far. compression: of the springs together;
    below zero they are loose by so much.
    """

    height: float
    shaft: float | None = None
    travel_used: float | None = None
    upper_length: float | None = None
    lower_length: float | None = None
    upper_left: float | None = None
    lower_left: float | None = None
    ring_distance: float | None = None
    works: str | None = None
    rate: float | None = None
    load: float | None = None
    compression: float | None = None

    @property
    def loose(self) -> float | None:
        """How far the springs are from being seated (m), zero where they are."""
        return None if self.compression is None else max(0.0, -self.compression)


def pressed(compression: float, compliance: Array, limit: Array, solid_travel: Array) -> tuple[Array, float]:
    """How far upper and lower are pressed, (2,) m, and the force in them (N), inf past solid.

    compliance, limit, solid_travel: (2,), as in `stack`. What no spring can take is put to the one that went solid
    last, so that its travel left comes out below zero.
    """
    force = float(springs.force(np.array(compression), compliance, limit))
    if np.isfinite(force):
        return np.minimum(force * compliance, limit), force
    each = limit.copy()
    upper_last = limit[0] >= solid_travel[0] and limit[0] * compliance[1] > limit[1] * compliance[0]
    each[0 if upper_last else 1] += compression - limit.sum()
    return each, force


def _works(compression: float, force: float, compliance: Array, limit: Array, on_ring: bool) -> str:
    """Which springs give way if the axle moves on. on_ring: the ring stops the upper before it is solid."""
    if compression <= 0:
        return LOOSE
    there = compliance > 0
    give = there & (force * np.where(there, compliance, 0.0) < limit) if np.isfinite(force) else there & False
    if not give.any():
        return BOUND
    if not there.all():
        return ONE
    if give.all():
        return BOTH
    if give[0]:
        return LOWER_SOLID
    return ON_RING if on_ring else UPPER_SOLID


def _at(strut: Struts, i: int, stack: Stack, height: float, shaft: float) -> tuple[Position, float]:
    """A corner with a shock, its wheel load left open, and the force in its springs (N)."""
    preload, compliance, solid_travel = float(strut.preload[i]), strut.compliance[i], strut.solid_travel[i]
    limit = strut.limit()[i]
    used = float(strut.stroke[i]) - shaft
    compression = preload + used - float(strut.datum[i])
    each, force = pressed(compression, compliance, limit, solid_travel)
    upper, lower = (float(part) for part in each)
    works = _works(compression, force, compliance, limit, bool(limit[0] < solid_travel[0]))
    gives = {BOTH: float(compliance.sum()), LOWER_SOLID: compliance[0], LOOSE: np.inf, BOUND: 0.0}
    soft = float(gives.get(works, compliance[1]))
    ring = None
    if stack.upper is not None and stack.ring_gap is not None:
        # Loose springs stand on the perch, so the slider hangs lower by as much as they are loose.
        ring = max(stack.ring_gap + preload, 0.0) - upper + max(0.0, -compression)
    position = Position(
        height=height,
        shaft=shaft,
        travel_used=used,
        upper_length=_length(stack.upper, upper),
        lower_length=_length(stack.lower, lower),
        upper_left=_left(stack.upper, upper),
        lower_left=_left(stack.lower, lower),
        ring_distance=ring,
        works=works,
        rate=1 / soft if soft > 0 else None,
        compression=compression,
    )
    return position, force


def _length(spring: Spring | None, taken: float) -> float | None:
    return None if spring is None or spring.free_length is None else spring.free_length - taken


def _left(spring: Spring | None, taken: float) -> float | None:
    if spring is None or not np.isfinite(spring.travel_to_solid):
        return None
    return spring.travel_to_solid - taken


def positions_at(
    strut: Struts, axle: Axles, stacks: Sequence[Stack], seat_height: Array
) -> tuple[Position | None, ...]:
    """Every corner at these seat heights (m), (4,), NaN where it is not to be there: then None, as at a leaf.

    Wheel loads are those of both wheels of an axle at their heights: what springs and gas carry, without bump stop,
    strap or friction.
    """
    shaft = strut.cycle.shaft(seat_height)
    found: list[Position | None] = [None] * 4
    forces = np.full(4, np.nan)
    there = ~np.isnan(seat_height) & np.isfinite(strut.full_extension)
    for i, stack in enumerate(stacks):
        if there[i]:
            found[i], forces[i] = _at(strut, i, stack, float(seat_height[i]), float(shaft[i]))
    with np.errstate(invalid="ignore"):  # a corner past solid carries anything
        wheel = axle.wheel_loads(strut.seat_load(forces, seat_height))
    return tuple(
        p if p is None or not np.isfinite(w) else replace(p, load=float(w))
        for p, w in zip(found, wheel, strict=True)
    )
