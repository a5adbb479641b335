"""Where one corner's height went, in words that add up: every part that the words' rounding can show is named."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ..interval import Interval
from ..sag.parts import MATERIAL, Parts
from ..sag.shift import Cause
from ..units import System, decimal_length, from_unit, shop_length, shop_load
from .shared import between

NO_MORE = "no more than tape and friction do"


@dataclass(frozen=True)
class Piece:
    """One part: height lost (m, negative: gained), and what is said of it, given its size in words."""

    lost: float
    says: Callable[[str], str]


def where_it_went(name: str, since: str, parts: Parts, system: System) -> str:
    """E.g. `RF stands 5.5 mm lower than at m00: 2.5 mm lost to 68 N that LF's nut shifted onto it, …`."""
    assert parts.height_lost is not None
    pieces = _pieces(name, parts, system)
    whole, sizes = _adding_up(parts.height_lost.mean, [piece.lost for piece in pieces], system)
    head = _head(name, since, whole, parts, system)
    said = [
        piece.says(shop_length(abs(size), system)) for piece, size in zip(pieces, sizes, strict=True) if size
    ]
    if parts.verdict == "steady" and not (said and _stands_out(parts)):
        return f"{head}: steady, nothing beyond what tape and friction do."
    return f"{head}{': ' if said else ''}{', '.join(said)}.{_after(name, parts, system)}"


def verdict_words(name: str, parts: Parts) -> str:
    """The verdict; where it is steady although the corner clearly stands lower, with the reason."""
    if parts.verdict != "steady" or parts.height_lost is None or not _clearly_lower(parts.height_lost):
        return parts.verdict
    by = [Cause(name, "nut")] if parts.from_adjustment is not None and _shows(parts.from_adjustment) else []
    if parts.from_shift is not None and parts.from_shift.mean >= MATERIAL / 2:
        by += parts.shifted_by
    return f"steady but for {causes(name, list(dict.fromkeys(by)))}" if by else parts.verdict


def causes(name: str, by: Sequence[Cause]) -> str:
    """E.g. `LF's nut and its own spring`, as told of the corner `name`; of more than two only the kinds."""
    if len(by) > 2:
        said = [f"{kind}s" for kind in dict.fromkeys(one.what for one in by)]
        said[0] = f"several {said[0]}"
    else:
        said = [f"{_whose(name, one.corner)} {one.what}" for one in by]
    return " and ".join([", ".join(said[:-1]), said[-1]] if len(said) > 1 else said)


def _whose(name: str, corner: str) -> str:
    return "its own" if corner == name else f"{corner}'s"


def _head(name: str, since: str, whole: float, parts: Parts, system: System) -> str:
    size = shop_length(abs(whole), system)
    if whole == 0:
        return f"{name} stands as high as at {since}"
    if whole < 0:
        return f"{name} stands {size} higher than at {since}"
    if parts.verdict == "steady":
        return f"{name} stands {size} lower than at {since}"
    return f"{name} has lost {size} since {since}"


def _adding_up(whole: float, parts: Sequence[float], system: System) -> tuple[float, list[float]]:
    """A sum and its parts (m) as the words round them, so that they still add up: those that rounding has moved
    farthest are moved back by one step."""
    step = from_unit(0.5, "mm") if system == "metric" else from_unit(1 / 16, "in")
    total, rounded = round(whole / step), [round(part / step) for part in parts]
    over = sum(rounded) - total
    way = 1 if over > 0 else -1
    farthest = sorted(range(len(parts)), key=lambda i: way * (rounded[i] - parts[i] / step), reverse=True)
    for i in farthest[: abs(over)]:
        rounded[i] -= way
    return total * step, [size * step for size in rounded]


# ---------------------------------------------------------------- the parts


def _pieces(name: str, parts: Parts, system: System) -> list[Piece]:
    """All parts, those first that are sure."""
    found: list[Piece] = []
    if parts.from_adjustment is not None:
        by_nut = parts.from_adjustment.mean
        way = "lowered" if by_nut > 0 else "raised"
        found.append(Piece(by_nut, lambda size: f"{size} {way} by nut or stack"))
    by_shift = 0.0
    if parts.from_shift is not None and parts.load_shifted is not None and parts.shifted_by:
        by_shift = parts.from_shift.mean
        found.append(_shifted(name, parts.from_shift, parts.load_shifted, parts.shifted_by, system))
    if parts.from_load is not None:
        shifted = 0.0 if parts.load_shifted is None else parts.load_shifted.mean
        added = None if parts.load_added is None else parts.load_added.mean - shifted
        found.append(_load(parts.from_load.mean - by_shift, added, shifted > 0, system))
    if parts.left_over is not None:
        side = "" if parts.left_over.low > 0 else "lower " if parts.left_over.mean > 0 else "higher "
        found.append(Piece(parts.left_over.mean, lambda size: f"{size} {side}for no cause the log knows"))
    if parts.from_set is not None:
        by_set = Piece(parts.from_set.mean, _set(parts.from_set, parts.verdict == "settling", system))
        return [by_set, *found] if parts.verdict == "settling" else [*found, by_set]
    if parts.set_or_weight is not None:
        rest = parts.set_or_weight.mean
        found.append(Piece(rest, _together(rest, parts)))
    return found


def _shifted(name: str, fall: Interval, load: Interval, by: Sequence[Cause], system: System) -> Piece:
    way = "lost to" if fall.mean > 0 else "gained from"
    onto = "onto" if load.mean > 0 else "off"
    amount = shop_load(abs(load.mean), system)
    return Piece(fall.mean, lambda size: f"{size} {way} {amount} that {causes(name, by)} shifted {onto} it")


def _load(fall: float, added: float | None, besides: bool, system: System) -> Piece:
    way = "lost to" if fall > 0 else "gained from"
    if added is None:
        return Piece(fall, lambda size: f"{size} {way} load nobody weighed")
    if added * fall < 0:  # of two small figures' difference
        return Piece(fall, lambda size: f"{size} {way} what the wheel carries besides")
    amount = shop_load(abs(added), system)
    what = f"another {amount}" if besides and added > 0 else f"{amount} {'more' if added > 0 else 'less'}"
    return Piece(fall, lambda size: f"{size} {way} {what} on that wheel")


def _set(part: Interval, settling: bool, system: System) -> Callable[[str], str]:
    told = f" (90 %: {between(part, system)})" if abs(part.mean) >= MATERIAL / 2 else ""
    if settling or part.low > 0:
        return lambda size: f"{size} is spring set{told}"
    if part.mean > 0:
        return lambda size: f"{size} may be spring set, or {NO_MORE}{told}"
    if part.high >= 0:
        return lambda size: f"{size} gained by its spring, {NO_MORE}{told}"
    return lambda size: f"{size} gained by its spring, which springs don't do: look at nut and marks{told}"


def _together(rest: float, parts: Parts) -> Callable[[str], str]:
    if parts.verdict == "low":
        return lambda size: f"{size} is spring set or weight"
    way = "lower" if rest > 0 else "higher"
    return lambda size: f"{size} {way} by spring or weight, {NO_MORE}"


# ---------------------------------------------------------------- what stands out, and what is said after


def _shows(part: Interval) -> bool:
    return abs(part.mean) >= MATERIAL / 2


def _clearly_lower(lost: Interval) -> bool:
    return lost.mean >= MATERIAL and lost.low > 0


def _stands_out(parts: Parts) -> bool:
    """Whether a part is beyond noise, though the corner be steady."""
    told = (parts.from_load, parts.from_adjustment, parts.from_shift)
    return any(p is not None and _shows(p) and p.low * p.high > 0 for p in told)


def _after(name: str, parts: Parts, system: System) -> str:
    if parts.verdict != "low":
        return ""
    both = parts.set_or_weight
    if both is None:
        if parts.left_over is not None and parts.left_over.low > 0:
            return ""
        return (
            " Together that is more than tape and friction do; which of it is real the log can't say. Read "
            f"{name} again, let down from above and let up from below."
        )
    if parts.spring_set_most is None or parts.load_most is None:
        return ""
    return (
        f" Set and weight are {between(both, system)} together (90 %); without scales they can't be told apart: "
        f"at most {decimal_length(parts.spring_set_most, system)} of spring, or at most "
        f"{shop_load(parts.load_most, system)} on that wheel. Weigh all four wheels."
    )
