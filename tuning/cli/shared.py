"""What commands share: how faults are said, which truck is meant, how answers are printed."""

import errno
import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from ..progress import StoppedError
from .progress import Line

if TYPE_CHECKING:
    from ..fit import Fit
    from ..log.store import Log
    from ..readings import Reading, Run
    from ..truck import Truck

F = TypeVar("F", bound=Callable[..., Any])

NO_ANSWER, BAD_INPUT, INTERRUPTED = 1, 2, 130


class Commands(click.Group):
    """Turns every foreseen fault into lines on stderr and an exit code; never a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except StoppedError:
            click.echo("Stopped. Nothing was stored.", err=True)
            ctx.exit(INTERRUPTED)
        except KeyboardInterrupt:  # whoever writes is all or nothing
            click.echo("Stopped. Nothing is left half done.", err=True)
            ctx.exit(INTERRUPTED)
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
    if kinds & {"NoAnswerError", "StaticsError"}:
        return str(fault), NO_ANSWER
    if kinds & {"InputError", "UnitError", "LogError"}:
        return str(fault), BAD_INPUT
    if isinstance(fault, OSError):
        mend = "Make room there" if fault.errno == errno.ENOSPC else "Check the path and your rights to it"
        return f"{fault.filename or 'file'}: {fault.strerror or fault}. {mend}.", BAD_INPUT
    return (
        f"This should not happen: {type(fault).__name__}: {fault}. Set TUNING_DEBUG=1 to see where.",
        NO_ANSWER,
    )


def log_option(command: F) -> F:
    """`--log`."""
    text = "Log to use: a file or a database URL. Default: TUNING_LOG, or a file in your data folder."
    return click.option("--log", "log_place", metavar="FILE_OR_URL", help=text)(command)


def source_options(command: F) -> F:
    """What an answer is worked out from, and `--json`."""
    for option in (
        click.option("--json", "as_json", is_flag=True, help="Print one JSON document."),
        click.option("--keep-doubtful", is_flag=True, help="Keep unlikely readings of a file in the fit."),
        log_option,
        click.option(
            "--readings", metavar="FILE", help="Readings as CSV; answers from files and stores nothing."
        ),
        click.option(
            "--truck", required=True, metavar="FILE_OR_NAME", help="Truck file, or a truck's name in the log."
        ),
    ):
        command = option(command)
    return command


def open_log(place: str | None) -> "Log":
    """The log. Where there is none, that is a fault."""
    from ..log.store import Log, default_log

    place = place or default_log()
    if _is_new(place):
        raise click.UsageError(f"{place}: there is no log yet. Make one with: tuning import --truck FILE")
    return Log.open(place)


@contextmanager
def log_to_write(place: str | None) -> "Iterator[Log]":
    """The log, made where there is none. Where the work with it fails, one that was made for it goes again."""
    from ..log.store import Log, default_log

    place = place or default_log()
    new = _is_new(place)
    log = Log.open(place)
    try:
        yield log
    except BaseException:
        if new:
            with suppress(Exception):  # what went wrong first is what has to be told
                log.take_away()
        raise


def _is_new(place: str) -> bool:
    return "://" not in place and not Path(place).expanduser().exists()


def fitted_truck(
    truck: str, readings: str | None, log_place: str | None, keep_doubtful: bool
) -> "tuple[Fit, list[str]]":
    """The fit of files or of a truck in the log, and notes on what was left out."""
    from ..fit import fit

    loaded, runs, trucks, notes = truck_and_runs(truck, readings, log_place, keep_doubtful)
    return fit(loaded, runs, trucks), notes


def truck_and_runs(
    truck: str, readings: str | None, log_place: str | None, keep_doubtful: bool
) -> "tuple[Truck, tuple[Run, ...], tuple[Truck, ...] | None, list[str]]":
    """A truck, its runs, the truck as it was at each where the log knows, and notes on what was left out."""
    if readings is None:
        from ..log.shelf import open_truck

        shelf = open_truck(open_log(log_place), truck)
        doubtful = [
            f"{r.run}: left out of the fit: {r.doubt}" for run in shelf.runs for r in run.readings if r.doubt
        ]
        return shelf.truck, shelf.runs, shelf.trucks, doubtful
    if log_place is not None:
        raise click.UsageError("--readings answers from files, --log from the log: give one of them.")
    loaded, rows = from_files(truck, readings)
    from ..doubt import set_aside
    from ..readings import runs_of

    runs = runs_of(rows)
    notes: tuple[str, ...] = ()
    if not keep_doubtful:
        with Line() as line:
            runs, notes = set_aside(loaded, runs, line)
    for note in notes:
        click.echo(note, err=True)
    return loaded, runs, None, list(notes)


def from_files(truck: str, readings: str) -> "tuple[Truck, tuple[Reading, ...]]":
    """A truck file and its readings file."""
    from ..log.files import read_readings_file
    from ..truckfile import load_truck

    loaded = load_truck(truck)
    with Line() as line:
        return loaded, read_readings_file(readings, loaded, line)


def say(text: str | bytes, nl: bool = True) -> None:
    """Print to standard output, and name it where it can't be written to."""
    try:
        click.echo(text, nl=nl)
    except BrokenPipeError:
        raise
    except OSError as fault:
        # What is left would fail again at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise OSError(fault.errno, fault.strerror, "standard output") from None


def write_new(path: Path, content: bytes, mend: str) -> None:
    """Write a new file, all of it or nothing, never over another. mend: what to do where there is one."""
    try:
        with path.open("xb") as file:
            try:
                file.write(content)
                file.flush()
            except BaseException:
                path.unlink()
                raise
    except FileExistsError:
        raise click.UsageError(f"{path} is there already and was left alone. {mend}") from None
    except OSError as fault:
        raise OSError(fault.errno, fault.strerror, str(path)) from None


def show(document: dict[str, Any], text: str, as_json: bool) -> None:
    """Print an answer."""
    say(json.dumps(document, indent=1, allow_nan=False) if as_json else text)
