"""One corner's height lost as it is told: which parts the log can tell apart, how sure they are, and the verdict."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ..arrays import Array
from ..fit import Fit
from ..interval import Interval, from_draws
from .evidence import lost_between, weighed
from .shift import SURE, Cause, Shift, known
from .split import Split, Stand, falls_per_length, read_at

Verdict = Literal["steady", "settling", "loaded", "low", "unknown"]
MATERIAL = 0.0254 / 16  # m of height: what a tape does not show is no verdict
TELLS = 0.25  # of the set's prior variance, the most that may be left for it to be told without loads


@dataclass(frozen=True)
class Parts:
    """Since the reference run. Heights m at the mark (positive: lower); None where the log can't tell.

    height_lost: of the true height, no tape and no friction. read_lost: what the tape says. spring_set: m of spring
    (positive: shorter). from_set, from_load, from_adjustment and left_over add up to height_lost, their means exactly.
    load_added: N at the wheel. set_and_load: the two together, where they can't be told apart; then, if no weight was
    taken off and no spring grew, the set is at most spring_set_most (m of spring) and the weight load_most (N at the
    wheel).

    load_shifted: what nuts, stacks and springs, this corner's and others', have surely shifted onto the wheel (N);
    shifted_by: which, the greatest first; from_shift: the height lost to it, a part of from_load. Where set and load
    can't be told apart they are of nuts and stacks alone, from_shift is a part of set_and_load and the rest of it is
    set_or_weight.
    """

    verdict: Verdict
    height_lost: Interval | None = None
    read_lost: float | None = None
    spring_set: Interval | None = None
    from_set: Interval | None = None
    from_load: Interval | None = None
    from_adjustment: Interval | None = None
    left_over: Interval | None = None
    load_added: Interval | None = None
    set_and_load: Interval | None = None
    spring_set_most: float | None = None
    load_most: float | None = None
    set_or_weight: Interval | None = None
    load_shifted: Interval | None = None
    from_shift: Interval | None = None
    shifted_by: tuple[Cause, ...] = ()


def parts_of(
    fit: Fit, corner: int, before: Stand, now: Stand, split: Split, shifted: Sequence[Shift]
) -> Parts:
    """The parts of one corner. fit: as `retold`; shifted: as `shifts` between the two runs."""
    if before.run >= now.run:
        return Parts("unknown")
    then, today = read_at(fit, before.run), read_at(fit, now.run)
    read_lost = float(then.height[corner] - today.height[corner])
    measured = bool(split.measured[corner])
    if not measured and np.isnan(read_lost):
        return Parts("unknown")
    set_told = measured or _set_is_told(fit, corner, before.run, now.run)
    lost, adjustment = split.lost[:, corner], split.adjustment[:, corner]
    told = Parts(
        verdict="unknown",
        height_lost=from_draws(lost),
        read_lost=None if np.isnan(read_lost) else read_lost,
        from_adjustment=from_draws(adjustment),
    )
    if not set_told:
        return _together(told, fit, corner, lost - adjustment, shifted)
    by_set, by_load, left = split.set[:, corner], split.load[:, corner], split.left[:, corner]
    added = now.wheel_load[:, corner] - before.wheel_load[:, corner]
    return replace(
        _with_shift(told, known(shifted, corner), corner, lost),
        verdict=_verdict(by_set, by_load, split.weight[:, corner], left),
        spring_set=from_draws(split.set_length[:, corner]),
        from_set=from_draws(by_set),
        from_load=from_draws(by_load),
        left_over=from_draws(left) if measured else None,
        load_added=from_draws(added) if measured else None,
    )


def _together(told: Parts, fit: Fit, corner: int, both: Array, shifted: Sequence[Shift]) -> Parts:
    """Set and load as one part; load that nuts are known to have shifted is neither."""
    nuts = known([shift for shift in shifted if shift.cause.what != "spring"], corner)
    rest = both - _total([shift.fall[:, corner] for shift in nuts], both)
    most, load_most = _bounds(fit, corner, rest)
    return replace(
        _with_shift(told, nuts, corner, both),
        verdict="low" if _sure(rest) else "steady",
        set_and_load=from_draws(both),
        set_or_weight=from_draws(rest),
        spring_set_most=most,
        load_most=load_most,
    )


def _with_shift(told: Parts, shifted: Sequence[Shift], corner: int, like: Array) -> Parts:
    return replace(
        told,
        load_shifted=from_draws(_total([shift.load[:, corner] for shift in shifted], like)),
        from_shift=from_draws(_total([shift.fall[:, corner] for shift in shifted], like)),
        shifted_by=tuple(shift.cause for shift in shifted),
    )


def _total(draws: Sequence[Array], like: Array) -> Array:
    return np.asarray(sum(draws, np.zeros_like(like)))


def _verdict(by_set: Array, by_load: Array, by_weight: Array, left: Array) -> Verdict:
    """Load that nuts or springs have only shifted here from other wheels is no weight, nor lost for no known cause."""
    if _sure(by_set):
        return "settling"
    if _sure(by_load) and _sure(by_weight):
        return "loaded"
    if _sure(left):
        return "low"
    return "low" if _sure(by_set + by_weight + left) and not _sure(by_weight) else "steady"


def _sure(drop: Array) -> bool:
    """Whether draws of a drop show one that matters and is hardly chance."""
    return bool(drop.mean() >= MATERIAL and (drop > 0).mean() >= SURE)


def _set_is_told(fit: Fit, corner: int, since: int, now: int) -> bool:
    """Whether weighed runs in between pin the set down, although the two runs compared were not both weighed."""
    if not weighed(fit)[:, corner].any():
        return False
    follow, drift = lost_between(fit, corner, since, now), fit.unknowns.drift
    before = float(((follow * fit.prior_sd[drift]) ** 2).sum())
    left = float(follow @ fit.regression.covariance[drift, drift] @ follow)
    return before > 0 and left <= TELLS * before


def _bounds(fit: Fit, corner: int, both: Array) -> tuple[float, float]:
    """Spring set (m) and wheel load (N) that would alone make up the most (95 %) of a drop.

    A spring that shortens sheds some of its load through the frame, so the corner falls by less than it would alone.
    """
    drop = max(float(np.quantile(both, SURE)), 0.0)
    per_newton = float(fit.rows.scale[-1, corner, corner] / fit.rows.tape[-1, corner, corner])
    return drop / float(falls_per_length(fit)[corner, corner]), drop / max(per_newton, 1e-12)
