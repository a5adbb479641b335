"""Where a truck stands: seat loads, wheel loads and the one scalar equation that ties the four corners. SI.

Axes as in ISO 8855: x forward, y left, z up. Arrays end in an axis over the corners LF, RF, LR, RR; leading
axes are free (readings, parameter draws, candidate settings).

At a given weight no nut changes the sum on an axle or the total roll couple, so a truck on four springs is
statically indeterminate to the first degree. The unknown is the front couple M: it gives the four seat loads,
the corners give the four heights, and the frame's twist must agree. That is one falling function of M.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from . import stack as springs
from .arrays import Array
from .cycle import Cycle, cycle_constants
from .gas import gas_constants, gas_force, gas_rate
from .root import monotone_root
from .truck import CORNERS, Stack, Truck

FRONT, REAR = slice(0, 2), slice(2, 4)
LEFT_SIGN = np.array([1.0, -1.0, 1.0, -1.0])
FRONT_SIGN = np.array([1.0, 1.0, -1.0, -1.0])
OTHER_SIDE = np.array([1, 0, 3, 2])

# Common practice, from memory: a ladder frame and a light-truck tyre, where the file leaves them out.
DEFAULT_TWIST_STIFFNESS = 3000.0 * 180.0 / np.pi  # N·m/rad
DEFAULT_TYRE_RATE = 350e3  # N/m

WARP_TOLERANCE = 1e-8  # rad: ten nanometres at a corner


class StaticsError(ArithmeticError):
    """There is no place where this truck could stand; the message says what to check."""


@dataclass(frozen=True)
class Axles:
    """What each corner's axle is like, spread over the corners: (..., 4) each where not said otherwise."""

    track: Array
    spring_spacing: Array
    height_spacing: Array
    unsprung_weight: Array  # of the pair
    friction: Array
    twist_compliance: Array  # nominal: rad per N·m of front couple, frame and tyres together; shape ()
    rear_tyre_share: Array  # part of it that comes from the rear tyres; shape ()

    def seat_loads(self, wheel: Array) -> Array:
        """Spring seat loads from wheel loads (N): a solid axle spreads what its seats carry over a wider track."""
        mean, half = _mean_and_half(wheel)
        return mean - self.unsprung_weight / 2 + half * self.track / self.spring_spacing

    def wheel_loads(self, seat: Array) -> Array:
        """W = U/2 + S (1 + b/t)/2 + S_other (1 − b/t)/2: the inverse of `seat_loads`."""
        mean, half = _mean_and_half(seat)
        return mean + self.unsprung_weight / 2 + half * self.spring_spacing / self.track

    def seat_heights(self, marks: Array) -> Array:
        """Heights at the spring seats from heights at the marks (m): the axle is straight."""
        mean, half = _mean_and_half(marks)
        return mean + half * self.spring_spacing / self.height_spacing

    def mark_heights(self, seats: Array) -> Array:
        """The inverse of `seat_heights`."""
        mean, half = _mean_and_half(seats)
        return mean + half * self.height_spacing / self.spring_spacing

    def warp(self, seat_height: Array) -> Array:
        """Front tilt of the frame over its axle less the rear's (rad): left high in front is positive."""
        tilt = seat_height * (LEFT_SIGN * FRONT_SIGN / self.spring_spacing)
        return np.asarray(tilt.sum(axis=-1))

    def front_couple(self, wheel: Array) -> Array:
        """M = (W_LF − W_RF) t/2 (N·m), which equals (S_LF − S_RF) b/2."""
        return (wheel[..., 0] - wheel[..., 1]) * self.track[..., 0] / 2

    def twisting_couple(self, front: Array, couple: Array) -> Array:
        """Front couple less the part of the total couple that the rear tyres answer for (N·m)."""
        return front - self.rear_tyre_share * couple


def _mean_and_half(pairs: Array) -> tuple[Array, Array]:
    other = pairs[..., OTHER_SIDE]
    return (pairs + other) / 2, (pairs - other) / 2


def axles(truck: Truck) -> Axles:
    """The truck's axles as arrays over the corners."""
    ends = [truck.front, truck.front, truck.rear, truck.rear]
    tyres = [
        1 / ((DEFAULT_TYRE_RATE if end.tyre_rate is None else end.tyre_rate) * end.track**2 / 2)
        for end in (truck.front, truck.rear)
    ]
    frame = 1 / (truck.frame_twist_stiffness or DEFAULT_TWIST_STIFFNESS)
    total = frame + sum(tyres)
    return Axles(
        track=np.array([e.track for e in ends]),
        spring_spacing=np.array([e.spring_spacing for e in ends]),
        height_spacing=np.array([e.height_spacing for e in ends]),
        unsprung_weight=np.array([e.unsprung_weight for e in ends]),
        friction=np.array([e.friction for e in ends]),
        twist_compliance=np.array(total),
        rear_tyre_share=np.array(tyres[1] / total),
    )


