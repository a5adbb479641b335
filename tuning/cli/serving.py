"""Commands that serve the dashboard."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..faults import InputError
from . import main
from .access import asked_access
from .shared import log_option, say

if TYPE_CHECKING:
    from dashboard.passphrases import AccessFile


@main.command()
@click.option("--lan", is_flag=True, help="Let phones and other machines in, by a passphrase.")
@click.option("--host", help="Address to listen on. Default: 127.0.0.1, with --lan all.")
@click.option("--port", default=8050, show_default=True, type=click.IntRange(0, 65535))
@log_option
def serve(lan: bool, host: str | None, port: int, log_place: str | None) -> None:
    """Serve the dashboard to a browser on this machine, or to the shop's network."""
    from dashboard.network import EVERYWHERE, is_loopback

    from ..log.store import default_log

    host = host or (EVERYWHERE if lan else "127.0.0.1")
    if not lan and not is_loopback(host):
        raise click.UsageError(
            f"--host {host}: other machines could call it without a passphrase. Add --lan: it asks them for one."
        )
    _serve(log_place or default_log(), host, port, asked_access() if lan else None)


def _serve(place: str, host: str, port: int, access: "AccessFile | None" = None) -> None:
    from dashboard.app import serve as run_server
    from dashboard.network import addresses

    say(f"Dashboard at {' or '.join(addresses(host, port))}  (stop with Ctrl+C)")
    if access is not None:
        say("It asks for the passphrase. What is sent is not encrypted: use it on a network you trust.")
    try:
        run_server(place, host=host, port=port, access=access)
    except InputError:
        raise
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

    from ..adjust import adjust as choose
    from ..fit import fit as fit_runs
    from ..log.intake import take_in
    from ..log.shelf import open_truck
    from ..log.store import Log
    from ..log.walk_intake import record_file
    from ..report.adjust import adjust_text

    with tempfile.TemporaryDirectory(prefix="tuning-demo-") as folder:
        place = str(Path(folder) / "demo.db")
        log = Log.open(place)
        names = []
        for sample in map(sample_runs.path, sample_runs.NAMES):
            taken = take_in(log, str(sample / "truck.toml"), str(sample / "readings.csv"), confirm=True)
            names.append(taken.truck)
            if (walked := sample / "walk.csv").exists():
                record_file(log, taken.truck, str(walked))
        say("Invented trucks, invented readings; nothing of this is kept.\n")
        shelf = open_truck(log, names[0])
        answer = choose(fit_runs(shelf.truck, shelf.runs, shelf.trucks))
        say(adjust_text(answer, shelf.truck, ()))
        if not no_serve:
            say("")
            _serve(place, "127.0.0.1", port)
