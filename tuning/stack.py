"""Springs in series with stops. Lengths m, forces N, compliances m/N.

    nut ─ upper ─ slider ─ lower ─ perch        slider on its ring: the upper is stopped, the lower works alone

Everything is exact and elementwise over leading axes; the last axis runs over the springs of one stack.
A spring that is not there has compliance and limit zero.
"""

from typing import NamedTuple

import numpy as np

from .arrays import Array
from .truck import Stack

NO_STOP = 1e6  # m: finite, so that nothing times infinity never comes up


def compliances(stack: Stack) -> Array:
    """1/rate of (upper, lower) in m/N, (2,)."""
    upper = 0.0 if stack.upper is None else 1.0 / stack.upper.rate
    return np.array([upper, 1.0 / stack.lower.rate])


def solid_travels(stack: Stack) -> Array:
    """Travel to solid of (upper, lower) in m, (2,)."""
    upper = 0.0 if stack.upper is None else stack.upper.travel_to_solid
    return np.minimum([upper, stack.lower.travel_to_solid], NO_STOP)


def limits(solid_travel: Array, ring_gap: Array, preload: Array) -> Array:
    """How far each spring can be pressed, (..., 2).

    The nut carries the slider down with it, so preload widens what the upper may take before the slider meets
    its ring: min(ring gap + preload, travel to solid). solid_travel: (..., 2). ring_gap, preload: (...).
    """
    upper = np.minimum(np.maximum(ring_gap + preload, 0.0), solid_travel[..., 0])
    return np.stack(np.broadcast_arrays(upper, solid_travel[..., 1]), axis=-1)


class Ladder(NamedTuple):
    """A stack's curve as straight lines: after j springs have stopped, D = taken_j + F · left_j. (n + 1, ...)."""

    taken: Array
    left: Array

    def under(self, dimensions: int) -> "Ladder":
        """The same with free axes put in front, so that it meets loads of this many dimensions."""
        if self.taken.ndim > dimensions:
            return self
        room = (len(self.taken), *[1] * (dimensions + 1 - self.taken.ndim), *self.taken.shape[1:])
        return Ladder(self.taken.reshape(room), self.left.reshape(room))


def ladder(compliance: Array, limit: Array) -> Ladder:
    """The lines of a stack's curve in the order its springs stop. compliance, limit: (..., n)."""
    compliance, limit = np.broadcast_arrays(compliance, limit)
    knee = np.divide(limit, compliance, out=np.zeros(limit.shape), where=compliance > 0)
    order = np.argsort(knee, axis=-1)
    # Contiguous along the free axes: comparing lines is the innermost loop of every search.
    stops = np.ascontiguousarray(np.moveaxis(np.take_along_axis(limit, order, -1), -1, 0))
    parts = np.ascontiguousarray(np.moveaxis(np.take_along_axis(compliance, order, -1), -1, 0))
    start = np.zeros((1, *stops.shape[1:]))
    taken = np.concatenate([start, np.cumsum(stops, axis=0)])
    gone = np.concatenate([start, np.cumsum(parts, axis=0)])
    return Ladder(taken, np.maximum(gone[-1] - gone, 0.0))


def deflection(force: Array, compliance: Array, limit: Array) -> Array:
    """How far the stack is pressed together under `force`: each spring's F/k, clipped at its stop, summed.

    force: (...), below zero the springs are loose and the answer is 0. compliance, limit: (..., n).
    Past the last stop the stack is bound and stays at the sum of the limits.
    Source: springs end to end, 1/k = Σ 1/k_i (any handbook); the stops are ours.
    """
    pressed = np.minimum(np.maximum(force, 0.0)[..., None] * compliance, limit)
    return np.asarray(pressed.sum(axis=-1))


def working(force: Array, compliance: Array, limit: Array) -> Array:
    """Which springs are off their stops under `force`: (..., n) of 0 and 1. A spring just at its stop is on it."""
    return (np.maximum(force, 0.0)[..., None] * compliance < limit).astype(float)


def force(deflected: Array, compliance: Array, limit: Array) -> Array:
    """Force that presses the stack together by `deflected`: the exact inverse of `deflection`.

    Each stop makes a stack stiffer, so the force is the largest that any of its lines asks for. Zero when loose,
    inf when pressed past the last stop.
    """
    taken, left = ladder(compliance, limit).under(np.ndim(deflected))
    over = deflected - taken
    lines = np.divide(over, left, out=np.zeros(over.shape), where=left > 0)
    bound = deflected > taken[-1] * (1 + 1e-15)
    return np.where(bound, np.inf, np.maximum(lines.max(axis=0), 0.0))


def shared_force(load: Array, lines: Ladder, beside: Array) -> Array:
    """Force F in a stack when a spring of rate `beside` stands next to it: F + beside · D(F) = load, exactly.

    load, beside: (...), N and N/m, beside ≥ 0. Not below zero.
    """
    shares = (load - beside * lines.taken) / (1 + beside * lines.left)
    return np.asarray(np.maximum(shares.max(axis=0), 0.0))


def deflection_along(force: Array, lines: Ladder) -> Array:
    """`deflection` for a force not below zero, from the stack's lines: the least that any of them gives."""
    return np.asarray((lines.taken + force * lines.left).min(axis=0))
