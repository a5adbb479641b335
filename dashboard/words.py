"""Answers in the owner's words and units. Pure: floats in, text out."""

from tuning.interval import Interval
from tuning.truck import Truck
from tuning.units import System, UnitError, decimal_length, parse, shop_length, to_unit, unit_in

END_WORDS = {"front": "Front", "rear": "Rear"}
CORNER_WORDS = {"LF": "left front", "RF": "right front", "LR": "left rear", "RR": "right rear"}
SETTLED_WORDS = {
    "": "rolled and bounced",
    "above": "settled from above",
    "below": "settled from below",
}


def length_range(interval: Interval, system: System) -> str:
    """`22.41 to 22.56 in`: the 90 % interval of a length."""
    return f"{_bare(decimal_length(interval.low, system))} to {decimal_length(interval.high, system)}"


def load_range(interval: Interval, system: System) -> str:
    """`1032 to 1058 lbf`."""
    return _range(interval, unit_in("load", system), 0)


def share_range(interval: Interval) -> str:
    """`49.6 to 50.3 %` from shares."""
    return f"{interval.low * 100:.1f} to {interval.high * 100:.1f} %"


def share(value: float) -> str:
    """`49.8 %` from a share."""
    return f"{value * 100:.1f} %"


def rate_range(interval: Interval, system: System) -> str:
    """`194 to 207 lbf/in`."""
    return _range(interval, unit_in("rate", system), 0 if system == "us" else 1)


def entry_length(value: float, system: System) -> str:
    """A length as it would be typed into a field again: a tape's fraction where that is what it is."""
    text = shop_length(value, system)
    try:
        if abs(parse(text, "length") - value) < 1e-6:
            return _bare(text)
    except UnitError:
        pass
    return f"{to_unit(value, unit_in('length', system)):.4f}".rstrip("0").rstrip(".")


def target_text(truck: Truck, corner: str) -> str:
    """`target 22 in ± 1/8 in`, or nothing where the corner has none."""
    height = truck.target.heights.get(corner)
    if height is None:
        return ""
    tolerance = shop_length(truck.target.height_tolerance, truck.units)
    return f"target {shop_length(height, truck.units)} ± {tolerance}"


def listed(names: list[str]) -> str:
    """`LF`, `LF and RF`, `LF, RF and LR`."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _range(interval: Interval, unit: str, places: int) -> str:
    low, high = (round(to_unit(v, unit), places) + 0.0 for v in (interval.low, interval.high))
    return f"{low:.{places}f} to {high:.{places}f} {unit}"


def _bare(text: str) -> str:
    """Without its unit."""
    return text.rsplit(" ", 1)[0]
