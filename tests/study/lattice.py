"""Settings that whole steps of the nuts can reach, and the best of them."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from tuning.truck import CORNERS, Truck

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Lattice:
    """start: preload now; step, low, high: m, (4,), all nil and equal at a corner without adjuster."""

    start: Array
    step: Array
    low: Array
    high: Array

    @staticmethod
    def of(truck: Truck, start: Array) -> "Lattice":
        """From the file's adjusters."""
        adjusters = [truck.corners[c].adjuster for c in CORNERS]
        step = np.array([0.0 if a is None else a.step * a.travel_per_turn for a in adjusters])
        low = np.array([0.0 if a is None else a.preload_min for a in adjusters])
        high = np.array([0.0 if a is None else a.preload_max for a in adjusters])
        return Lattice(start, step, low, high)

    def snapped(self, preload: Array) -> Array:
        """The nearest settings that can be wound to."""
        step = np.where(self.step > 0, self.step, 1.0)
        whole = np.round((preload - self.start) / step)
        least, most = (
            np.ceil((self.low - self.start) / step - 1e-9),
            np.floor((self.high - self.start) / step + 1e-9),
        )
        return self.start + np.clip(whole, least, most) * self.step

    def sweep(self, cost: Callable[[Array], Array]) -> Array:
        """The setting of least cost anywhere: searched from now and from several even settings.

        Where a slider sits on its ring its nut does nothing, and a search that starts there may stay there.
        """
        spread = self.high - self.low
        starts = [self.start, *(self.low + share * spread for share in (0.3, 0.6, 0.9))]
        found = np.array([self.search(cost, start, (32, 8, 2, 1)) for start in starts])
        return np.asarray(found[cost(found).argmin()])

    def search(self, cost: Callable[[Array], Array], start: Array, strides: tuple[int, ...]) -> Array:
        """The setting of least cost (m, (4,)), walking the lattice in every combination of directions.

        cost: of settings (k, 4), (k,). strides: in steps, long ones first.
        """
        ways = np.array(list(product(*[(-1, 0, 1) if s > 0 else (0,) for s in self.step])))
        here = self.snapped(start)
        best = cost(here[None])[0]
        for stride in strides:
            while True:
                tries = self.snapped(here + ways * stride * self.step)
                costs = cost(tries)
                least = int(costs.argmin())
                if costs[least] >= best - 1e-12:
                    break
                here, best = tries[least], costs[least]
        return here
