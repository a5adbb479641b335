"""Load that nuts, stacks and springs have shifted from wheel to wheel between two runs, and which of them did. SI.

At an unchanged weight a nut that is turned, or a spring that shortens, moves load across the frame: the corner gives
up some, the two beside it take it, the one across from it gives up some too. Nothing was loaded on the truck, yet
those corners stand higher or lower for it. What each did is how the truck would stand without it, all else as it is.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from .. import stack as springs
from ..arrays import Array
from ..fit import Fit
from ..statics import Struts, equilibrium
from ..truck import CORNERS
from .split import Split, Stand

What = Literal["nut", "stack", "spring"]
COUNTS = 0.0254 / 32  # m of height from which a cause is named
SURE = 0.95  # chance of its way from which a loss or a shift is called one


@dataclass(frozen=True)
class Cause:
    """A corner and what was changed there: its nut, its stack, or the length of its spring."""

    corner: str
    what: What


@dataclass(frozen=True)
class Shift:
    """What one cause has done to the four corners, draws (n, 4): load shifted onto each wheel (N, negative: off it),
    and how much lower each stands for that (m at the marks)."""

    cause: Cause
    load: Array
    fall: Array


def shifts(fit: Fit, before: Stand, now: Stand, split: Split) -> tuple[Shift, ...]:
    """One for every nut or stack that was changed between two runs, and for every corner's spring."""
    strut, axle = now.strut, now.axle
    lines = springs.ladder(strut.compliance, strut.limit())

    def stood(with_strut: Struts) -> tuple[Array, Array]:
        _, wheel = equilibrium(with_strut, axle, before.weight, now.offset, now.twist)
        return wheel, axle.mark_heights(strut.height_under(axle.seat_loads(wheel), lines))

    load, height = stood(strut)
    found = []
    for cause, without in _undone(fit, before, now, split):
        load_without, height_without = stood(without)
        found.append(Shift(cause, load - load_without, height_without - height))
    return tuple(found)


def _undone(fit: Fit, before: Stand, now: Stand, split: Split) -> Iterator[tuple[Cause, Struts]]:
    """Each cause, and the struts as they are now but for it."""
    then, today = fit.evidence.stacks[before.run], fit.evidence.stacks[now.run]
    for i, name in enumerate(CORNERS):
        here = np.arange(4) == i
        if then[i] != today[i] or before.strut.preload[i] != now.strut.preload[i]:
            what: What = "nut" if then[i] == today[i] else "stack"
            yield Cause(name, what), _put_back(before.strut, now.strut, split.set_length, here)
        yield Cause(name, "spring"), replace(now.strut, datum=now.strut.datum - split.set_length * here)


def _put_back(before: Struts, now: Struts, length: Array, here: Array) -> Struts:
    """Nut and stack as they were before at the corner `here` (4,), the length lost since kept."""
    pair = here[:, None]
    return replace(
        now,
        compliance=np.where(pair, before.compliance, now.compliance),
        solid_travel=np.where(pair, before.solid_travel, now.solid_travel),
        ring_gap=np.where(here, before.ring_gap, now.ring_gap),
        preload=np.where(here, before.preload, now.preload),
        datum=np.where(here, before.datum + length, now.datum),
    )


def known(shifted: Sequence[Shift], corner: int) -> tuple[Shift, ...]:
    """Those that have surely shifted load to or from a corner, and enough to count, the greatest first. A nut or stack
    that was changed always is; a spring whose set is no more than chance is not."""
    sure = [
        (abs(fall.mean()), shift)
        for shift, fall in ((shift, shift.fall[:, corner]) for shift in shifted)
        if abs(fall.mean()) >= COUNTS and (fall * np.sign(fall.mean()) > 0).mean() >= SURE
    ]
    return tuple(shift for _, shift in sorted(sure, key=lambda one: -one[0]))
