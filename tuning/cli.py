"""The command line: carries text in and answers out. Everything heavy is imported by the command that needs it."""

import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from .fit import Fit
    from .log.store import Log
    from .readings import Reading, Run
    from .truck import Truck

F = TypeVar("F", bound=Callable[..., Any])

NO_ANSWER, BAD_INPUT = 1, 2


class _Commands(click.Group):
    """Turns every foreseen fault into lines on stderr and an exit code; never a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except BrokenPipeError:
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            ctx.exit(0)
        except Exception as fault:
            if os.environ.get("TUNING_DEBUG"):
                raise
            lines, code = _explained(fault)
            click.echo(lines, err=True)
            ctx.exit(code)


def _explained(fault: Exception) -> tuple[str, int]:
    """What to print for a fault, and the exit code."""
    kinds = {type_.__name__ for type_ in type(fault).__mro__}
    if kinds & {"FitError", "AdjustError", "StaticsError"}:
        return str(fault), NO_ANSWER
    if kinds & {"InputError", "UnitError", "LogError"}:
        return str(fault), BAD_INPUT
    if isinstance(fault, OSError):
        return (
            f"{fault.filename or 'file'}: {fault.strerror or fault}. Check the path and your rights to it.",
            BAD_INPUT,
        )
    return (
        f"This should not happen: {type(fault).__name__}: {fault}. Set TUNING_DEBUG=1 to see where.",
        NO_ANSWER,
    )


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="tuning")
def main() -> None:
    """Set ride height, level and cross-weight of a truck on coilovers.

    Log what tape and scales say, see a load-versus-height model of each corner, and be told how many turns to put
    in at which nut, what to expect of it and how sure that is.
    """


def _log_option(command: F) -> F:
    text = "Log to use: a file or a database URL. Default: TUNING_LOG, or a file in your data folder."
    return click.option("--log", "log_place", metavar="FILE_OR_URL", help=text)(command)


def _source_options(command: F) -> F:
    for option in (
        click.option("--json", "as_json", is_flag=True, help="Print one JSON document."),
        click.option("--keep-doubtful", is_flag=True, help="Keep unlikely readings of a file in the fit."),
        _log_option,
        click.option(
            "--readings", metavar="FILE", help="Readings as CSV; answers from files and stores nothing."
        ),
        click.option(
            "--truck", required=True, metavar="FILE_OR_NAME", help="Truck file, or a truck's name in the log."
        ),
    ):
        command = option(command)
    return command


def _open_log(place: str | None, new: bool = False) -> "Log":
    """The log. new: make it where there is none; otherwise that is a fault."""
    from .log.store import Log, default_log

    place = place or default_log()
    if not new and "://" not in place and not Path(place).exists():
        raise click.UsageError(f"{place}: there is no log yet. Make one with: tuning import --truck FILE")
    return Log.open(place)


def _fitted(
    truck: str, readings: str | None, log_place: str | None, keep_doubtful: bool
) -> "tuple[Fit, list[str]]":
    """The fit of files or of a truck in the log, and notes on what was left out."""
    from .doubt import set_aside
    from .fit import fit

    if readings is None:
        from .log.shelf import open_truck

        shelf = open_truck(_open_log(log_place), truck)
        doubtful = [
            f"{r.run}: left out of the fit: {r.doubt}" for run in shelf.runs for r in run.readings if r.doubt
        ]
        return fit(shelf.truck, shelf.runs, shelf.trucks), doubtful
    if log_place is not None:
        raise click.UsageError("--readings answers from files, --log from the log: give one of them.")
    loaded, rows = _from_files(truck, readings)
    from .readings import runs_of

    runs = runs_of(rows)
    notes: tuple[str, ...] = ()
    if not keep_doubtful:
        runs, notes = set_aside(loaded, runs)
    for note in notes:
        click.echo(note, err=True)
    return fit(loaded, runs), list(notes)


def _from_files(truck: str, readings: str) -> "tuple[Truck, tuple[Reading, ...]]":
    from .log.files import read_readings_file
    from .truckfile import load_truck

    loaded = load_truck(truck)
    return loaded, read_readings_file(readings, loaded)


def _show(document: dict[str, Any], text: str, as_json: bool) -> None:
    click.echo(json.dumps(document, indent=1, allow_nan=False) if as_json else text)


@main.command()
@_source_options
@click.option("--turns", metavar="LF=2,RF=-1", help="Say what these turns would do instead of choosing.")
def adjust(
    truck: str,
    readings: str | None,
    log_place: str | None,
    keep_doubtful: bool,
    as_json: bool,
    turns: str | None,
) -> None:
    """Turns at each adjuster, what to expect of them and how sure."""
    wanted = None if turns is None else _turns(turns)
    from . import report
    from .adjust import adjust as choose
    from .adjust import predict

    fitted, notes = _fitted(truck, readings, log_place, keep_doubtful)
    for corner in wanted or ():
        if fitted.truck.corners[corner].adjuster is None:
            raise click.UsageError(f"--turns: {corner} has no adjuster.")
    answer = choose(fitted) if wanted is None else predict(fitted, wanted)
    _show(
        report.adjust_document(answer, fitted.truck, notes),
        report.adjust_text(answer, fitted.truck, notes),
        as_json,
    )


def _turns(text: str) -> dict[str, float]:
    """`LF=2,RF=-1 1/4` as numbers."""
    from .truck import CORNERS
    from .units import parse

    found: dict[str, float] = {}
    for part in text.split(","):
        corner, sign, number = part.strip().partition("=")
        corner = corner.strip().upper()
        if not sign or corner not in CORNERS or corner in found:
            raise click.UsageError(f'--turns: "{part[:32]}" is not a corner\'s turns. Write LF=2,RF=-1 1/4.')
        found[corner] = parse(number, "number", f"--turns {corner}")
        if abs(found[corner]) > 100:
            raise click.UsageError(f"--turns {corner}: no thread has a hundred turns.")
    return found


@main.command()
@_source_options
def fit(truck: str, readings: str | None, log_place: str | None, keep_doubtful: bool, as_json: bool) -> None:
    """The load-versus-height model of each corner and how sure it is."""
    from . import report
    from .summary import summarise

    fitted, notes = _fitted(truck, readings, log_place, keep_doubtful)
    summary = summarise(fitted)
    _show(report.fit_document(summary, fitted, notes), report.fit_text(summary, fitted, notes), as_json)


@main.command()
@_source_options
def runs(truck: str, readings: str | None, log_place: str | None, keep_doubtful: bool, as_json: bool) -> None:
    """What has been read so far."""
    from . import report

    del keep_doubtful
    found: Sequence[Run]
    if readings is None:
        from .log.shelf import open_truck

        shelf = open_truck(_open_log(log_place), truck)
        loaded, found = shelf.truck, shelf.runs
    else:
        from .readings import runs_of

        loaded, rows = _from_files(truck, readings)
        found = runs_of(rows)
    _show(report.runs_document(found, loaded), report.runs_text(found, loaded), as_json)


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
def new(file: Path) -> None:
    """Write a commented truck file to fill in."""
    from .truckfile import truck_template

    try:
        with file.open("x", encoding="utf-8") as out:
            out.write(truck_template())
    except FileExistsError:
        raise click.UsageError(f"{file} is there already and was left alone. Give another name.") from None
    click.echo(f"Wrote {file}. Fill it in, then: tuning import --truck {file}")


@main.command("import")
@click.option("--truck", metavar="FILE_OR_NAME", help="Truck file, or a truck's name in the log.")
@click.option("--readings", metavar="FILE", help="Readings as CSV.")
@click.option(
    "--history", metavar="FILE", help="A whole truck as `tuning export --out` wrote it (history.json)."
)
@click.option(
    "--confirm", is_flag=True, help="Take unlikely readings too, marked doubtful and out of the fit."
)
@_log_option
def import_(
    truck: str | None, readings: str | None, history: str | None, confirm: bool, log_place: str | None
) -> None:
    """Put a truck file and readings into the log: all of it or nothing."""
    if history is not None:
        if truck or readings:
            raise click.UsageError("--history holds truck and readings; give it alone.")
        from .log.intake import take_in_history

        name = take_in_history(_open_log(log_place, new=True), history)
        click.echo(f"{name}: whole history is in the log.")
        return
    if truck is None:
        raise click.UsageError("Give --truck FILE_OR_NAME, or --history FILE.")
    from .log.intake import QuestionedError, take_in

    try:
        taken = take_in(_open_log(log_place, new=True), truck, readings, confirm)
    except QuestionedError as questioned:
        for reason in questioned.reasons:
            click.echo(reason, err=True)
        click.echo(
            "Nothing was stored. Mend the readings, or add --confirm to keep these as doubtful.", err=True
        )
        raise click.exceptions.Exit(BAD_INPUT) from None
    click.echo(f"{taken.truck}: {taken.readings} readings stored, {taken.doubtful} of them doubtful.")


@main.command()
@click.option("--truck", required=True, metavar="NAME", help="Truck in the log.")
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder for truck.toml, readings.csv and history.json."
)
@_log_option
def export(truck: str, out: Path | None, log_place: str | None) -> None:
    """Readings of a truck as CSV; with --out also its file and whole history."""
    from .log.files import write_readings
    from .log.shelf import open_truck

    log = _open_log(log_place)
    shelf = open_truck(log, truck)
    readings = write_readings([r for run in shelf.runs for r in run.readings], shelf.truck)
    if out is None:
        click.echo(readings, nl=False)
        return
    out.mkdir(parents=True, exist_ok=True)
    files = {"truck.toml": log.truck_toml(truck), "readings.csv": readings, "history.json": log.dump(truck)}
    there = [name for name in files if (out / name).exists()]
    if there:
        raise click.UsageError(
            f"{out} holds {', '.join(there)} already and was left alone. Give another folder."
        )
    for name, text in files.items():
        (out / name).write_text(text, encoding="utf-8", newline="")
    click.echo(f"Wrote {', '.join(files)} to {out}.")


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
@_log_option
def correct(
    truck: str, run_name: str, corner: str, nth: int, because: str, log_place: str | None, **change: Any
) -> None:
    """Correct, doubt, clear or withdraw one reading. What was logged stays in the log."""
    from .log.intake import correct_reading

    said = correct_reading(_open_log(log_place), truck, run_name, corner.upper(), nth, because, change)
    click.echo(said)


@main.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", default=8050, show_default=True, type=click.IntRange(0, 65535))
@_log_option
def serve(host: str, port: int, log_place: str | None) -> None:
    """Serve the dashboard to a browser on this machine."""
    from .log.store import default_log

    _serve(log_place or default_log(), host, port)


def _serve(place: str, host: str, port: int) -> None:
    from dashboard.app import serve as run_server

    click.echo(f"Dashboard at http://{host}:{port}  (stop with Ctrl+C)")
    try:
        run_server(place, host=host, port=port)
    except (OSError, ValueError) as fault:
        said = getattr(fault, "strerror", None) or fault
        raise click.UsageError(f"{host!r}, port {port}: {said}. Give another --host or --port.") from None


@main.command()
@click.option("--no-serve", is_flag=True, help="Print the answer and end.")
@click.option("--port", default=8050, show_default=True, type=click.IntRange(0, 65535))
def demo(no_serve: bool, port: int) -> None:
    """The whole job on invented sample trucks: print the adjustment, then serve the dashboard on them."""
    import tempfile

    import sample_runs

    from . import report
    from .adjust import adjust as choose
    from .fit import fit as fit_runs
    from .log.intake import take_in
    from .log.shelf import open_truck
    from .log.store import Log

    with tempfile.TemporaryDirectory(prefix="tuning-demo-") as folder:
        place = str(Path(folder) / "demo.db")
        log = Log.open(place)
        names = []
        for sample in map(sample_runs.path, sample_runs.NAMES):
            taken = take_in(log, str(sample / "truck.toml"), str(sample / "readings.csv"), confirm=True)
            names.append(taken.truck)
        click.echo("Invented trucks, invented readings; nothing of this is kept.\n")
        shelf = open_truck(log, names[0])
        answer = choose(fit_runs(shelf.truck, shelf.runs, shelf.trucks))
        click.echo(report.adjust_text(answer, shelf.truck, ()))
        if not no_serve:
            click.echo("")
            _serve(place, "127.0.0.1", port)