@dataclass(frozen=True)
class Struts:
    """What stands between frame and axle at each corner, as arrays ending in the corners.

    compliance, solid_travel: (..., 4, 2), upper then lower. ring_gap, stroke, preload, datum and the gas: (..., 4).
    datum: stack compression left over when the springs should be snug (m): marks, mounts and free length.
    """

    compliance: Array
    solid_travel: Array
    ring_gap: Array
    stroke: Array
    full_extension: Array  # shaft that shows when the shock hangs (m); inf where there is no shock
    cycle: Cycle
    gas: Array
    gas_fill: Array
    preload: Array
    datum: Array

    def limit(self) -> Array:
        """How far each spring can be pressed at this preload, (..., 4, 2) m."""
        return springs.limits(self.solid_travel, self.ring_gap, self.preload)

    def compression(self, seat_height: Array) -> Array:
        """Stack compression x = preload + stroke − shaft (m) at seat heights."""
        return self.preload + self.stroke - self.cycle.shaft(seat_height)

    def gas_force(self, seat_height: Array) -> Array:
        """Force of the gas on the shaft (N) at seat heights."""
        return gas_force(self.stroke - self.cycle.shaft(seat_height), self.gas, self.gas_fill)

    def seat_load(self, force: Array, seat_height: Array) -> Array:
        """Vertical force on the axle seat: (spring + gas) × motion ratio."""
        return (force + self.gas_force(seat_height)) * self.cycle.motion_ratio(seat_height)

    def spring_force(self, seat_load: Array, seat_height: Array) -> Array:
        """Spring force (N) behind a seat load, the inverse of `seat_load`."""
        return seat_load / self.cycle.motion_ratio(seat_height) - self.gas_force(seat_height)

    def force_slope(self, seat_load: Array, seat_height: Array) -> Array:
        """Change of `spring_force` with height at the same seat load (N/m)."""
        ratio = self.cycle.motion_ratio(seat_height)
        used = self.stroke - self.cycle.shaft(seat_height)
        return gas_rate(used, self.gas, self.gas_fill) * ratio - seat_load * 2 * self.cycle.c / ratio**2

    def height_under(self, seat_load: Array, lines: springs.Ladder, near: Array | None = None) -> Array:
        """Seat heights (m) under seat loads (N). lines: the stacks' ladders; near: heights to start from (m).

        The stack's kinks are taken exactly; the gas beside it and the motion ratio are taken as straight at the
        last height, over and over. Gas only ever stiffens, so its tangents close in from one side.
        Raises StaticsError where that has not settled to ten nanometres after 60 rounds.
        """
        lines = lines.under(np.ndim(seat_load))
        snug = self.preload + self.stroke - self.datum
        height = self.cycle.height(np.minimum(snug, self.full_extension)) if near is None else near
        straight = not (self.gas_fill.any() or np.any(self.cycle.c))
        for _ in range(60):
            used = self.stroke - self.cycle.shaft(height)
            beside = gas_rate(used, self.gas, self.gas_fill)
            load = seat_load / self.cycle.motion_ratio(height) - gas_force(used, self.gas, self.gas_fill)
            force = springs.shared_force(load + beside * (used + snug - self.stroke), lines, beside)
            last, deflected = height, springs.deflection_along(force, lines)
            height = self.cycle.height(np.minimum(snug - deflected, self.full_extension))
            if straight or np.max(np.abs(height - last)) < 1e-8:
                return height
        raise StaticsError(
            "these loads and springs have no place to rest; check loads, heights and the gas volume"
        )


def struts(truck: Truck, stacks: Sequence[Stack]) -> Struts:
    """The corners with these stacks on, preload and datum zero: arrays of (4,) and (4, 2)."""
    corners = [truck.corners[name] for name in CORNERS]
    gas = np.array([gas_constants(corner.shock) for corner in corners])
    cycles = np.array([cycle_constants(corner.cycle) for corner in corners])
    stroke = np.array([0.0 if c.shock is None else c.shock.stroke for c in corners])
    return Struts(
        compliance=np.stack([springs.compliances(s) for s in stacks]),
        solid_travel=np.stack([springs.solid_travels(s) for s in stacks]),
        ring_gap=np.array([springs.NO_STOP if s.ring_gap is None else s.ring_gap for s in stacks]),
        stroke=stroke,
        full_extension=np.array([np.inf if c.shock is None else c.shock.stroke for c in corners]),
        cycle=Cycle(*cycles.T),
        gas=gas[:, 0],
        gas_fill=gas[:, 1],
        preload=np.zeros(4),
        datum=np.zeros(4),
    )


