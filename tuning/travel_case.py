"""One corner laid out for checks of its travel: where it is looked at, and words for lengths. SI."""

from dataclasses import dataclass

import numpy as np

from .cycle import Cycle
from .positions import Position
from .truck import Corner, Practice, Stack, Truck
from .units import decimal_length, shop_length

PRACTICE = "common practice"
ALIKE = 1e-6  # m: rounding is no fault


@dataclass(frozen=True)
class Case:
    """One corner with a shock and where it is looked at. Lengths m.

    strap: full droop where no strap is measured. squashed: with a soft bump stop solid, where that is known.
    preload_range: what the thread allows. crossover: height, None where it can't be. upper_share: the upper's part
    of what both springs give way by. first_run: only one run is logged. cycle: of this corner.
    """

    truck: Truck
    corner: Corner
    stack: Stack
    cycle: Cycle
    preload: float
    preload_range: tuple[float, float]
    bump: Position
    ride: Position
    strap: Position
    squashed: Position | None
    crossover: float | None
    upper_share: float
    first_run: bool

    @property
    def practice(self) -> Practice:
        """What the owner goes by."""
        return self.truck.practice

    @property
    def hardest(self) -> Position:
        """The highest the axle can come: full bump, or further with a soft stop squashed solid."""
        return self.bump if self.squashed is None else self.squashed

    def text(self, length: float) -> str:
        """A length that nobody reads off a tape."""
        return decimal_length(length, self.truck.units)

    def tape(self, length: float) -> str:
        """A length as a tape shows it."""
        return shop_length(length, self.truck.units)

    def by_practice(self, name: str) -> str:
        """Where a limit comes from: `(common practice)`, or the owner's own."""
        own, usual = getattr(self.practice, name), getattr(Practice, name)
        alike = np.allclose(own, usual, rtol=0, atol=ALIKE)
        return f"({PRACTICE})" if alike else "(your practice)"

    def height_for(self, shaft: float) -> float:
        """Height of the axle at which this much shaft shows."""
        return float(self.cycle.height(np.array(shaft)))

    def shaft_at(self, height: float) -> float:
        """Shaft showing at a height of the axle."""
        return float(self.cycle.shaft(np.array(height)))
