"""The set-up sheet: a page for the wall."""

import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

from . import main
from .shared import say, show, source_options, truck_and_runs, write_new

if TYPE_CHECKING:
    from ..sheet_parts import Paper

STDOUT = "-"
_WEB = re.compile(r"https?://[!-~]+$")


@main.command()
@source_options
@click.option("--run", "run_name", metavar="RUN", help="As it was after this run. Default: the latest.")
@click.option(
    "--out", metavar="FILE.pdf", help="File to write, - for standard output. Default: by truck and run."
)
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), help="Default: letter for a truck in us units, else a4."
)
@click.option(
    "--address", metavar="URL", help="Of the truck in the dashboard; the sheet has it as a QR code."
)
def sheet(
    truck: str,
    readings: str | None,
    log_place: str | None,
    keep_doubtful: bool,
    as_json: bool,
    run_name: str | None,
    out: str | None,
    paper: "Paper | None",
    address: str | None,
) -> None:
    """A printed page: springs, nuts, heights, loads, travel, what was foretold; room to sign. Writes a PDF."""
    if as_json and out is not None:
        raise click.UsageError("--json prints the sheet's texts, --out writes the page: give one of them.")
    if out is not None and out != STDOUT and Path(out).suffix.lower() != ".pdf":
        raise click.UsageError(f"--out: {out[:60]!r} is no name of a PDF. Write one that ends in .pdf.")
    from ..sheet import sheet as compose
    from ..sheet_answers import as_of, sheet_answers
    from ..sheet_parts import LONGEST_ADDRESS, file_name, sheet_document

    if address is not None and not (_WEB.match(address) and len(address) <= LONGEST_ADDRESS):
        raise click.UsageError(
            f"--address: {address[:40]!r} is no address of up to {LONGEST_ADDRESS} letters that a phone could open. "
            "Write http://192.168.1.20:8050/log?truck=Name or leave it out."
        )
    loaded, runs, trucks, _ = truck_and_runs(truck, readings, log_place, keep_doubtful)
    composed = compose(sheet_answers(*as_of(run_name, loaded, runs, trucks)), address)
    if as_json:
        show(sheet_document(composed), "", as_json)
        return
    from ..sheet_layout import unshown
    from ..sheet_pdf import sheet_pdf

    page = sheet_pdf(composed, paper)
    if lost := unshown(composed):
        click.echo(
            f"The PDF shows ? for letters its type lacks: {lost[:20]}. The dashboard's page has them.",
            err=True,
        )
    if out == STDOUT:
        say(page, nl=False)
        return
    path = Path(out or file_name(composed))  # never written over: an old sheet may be signed and scanned
    write_new(path, page, "Give another --out.")
    say(f"{path}: {composed.truck}, run {composed.run}")
