"""Which springs to put on and where to set the nuts: the tool, one without it, and one who knows the truck."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.truth.machine import machine_of, seat_force
from tests.truth.shop import Visit, run_of
from tuning.choices import Choice, choose
from tuning.fit import fit
from tuning.interval import Interval
from tuning.truck import CORNERS, SIDES

from .lattice import Lattice
from .methods import as_found
from .springs_cases import Case
from .springs_stock import Asked, Loose, asked_of, catalogue, loose, try_all

Array = NDArray[np.float64]
STOCK = catalogue()
KEPT = ("first upper", "first lower")
KNOWING = "one who knows"


@dataclass(frozen=True)
class On:
    """One spring to go on. kept: its place on the truck now (0 upper, 1 lower), None where it is bought."""

    rate: float
    travel: float
    free_length: float
    kept: int | None = None


@dataclass(frozen=True)
class Proposal:
    """Springs of the end, alike at both corners; preload of all nuts (m, (4,)). gap None: no ring.

    Where it says how sure it is: 90 % intervals of the heights (4, 2), and the chance that the thread reaches.
    """

    upper: On | None
    lower: On
    gap: float | None
    preload: Array
    heights: Array | None = None
    chance: float | None = None


def tool(case: Case, visit: Visit) -> list[Proposal]:
    """What the tool says, best first."""
    found = fit(case.truck, [run_of(case.truck, visit, 1)])
    (answer,) = choose(found, STOCK, (case.end,))
    return [_proposal(case, choice) for choice in answer.choices]


def _proposal(case: Case, choice: Choice) -> Proposal:
    corner = SIDES[case.end][0]
    assert choice.alike
    upper, lower = (
        c
        and On(
            rate=c.spring.rate,
            travel=c.spring.travel_to_solid,
            free_length=c.spring.free_length,
            kept=c.kept,
        )
        for c in choice.springs[corner]
    )
    wound = choice.preload | choice.other_preload
    return Proposal(
        upper,
        lower,
        choice.stacks[corner].ring_gap,
        np.array([wound.get(c, 0.0) for c in CORNERS]),
        np.array([_ends(choice.height_after[c]) for c in CORNERS]),
        choice.probability_reachable,
    )


def _ends(interval: Interval) -> tuple[float, float]:
    return interval.low, interval.high


def springs_list(case: Case, visit: Visit) -> list[Proposal]:
    """No tool: the force that the first springs' list gives at the heights as found is the force wanted at the
    heights asked for; the pair whose list carries it with the nut nearest the middle of its thread. The other end's
    nuts by height wanted over height per turn, each corner for itself."""
    machine = machine_of(case.truck)
    last, heights, _ = as_found([visit])
    target = dict(case.truck.target.heights)
    for end, height in case.truck.target.ends.items():
        at = [CORNERS.index(c) for c in SIDES[end]]
        target |= {CORNERS[i]: heights[i] + height - heights[at].mean() for i in at}
    seats, _ = seat_force(machine, heights, last.preload)
    wanted = np.array([target.get(c, heights[i]) for i, c in enumerate(CORNERS)])
    asked = asked_of(case.truck, machine, case.end, wanted, seats)
    _, b, c = machine.shaft_terms.T
    return _best(case, asked, last.preload + (wanted - heights) * (b + 2 * c * heights) * machine.adjustable)


def one_who_knows(case: Case, visit: Visit) -> list[Proposal]:
    """Knows the true truck, its weight and the springs that are on, but of new springs only the list."""
    del visit
    return _best(case, case.asked, case.place.preload)


DOERS: dict[str, Callable[[Case, Visit], list[Proposal]]] = {
    "tool": tool,
    "springs' list": springs_list,
    KNOWING: one_who_knows,
}


def shelf(case: Case) -> tuple[list[Loose], NDArray[np.bool_]]:
    """Springs to choose from: those on the truck with their true rates, then the catalogue's; of those on the truck
    there is one a corner only."""
    at, machine = [CORNERS.index(c) for c in SIDES[case.end]], case.real.machine
    stack, shock = case.truck.corners[SIDES[case.end][0]].stack, case.truck.corners[SIDES[case.end][0]].shock
    own = [
        Loose(KEPT[i], rates[at], s.free_length, s.travel_to_solid, shock.spring_inside_diameter)
        for i, (s, rates) in enumerate(((stack.upper, machine.upper_rate), (stack.lower, machine.lower_rate)))
        if s is not None
    ]
    springs = [*own, *loose(STOCK)]
    return springs, np.arange(len(springs)) >= len(own)


def _best(case: Case, asked: Asked, preload: Array) -> list[Proposal]:
    springs, twice = shelf(case)
    tried = try_all(asked, springs, twice)
    best = tried.best()
    if best is None:
        return []
    listed = case.truck.corners[SIDES[case.end][0]].stack.springs
    places = [1] if len(listed) == 1 else [0, 1]

    def on(index: int) -> On:
        s = springs[index]
        kept = None if twice[index] else places[index]
        rate = float(s.rates.mean()) if kept is None else listed[index].rate
        return On(rate, s.travel, s.free_length, kept)

    upper, lower = int(tried.upper[best]), int(tried.lower[best])
    wound = preload.copy()
    at = [CORNERS.index(c) for c in SIDES[case.end]]
    wound[at] = tried.preload[best]
    return [
        Proposal(
            None if upper < 0 else on(upper),
            on(lower),
            None if upper < 0 else float(tried.gap[best]),
            wound,
        )
    ]


def snapped(case: Case, proposal: Proposal) -> Array:
    """The proposal's preloads (m, (4,)) as whole steps of the nuts can reach them, with the new springs' thread."""
    lattice = Lattice.of(case.truck, case.start)
    at = np.isin(CORNERS, SIDES[case.end])
    own = sum(s.free_length for s in case.truck.corners[SIDES[case.end][0]].stack.springs)
    shift = proposal.lower.free_length + (proposal.upper.free_length if proposal.upper else 0.0) - own
    start = np.where(at, 0.0, lattice.start)
    low, high = (np.where(at, v + shift, v) for v in (lattice.low, lattice.high))
    return Lattice(start, lattice.step, low, high).snapped(proposal.preload)
