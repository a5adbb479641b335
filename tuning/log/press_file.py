"""Readings of a spring press as CSV: `force [lbf],length [in]`, one row for each stop of the press."""

from functools import partial
from pathlib import Path

import numpy as np

from tuning.arrays import Array
from tuning.faults import Fault, InputError
from tuning.log.table import (
    Bad,
    Column,
    Layout,
    Limits,
    by_line,
    faults_of,
    file_text,
    quantity,
    read_table,
    values_of,
)
from tuning.units import Kind

MAX_BYTES = 1_000_000
MAX_READINGS = 500

_QUANTITIES: dict[str, Kind] = {"force": "force", "length": "length"}
_LIMITS = {
    "force": Limits(0.0, 200e3, "Write what the press reads, up to 200 kN"),
    "length": Limits(0.003, 2.0, "Write the length between the plates, up to 2 m"),
}


class PressFileError(InputError):
    """A press file that can't be used; `faults` names every bad cell by line and column."""


_LAYOUT = Layout(tuple(_QUANTITIES), tuple(_QUANTITIES), _QUANTITIES, PressFileError)


def read_press_file(path: str | Path) -> tuple[Array, Array]:
    """Forces (N) and lengths (m) of a file, each (n,). Raises PressFileError."""
    path = Path(path)
    return read_press(file_text(path, PressFileError, MAX_BYTES, "Keep one spring to a file"), path.name)


def read_press(text: str, name: str = "press.csv") -> tuple[Array, Array]:
    """Forces (N) and lengths (m) in a CSV text, in file order, each (n,).

    `name` is the file's name in errors. Raises PressFileError with every fault, all or nothing.
    """
    faults: list[Fault] = []
    table = read_table(text, _LAYOUT, name, faults)
    if table is None:
        raise PressFileError(name, [Fault("", "no rows", f"Start with the header {_LAYOUT.header}")])
    units, rows = table
    cells = {column: Column(partial(_quantity, column, units[column])) for column in _QUANTITIES}
    pairs = []
    for row in rows:
        values, bad = values_of(row, cells)
        faults += faults_of(row, bad)
        pairs.append((values["force"], values["length"]))
    if len(pairs) > MAX_READINGS:
        faults.append(Fault("", f"{len(pairs)} readings", f"Keep to {MAX_READINGS}: one spring to a file"))
    if faults:
        raise PressFileError(name, by_line(faults))
    forces, lengths = np.array(pairs, dtype=float).reshape(-1, 2).T
    return forces, lengths


def _quantity(column: str, unit: str, text: str) -> float | Bad:
    value = quantity(text, _QUANTITIES[column], unit, _LIMITS[column])
    return Bad("empty", "Every row needs a force and a length") if value is None else value
