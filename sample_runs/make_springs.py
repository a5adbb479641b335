"""Makes the invented catalogue of springs: `python -m sample_runs.make_springs` writes the same again.

No such springs are for sale; names, sizes and rates are made up. R300 L14 B2.50 is 300 lbf/in, 14 in long without load
and 2.50 in inside. Each is wound of the thinnest chrome-silicon wire that carries it down to solid once its set is
taken out, so its solid length is one that a spring can have.
"""

from sample_runs import springs_path
from tuning.catalogue import Catalogue, StockSpring
from tuning.coil import INDEX_USUAL, WIRES, Measured, coil, helical_rate
from tuning.log.catalogue_file import write_catalogue
from tuning.truck import Spring
from tuning.units import from_unit, parse, to_unit

STEEL = WIRES["chrome-silicon"]
DRAWN = [from_unit(thousandths / 1000, "in") for thousandths in range(200, 905, 5)]  # wire there is (m)
LEAST_AT_WORK = 3  # coils

BORES = {  # free lengths, in
    2.25: (8, 10, 12),
    2.5: (6, 8, 10, 12, 14, 16, 18),
    3.0: (10, 12, 14, 16, 18),
}
RATES = (60, 65, 80, 100, 125, 150, 165, 200, 225, 250, 275, 300, 350, 400, 425, 500, 600, 750, 900)  # lbf/in


def wound(rate: float, free_length: float, inside: float) -> Measured | None:
    """The spring of the thinnest wire that carries it down to solid; None where none does, or nobody would wind it."""
    for wire in DRAWN:
        at_work = helical_rate(STEEL.shear_modulus, wire, inside + wire, 1.0) / rate
        spring = Measured(wire, inside, "inside", at_work + 2, "squared-ground", STEEL, free_length)
        if at_work < LEAST_AT_WORK or spring.solid_length >= free_length:
            continue
        answer = coil(spring)
        if answer.at_solid is not None and answer.at_solid.force <= answer.set_removed.force:
            return spring if INDEX_USUAL[0] <= answer.index <= INDEX_USUAL[1] else None
    return None


def catalogue() -> Catalogue:
    """All that are wound, by bore, length and rate; solid lengths to the hundredth of an inch."""
    sizes = [(bore, length, rate) for bore, lengths in BORES.items() for length in lengths for rate in RATES]
    return tuple(stock for size in sizes if (stock := _stock(*size)) is not None)


def _stock(bore: float, length: float, rate: float) -> StockSpring | None:
    """in, in, lbf/in."""
    nominal, free, inside = parse(f"{rate} lbf/in", "rate"), _inches(length), _inches(bore)
    spring = wound(nominal, free, inside)
    if spring is None:
        return None
    solid = _inches(round(to_unit(spring.solid_length, "in"), 2))
    return StockSpring(f"R{rate} L{length} B{bore:.2f}", Spring(nominal, free, solid), inside)


def _inches(number: float) -> float:
    """In m, rounded once, so that it is written as it was meant."""
    return parse(f"{number:.2f} in", "length")


def springs_csv() -> str:
    """The catalogue as a CSV text."""
    return write_catalogue(catalogue(), "us").replace("\r\n", "\n")


def main() -> None:
    """Write the catalogue beside this file."""
    springs_path().write_text(springs_csv(), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
