"""What the reports share: numbers in the owner's units, tables of text, cautions."""

from collections.abc import Sequence
from typing import Any

from ..interval import Interval
from ..units import System, decimal_length, to_unit, unit_in

Document = dict[str, Any]

ORDER_OF_WORK = (
    "Raise the truck and set it on stands rated for it, on firm level ground.",
    "Unload the springs at the corner you turn, and never turn a nut under load.",
    "Turn, lock the nuts, clear hands and tools, set the truck down.",
    "Roll it back and forth, bounce each corner, let it settle.",
    "Read all four corners again and log them.",
)
CAUTION = (
    "A truck on stands, a compressed spring and a gas shock can kill. Follow local codes; leave brake lines, "
    "welding and what you are not trained for to licensed practice. Re-check brake lines, driveshaft and "
    "clearances at the new heights."
)


class Shown:
    """Numbers of one truck in its owner's units."""

    def __init__(self, system: System) -> None:
        """system: "us" or "metric"."""
        self.system: System = system

    def number(self, value: float | None, what: str) -> float | None:
        """A bare number in the unit of `what`, None kept."""
        return None if value is None else float(to_unit(value, unit_in(what, self.system)))

    def interval(self, value: Interval | None, what: str) -> dict[str, float | None] | None:
        """An interval as a document."""
        if value is None:
            return None
        return {key: self.number(getattr(value, key), what) for key in ("mean", "low", "high")}

    def units(self, *kinds: str) -> dict[str, str]:
        """Unit of each kind."""
        return {kind: unit_in(kind, self.system) for kind in kinds}


def percent(value: Interval | None) -> dict[str, float] | None:
    """A share as an interval in percent."""
    return None if value is None else {key: 100 * getattr(value, key) for key in ("mean", "low", "high")}


def between(value: Interval, system: System) -> str:
    """`22.41 to 22.63 in`: the unit once."""
    low, high = decimal_length(value.low, system), decimal_length(value.high, system)
    return f"{low.split(' ')[0]} to {high}"


def odds(probability: float) -> str:
    """A chance as a whole percentage that never claims to be certain."""
    if probability > 0.99:
        return "over 99 %"
    return "under 1 %" if probability < 0.01 else f"{round(100 * probability)} %"


def columns(rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows of text in aligned columns, the first row a heading."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = ["  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows]
    return [lines[0], "  ".join("-" * w for w in widths), *lines[1:]]
