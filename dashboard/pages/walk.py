"""Cycle walk: one position of the axle at a time, as somebody stands beside it with a phone.

The page is drawn here once for an end. From then on it lives in the browser (assets/walk*.js and outbox.js), so that
it goes on without a link; what is typed comes back through `dashboard.walk_api`.
"""

from typing import Any

import dash
from dash import ClientsideFunction, Input, Output, html
from flask import Response, request

from dashboard import walk_api
from dashboard.entry import zoned
from dashboard.pages.home import choose
from dashboard.shell import Component, guarded, one, said, tabs
from dashboard.source import source
from dashboard.walk_cards import form, page
from dashboard.walk_form import Station
from dashboard.walk_sheet import sheet
from dashboard.walk_state import end_state, first_left
from tuning.faults import NoAnswerError
from tuning.truck import END_NAMES
from tuning.walk import WalkAnswer, progress, stations


@guarded
def layout(
    truck: Any = None, end: Any = None, position: Any = None, steering: Any = None, **_: object
) -> Component:
    """The form for one end's axle, at a position; without one at the first that misses something."""
    name = one(truck)
    if name is None:
        return html.Div([choose("walk"), html.Div(form([], {}, "in"), hidden=True)])
    shelf = source().question(name).shelf
    rows = tuple(logged.row for logged in source().log.walk(name))
    answer = progress(shelf.truck, rows)
    station = _station(answer, one(end), one(position), one(steering))
    state = end_state(shelf.truck, rows, answer, station.end)
    data = {
        "truck": name,
        "log": source().mark(name),
        "zoned": zoned(shelf),
        "units": shelf.truck.units,
        "at": list(stations(station.end)).index((station.position, station.steering)),
        "state": state,
    }
    return html.Div(
        [tabs(name, "walk"), html.H1("Cycle walk"), *page(name, shelf.truck, answer, station, data)]
    )


def _station(answer: WalkAnswer, end: str | None, position: str | None, steering: str | None) -> Station:
    """The station an address means. Raises NoAnswerError where it means none."""
    end = end or next((e for e in END_NAMES if answer.ends[e].missing), END_NAMES[0])
    if end not in END_NAMES:
        raise NoAnswerError(f"{end!r} is no end of a truck. Go on with front or rear.")
    known = list(stations(end))
    if position is None:
        return Station(end, *first_left(answer.ends[end]))
    found = [s for s in known if s[0] == position and steering in (None, s[1])]
    if not found:
        raise NoAnswerError(
            f"the {end} is not walked at {position!r}"
            + (f" with the steering {steering!r}" if steering else "")
            + f". Positions are {', '.join(dict.fromkeys(p for p, _ in known))}."
        )
    return Station(end, *found[0])


def print_sheet() -> Response:
    """The check list as a page to print: black on white, whatever the dashboard looks like."""
    name = request.args.get("truck", "")
    try:
        truck = source().question(name).truck
        rows = () if request.args.get("blank") else [logged.row for logged in source().log.walk(name)]
        return Response(sheet(progress(truck, rows), truck), mimetype="text/html")
    except Exception as error:
        return Response(said(error), status=404, mimetype="text/plain")


def register(app: dash.Dash) -> None:
    """Put the page at its address; the browser takes it from there."""
    dash.register_page("walk", path="/walk", title="Cycle walk", layout=layout)
    app.server.add_url_rule("/print/walk", "print-walk", print_sheet)
    walk_api.register(app)
    app.clientside_callback(
        ClientsideFunction(namespace="walkform", function_name="open"),
        Output("walk-form", "className"),  # a callback without one is not called when its page is opened
        Input("walk-store", "data"),
    )
