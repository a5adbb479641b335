"""Commands that write: truck files, and the log."""

from pathlib import Path
from typing import Any

import click

from . import main
from .progress import Line
from .shared import BAD_INPUT, log_option, log_to_write, open_log, say, write_new


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
def new(file: Path) -> None:
    """Write a commented truck file to fill in."""
    from ..truckfile import truck_template

    write_new(file, truck_template().encode(), "Give another name.")
    say(f"Wrote {file}. Fill it in, then: tuning import --truck {file}")


@main.command("import")
@click.option("--truck", metavar="FILE_OR_NAME", help="Truck file, or a truck's name in the log.")
@click.option("--readings", metavar="FILE", help="Readings as CSV.")
@click.option(
    "--history", metavar="FILE", help="A whole truck as `tuning export --out` wrote it (history.json)."
)
@click.option(
    "--confirm", is_flag=True, help="Take unlikely readings too, marked doubtful and out of the fit."
)
@log_option
def import_(
    truck: str | None, readings: str | None, history: str | None, confirm: bool, log_place: str | None
) -> None:
    """Put a truck file and readings into the log: all of it or nothing."""
    if history is not None:
        if truck or readings:
            raise click.UsageError("--history holds truck and readings; give it alone.")
        from ..log.intake import take_in_history

        with log_to_write(log_place) as log:
            name = take_in_history(log, history)
        say(f"{name}: whole history is in the log.")
        return
    if truck is None:
        raise click.UsageError("Give --truck FILE_OR_NAME, or --history FILE.")
    from ..log.intake import QuestionedError, take_in

    try:
        with Line() as line, log_to_write(log_place) as log:
            taken = take_in(log, truck, readings, confirm, line)
    except QuestionedError as questioned:
        for reason in questioned.reasons:
            click.echo(reason, err=True)
        click.echo(
            "Nothing was stored. Mend the readings, or add --confirm to keep these as doubtful.", err=True
        )
        raise click.exceptions.Exit(BAD_INPUT) from None
    count = f"{taken.readings} reading{'' if taken.readings == 1 else 's'}"
    say(f"{taken.truck}: {count} stored, {taken.doubtful} of them doubtful.")


@main.command()
@click.option("--truck", required=True, metavar="NAME", help="Truck in the log.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Folder for truck.toml, readings.csv, walk.csv and history.json.",
)
@log_option
def export(truck: str, out: Path | None, log_place: str | None) -> None:
    """Readings of a truck as CSV; with --out also its file and whole history."""
    from ..log.files import write_readings
    from ..log.shelf import open_truck

    log = open_log(log_place)
    shelf = open_truck(log, truck)
    readings = write_readings([r for run in shelf.runs for r in run.readings], shelf.truck)
    if out is None:
        say(readings, nl=False)
        return
    out.mkdir(parents=True, exist_ok=True)
    files = {"truck.toml": log.truck_toml(truck), "readings.csv": readings, "history.json": log.dump(truck)}
    if walked := log.walk(truck):
        from ..findings import latest
        from ..log.walk_file import write_walk

        files["walk.csv"] = write_walk(latest(one.row for one in walked), shelf.truck)
    there = [name for name in files if (out / name).exists()]
    if there:
        raise click.UsageError(
            f"{out} holds {', '.join(there)} already and was left alone. Give another folder."
        )
    for name, text in files.items():
        write_new(out / name, text.encode(), "Give another folder.")
    say(f"Wrote {', '.join(files)} to {out}.")


@main.command()
@click.option("--truck", required=True, metavar="NAME", help="Truck in the log.")
@click.option("--run", "run_name", required=True, help="Run the reading belongs to.")
@click.option("--corner", required=True, type=click.Choice(["LF", "RF", "LR", "RR"], case_sensitive=False))
@click.option("--nth", default=1, show_default=True, help="Which of the corner's readings in that run.")
@click.option("--height", help='Right height, such as "22 1/2 in".')
@click.option("--load", help='Right load, such as "1045 lbf".')
@click.option("--preload", help='Right preload, such as "3/4 in".')
@click.option("--clear", is_flag=True, help="The reading is right after all: take the doubt off it.")
@click.option("--doubt", is_flag=True, help="Keep the reading out of the fit.")
@click.option("--withdraw", is_flag=True, help="The reading should not be there at all.")
@click.option("--because", required=True, help="Why; kept in the log.")
@log_option
def correct(
    truck: str, run_name: str, corner: str, nth: int, because: str, log_place: str | None, **change: Any
) -> None:
    """Correct, doubt, clear or withdraw one reading. What was logged stays in the log."""
    from ..log.intake import correct_reading

    said = correct_reading(open_log(log_place), truck, run_name, corner.upper(), nth, because, change)
    say(said)
