"""Springs chosen on one truck by one doer: put on, judged, read again, adjusted once, judged."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.truth.machine import NO_LIMIT, NO_SPRING, Machine
from tests.truth.rest import Rest
from tests.truth.shop import WAYS, Real, Visit, run_of, stand, visit
from tuning.adjust import adjust
from tuning.fit import fit
from tuning.readings import Run
from tuning.truck import CORNERS, SIDES, Spring, Stack, Truck

from . import methods
from .cases import misses
from .springs_cases import Case, height_misses
from .springs_doers import DOERS, KNOWING, On, Proposal, shelf, snapped
from .springs_stock import bump_of, try_all, used_at

Array = NDArray[np.float64]
NEW = "new springs"


@dataclass(frozen=True)
class Outcome:
    """One doer on one truck, read one way. found: springs were found; could: pairs that truly would have done.

    landed: largest height miss with the new springs on, before any further turning (m); worst, worst_after: largest
    miss of any target before and after one adjustment, in tolerances. bound, loose, and the same after: by how much
    (m) a spring of that end is solid at full bump, or the stack loose at strapped droop; below zero: what is left.
    held: heights inside their 90 % interval, of 4. chances: of all choices shown, best first, how likely the thread
    reaches and whether it truly does, as `0.97:1 0.60:0`.
    """

    truck: int
    end: str
    wrong: str
    missed: float
    way: str
    doer: str
    found: bool
    could: int
    landed: float = np.nan
    worst: float = np.nan
    worst_after: float = np.nan
    bound: float = np.nan
    loose: float = np.nan
    bound_after: float = np.nan
    loose_after: float = np.nan
    held: float = np.nan
    chances: str = ""


def play(case: Case, way: str, doer: str, seed: int) -> Outcome:
    """Every doer meets the same luck at tape, scales, friction and new springs."""
    luck = np.random.default_rng([seed, case.number, "ABC".index(way), 4])
    first = visit(luck, case.real, case.start, WAYS[way])
    proposals = DOERS[doer](case, first)
    springs, twice = shelf(case)
    could = int(try_all(case.asked, springs, twice).fits.sum())
    told = (case.number, case.end, case.wrong, case.missed, way, doer, bool(proposals), could)
    if not proposals:
        return Outcome(*told)
    top = proposals[0]
    preload, real = snapped(case, top), put_on(case, top)
    before = stand(real, preload)
    bound, loose = margins(case, real.machine, preload)
    outcome = Outcome(
        *told,
        landed=float(np.abs(height_misses(case.truck.target, before)).max()),
        worst=float(np.abs(misses(case.truck.target, before)).max()),
        bound=bound,
        loose=loose,
        held=_held(top, before),
        chances=" ".join(f"{p.chance:.4f}:{reaches(case, p):d}" for p in proposals if p.chance is not None),
    )
    if doer == KNOWING:  # who knows it all has nothing to read
        return outcome
    wound = _adjusted(case, top, first, visit(luck, real, preload, WAYS[way]), doer)
    bound, loose = margins(case, real.machine, wound)
    worst = float(np.abs(misses(case.truck.target, stand(real, wound))).max())
    return replace(outcome, worst_after=worst, bound_after=bound, loose_after=loose)


def _held(proposal: Proposal, true: Rest) -> float:
    if proposal.heights is None:
        return np.nan
    low, high = proposal.heights.T
    return float(((low <= true.heights) & (true.heights <= high)).sum())


def _rates(case: Case, on: On | None, place: int) -> Array:
    """True rates (4,) of a spring put in a place (0 upper, 1 lower): a kept one's own, a new one's by luck."""
    if on is None:
        return np.full(4, NO_SPRING)
    if on.kept is not None:
        return np.asarray((case.real.machine.upper_rate, case.real.machine.lower_rate)[on.kept])
    return on.rate * (1 + case.luck[:, place])


def put_on(case: Case, proposal: Proposal) -> Real:
    """The truck with the proposal's springs at the end, true rates and all; what else it is, datum too, stays."""
    at, machine = np.isin(CORNERS, SIDES[case.end]), case.real.machine
    upper, lower = proposal.upper, proposal.lower
    new = {
        "upper_rate": _rates(case, upper, 0),
        "upper_travel": NO_LIMIT if upper is None else upper.travel,
        "ring_gap": NO_LIMIT if proposal.gap is None else proposal.gap,
        "lower_rate": _rates(case, lower, 1),
        "lower_travel": lower.travel,
    }
    changed = {name: np.where(at, value, getattr(machine, name)) for name, value in new.items()}
    return replace(case.real, machine=replace(machine, **changed))


