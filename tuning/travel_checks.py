"""Is the travel right: checks of one corner, each with its figure, what is allowed and what would mend it.

Limits come from the truck file's [practice] table, common practice where it says nothing. Values are SI; words are
in the owner's units.
"""

from collections.abc import Callable

from .check import Check
from .interval import NORMAL_HALF_WIDTH
from .travel_case import ALIKE, PRACTICE, Case
from .truck import Practice
from .units import to_unit, turns_text

FIRST_SHARE = 0.5  # of the first set-down's preload that it may be off


def checks_of(case: Case) -> tuple[Check, ...]:
    """All that applies to a corner, worst first: attention, not measured, pass."""
    found = [check for look in LOOKS for check in look(case)]
    return tuple(sorted(found, key=worst_first))


def worst_first(check: Check) -> int:
    """Place of a check among others: attention 0, not measured 1, pass 2."""
    return {False: 0, None: 1, True: 2}[check.ok]


# ---------------------------------------------------------------- ends of travel


def _shaft_at_bump(case: Case) -> list[Check]:
    low, high = case.practice.shaft_at_bump
    where = "full bump" if case.squashed is None else "bump stop squashed solid"
    shaft = case.hardest.shaft
    assert shaft is not None  # a corner with a shock
    limit = f"{case.tape(low)} to {case.tape(high)} {case.by_practice('shaft_at_bump')}"
    soft = case.corner.travel.bump_stop == "soft" and case.squashed is None
    if soft:
        limit += "; more, by what a soft stop still squashes"
    mend = ""
    if shaft < low - ALIKE:
        sooner = case.height_for(low) - case.hardest.height
        mend = (
            f"the shock may bottom: end bump travel {case.text(sooner)} sooner or more, by a longer bump stop"
        )
    elif shaft > high + ALIKE and not soft:
        spare = case.hardest.height - case.height_for(high)
        mend = f"safe, but {case.text(spare)} of bump travel is given away; a shorter bump stop would use it"
    return [Check(f"shaft showing at {where}", shaft >= low - ALIKE, shaft, "shaft", limit, mend)]


def _strap(case: Case) -> list[Check]:
    name, height = "shock travel left at the strap", case.corner.travel.height_strap
    low, high = case.practice.strap_before_extension
    usual = case.by_practice("strap_before_extension")
    limit = f"{case.tape(low)} to {case.tape(high)} {usual}"
    if height is None:
        mend = "measure the height where the limit strap stops the axle and write height_strap; without a strap the "
        return [Check(name, None, None, "travel", limit, mend + "axle hangs on its shocks")]
    assert case.corner.shock is not None
    stroke = case.corner.shock.stroke
    left = stroke - case.shaft_at(height)
    heights = (case.tape(case.height_for(stroke - left)) for left in (high, low))
    best = f"one that stops the axle at {' to '.join(heights)}"
    mend = ""
    if left < low - ALIKE:
        mend = f"the axle may hang on its shocks: a shorter strap, {best}"
    elif left > high + ALIKE:
        mend = f"safe, but droop is given away: a longer strap, {best}"
    return [Check(name, left >= low - ALIKE, left, "travel", limit, mend)]


def _bump_stop(case: Case) -> list[Check]:
    travel = case.corner.travel
    if travel.bump_stop is None:
        mend = 'write bump_stop = { kind = "hydraulic", travel = "2 in", contact = "18 3/4 in" } with its true figures'
        return [Check("bump stop at full bump", None, None, "travel", "a bump stop ends the travel", mend)]
    soft = travel.bump_stop == "soft"
    name = f"{'soft' if soft else 'hydraulic'} bump stop at full bump"
    want = "room to squash further" if soft else "fully compressed"
    if travel.bump_stop_travel is None or travel.bump_stop_contact is None or travel.height_full_bump is None:
        mend = (
            "raise the axle until the stop just touches and write that height as contact, its travel to solid as "
            "travel, and height_full_bump"
        )
        return [Check(name, None, None, "travel", want, mend)]
    squash = travel.bump_stop_contact - travel.height_full_bump
    left = travel.bump_stop_travel - squash
    unsure = NORMAL_HALF_WIDTH * 2**0.5 * case.truck.noise.height  # two heights read with a tape
    mend = ""
    if soft:
        ok = squash > 0 and left > 0
        if squash <= 0:
            mend = f"it does not touch before full bump: contact is {case.text(-squash)} higher up"
        elif left <= 0:
            mend = f"it is solid {case.text(-left)} before full bump: measure both again, or a shorter stop"
        limit = f"{want}: squashed by less than its {case.tape(travel.bump_stop_travel)}, {PRACTICE}"
        return [Check(name, ok, left, "travel", limit, mend)]
    if left > unsure:
        mend = f"it has {case.text(left)} left at full bump: something else stops the axle, or a longer stop"
    elif left < -unsure:
        mend = f"it is solid {case.text(-left)} before full bump: measure both again, or a shorter stop"
    limit = f"{want}: all of its {case.tape(travel.bump_stop_travel)}, as near as a tape tells ({case.text(unsure)})"
    return [Check(name, abs(left) <= unsure, squash, "travel", limit, mend)]


# ---------------------------------------------------------------- springs


def _seated(case: Case) -> list[Check]:
    least, pressed = case.practice.seated, case.strap.compression
    assert pressed is not None
    place = (
        "strapped droop" if case.corner.travel.height_strap is not None else "full droop (no strap measured)"
    )
    limit = f"pressed together by {case.tape(least)} or more {case.by_practice('seated')}"
    mend = ""
    if pressed < least - ALIKE:
        more = least - pressed
        state = f"loose by {case.text(-pressed)}" if pressed < 0 else "barely seated"
        mend = f"{state}: {case.text(more)} more preload{_in_turns(case, more)}, a shorter strap or longer springs"
    return [Check(f"springs seated at {place}", pressed >= least - ALIKE, pressed, "travel", limit, mend)]


