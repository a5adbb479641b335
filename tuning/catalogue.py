"""Springs that can be bought or lie on the shelf. SI base units, frozen; `log.catalogue_file` reads and writes them."""

from dataclasses import dataclass

from .truck import Spring


@dataclass(frozen=True)
class StockSpring:
    """One spring of a catalogue. name: as the owner or the supplier calls it. inside_diameter: of the coil (m)."""

    name: str
    spring: Spring
    inside_diameter: float


Catalogue = tuple[StockSpring, ...]
