"""What the corners of an end ask of their springs, and the springs that could go on. SI inside."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .catalogue import own_name
from .ends import ends_of_travel, hardest_bump
from .faults import NoAnswerError
from .fit import Fit
from .gas import gas_rate
from .pairs import Pairs, Place, Ring
from .plan import Plan
from .truck import CORNERS, END_OF, Spring, Stack


class SpringsError(NoAnswerError):
    """No springs can be sought; the message says why and what to do."""


@dataclass(frozen=True)
class Wanted:
    """What is asked of the springs of an end.

    frequency: least and most (Hz). crossover: heights, least and most (m), or None for the truck's own practice.
    ring_moves: the stop ring may be put where the crossover is best.
    """

    frequency: tuple[float, float]
    crossover: tuple[float, float] | None = None
    ring_moves: bool = True


@dataclass(frozen=True)
class Candidate:
    """A spring that could go on. kept: its place on the truck now (0 upper, 1 lower), None where it is bought."""

    name: str
    spring: Spring
    inside_diameter: float | None
    kept: int | None = None


def on_the_truck(fit: Fit, at: Sequence[int]) -> tuple[Candidate, ...]:
    """The springs that are on these corners now, where all wear the same and their lengths are known."""
    stacks = {fit.stacks[i] for i in at}
    stack = stacks.pop()
    if stacks:
        return ()
    shock = fit.truck.corners[CORNERS[at[0]]].shock
    inside = None if shock is None else shock.spring_inside_diameter
    end = END_OF[CORNERS[at[0]]]
    words = (own_name(end, "upper"), own_name(end, "lower")) if stack.upper else (own_name(end, "spring"),)
    places = (0, 1) if stack.upper else (1,)
    return tuple(
        Candidate(word, spring, inside, place)
        for word, spring, place in zip(words, stack.springs, places, strict=True)
        if spring.free_length is not None and spring.solid_length is not None
    )


def place_of(fit: Fit, standing: Plan, at: Sequence[int]) -> Place:
    """What these corners ask of their springs, for each vector of unknowns of `standing`."""
    strut, corners = standing.strut, [fit.truck.corners[CORNERS[i]] for i in at]
    cycle = type(strut.cycle)(*(np.broadcast_to(v, (4,))[at] for v in vars(strut.cycle).values()))
    stroke = strut.stroke[at]
    ends = ends_of_travel(fit.truck, fit.strut)
    spans = [c.preload_range(fit.stacks[i]) for c, i in zip(corners, at, strict=True)]
    free = np.array([_known_length(fit.stacks[i]) for i in at])
    height = standing.seat_height[..., at]
    used = stroke - cycle.shaft(height)
    return Place(
        cycle=cycle,
        stroke=stroke,
        force=standing.force[..., at],
        seat_load=standing.seat_load[..., at],
        gas_rate=gas_rate(used, strut.gas[at], strut.gas_fill[at]),
        datum=strut.datum[..., at],
        height=height,
        bump=hardest_bump(ends)[at],
        strap=ends["strap"][at],
        low=np.array([low for low, _ in spans]) - free,
        high=np.array([high for _, high in spans]) - free,
    )


def _known_length(stack: Stack) -> float:
    if stack.free_length is None:
        raise SpringsError(
            f'the free length of "{stack.name}" is unknown, so nobody can say where another spring would put the '
            "nut on its thread: write free_length of every spring in the truck file"
        )
    return stack.free_length


def pairs_of(fit: Fit, candidates: Sequence[Candidate], at: Sequence[int]) -> Pairs:
    """Singles first, then every upper with every lower but a kept spring with itself."""
    count = len(candidates)
    upper, lower = (
        grid.ravel() for grid in np.meshgrid(np.arange(-1, count), np.arange(count), indexing="ij")
    )
    kept = np.array([c.kept is not None for c in candidates] + [False])
    real = ~(kept[upper] & (upper == lower))
    upper, lower = upper[real], lower[real]
    fitted = fit.parameters(fit.theta[None]).compliance[0][list(at)]  # (c, 2)
    each = np.array(
        [np.full(len(at), 1 / c.spring.rate) if c.kept is None else fitted[:, c.kept] for c in candidates]
    )
    each = np.vstack([each.reshape(count, len(at)), np.zeros(len(at))])
    solid = np.array([*(c.spring.travel_to_solid for c in candidates), 0.0])
    free = np.array([*(c.spring.free_length or np.nan for c in candidates), 0.0])
    return Pairs(
        upper=upper,
        lower=lower,
        compliance=np.stack([each[upper], each[lower]], axis=-1),
        solid_travel=np.stack([solid[upper], solid[lower]], axis=-1),
        free_length=free[upper] + free[lower],
        lower_length=free[lower],
    )


def ring_of(fit: Fit, wanted: Wanted, place: Place, at: Sequence[int]) -> Ring:
    """Where these corners' ring is, and where its crossover is wanted."""
    practice = fit.truck.practice
    ride, bump = place.height[0], place.bump
    if wanted.crossover is None:
        heights = np.stack([ride + share * (bump - ride) for share in reversed(practice.crossover)], axis=-1)
    else:
        heights = np.tile(wanted.crossover, (len(at), 1))
    rings = [(s.ring_gap, s.lower.free_length) for s in (fit.stacks[i] for i in at) if s.ring_gap is not None]
    gap, lower = min(rings, default=(None, None))
    return Ring(wanted.ring_moves, gap, lower, heights, practice.clear_of_solid)
