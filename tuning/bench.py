"""The fitted truck set up for trying turns: what is wanted, and where it would stand. Nothing here decides. SI."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .arrays import Array
from .ends import MARKS, reach
from .faults import NoAnswerError
from .fit import Fit
from .statics import equilibrium
from .truck import CORNERS, SIDES, Target
from .units import shop_length

CROSS = np.array([0.0, 1.0, 1.0, 0.0])  # RF and LR


class AdjustError(NoAnswerError):
    """No answer is possible; the message says why and what to do."""


@dataclass(frozen=True)
class Wish:
    """One target as a straight function of heights and cross-weight. name: corner, end or cross_weight."""

    name: str
    value: float
    tolerance: float


@dataclass(frozen=True)
class Outlook:
    """Heights (..., 4) m, wheel loads (..., 4) N and cross-weight (...) to expect."""

    heights: Array
    loads: Array

    @cached_property
    def cross_weight(self) -> Array:
        """(RF + LR) / total."""
        return np.asarray(self.loads @ CROSS / self.loads.sum(axis=-1))

    def miss(self, wishes: tuple[Wish, ...]) -> Array:
        """How far off each wish, in tolerances: (..., wishes)."""
        found = [self.value(wish.name) for wish in wishes]
        off = [(v - w.value) / w.tolerance for v, w in zip(found, wishes, strict=True)]
        return np.stack(off, axis=-1)

    def value(self, name: str) -> Array:
        """What a wish is about."""
        if name == "cross_weight":
            return self.cross_weight
        if name in CORNERS:
            return self.heights[..., CORNERS.index(name)]
        return np.asarray(self.heights[..., [CORNERS.index(c) for c in SIDES[name]]].mean(axis=-1))


def wishes_of(target: Target, loads_known: bool) -> tuple[Wish, ...]:
    """Targets that can be judged: cross-weight only where the loads are known."""
    wishes = [Wish(c, h, target.height_tolerance) for c, h in target.heights.items()]
    wishes += [Wish(e, h, target.height_tolerance) for e, h in target.ends.items()]
    if target.cross_weight is not None and loads_known:
        wishes.append(Wish("cross_weight", target.cross_weight, target.cross_weight_tolerance))
    return tuple(wishes)


@dataclass(frozen=True)
class Bench:
    """The fitted truck set up for trying turns: nothing here decides anything."""

    fit: Fit
    draws: Array  # (n, p)

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Corners with an adjuster."""
        return tuple(c for c in CORNERS if self.fit.truck.corners[c].adjuster is not None)

    @cached_property
    def per_turn(self) -> Array:
        """Preload per turn (m), (4,), zero where there is no adjuster."""
        adjusters = [self.fit.truck.corners[c].adjuster for c in CORNERS]
        return np.array([0.0 if a is None else a.travel_per_turn for a in adjusters])

    @cached_property
    def step(self) -> Array:
        """Smallest step (turns) of each adjuster in `names`."""
        adjusters = [self.fit.truck.corners[c].adjuster for c in self.names]
        return np.array([a.step for a in adjusters if a is not None])

    def outlook(self, turns: Array, theta: Array) -> Outlook:
        """Where the truck stands after turns (k, 4) for unknowns (n, p): arrays (k, n, 4)."""
        p = self.fit.parameters(theta)
        preload = self.fit.preload + turns[:, None] * self.per_turn
        strut = replace(self.fit.strut, preload=preload, compliance=p.compliance, datum=p.datum)
        heights, loads = equilibrium(strut, self.fit.axle, p.weight, p.offset, p.twist)
        return Outlook(heights, loads)

    def given(self, turns: Mapping[str, float]) -> Array:
        """Turns by corner as turns of all corners (4,). Raises AdjustError for a corner without adjuster."""
        for corner in turns:
            if corner not in self.names:
                raise AdjustError(
                    f"{corner} has no adjuster; those with one: {', '.join(self.names) or 'none'}"
                )
        return np.array([turns.get(c, 0.0) for c in CORNERS])

    def spread(self, turns: Array) -> Array:
        """Turns of the adjusters in `names` (..., m) as turns of all corners (..., 4)."""
        full = np.zeros((*turns.shape[:-1], 4))
        full[..., [CORNERS.index(c) for c in self.names]] = turns
        return full


def bench(fit: Fit, draws: int = 1000, seed: int = 0) -> Bench:
    """Set a fitted truck up for trying turns. Raises AdjustError where it stands as no shock of it could."""
    _within_reach(fit)
    return Bench(fit, fit.draws(draws, seed))


def _within_reach(fit: Fit) -> None:
    low, high = reach(fit.truck, fit.strut)
    run, units = fit.runs[-1], fit.truck.units
    for i, corner in enumerate(CORNERS):
        for reading in run.at(corner):
            height = reading.height
            if height is None or reading.doubt or low[i] < height < high[i]:
                continue
            way, end = ("above", high[i] - MARKS) if height >= high[i] else ("below", low[i] + MARKS)
            raise AdjustError(
                f"{corner} reads {shop_length(height, units)} in run {run.name}, more than "
                f"{shop_length(MARKS, units)} {way} where its shock ends ({shop_length(end, units)}): read it again "
                "between the marks that the cycle table was taken at, or mend that table"
            )


def load_known(fit: Fit, corner: int) -> bool:
    """Loads come from scales, or, less surely, from springs whose datum is known."""
    return fit.weighed_ends[corner // 2] or bool(fit.evidence.has_datum[corner])
