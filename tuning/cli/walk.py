"""The cycle walk: the check list, what was found, and putting it into the log."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from . import main
from .shared import log_option, log_to_write, open_log, say, show

if TYPE_CHECKING:
    from ..log.walk_intake import Recorded


@main.command()
@click.option(
    "--truck", required=True, metavar="FILE_OR_NAME", help="Truck file, or a truck's name in the log."
)
@click.option(
    "--walk", "walk_file", metavar="FILE", help="Walk as CSV; answers from files and stores nothing."
)
@click.option("--record", metavar="FILE", help="Put a walk (CSV) into the log: all of it or nothing.")
@click.option("--blank", is_flag=True, help="Print the check list; what was found stands in its boxes.")
@click.option("--csv", "as_csv", is_flag=True, help="Print the walk as CSV, as --walk and --record read it.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
@log_option
def walk(
    truck: str,
    walk_file: str | None,
    record: str | None,
    blank: bool,
    as_csv: bool,
    as_json: bool,
    log_place: str | None,
) -> None:
    """What touches when the axle is cycled with its springs out, and what is still to be looked at.

    With nothing found yet it prints the check list to take under the truck.
    """
    if walk_file is not None and (record is not None or log_place is not None):
        raise click.UsageError("--walk answers from files, --log and --record use the log: give one of them.")
    if blank + as_csv + as_json > 1:
        raise click.UsageError("--blank, --csv and --json are three ways to print a walk: give one of them.")
    from ..findings import latest
    from ..report.walk import check_list, walk_document, walk_text
    from ..walk import progress

    notes: list[str] = []
    if record is not None:
        from ..log.walk_intake import record_file

        with log_to_write(log_place) as log:
            stored = record_file(log, truck, record)
        notes = [_said(stored)]
        if not as_json:
            say(notes[0] + "\n")
        truck = stored.truck
    if record is None and (walk_file is not None or Path(truck).is_file()):
        from ..log.walk_file import read_walk_file
        from ..truckfile import load_truck

        loaded = load_truck(truck)
        rows = () if walk_file is None else read_walk_file(walk_file, loaded)
    else:
        from ..log.shelf import open_truck

        log = open_log(log_place)
        loaded = open_truck(log, truck).truck
        rows = tuple(one.row for one in log.walk(truck))
    if as_csv:
        from ..log.walk_file import write_walk

        say(write_walk(latest(rows), loaded), nl=False)
        return
    answer = progress(loaded, rows)
    text = check_list(answer, loaded) if blank else walk_text(answer, loaded, ())
    show(walk_document(answer, loaded, notes), text, as_json)


def _said(stored: "Recorded") -> str:
    """One line: what was stored, and whether a cycle table came of it."""
    line = f"{stored.truck}: {stored.rows} rows stored"
    line += f", {stored.same} were in the log already." if stored.same else "."
    if stored.ends:
        ends = " and ".join(stored.ends)
        line += (
            f" The cycle table of the {ends} is this walk's now, in a new version of the truck file in the log "
            "(tuning export --out FOLDER writes it out)."
        )
    return line
