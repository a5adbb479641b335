"""A catalogue of springs as CSV: any list that somebody typed or pasted, in with every bad cell named at once.

spring,rate [lbf/in],free_length [in],solid_length [in],inside_diameter [in]
"""

from functools import partial
from pathlib import Path

from tuning.catalogue import OWN_NAMES, Catalogue, StockSpring, as_seen
from tuning.faults import Fault, InputError
from tuning.log.table import (
    Bad,
    Column,
    Layout,
    Limits,
    Row,
    by_line,
    escaped,
    faults_of,
    file_text,
    name_in,
    quantity,
    read_table,
    table_text,
    values_of,
)
from tuning.truck import Spring
from tuning.units import Kind, System, exact_text, from_unit, shown, unit_in

MAX_BYTES = 5_000_000
MAX_SPRINGS = 5_000

_QUANTITIES: dict[str, Kind] = {
    "rate": "rate",
    "free_length": "length",
    "solid_length": "length",
    "inside_diameter": "length",
}
_COLUMNS = ("spring", *_QUANTITIES)
_LIMITS = {  # of coils for a truck, tenders too; beyond these it is a slip of the pen or of the unit
    "rate": Limits(
        from_unit(5.0, "lbf/in"), from_unit(3000.0, "lbf/in"), "Write 5 to 3000 lbf/in (0.9 to 525 N/mm)"
    ),
    "free_length": Limits(0.02, 1.0, "Write the length without load, 20 mm to 1 m"),
    "solid_length": Limits(0.003, 0.9, "Write the length with all coils touching, 3 mm to 900 mm"),
    "inside_diameter": Limits(0.02, 0.25, "Write the inside of the coil, 20 to 250 mm"),
}


class CatalogueError(InputError):
    """A catalogue that can't be used; `faults` names every bad cell by line and column."""


def read_catalogue_file(path: str | Path) -> Catalogue:
    """The springs of a file. Raises CatalogueError, also where it can't be opened or is not UTF-8."""
    path = Path(path)
    mend = "Leave out springs that can't fit"
    return read_catalogue(file_text(path, CatalogueError, MAX_BYTES, mend), path.name)


def read_catalogue(text: str, name: str = "springs.csv") -> Catalogue:
    """The springs in a CSV text, in file order; none where it holds a header alone, or nothing.

    `name` is the file's name in errors. Raises CatalogueError with every fault, all or nothing.
    """
    faults: list[Fault] = []
    table = read_table(text, _layout("us"), name, faults)
    if table is None:
        return ()
    units, rows = table
    cells = {"spring": Column(partial(name_in, what="spring"))}
    cells |= {column: Column(partial(_quantity, column, units[column])) for column in _QUANTITIES}
    first_lines: dict[str, int] = {}
    springs = [spring for row in rows if (spring := _spring(row, cells, first_lines, faults))]
    if len(springs) > MAX_SPRINGS:
        faults.append(Fault("", f"{len(springs)} springs", f"Keep the {MAX_SPRINGS} that could fit"))
    if faults:
        raise CatalogueError(name, by_line(faults))
    return tuple(springs)


def write_catalogue(catalogue: Catalogue, system: System) -> str:
    """CSV as `table_text` has it, which `read_catalogue` reads back to the last bit.

    Raises ValueError for a spring whose lengths are not known: a catalogue has no room for it.
    """

    def cells(stock: StockSpring) -> list[str]:
        own = stock.spring
        values = (own.rate, own.free_length, own.solid_length, stock.inside_diameter)
        return [escaped(stock.name), *map(written, values, _QUANTITIES.values())]

    def written(value: float | None, kind: Kind) -> str:
        if value is None:
            raise ValueError("a spring of a catalogue has a free and a solid length")
        return exact_text(value, unit_in(kind, system), kind)

    layout = _layout(system)
    return table_text(map(layout.heading, layout.columns), map(cells, catalogue))


def _layout(system: System) -> Layout:
    return Layout(_COLUMNS, _COLUMNS, _QUANTITIES, CatalogueError, system)


def _quantity(column: str, unit: str, text: str) -> float | Bad:
    value = quantity(text, _QUANTITIES[column], unit, _LIMITS[column])
    return Bad("empty", _LIMITS[column].mend) if value is None else value


def _spring(
    row: Row, cells: dict[str, Column], first_lines: dict[str, int], faults: list[Fault]
) -> StockSpring | None:
    """One row's spring; None, and its faults entered, where it is bad. first_lines: where names were met."""
    values, bad = values_of(row, cells)
    if "spring" not in bad:
        first = first_lines.setdefault(as_seen(values["spring"]), row.line)
        if as_seen(values["spring"]) in OWN_NAMES:
            said = f'"{shown(values["spring"])}" is what answers call a spring that is on the truck'
            bad["spring"] = Bad(said, "Give the listed one a name of its own")
        elif first != row.line:
            said = f'"{shown(values["spring"])}" stands on line {first} already'
            bad["spring"] = Bad(said, "Give each spring a name of its own")
    if not bad.keys() & {"free_length", "solid_length"} and values["solid_length"] >= values["free_length"]:
        said = f'"{shown(row.cells["solid_length"].strip())}" is not shorter than the free length'
        bad["solid_length"] = Bad(said, "See whether the two are swapped, or their units")
    if bad:
        faults += faults_of(row, bad)
        return None
    spring = Spring(values["rate"], values["free_length"], values["solid_length"])
    return StockSpring(values["spring"], spring, values["inside_diameter"])