def _in_turns(case: Case, more: float) -> str:
    adjuster = case.corner.adjuster
    if adjuster is None:
        return ""
    turns = -(-more / adjuster.travel_per_turn // adjuster.step) * adjuster.step
    return f" ({turns_text(turns).split(' down')[0]})"


def _crossover(case: Case) -> list[Check]:
    stack = case.stack
    if stack.upper is None or stack.ring_gap is None or case.ride.height <= case.bump.height:
        return []
    first, last = case.practice.crossover
    ride, bump = case.ride.height, case.bump.height
    high, low = ride - first * (ride - bump), ride - last * (ride - bump)
    window = f"{case.tape(low)} to {case.tape(high)}"
    usual = case.by_practice("crossover")
    between = "between ride and full bump" if (first, last) == Practice.crossover else ""
    limit = f"{between} {window} {usual}".strip()
    if max(stack.ring_gap + case.preload, 0.0) >= stack.upper.travel_to_solid or case.crossover is None:
        mend = "the upper is coil-bound before the slider meets its ring: bring the ring nearer to the slider"
        return [Check("crossover", False, case.crossover, "height", limit, mend)]
    ok = low - ALIKE <= case.crossover <= high + ALIKE
    mend = ""
    if not ok:
        early = case.crossover > high
        way = (
            "early, move the ring up, away from the slider" if early else "late or never, move the ring down"
        )
        mend = f"too {way}; {case.text(abs(_ring_move(case, (low + high) / 2)))} brings it to the middle"
    return [Check("crossover", ok, case.crossover, "height", limit, mend)]


def _ring_move(case: Case, height: float) -> float:
    """How far the ring has to go up for the crossover to be at this height (m): both springs work until there."""
    gap, bump = case.stack.ring_gap, case.bump
    assert gap is not None
    assert bump.compression is not None
    assert bump.shaft is not None
    pressed = bump.compression + bump.shaft - case.shaft_at(height)
    return case.upper_share * pressed - case.preload - gap


def _off_ring(case: Case) -> list[Check]:
    distance = case.ride.ring_distance
    if distance is None:
        return []
    mend = "this nut does nothing to the height: move the ring up or change the lower spring"
    ok = distance > ALIKE
    return [Check("slider off its ring at ride", ok, distance, "ring_gap", "clear of it", "" if ok else mend)]


def _bind(case: Case) -> list[Check]:
    least = case.practice.clear_of_solid
    limit = f"{case.tape(least)} or more {case.by_practice('clear_of_solid')}"
    where = "full bump" if case.squashed is None else "bump stop squashed solid"
    lefts = [("lower", case.hardest.lower_left)]
    if case.stack.upper is not None:
        lefts.insert(0, ("upper", case.hardest.upper_left))
    found = []
    for which, left in lefts:
        name = f"{which if len(lefts) > 1 else 'spring'} clear of coil bind at {where}"
        if left is None:
            mend = "measure free and solid length and write free_length and solid_length"
            found.append(Check(name, None, None, "travel", limit, mend))
            continue
        ok = left >= least - ALIKE
        ring = ", the ring nearer to the slider" if which == "upper" else ""
        bound = f"coil-bound, {case.text(-left)} missing" if left < -ALIKE else "at or near coil bind"
        mend = f"{bound}: less preload, a longer bump stop{ring}, or a spring with more travel"
        found.append(Check(name, ok, left, "travel", limit, "" if ok else mend))
    return found


# ---------------------------------------------------------------- shock and nut


def _lean(case: Case) -> list[Check]:
    shock, most = case.corner.shock, case.practice.side_lean
    assert shock is not None
    limit = f"{to_unit(most, 'deg'):.3g} deg at most {case.by_practice('side_lean')}"
    name = "shock upright as seen from the side"
    if shock.side_lean is None:
        mend = "lay an angle finder on the shock at ride, from the side, and write side_lean"
        return [Check(name, None, None, "angle", limit, mend)]
    ok = shock.side_lean <= most + ALIKE
    mend = "" if ok else "move a mount until it stands upright: a leaning shock binds on its bearings"
    return [Check(name, ok, shock.side_lean, "angle", limit, mend)]


def _first_preload(case: Case) -> list[Check]:
    first = case.practice.first_preload
    if not case.first_run or case.corner.adjuster is None:
        return []
    ok = abs(case.preload - first) <= FIRST_SHARE * first + ALIKE
    limit = f"about {case.tape(first)} {case.by_practice('first_preload')}"
    mend = "" if ok else f"set it to {case.tape(first)} before the first set-down, then read and log again"
    return [Check("preload for the first set-down", ok, case.preload, "preload", limit, mend)]


def _thread(case: Case) -> list[Check]:
    low, high = case.preload_range
    if case.corner.adjuster is None:
        return []
    below, above = case.preload - low, high - case.preload
    limit = f"{case.tape(low)} to {case.tape(high)} on the thread"
    mend = ""
    if below < -ALIKE:
        mend = f"{case.text(-below)} less than the thread allows: less far up, or shorter or softer springs"
    elif above < -ALIKE:
        mend = f"{case.text(-above)} more than the thread has: less far down, or longer or stiffer springs"
    return [Check("preload inside the thread", not mend, case.preload, "preload", limit, mend)]


LOOKS: tuple[Callable[[Case], list[Check]], ...] = (
    _shaft_at_bump,
    _strap,
    _bump_stop,
    _seated,
    _bind,
    _off_ring,
    _crossover,
    _lean,
    _first_preload,
    _thread,
)
