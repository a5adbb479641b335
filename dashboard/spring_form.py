"""What is asked of springs, read from text fields: a window each, or what is wrong at which field. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dashboard.stock import Sought
from tuning.spring_places import Wanted
from tuning.truck import SIDES, Practice, Truck
from tuning.units import Kind, UnitError, decimal_length, parse, unit_in

FIELDS = ("frequency-least", "frequency-most", "crossover-least", "crossover-most")
_LIMITS = {
    "frequency": (0.3, 5.0),
    "crossover": (0.05, 2.0),
}  # Hz, m: beyond is a slip of the pen or the unit
_KINDS: dict[str, Kind] = {"frequency": "frequency", "crossover": "length"}

Window = tuple[float, float] | None


@dataclass(frozen=True)
class Asked:
    """Windows in SI, None where the truck's practice is meant; whether the ring may move, and left and right must
    be alike."""

    frequency: Window = None
    crossover: Window = None
    ring_moves: bool = True
    alike: bool = True

    @property
    def data(self) -> dict[str, Any]:
        """As a browser keeps it."""
        return dict(vars(self))


def asked_of(data: Mapping[str, Any]) -> Asked:
    """The inverse of `data`, lists back to pairs."""
    pairs = {
        name: None if data[name] is None else (float(data[name][0]), float(data[name][1]))
        for name in ("frequency", "crossover")
    }
    return Asked(**pairs, ring_moves=bool(data["ring_moves"]), alike=bool(data["alike"]))


def sought_of(asked: Asked, end: str, stock: str, truck: Truck) -> Sought:
    """The question put to the core."""
    frequency = asked.frequency or truck.practice.ride_frequency
    return Sought(end, stock, Wanted(frequency, asked.crossover, asked.ring_moves), asked.alike)


def read_windows(texts: Mapping[str, str | None], truck: Truck) -> tuple[dict[str, Window], dict[str, str]]:
    """Windows by name, and faults by field; FIELDS says which texts there are."""
    faults: dict[str, str] = {}
    windows = {name: _window(name, texts, truck, faults) for name in ("frequency", "crossover")}
    return windows, faults


def _window(name: str, texts: Mapping[str, str | None], truck: Truck, faults: dict[str, str]) -> Window:
    least, most = (
        _value(name, f"{name}-{end}", (texts.get(f"{name}-{end}") or "").strip(), truck, faults)
        for end in ("least", "most")
    )
    if any(f"{name}-{end}" in faults for end in ("least", "most")) or (least is None and most is None):
        return None
    if least is None or most is None:
        empty = "least" if least is None else "most"
        faults[f"{name}-{empty}"] = "Write both ends of the window, or neither."
        return None
    if least >= most:
        faults[f"{name}-most"] = "This is not above the other. Write the least first, then the most."
        return None
    return least, most


def _value(name: str, field: str, text: str, truck: Truck, faults: dict[str, str]) -> float | None:
    if not text:
        return None
    kind = _KINDS[name]
    try:
        value = parse(text, kind, default_unit=unit_in(kind, truck.units))
    except UnitError as error:
        faults[field] = _sentence(str(error))
        return None
    low, high = _LIMITS[name]
    if not low <= value <= high:
        faults[field] = f"Write {_said(name, low, truck)} to {_said(name, high, truck)}."
        return None
    return value


def _said(name: str, value: float, truck: Truck) -> str:
    return f"{value:g} Hz" if name == "frequency" else decimal_length(value, truck.units)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def practice_words(truck: Truck) -> dict[str, str]:
    """What an empty window stands for."""
    practice, common = truck.practice, Practice()
    (low, high), (nearest, farthest) = practice.ride_frequency, practice.crossover
    if (nearest, farthest) == (0.0, 1.0):
        where = "between ride and full bump"
    else:
        where = f"{nearest * 100:.0f} to {farthest * 100:.0f} % of the way from ride to full bump"

    def whose(name: str) -> str:
        return "common practice" if getattr(practice, name) == getattr(common, name) else "by the truck file"

    return {
        "frequency": f"Empty: {low:.2f} to {high:.2f} Hz, {whose('ride_frequency')}",
        "crossover": f"Empty: {where}, {whose('crossover')}",
    }


def coilover_ends(truck: Truck) -> list[str]:
    """Ends where springs can be chosen."""
    return [end for end, sides in SIDES.items() if all(truck.corners[c].adjuster for c in sides)]
