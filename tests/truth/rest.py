"""Where trucks stand still, many trucks and settings at once: the lowest point of their potential energy."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .machine import Machine, seat_force

Array = NDArray[np.float64]

_LOOSE = 1.0  # N/m: holds the Newton step finite where every spring of an axle is loose
_STEPS = 100


@dataclass(frozen=True)
class Load:
    """What the truck weighs: wheel loads of each axle (N), their whole roll couple (N·m, left heavier)."""

    front: Array
    rear: Array
    couple: Array

    def at(self, index: object) -> "Load":
        """Some of many."""
        return Load(self.front[index], self.rear[index], self.couple[index])

    @staticmethod
    def of(wheels: Array, track: Array) -> "Load":
        """From four wheel loads (..., 4)."""
        couple = (wheels[..., [0, 2]] - wheels[..., [1, 3]]) * track / 2
        return Load(wheels[..., :2].sum(-1), wheels[..., 2:].sum(-1), couple.sum(-1))


@dataclass(frozen=True)
class Rest:
    """heights at the marks and at the seats (m), wheel loads and seat loads (N), all (..., 4)."""

    heights: Array
    seat_heights: Array
    wheels: Array
    seats: Array

    @property
    def cross(self) -> Array:
        """(RF + LR) / total."""
        return (self.wheels[..., 1] + self.wheels[..., 2]) / self.wheels.sum(-1)


def settle(machine: Machine, load: Load, preload: Array, friction: Array | float = 0.0) -> Rest:
    """Heights and loads with `preload` (..., 4) wound in and a `friction` force (..., 4) helping each spring.

    The unknowns are each end's mean height and tilt. The energy is convex in them (springs only stiffen), so
    Newton with a step cut wherever the slope along it turns round finds the one lowest point from anywhere,
    knees and stops included. Raises ArithmeticError where it does not.
    """
    half = machine.spring_spacing / 2
    sprung = np.stack(np.broadcast_arrays(load.front, load.rear), -1) - machine.unsprung
    tyres = machine.tyre_compliance
    compliance = machine.frame_compliance + tyres.sum(-1)
    own_set = machine.set - load.couple * tyres[..., 1]

    def slope(place: Array) -> tuple[Array, Array, Array]:
        """Gradient of the energy, the seats' rates and loads, at (mean, tilt) of both ends (..., 2, 2)."""
        seat, rate = seat_force(machine, _corners(place, half), preload)
        seat = seat + friction
        left, right = seat[..., [0, 2]], seat[..., [1, 3]]
        front_couple = (place[..., 0, 1] - place[..., 1, 1] - own_set) / compliance
        couples = np.stack([front_couple, load.couple - front_couple], -1)
        gradient = np.stack([sprung - left - right, couples - (left - right) * half], -1)
        return gradient, rate, seat

    shape = np.broadcast_shapes(np.shape(preload)[:-1], np.shape(friction)[:-1], np.shape(compliance),
                                np.shape(load.front), machine.datum.shape[:-1])  # fmt: skip
    place = np.broadcast_to(_start(machine, preload), (*shape, 2, 2)).copy()
    gradient, rate, seat = slope(place)
    for _ in range(_STEPS):
        step = _newton(gradient, rate, half, compliance)
        descent = (gradient * step).sum((-1, -2))
        share = np.ones(shape)
        for _ in range(40):
            trial = slope(place + share[..., None, None] * step)
            over = (trial[0] * step).sum((-1, -2)) > -0.5 * descent + 1e-13
            if not over.any():
                break
            share = np.where(over, share / 2, share)
        place = place + share[..., None, None] * step
        gradient, rate, seat = trial
        if np.abs(share[..., None, None] * step).max() < 1e-11:
            break
    else:
        raise ArithmeticError("a truck did not come to rest")
    return _rest(machine, place, seat, half)


@dataclass(frozen=True)
class Mast:
    """What makes weight wander: how far the sprung centre of gravity is above the frame's marks, and wheelbase (m)."""

    height: float
    wheelbase: float


