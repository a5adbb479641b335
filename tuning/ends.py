"""Where travel ends at each corner, as heights. SI."""

import numpy as np

from .arrays import Array
from .statics import Struts
from .truck import CORNERS, Truck

MARKS = 0.0254  # m: by how much marks may have moved since the axle was cycled (from memory)


def ends_of_travel(truck: Truck, strut: Struts) -> dict[str, Array]:
    """Heights (m) of bump, strap and droop, and of a soft bump stop squashed solid: (4,), NaN where there is none.

    Both wheels of an axle go there together, so that marks and seats stand equally high. Full bump, where not
    measured, is the lowest height of the cycle table; the strap, where not measured or longer than the shock, full
    droop, where all of the shaft shows.
    """
    droop = np.where(np.isfinite(strut.full_extension), strut.cycle.height(strut.stroke), np.nan)
    bump, strap, squashed = (np.full(4, np.nan) for _ in range(3))
    for i, name in enumerate(CORNERS):
        corner = truck.corners[name]
        if corner.shock is None:
            continue
        plan, lowest = corner.travel, min(h for h, _ in corner.cycle)
        bump[i] = lowest if plan.height_full_bump is None else plan.height_full_bump
        strap[i] = droop[i] if plan.height_strap is None else min(plan.height_strap, droop[i])
        if plan.bump_stop == "soft" and plan.bump_stop_contact and plan.bump_stop_travel:
            squashed[i] = min(plan.bump_stop_contact - plan.bump_stop_travel, bump[i])
    return {"bump": bump, "strap": strap, "droop": droop, "squashed": squashed}


def reach(truck: Truck, strut: Struts) -> tuple[Array, Array]:
    """Heights (m) that no corner can stand below or above, (4,) each, infinite where there is no shock: where none of
    its shaft is left, or the axle was cycled, and where all of it shows; an inch more for the marks."""
    ends = ends_of_travel(truck, strut)
    bottom = np.where(np.isfinite(strut.full_extension), strut.cycle.height(np.zeros(4)), np.nan)
    low = np.fmin(np.fmin(bottom, ends["bump"]), ends["squashed"])
    return np.where(np.isnan(low), -np.inf, low - MARKS), np.where(
        np.isnan(ends["droop"]), np.inf, ends["droop"] + MARKS
    )


def hardest_bump(ends: dict[str, Array]) -> Array:
    """Lowest height each corner can be pressed to (m): full bump, or a soft stop squashed solid, (4,)."""
    return np.where(np.isnan(ends["squashed"]), ends["bump"], ends["squashed"])
