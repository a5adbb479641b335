"""Commands that answer from readings and store nothing."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from . import main
from .progress import Line
from .shared import fitted_truck, from_files, open_log, show, source_options

if TYPE_CHECKING:
    from ..readings import Run
    from ..truck import Truck
    from ..units import Kind


@main.command()
@source_options
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
    from ..adjust import adjust as choose
    from ..adjust import predict
    from ..report.adjust import adjust_document, adjust_text

    fitted, notes = fitted_truck(truck, readings, log_place, keep_doubtful)
    _have_nuts(wanted or {}, fitted.truck)
    answer = choose(fitted) if wanted is None else predict(fitted, wanted)
    show(
        adjust_document(answer, fitted.truck, notes),
        adjust_text(answer, fitted.truck, notes),
        as_json,
    )


def _have_nuts(turns: dict[str, float], truck: "Truck") -> None:
    for corner in turns:
        if truck.corners[corner].adjuster is None:
            raise click.UsageError(f"--turns: {corner} has no adjuster.")


def _turns(text: str) -> dict[str, float]:
    """`LF=2,RF=-1 1/4` as numbers."""
    from ..truck import CORNERS
    from ..units import parse

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
@source_options
@click.option("--turns", metavar="LF=2,RF=-1", help="After these turns; default: as the truck stands today.")
def travel(
    truck: str,
    readings: str | None,
    log_place: str | None,
    keep_doubtful: bool,
    as_json: bool,
    turns: str | None,
) -> None:
    """Full bump, ride and droop of each corner: shaft, spring lengths, what is left, and what needs attention."""
    wanted = {} if turns is None else _turns(turns)
    from ..report.travel import travel_document, travel_text
    from ..travel import travel as over_travel

    fitted, notes = fitted_truck(truck, readings, log_place, keep_doubtful)
    _have_nuts(wanted, fitted.truck)
    answer = over_travel(fitted, wanted)
    show(
        travel_document(answer, fitted.truck, notes),
        travel_text(answer, fitted.truck, notes),
        as_json,
    )


@main.command()
@source_options
def fit(truck: str, readings: str | None, log_place: str | None, keep_doubtful: bool, as_json: bool) -> None:
    """The load-versus-height model of each corner and how sure it is."""
    from ..report.fit import fit_document, fit_text
    from ..summary import summarise

    fitted, notes = fitted_truck(truck, readings, log_place, keep_doubtful)
    summary = summarise(fitted)
    show(fit_document(summary, fitted, notes), fit_text(summary, fitted, notes), as_json)


@main.command()
@source_options
def runs(truck: str, readings: str | None, log_place: str | None, keep_doubtful: bool, as_json: bool) -> None:
    """What has been read so far."""
    from ..report.runs import runs_document, runs_text

    del keep_doubtful
    found: Sequence[Run]
    if readings is None:
        from ..log.shelf import open_truck

        shelf = open_truck(open_log(log_place), truck)
        loaded, found = shelf.truck, shelf.runs
    else:
        from ..readings import runs_of

        loaded, rows = from_files(truck, readings)
        found = runs_of(rows)
    show(runs_document(found, loaded), runs_text(found, loaded), as_json)


@main.command()
@source_options
@click.option("--catalogue", required=True, metavar="FILE", help="Springs to choose from, as CSV.")
@click.option(
    "--end", type=click.Choice(["front", "rear"]), help="Only this end; default: every end with coilovers."
)
@click.option("--frequency", metavar="LOW,HIGH", help='Ride frequency wanted, such as "1 Hz,1.4 Hz".')
@click.option(
    "--crossover", metavar="LOW,HIGH", help='Heights wanted for the crossover, such as "18 in,20 in".'
)
@click.option("--ring-stays", is_flag=True, help="Leave the stop ring where it is.")
@click.option("--sides-differ", is_flag=True, help="Left and right may wear different springs.")
@click.option("--count", default=10, show_default=True, type=click.IntRange(1, 100), help="Choices to show.")
@click.option(
    "--why", metavar="UPPER,LOWER", help="Say in one line why a pair was turned away; LOWER for one spring."
)
def springs(
    truck: str,
    readings: str | None,
    log_place: str | None,
    keep_doubtful: bool,
    as_json: bool,
    catalogue: str,
    end: str | None,
    frequency: str | None,
    crossover: str | None,
    ring_stays: bool,
    sides_differ: bool,
    count: int,
    why: str | None,
) -> None:
    """Which springs instead: every pair of a catalogue, ranked, and how sure."""
    hertz = None if frequency is None else _window(frequency, "frequency", "--frequency")
    heights = None if crossover is None else _window(crossover, "length", "--crossover")
    from ..choices import choose
    from ..log.catalogue_file import read_catalogue_file
    from ..report.springs import springs_document, springs_text, why_document
    from ..spring_places import Wanted

    stock = read_catalogue_file(catalogue)
    fitted, notes = fitted_truck(truck, readings, log_place, keep_doubtful)
    wanted = Wanted(hertz or fitted.truck.practice.ride_frequency, heights, not ring_stays)
    with Line() as line:
        answers = choose(fitted, stock, (end,) if end else None, wanted, not sides_differ, count, tell=line)
    if why is not None:
        said = why_document(fitted, answers, why)
        show(said, "\n".join(said["why"]), as_json)
        return
    run = fitted.runs[-1].name
    show(
        springs_document(answers, fitted.truck, run, notes),
        springs_text(answers, fitted.truck, run, notes),
        as_json,
    )


def _window(text: str, kind: "Kind", option: str) -> tuple[float, float]:
    """`18 in,20 in` as two numbers."""
    from ..units import parse

    low, comma, high = text.partition(",")
    if not comma:
        raise click.UsageError(
            f'{option}: "{text[:32]}" is not a window. Write the least and the most, with a comma.'
        )
    least, most = (parse(part.strip(), kind, option) for part in (low, high))
    if least <= 0:
        raise click.UsageError(
            f'{option}: "{low.strip()[:32]}" is not above zero. Write the least, then the most.'
        )
    if least >= most:
        raise click.UsageError(
            f"{option}: the first is not below the second. Write the least, then the most."
        )
    return least, most


@main.command()
@source_options
@click.option("--since", metavar="RUN", help="Count from this run. Default: the first with today's stack.")
def sag(
    truck: str,
    readings: str | None,
    log_place: str | None,
    keep_doubtful: bool,
    as_json: bool,
    since: str | None,
) -> None:
    """Where the height went: spring set, load or nut, at what pace, and when it needs attention."""
    from datetime import datetime

    from ..report.sag import sag_document, sag_text
    from ..sag.answer import sag as ask
    from ..sag.next_step import next_steps

    fitted, notes = fitted_truck(truck, readings, log_place, keep_doubtful)
    found = ask(fitted, since, datetime.now().astimezone())
    steps = next_steps(fitted, found)
    show(
        sag_document(found, steps, fitted.truck, notes),
        sag_text(found, steps, fitted.truck, notes),
        as_json,
    )