def margins(case: Case, machine: Machine, preload: Array) -> tuple[float, float]:
    """By how much (m) the worst spring of the end is past solid at full bump, and the stack loose at the strap."""
    at = [CORNERS.index(c) for c in SIDES[case.end]]
    bump = np.array(
        [0.5 if v.shock is None else bump_of(case.truck, n) for n, v in case.truck.corners.items()]
    )
    strap = np.array([v.travel.height_strap or 0.5 for v in case.truck.corners.values()])
    at_bump, at_strap = (preload + used_at(machine, h) - machine.datum for h in (bump, strap))
    soft_upper, soft_lower = 1 / machine.upper_rate, 1 / machine.lower_rate
    upper = np.minimum(at_bump * soft_upper / (soft_upper + soft_lower), machine.ring_gap + preload)
    past = np.maximum(upper - machine.upper_travel, at_bump - upper - machine.lower_travel)
    return float(past[at].max()), float(-at_strap[at].min())


def reaches(case: Case, proposal: Proposal) -> bool:
    """Whether the thread truly reaches the preload with which these springs put both corners where they belong."""
    at, asked = [CORNERS.index(c) for c in SIDES[case.end]], case.asked
    soft = sum(1 / _rates(case, on, i)[at] for i, on in enumerate((proposal.upper, proposal.lower)))
    needed = asked.force * soft + asked.datum - asked.ride
    length = proposal.lower.free_length + (proposal.upper.free_length if proposal.upper else 0.0)
    return bool(((asked.low + length <= needed) & (needed <= asked.high + length)).all())


def with_stack(case: Case, proposal: Proposal) -> tuple[Truck, Truck]:
    """The truck file with the new stack among its `stacks`, and the same with it on the end."""

    def listed(on: On | None) -> Spring | None:
        return on and Spring(on.rate, on.free_length, on.free_length - on.travel)

    stack = Stack(NEW, listed(proposal.lower), listed(proposal.upper), proposal.gap)
    file = replace(case.truck, stacks=case.truck.stacks | {NEW: stack})
    corners = {
        c: replace(v, stack=stack) if c in SIDES[case.end] else v for c, v in case.truck.corners.items()
    }
    return file, replace(file, corners=corners)


def _adjusted(case: Case, top: Proposal, first: Visit, second: Visit, doer: str) -> Array:
    """Preloads (m, (4,)) after one adjustment from the second visit: by the tool, or by the springs' list."""
    file, worn = with_stack(case, top)
    if doer == "tool":
        runs: list[Run] = [run_of(case.truck, first, 1), run_of(worn, second, 2)]
        answer = adjust(fit(file, runs))
        return np.array([answer.corners[c].preload_after or 0.0 for c in CORNERS])
    own = case.truck.corners[SIDES[case.end][0]]
    low, high = own.preload_range(worn.stacks[NEW])
    adjuster = replace(own.adjuster, preload_min=low, preload_max=high)
    corners = {
        c: replace(v, adjuster=adjuster) if c in SIDES[case.end] else v for c, v in worn.corners.items()
    }
    return methods.springs_list(replace(worn, corners=corners), [second]).preload
