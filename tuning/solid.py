"""Where a spring in a press was pressed until its coils touch: force climbs there with hardly any length. SI.

A stack that meets its stop turns two to five times as stiff and goes on for inches; a solid spring goes on for
hundredths. How stiff a spring has to turn, and over how little length, is common practice here, no law.
"""

import numpy as np

from .arrays import Array, Flags

LEAST = 3  # readings for a rate
RULER = 0.5e-3  # m, one standard deviation of a ruler between two plates, common practice
STIFFER = 10.0  # times as stiff as just before
PARTLY = 3.0  # the same for the reading at which the coils began to touch
HARDLY = 0.25  # of all the length that was pressed
BEFORE = 5  # lengths that say how stiff it was just before
NO_FORCE = 1e-3  # N: no gauge tells less
CLEARLY = 3.0  # standard errors of the force


def solid(forces: Array, lengths: Array) -> Flags:
    """Which readings look solid, (n,): those of the greatest forces, none as a rule.

    forces (N), lengths between the plates (m): (n,), any order. Not told where fewer than three readings lie before.
    """
    order = np.lexsort((-lengths, forces))  # by force, since a ruler can't tell solid lengths apart
    force, length = forces[order], lengths[order]
    found = np.zeros(len(forces), dtype=bool)
    if len(forces) > LEAST:
        hardly = HARDLY * np.ptp(lengths)
        for first in range(LEAST, len(forces)):
            if length[first - 1] - length[first:].min() <= hardly and _climbs(force, length, first, STIFFER):
                began = first > LEAST and _climbs(force[:first], length[:first], first - 1, PARTLY)
                found[order[first - began :]] = True
                break
    return found


def _climbs(force: Array, length: Array, first: int, times: float) -> bool:
    """Whether all from `first` on is so many times as stiff as what lies before, beyond what gauge and ruler err."""
    before = _just_before(length, first)
    if np.ptp(length[before]) == 0:
        return False
    slope, level = np.polyfit(length[before], force[before], 1)
    left = force[before] - level - slope * length[before]
    scatter = np.sqrt(left @ left / max(len(left) - 2, 1))
    if slope >= 0 or force[first - 1] - force[0] <= max(
        CLEARLY * scatter, NO_FORCE
    ):  # slack: no spring pushes yet
        return False
    way, climb = np.maximum(length[first - 1] - length[first:], 0.0), force[first:] - force[first - 1]
    stiff = -times * slope
    least = stiff * (way[-1] + 2 * RULER) + CLEARLY * scatter
    return bool((climb > stiff * way).all() and climb[-1] > least)


def _just_before(length: Array, first: int) -> slice:
    """The last readings before `first` that hold so many lengths, or all of them."""
    start = first
    while start > 0 and len(np.unique(length[start - 1 : first])) <= BEFORE:
        start -= 1
    return slice(start, first)