@dataclass(frozen=True)
class Weight:
    """What the wheels carry: axle sums (N) and total roll couple (N·m), (W_LF − W_RF) t_f/2 + (W_LR − W_RR) t_r/2.

    Floats, or arrays alike in shape.
    """

    front: Array | float
    rear: Array | float
    couple: Array | float


def weight_of(wheel: Array, axle: Axles) -> Weight:
    """Axle sums and roll couple of wheel loads (..., 4)."""
    couple = (wheel * LEFT_SIGN * axle.track / 2).sum(axis=-1)
    return Weight(wheel[..., FRONT].sum(axis=-1), wheel[..., REAR].sum(axis=-1), couple)


def wheel_loads(weight: Weight, front_couple: Array, axle: Axles) -> Array:
    """Wheel loads (..., 4) of a weight with this front couple."""
    front, rear, couple = np.broadcast_arrays(weight.front, weight.rear, weight.couple)
    couples = np.stack([front_couple, front_couple, couple - front_couple, couple - front_couple], axis=-1)
    sums = np.stack([front, front, rear, rear], axis=-1)
    return np.asarray(sums / 2 + LEFT_SIGN * couples / axle.track)


def equilibrium(
    strut: Struts, axle: Axles, weight: Weight, offset: Array, compliance: Array
) -> tuple[Array, Array]:
    """Where the truck stands, without friction: (heights at the marks in m, wheel loads in N), (..., 4) each.

    offset: warp of the unloaded truck, c0 (rad). compliance: warp per twisting couple, c1 (rad per N·m), positive.
    The scalar equation  warp(heights(M)) = c0 + c1 (M − share · couple)  falls in M: more load on a corner never
    raises it, and c1 is positive.
    """
    lines = springs.ladder(strut.compliance, strut.limit())
    shape = np.broadcast_shapes(
        lines.taken.shape[1:-1], strut.datum.shape[:-1], np.shape(weight.front), np.shape(offset)
    )
    none = np.zeros(shape)
    seat_without = axle.seat_loads(wheel_loads(weight, none, axle))
    seat_per_couple = axle.seat_loads(
        wheel_loads(Weight(0.0, 0.0, 0.0), np.array(1.0), axle)
    ) - axle.seat_loads(np.zeros(4))
    warp_without = offset - compliance * axle.rear_tyre_share * weight.couple
    near: Array | None = None

    def heights_with(front_couple: Array) -> Array:
        nonlocal near
        near = strut.height_under(seat_without + front_couple[..., None] * seat_per_couple, lines, near)
        return near

    def excess(front_couple: Array) -> Array:
        return warp_without + compliance * front_couple - axle.warp(heights_with(front_couple))

    low, high = np.broadcast_arrays(*_couples_on_all_seats(weight, axle), np.empty(shape))[:2]
    front_couple = monotone_root(excess, low, high, WARP_TOLERANCE)
    return axle.mark_heights(heights_with(front_couple)), wheel_loads(weight, front_couple, axle)


def _couples_on_all_seats(weight: Weight, axle: Axles) -> tuple[Array, Array]:
    """Least and most front couple (N·m) at which no seat has come off: each end's sprung weight × spacing / 2."""
    front = np.maximum(weight.front - axle.unsprung_weight[..., 0], 0) * axle.spring_spacing[..., 0] / 2
    rear = np.maximum(weight.rear - axle.unsprung_weight[..., 2], 0) * axle.spring_spacing[..., 2] / 2
    return np.maximum(-front, weight.couple - rear), np.minimum(front, weight.couple + rear)


@dataclass(frozen=True)
class Standing:
    """Heights at the marks (m) and wheel loads (N) by corner."""

    heights: dict[str, float]
    loads: dict[str, float]


def settle(
    truck: Truck, weight: Weight, preload: dict[str, float], datum: dict[str, float] | None = None
) -> Standing:
    """Where the truck would stand if every part were as its file says.

    preload, datum: m by corner, zero where left out; a corner without adjuster needs its free height, negative,
    as datum. Nothing is fitted here.
    """
    strut = struts(truck, [truck.corners[c].stack for c in CORNERS])
    axle = axles(truck)
    strut = replace(
        strut,
        preload=np.array([preload.get(c, 0.0) for c in CORNERS]),
        datum=np.array([(datum or {}).get(c, 0.0) for c in CORNERS]),
    )
    zero = np.array(0.0)
    heights, loads = equilibrium(strut, axle, weight, zero, axle.twist_compliance)
    return Standing(
        dict(zip(CORNERS, heights.tolist(), strict=True)), dict(zip(CORNERS, loads.tolist(), strict=True))
    )
