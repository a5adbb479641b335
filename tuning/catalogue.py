"""Springs that can be bought or lie on the shelf. SI base units, frozen; `log.catalogue_file` reads and writes them."""

from dataclasses import dataclass
from typing import Literal

from .truck import END_NAMES, Spring


@dataclass(frozen=True)
class StockSpring:
    """One spring of a catalogue. name: as the owner or the supplier calls it. inside_diameter: of the coil (m)."""

    name: str
    spring: Spring
    inside_diameter: float


Catalogue = tuple[StockSpring, ...]


def own_name(end: str, place: Literal["upper", "lower", "spring"]) -> str:
    """What answers call a spring that is on the truck: `own front upper`, or `own front spring` where it is alone."""
    return f"own {end} {place}"


def as_seen(name: str) -> str:
    """What the eye tells names apart by: neither case nor how wide a gap is."""
    return " ".join(name.casefold().split())


OWN_NAMES = frozenset(own_name(end, place) for end in END_NAMES for place in ("upper", "lower", "spring"))