def settle_on_mast(
    machine: Machine, load: Load, preload: Array, mast: Mast, friction: Array | float = 0.0
) -> Rest:
    """As `settle`, but `load` is that of the truck dead level: as it leans, its weight goes over to the low side.

    Each lean moves weight and the moved weight leans it a little more, less every time.
    """
    tyres, track = machine.tyre_compliance, machine.track
    sink = tyres * track**2 / 4  # of an axle on its tyres, per N on it
    here, now = settle(machine, load, preload, friction), load
    for _ in range(_STEPS):
        couples = (here.wheels[..., [0, 2]] - here.wheels[..., [1, 3]]) * track / 2
        lean = (
            here.heights[..., [0, 2]] - here.heights[..., [1, 3]]
        ) / machine.height_spacing - couples * tyres
        axles = here.wheels[..., [0, 2]] + here.wheels[..., [1, 3]]
        stand = (here.heights[..., [0, 2]] + here.heights[..., [1, 3]]) / 2 - axles * sink
        sprung = axles - machine.unsprung
        nose_up = (stand[..., 0] - stand[..., 1]) / mast.wheelbase
        over = sprung.sum(-1) * mast.height * nose_up / mast.wheelbase
        now = Load(load.front - over, load.rear + over, load.couple - (sprung * lean).sum(-1) * mast.height)
        before, here = here, settle(machine, now, preload, friction)
        if np.abs(here.heights - before.heights).max() < 1e-7:
            return here
    raise ArithmeticError("a truck leans until it falls over")


def _start(machine: Machine, preload: Array) -> Array:
    """Every spring at about a third of a metre: any start will do, a near one is quicker."""
    a, b, _ = np.moveaxis(machine.shaft_terms, -1, 0)
    pressed = 0.6 * np.where(machine.stroke > 0, machine.stroke, 0.3)
    height = (machine.stroke - a + 0.5 * preload - pressed - machine.datum) / b
    mean = (height[..., [0, 2]] + height[..., [1, 3]]) / 2
    return np.stack([mean, np.zeros_like(mean)], -1)


def _corners(place: Array, half: Array) -> Array:
    """(..., 2, 2) of mean and tilt → (..., 4) heights half a spacing either side of the middle."""
    lean = place[..., 1] * half
    return np.stack([place[..., 0] + lean, place[..., 0] - lean], -1).reshape(*place.shape[:-2], 4)


def _newton(gradient: Array, rate: Array, half: Array, compliance: Array) -> Array:
    """The step that would bring a truck of these rates to rest."""
    rate = np.maximum(rate, 0) + _LOOSE
    both = rate[..., [0, 2]] + rate[..., [1, 3]]
    skew = (rate[..., [0, 2]] - rate[..., [1, 3]]) * half
    H = np.zeros((*gradient.shape[:-2], 4, 4))
    for end in (0, 1):
        i, j = 2 * end, 2 * end + 1
        H[..., i, i] = both[..., end]
        H[..., i, j] = H[..., j, i] = skew[..., end]
        H[..., j, j] = both[..., end] * half[..., end] ** 2 + 1 / compliance
    H[..., 1, 3] = H[..., 3, 1] = -1 / compliance
    flat = gradient.reshape(*gradient.shape[:-2], 4)
    return -np.linalg.solve(H, flat[..., None])[..., 0].reshape(gradient.shape)


def _rest(machine: Machine, place: Array, seat: Array, half: Array) -> Rest:
    leverage = machine.spring_spacing / machine.track
    sums = seat[..., [0, 2]] + seat[..., [1, 3]] + machine.unsprung
    differences = (seat[..., [0, 2]] - seat[..., [1, 3]]) * leverage
    wheels = np.stack([sums + differences, sums - differences], -1).reshape(seat.shape) / 2
    return Rest(_corners(place, machine.height_spacing / 2), _corners(place, half), wheels, seat)
