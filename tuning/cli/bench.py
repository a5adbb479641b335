"""Commands for a spring by itself on the bench."""

from typing import TYPE_CHECKING

import click

from . import main
from .shared import show

if TYPE_CHECKING:
    from ..coil import Across, Ends
    from ..units import System

# As in `tuning.coil`, which is too slow to import for a help text.
ENDS = ("plain", "plain-ground", "squared", "squared-ground")
MATERIALS = ("music", "hard-drawn", "oil-tempered", "chrome-vanadium", "chrome-silicon")

_units = click.option("--units", type=click.Choice(["us", "metric"]), default="us", show_default=True)
_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")


@main.command()
@click.option("--wire", required=True, metavar="LENGTH", help='Diameter of the bare wire, such as "0.46 in".')
@click.option("--inside", metavar="LENGTH", help='Inside diameter of the coil, such as "2 1/2 in".')
@click.option("--mean", metavar="LENGTH", help="Or its mean diameter.")
@click.option("--outside", metavar="LENGTH", help="Or its outside diameter.")
@click.option("--coils", required=True, metavar="NUMBER", help="All coils, tip to tip: 11 1/2.")
@click.option("--ends", type=click.Choice(ENDS), default="squared-ground", show_default=True)
@click.option("--free", metavar="LENGTH", help="Length without load.")
@click.option("--material", type=click.Choice(MATERIALS), default="chrome-silicon", show_default=True)
@click.option("--wire-error", metavar="LENGTH", help="How far the caliper may be off on the wire (one sd).")
@_units
@_json
def coil(
    wire: str,
    inside: str | None,
    mean: str | None,
    outside: str | None,
    coils: str,
    ends: "Ends",
    free: str | None,
    material: str,
    wire_error: str | None,
    units: "System",
    as_json: bool,
) -> None:
    """Rate and limits of an unmarked spring from its wire."""
    given: dict[Across, str | None] = {"inside": inside, "mean": mean, "outside": outside}
    taken = [(across, text) for across, text in given.items() if text is not None]
    if len(taken) != 1:
        raise click.UsageError("Give one of --inside, --mean and --outside.")
    from ..coil import WIRE_ERROR, WIRES, Measured
    from ..coil import coil as work_out
    from ..report.bench import coil_document, coil_text
    from ..units import parse

    across, diameter = taken[0]
    spring = Measured(
        wire=parse(wire, "length", "--wire"),
        diameter=parse(diameter, "length", f"--{across}"),
        across=across,
        coils=parse(coils, "number", "--coils"),
        ends=ends,
        material=WIRES[material],
        free_length=None if free is None else parse(free, "length", "--free"),
        wire_error=WIRE_ERROR if wire_error is None else parse(wire_error, "length", "--wire-error"),
    )
    answer = work_out(spring, units)
    show(coil_document(answer, units), coil_text(answer, units), as_json)


@main.command()
@click.argument("file")
@_units
@_json
def press(file: str, units: "System", as_json: bool) -> None:
    """Rate, free length and knee of a spring from a press.

    FILE is CSV: force [lbf],length [in], one row for each stop; length is between the plates.
    """
    from ..log.press_file import read_press_file
    from ..press import press as work_out
    from ..report.bench import press_document, press_text

    answer = work_out(*read_press_file(file))
    show(press_document(answer, units), press_text(answer, units), as_json)
