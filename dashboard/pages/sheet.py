"""The set-up sheet: routes of its own, since the dashboard itself prints badly. The gate stands before them too."""

from collections.abc import Callable
from html import escape
from urllib.parse import urlsplit

import dash
from flask import Response, request

from dashboard.auth import logged_in
from dashboard.network import is_loopback, own_address
from dashboard.phone import phone_address
from dashboard.sheet_page import PAPERS, document, page
from dashboard.shell import address, said
from dashboard.source import Question, source
from tuning.faults import NoAnswerError
from tuning.sheet import sheet
from tuning.sheet_answers import as_of, sheet_answers
from tuning.sheet_parts import LONGEST_ADDRESS, Sheet, file_name

RUNS = 6  # latest ones that the page leads to


def print_page() -> Response:
    """The sheet as HTML."""

    def shown(question: Question) -> Response:
        runs = [run.name for run in question.shelf.runs[-RUNS:]]
        return Response(page(_sheet(question), _name(), runs), mimetype="text/html")

    return _answered(shown)


def pdf() -> Response:
    """The sheet as a PDF, on the paper asked for or the owner's."""

    def shown(question: Question) -> Response:
        from tuning.sheet_pdf import sheet_pdf  # slow to import, and seldom needed

        paper = request.args.get("paper")
        if paper not in (None, *PAPERS):
            raise NoAnswerError(f"There is no paper {paper[:20]!r} here. Ask for a4 or letter.")
        found = _sheet(question)
        answer = Response(sheet_pdf(found, paper), mimetype="application/pdf")
        answer.headers["Content-Disposition"] = f'inline; filename="{file_name(found)}"'
        return answer

    return _answered(shown)


def _answered(draw: Callable[[Question], Response]) -> Response:
    """An answer about the truck in the address, or one sentence that says why there is none."""
    try:
        answer = draw(source().question(_name()))
    except Exception as error:
        text = f'<p role="alert">{escape(said(error))}</p><p><a href="/">All trucks</a></p>'
        answer = Response(document("No set-up sheet", text), status=404, mimetype="text/html")
    answer.cache_control.no_store = True
    return answer


def _name() -> str:
    """The truck in the address, by its name in the log."""
    return request.args.get("truck", "")


def _sheet(question: Question) -> Sheet:
    """The sheet of the run in the address, of the latest where there is none."""
    shelf = question.shelf
    truck, runs, trucks = as_of(request.args.get("run") or None, shelf.truck, shelf.runs, shelf.trucks)
    fitted = question.fit if len(runs) == len(shelf.runs) else None
    return sheet(sheet_answers(truck, runs, trucks, fitted), _phone_address(_name()))


def _phone_address(truck: str) -> str | None:
    """Where a phone finds this truck; None where none could get in or the code would be too fine to read."""
    base = request.host_url.rstrip("/")
    if not logged_in() and is_loopback(urlsplit(base).hostname or ""):
        return None
    found = phone_address(base, address("log", truck=truck), own_address)
    return found if found is not None and len(found) <= LONGEST_ADDRESS else None


def register(app: dash.Dash) -> None:
    """Put the routes on the app's server."""
    app.server.add_url_rule("/sheet", "sheet", print_page)
    app.server.add_url_rule("/sheet.pdf", "sheet-pdf", pdf)
