"""What leaves the log as files: the truck file, readings, walk and whole history."""

from collections.abc import Callable

from dash import Dash, html
from flask import Response, request

from dashboard.shell import Component, address, said
from dashboard.source import source
from tuning.faults import NoAnswerError
from tuning.findings import latest
from tuning.log.files import write_readings
from tuning.log.store import Log
from tuning.log.walk_file import write_walk


def _truck(log: Log, name: str) -> str:
    wanted = request.args.get("version")
    versions = log.truck_versions(name)
    found = [v for v in versions if wanted in (None, str(v.id))]
    if not found:
        raise NoAnswerError(f"{name} has no version {wanted!r}")
    return found[-1].toml


def _readings(_: Log, name: str) -> str:
    shelf = source().question(name).shelf
    return write_readings([r for run in shelf.runs for r in run.readings], shelf.truck)


def _walk(log: Log, name: str) -> str:
    truck = source().question(name).truck
    return write_walk(latest(one.row for one in log.walk(name)), truck)


FILES: dict[str, tuple[str, Callable[[Log, str], str]]] = {
    "truck.toml": ("the truck file", _truck),
    "readings.csv": ("every reading that counts", _readings),
    "walk.csv": ("the cycle walk", _walk),
    "history.json": ("all of it, with corrections, for another log", Log.dump),
}
_KINDS = {"toml": "application/toml", "csv": "text/csv", "json": "application/json"}


def _made(file: str, log: Log, name: str) -> str:
    if file not in FILES:
        raise NoAnswerError(f"there is no {file!r}; there are {', '.join(FILES)}")
    return FILES[file][1](log, name)


def download(file: str) -> Response:
    """One file of a truck, as `tuning export` writes it."""
    try:
        text = _made(file, source().log, request.args.get("truck", ""))
    except Exception as error:
        return Response(f"{said(error)}\n", status=404, mimetype="text/plain")
    answer = Response(text.encode(), mimetype=_KINDS[file.rpartition(".")[2]])
    answer.headers["Content-Disposition"] = f'attachment; filename="{file}"'
    answer.cache_control.no_store = True
    return answer


def links(truck: str) -> Component:
    """A list of a truck's files. Pure."""
    items = [
        html.Li([html.A(file, href=address(f"download/{file}", truck=truck), download=file), f": {what}"])
        for file, (what, _) in FILES.items()
    ]
    return html.Ul(items, className="files")


def register(app: Dash) -> None:
    """Put the files at their addresses."""
    app.server.add_url_rule("/download/<file>", "download", download)
