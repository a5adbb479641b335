"""How far each nut may be turned, and what held an answer back. SI inside."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from . import stack as springs
from .arrays import Array, Flags
from .bench import Bench, Wish
from .ends import ends_of_travel, hardest_bump
from .fit import Fit, Parameters
from .truck import CORNERS, Truck
from .units import shop_length

NEVER = 1e12  # N
UNEVEN = 0.02  # of all weight, that turns may take off an even diagonal before it is said (common practice)


@dataclass(frozen=True)
class Allowed:
    """Turns allowed at one adjuster, from now, and what sets each end."""

    low: float
    high: float
    low_reason: str
    high_reason: str

    def end_reached(self, turns: float, step: float) -> tuple[Literal["low", "high"], str] | None:
        """Which end a nut of that smallest step is at with these turns, and what sets it; None: neither."""
        if turns >= self.high - step / 2:
            return "high", self.high_reason
        return ("low", self.low_reason) if turns <= self.low + step / 2 else None


def allowed_turns(table: Bench) -> dict[str, Allowed]:
    """Turns between the ends of the thread, springs seated at droop, no coil bind at bump, on the lattice."""
    fit = table.fit
    best = fit.parameters(fit.theta[None])
    at_strap, at_bump = _used_at_ends(fit)
    found = {}
    for name in table.names:
        i = CORNERS.index(name)
        corner = fit.truck.corners[name]
        assert corner.adjuster is not None  # names holds only such corners
        low, high = corner.preload_range(fit.stacks[i])
        per_turn, step = corner.adjuster.travel_per_turn, corner.adjuster.step
        stride, now = per_turn * step, fit.preload[i]
        grid = np.arange(np.ceil((low - now) / stride - 1e-9), np.floor((high - now) / stride + 1e-9) + 1)
        grid = grid if len(grid) else np.zeros(1)
        preload = now + grid * stride
        seated = preload + at_strap[i] >= best.datum[0, i]
        free = _gives(fit, best, i, preload, at_bump[i])
        good = grid[seated & free] if (seated & free).any() else grid
        low_reason = "springs come loose at full droop" if good[0] > grid[0] else "end of the thread"
        high_reason = "coil bind at full bump" if good[-1] < grid[-1] else "end of the thread"
        found[name] = Allowed(good[0] * step, good[-1] * step, low_reason, high_reason)
    return found


def _used_at_ends(fit: Fit) -> tuple[Array, Array]:
    """Shock travel used at the strap and at the hardest bump (m), (4,) each, NaN where that is not known."""
    ends, strut = ends_of_travel(fit.truck, fit.strut), fit.strut
    at_strap, at_bump = (strut.stroke - strut.cycle.shaft(h) for h in (ends["strap"], hardest_bump(ends)))
    return at_strap, at_bump


def _gives(fit: Fit, best: Parameters, corner: int, preload: Array, used: float, clear: float = 0.0) -> Flags:
    """Whether, with so much shock travel used, no spring is nearer than `clear` (m) to solid at each preload (k,) but
    those solid already under today's load: a weak upper that only keeps the stack snug is meant to be."""
    compliance, solid = best.compliance[0, corner], fit.strut.solid_travel[corner]
    limit = springs.limits(np.broadcast_to(solid, (len(preload), 2)), fit.strut.ring_gap[corner], preload)
    pressed = np.maximum(preload + used - best.datum[0, corner], 0.0)
    force = springs.force(pressed, compliance, limit)
    at_work = (compliance > 0) & (fit.force_now[corner] * compliance < solid)
    moved = np.minimum(np.where(np.isfinite(force), force, NEVER)[:, None] * compliance, limit)
    return np.asarray(np.isfinite(force) & ((moved < solid - clear) | ~at_work).all(axis=1))


def limits_of(
    table: Bench,
    wishes: tuple[Wish, ...],
    turns: Array,
    miss: Array,
    allowed: dict[str, Allowed],
    searched: bool,
) -> tuple[str, ...]:
    """What held the answer back, a line each."""
    fit = table.fit
    best, (_, at_bump) = fit.parameters(fit.theta[None]), _used_at_ends(fit)
    said = []
    if fit.truck.target.cross_weight is not None and not fit.loads_known:
        said.append("cross-weight left out: the wheel loads are unknown; weigh all four wheels once")
    outside = bool(np.any(np.abs(miss) > 1))
    held = False
    for name in table.names:
        i, room = CORNERS.index(name), allowed[name]
        step = fit.truck.corners[name].adjuster
        assert step is not None
        added = turns[i] * table.per_turn[i]
        if turns[i] > room.high + 1e-9 or turns[i] < room.low - 1e-9:
            reason = room.high_reason if turns[i] > room.high else room.low_reason
            past = "these turns go past" if turns[i] else "as it stands it is past"
            said.append(f"{name}: {past} what is allowed ({reason})")
            held = True
        elif outside and (end := room.end_reached(turns[i], step.step)):
            said.append(f"{name}: no further this way ({end[1]})")
            held = True
        if _on_ring(fit, best, i, added):
            said.append(
                f"{name}: the slider sits on its ring, so this nut does nothing to the height; "
                "move the ring or change the lower spring"
            )
            held = True
        if _bind_near(fit, best, i, fit.preload[i] + added, at_bump[i]):
            clear = shop_length(fit.truck.practice.clear_of_solid, fit.truck.units)
            when = "with these turns" if turns[i] else "as it stands"
            said.append(
                f"{name}: {when} less than {clear} of spring is left to coil bind at full bump; "
                "see the travel before driving"
            )
    if outside and not held:
        names = ", ".join(w.name.replace("_", "-") for w, m in zip(wishes, miss, strict=True) if abs(m) > 1)
        said.append(
            f"the targets conflict through the frame: {names} can't all be met; this is the best trade"
            if searched
            else f"outside tolerance {'with these turns' if np.any(turns) else 'as it stands'}: {names}"
        )
    return tuple(said)


def one_diagonal(truck: Truck, now: float | None, after: float | None) -> tuple[str, ...]:
    """A line where turns load one diagonal much more than it was and no target forbids it. Cross-weights, shares."""
    if truck.target.cross_weight is not None or now is None or after is None:
        return ()
    if abs(after - 0.5) < abs(now - 0.5) + UNEVEN:
        return ()
    return (
        f"these turns take cross-weight from {100 * now:.1f} to {100 * after:.1f} %: heights alone don't share weight "
        'across the diagonals; write cross_weight = "50 %" under [target], or wish for ends instead of corners',
    )


def _bind_near(fit: Fit, best: Parameters, corner: int, preload: float, used: float) -> bool:
    """Whether with so much shock travel used (m), as at full bump, a spring at work is nearer to solid than good
    practice has it, at a preload (m)."""
    clear = fit.truck.practice.clear_of_solid
    return np.isfinite(used) and not _gives(fit, best, corner, np.array([preload]), used, clear)[0]


def _on_ring(fit: Fit, best: Parameters, corner: int, added: float) -> bool:
    """Whether the slider rests on its ring at today's load with this much preload added."""
    gap = fit.strut.ring_gap[corner]
    upper = best.compliance[0, corner, 0]
    if upper == 0 or gap >= springs.NO_STOP:
        return False
    stop = max(gap + fit.preload[corner] + added, 0.0)
    return bool(fit.force_now[corner] * upper >= stop and stop < fit.strut.solid_travel[corner, 0])
