"""Shaft showing against height, as taken while the axle was cycled; its slope is the motion ratio."""

from dataclasses import dataclass

import numpy as np

from .arrays import Array
from .regression import regress


@dataclass(frozen=True)
class Cycle:
    """shaft = a + b u + c u², u = height − middle. Floats, or arrays over corners."""

    middle: Array
    a: Array
    b: Array
    c: Array

    def shaft(self, height: Array) -> Array:
        """Shock shaft showing (m) at a seat height (m)."""
        u = height - self.middle
        return self.a + u * (self.b + u * self.c)

    def motion_ratio(self, height: Array) -> Array:
        """Change of shaft per change of height at the seat."""
        return self.b + 2 * self.c * (height - self.middle)

    def height(self, shaft: Array) -> Array:
        """Seat height (m) at which this much shaft shows, on the rising branch."""
        over = shaft - self.a
        return self.middle + 2 * over / (self.b + np.sqrt(np.maximum(self.b**2 + 4 * self.c * over, 0.0)))


# A leaf or a fixed coil has no shock to measure on: its own height stands in for the shaft.
NO_SHOCK = (0.0, 0.0, 1.0, 0.0)


def cycle_constants(table: tuple[tuple[float, float], ...]) -> tuple[float, float, float, float]:
    """(middle, a, b, c) of the least-squares curve: straight for two or three positions, quadratic from four."""
    if not table:
        return NO_SHOCK
    height, shaft = np.array(table).T
    middle = float(height.mean())
    degree = 1 if len(table) < 4 else 2
    a, b, *c = regress(np.vander(height - middle, degree + 1, increasing=True), shaft).estimate
    return middle, float(a), float(b), float(c[0]) if c else 0.0
