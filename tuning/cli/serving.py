"""Commands that serve the dashboard."""

from pathlib import Path

import click

from . import main
from .shared import log_option


@main.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", default=8050, show_default=True, type=click.IntRange(0, 65535))
@log_option
def serve(host: str, port: int, log_place: str | None) -> None:
    """Serve the dashboard to a browser on this machine."""
    from ..log.store import default_log

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
        click.echo("Invented trucks, invented readings; nothing of this is kept.\n")
        shelf = open_truck(log, names[0])
        answer = choose(fit_runs(shelf.truck, shelf.runs, shelf.trucks))
        click.echo(adjust_text(answer, shelf.truck, ()))
        if not no_serve:
            click.echo("")
            _serve(place, "127.0.0.1", port)
