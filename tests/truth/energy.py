"""Where one truck stands, by a general minimiser over everything that can move, sliders included.

Free: both ends of each axle on their tyres, mean height and tilt of the frame at each end, and at every
corner with two springs the slider between them. Each spring stores ½ k y² for itself; stops are bounds
(slider on its ring) or a very stiff wall (solid). There is no formula for springs in series here, no
crossover and no root to find.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from .machine import HARD_STOP, NO_SPRING, Machine
from .rest import Load

Array = NDArray[np.float64]

# The unknowns: axle ends, frame means, frame tilts, sliders.
_WHEELS, _MEANS, _TILTS, _SLIDERS = slice(0, 4), slice(4, 6), slice(6, 8), slice(8, 12)
_SIDE = np.array([1.0, -1.0, 1.0, -1.0])
_END = np.array([0, 0, 1, 1])


class Potential:
    """Energy (J) of one truck under one load at one setting, and its gradient, at 12 unknowns."""

    def __init__(self, machine: Machine, load: Load, preload: Array) -> None:
        """machine: one truck, no leading axes. preload: m, (4,)."""
        self.machine, self.preload = machine, preload
        self.sprung = np.array([load.front, load.rear]) - machine.unsprung
        self.couple = float(load.couple)
        self.tyre = np.where(machine.tyre_compliance > 0, 2 / np.maximum(machine.tyre_compliance, 1e-30), 0.0)
        self.tyre /= machine.track**2
        self.heights_of = self._heights_of(machine.spring_spacing)

    def _heights_of(self, spacing: Array) -> Array:
        """(4, 12): heights at points `spacing` apart, as linear in the unknowns (small angles)."""
        rows = np.zeros((4, 12))
        for corner, (side, end) in enumerate(zip(_SIDE, _END, strict=True)):
            reach = side * spacing[end] / 2
            rows[corner, 4 + end], rows[corner, 6 + end] = 1.0, reach
            left, right = 2 * end, 2 * end + 1
            lean = reach / self.machine.track[end]
            rows[corner, left], rows[corner, right] = -(0.5 + lean), -(0.5 - lean)
        return rows

    def __call__(self, u: Array) -> tuple[float, Array]:
        """Energy and gradient."""
        m = self.machine
        wheels, means, tilts, slid = u[_WHEELS], u[_MEANS], u[_TILTS], u[_SLIDERS]
        gradient = np.zeros(12)
        energy = float(self.sprung @ means + self.couple * tilts[1])
        gradient[_MEANS] += self.sprung
        gradient[7] += self.couple
        tyre, unsprung = np.repeat(self.tyre, 2), np.repeat(m.unsprung, 2) / 2
        energy += float((tyre / 2 * wheels**2 + unsprung * wheels).sum())
        gradient[_WHEELS] += tyre * wheels + unsprung
        wound = tilts[0] - tilts[1] - m.set
        energy += float(wound**2 / m.frame_compliance / 2)
        gradient[_TILTS] += wound / m.frame_compliance * np.array([1.0, -1.0])

        height = self.heights_of @ u
        a, b, c = m.shaft_terms.T
        used = m.stroke - (a + b * height + c * height**2)
        ratio = b + 2 * c * height
        pressed = self.preload + used - m.datum
        lower = np.maximum(pressed - slid, 0)
        solid = np.maximum(lower - m.lower_travel, 0)
        two = m.upper_rate < NO_SPRING
        upper_rate = np.where(two, m.upper_rate, 0.0)
        energy += float((upper_rate * slid**2 + m.lower_rate * lower**2 + HARD_STOP * solid**2).sum() / 2)
        gradient[_SLIDERS] += np.where(two, upper_rate * slid - m.lower_rate * lower - HARD_STOP * solid, 0.0)
        gas, gas_energy = self._gas(used)
        energy += float(gas_energy.sum())
        push = m.lower_rate * lower + HARD_STOP * solid + gas
        gradient -= self.heights_of.T @ (push * ratio)
        return energy, gradient

    def _gas(self, used: Array) -> tuple[Array, Array]:
        """Force on each shaft and the work done on the gas to get there, p V constant."""
        m = self.machine
        force, energy = m.gas_area * m.gas_pressure, m.gas_area * m.gas_pressure * used
        shut = np.isfinite(m.gas_volume)
        volume = np.where(shut, m.gas_volume, 1.0)
        left = 1 - m.gas_area * used / volume
        absolute = m.gas_pressure + m.atmosphere
        squeezed = -absolute * volume * np.log(left) - m.atmosphere * m.gas_area * used
        return (
            np.where(shut, m.gas_area * (absolute / left - m.atmosphere), force),
            np.where(shut, squeezed, energy),
        )

    def wheels(self, u: Array) -> Array:
        """What each wheel presses the floor with: its tyre's force, or the bound's where it has no tyre."""
        tyre = np.repeat(self.tyre, 2)
        return np.where(tyre > 0, -tyre * u[_WHEELS], self(u)[1][_WHEELS])

    def bounds(self) -> list[tuple[float | None, float | None]]:
        """A wheel without a tyre rate stays on the floor; a slider stays between its spring and its ring."""
        m = self.machine
        wheels = [(0.0, 0.0) if k == 0 else (None, None) for k in np.repeat(self.tyre, 2)]
        gap = np.minimum(m.ring_gap + self.preload, m.upper_travel)
        sliders = [(0.0, float(g) if k < NO_SPRING else 0.0) for g, k in zip(gap, m.upper_rate, strict=True)]
        return [*wheels, *[(None, None)] * 4, *sliders]


def stand(machine: Machine, load: Load, preload: Array, start: Array) -> tuple[Array, Array]:
    """Heights at the marks (m) and wheel loads (N) at the lowest energy, from heights to `start` at.

    Raises ArithmeticError where a free unknown is left with a force on it.
    """
    potential = Potential(machine, load, preload)
    bounds = potential.bounds()
    unit = np.repeat([1e-2, 3e-2], [4, 8])  # what each unknown moves by, so that all matter alike
    low = np.array([-np.inf if lo is None else lo for lo, _ in bounds])
    high = np.array([np.inf if hi is None else hi for _, hi in bounds])
    u = np.zeros(12)
    u[_MEANS] = start[[0, 2]] / 2 + start[[1, 3]] / 2
    u[_SLIDERS] = np.minimum(0.1, high[_SLIDERS])
    size = (abs(potential(u)[0]) + 1.0) * 1e-4

    def scaled(v: Array) -> tuple[float, Array]:
        energy, gradient = potential(v * unit)
        return energy / size, gradient * unit / size

    box = list(zip(low / unit, high / unit, strict=True))
    options = {"maxiter": 5000, "maxfun": 20000, "maxcor": 40, "ftol": 1e-16, "gtol": 1e-11}
    for _ in range(6):  # begun afresh, its memory of the slope's bends is clean of the knees it crossed
        u = minimize(scaled, u / unit, jac=True, method="L-BFGS-B", bounds=box, options=options).x * unit
    left = potential(u)[1]
    free = (u > low + 1e-12) & (u < high - 1e-12)
    if np.abs(left[free]).max() > 0.05:
        raise ArithmeticError(f"no lowest energy found: {np.abs(left[free]).max():.3g} N left over")
    return potential._heights_of(machine.height_spacing) @ u, potential.wheels(u)
