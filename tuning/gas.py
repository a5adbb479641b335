"""Force of the gas in a shock on its shaft. SI."""

import numpy as np

from .arrays import Array
from .truck import Shock


def gas_constants(shock: Shock | None) -> tuple[float, float]:
    """(force at full extension in N, share of the gas volume the shaft takes per metre of travel in 1/m)."""
    if shock is None or shock.gas_pressure is None or shock.shaft_diameter is None:
        return 0.0, 0.0
    area = np.pi / 4 * shock.shaft_diameter**2
    return float(shock.gas_pressure * area), 0.0 if shock.gas_volume is None else float(
        area / shock.gas_volume
    )


def gas_force(travel_used: Array, extended_force: Array, fill: Array) -> Array:
    """Force pushing the shaft out: p A V0 / (V0 − A s), on gauge pressure at full extension.

    travel_used: s, m. extended_force, fill: as from `gas_constants`; fill 0 where the volume is not known.
    A truck that stands has had time to cool, so the gas follows p V = constant. Range: the volume left is held
    at a twentieth, past which no shock is built.
    """
    return extended_force / np.maximum(1.0 - fill * travel_used, 0.05)


def gas_rate(travel_used: Array, extended_force: Array, fill: Array) -> Array:
    """Change of `gas_force` per metre of travel used (N/m)."""
    return np.asarray(extended_force * fill / np.maximum(1.0 - fill * travel_used, 0.05) ** 2)
