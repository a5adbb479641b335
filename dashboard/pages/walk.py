"""Cycle walk: one position of the axle at a time, as somebody stands beside it with a phone."""

from collections.abc import Sequence
from typing import Any

import dash
from dash import ALL, MATCH, Input, Output, State, ctx, html
from flask import Response, request

from dashboard.pages.home import choose
from dashboard.shell import Component, guarded, one, said, sentence, tabs
from dashboard.source import source
from dashboard.walk_cards import faults_said, field_id, form, next_of, page, saved
from dashboard.walk_form import FIELDS, Form, Station, check
from dashboard.walk_sheet import sheet
from tuning.faults import InputError, NoAnswerError
from tuning.log.database import LogError
from tuning.log.walk_intake import record, walk_of
from tuning.truck import END_NAMES
from tuning.walk import WalkAnswer, progress, stations


@guarded
def layout(
    truck: Any = None, end: Any = None, position: Any = None, steering: Any = None, **_: object
) -> Component:
    """The form for one position of one end's axle; without a position the first that misses something."""
    name = one(truck)
    if name is None:
        return html.Div([choose("walk"), html.Div(form([], [], {}, ""), hidden=True)])
    built = source().question(name).truck
    rows = tuple(logged.row for logged in source().log.walk(name))
    answer = progress(built, rows)
    station = _station(answer, one(end), one(position), one(steering))
    return html.Div([tabs(name, "walk"), html.H1("Cycle walk"), *page(name, built, rows, answer, station)])


def _station(answer: WalkAnswer, end: str | None, position: str | None, steering: str | None) -> Station:
    """The station an address means. Raises NoAnswerError where it means none."""
    end = end or next((e for e in END_NAMES if answer.ends[e].missing), END_NAMES[0])
    if end not in END_NAMES:
        raise NoAnswerError(f"{end!r} is no end of a truck. Go on with front or rear.")
    known = list(stations(end))
    if position is None:
        return Station(end, *next_of(answer.ends[end], None))
    found = [s for s in known if s[0] == position and steering in (None, s[1])]
    if not found:
        raise NoAnswerError(
            f"the {end} is not walked at {position!r}"
            + (f" with the steering {steering!r}" if steering else "")
            + f". Positions are {', '.join(dict.fromkeys(p for p, _ in known))}."
        )
    return Station(end, *found[0])


# ---------------------------------------------------------------- callbacks


def _typed_form(
    typed: dict[str, Sequence[Any]], height: Any, shaft: Any, by: Any, store: dict[str, Any]
) -> Form:
    station = Station(store["end"], store["position"], store["steering"])
    texts = {
        place: {name: str(typed[name][number] or "") for name in FIELDS}
        for number, place in enumerate(store["places"])
    }
    if "" in store["shown"]:
        texts[""] = {"height": str(height or ""), "shaft": str(shaft or "")}
    return Form(station, texts, store["shown"], store["opened"], " ".join(str(by or "").split()))


def look(
    typed: dict[str, Sequence[Any]], height: Any, shaft: Any, by: Any, strict: int, store: dict[str, Any]
) -> tuple[Any, ...]:
    """Errors at their fields. Until a save was tried, what is not filled in yet is no error."""
    form = _typed_form(typed, height, shaft, by, store)
    faults = check(form, source().question(store["truck"]).truck).faults

    def error(place: str, name: str) -> str | None:
        return faults.get((place, name)) if strict or form.text(place, name) else None

    def of_place(place: str) -> str | None:
        kinds = ("result", "note", "") if strict else ("note", "")
        return next((faults[place, kind] for kind in kinds if (place, kind) in faults), None)

    return (
        [error(place, "clearance") for place in store["places"]],
        [error(place, "photo") for place in store["places"]],
        [of_place(place) for place in store["places"]],
        error("", "height"),
        error("", "shaft"),
    )


def save(
    _: Any, typed: dict[str, Sequence[Any]], height: Any, shaft: Any, by: Any, store: dict[str, Any]
) -> tuple[Component, int, bool]:
    """Save what was changed, or say what stands in the way. Returns the answer, whether to be strict, whether done."""
    name = store["truck"]
    truck = source().question(name).truck
    form = _typed_form(typed, height, shaft, by, store)
    checked = check(form, truck)
    if checked.faults:
        return faults_said(checked), 1, False
    if not checked.rows:
        return sentence("Nothing was changed here, so nothing is saved.", "plain"), 0, False
    try:
        stored = record(source().log, name, checked.rows, f"{store['key']} {checked.key}")
    except (LogError, InputError) as error:
        return sentence(f"Nothing is saved. {said(error)}"), 1, False
    return saved(stored, form.station, walk_of(source().log, name), truck), 0, True


def choose_clearance(_: Any) -> tuple[str, str]:
    """A clearance by one tap; it passes then."""
    return ctx.triggered_id["text"], "pass"


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
    """Put the page at its address and wire it."""
    dash.register_page("walk", path="/walk", title="Cycle walk", layout=layout)
    app.server.add_url_rule("/print/walk", "print-walk", print_sheet)

    def whole(kind: type) -> dict[str, Any]:
        return {
            "typed": {name: kind(field_id(name, ALL), "value") for name in FIELDS},
            "height": kind("walk-height", "value"),
            "shaft": kind("walk-shaft", "value"),
            "by": State("walk-by", "value"),
        }

    app.callback(
        [
            Output(field_id("clearance", ALL), "error"),
            Output(field_id("photo", ALL), "error"),
            Output(field_id("said", ALL), "children"),
            Output("walk-height", "error"),
            Output("walk-shaft", "error"),
        ],
        inputs=whole(Input) | {"strict": Input("walk-strict", "data"), "store": State("walk-store", "data")},
        prevent_initial_call=True,
    )(look)
    app.callback(
        Output("walk-answer", "children"),
        Output("walk-strict", "data"),
        Output("walk-form", "hidden"),
        inputs={"_": Input("walk-save", "n_clicks")} | whole(State) | {"store": State("walk-store", "data")},
        prevent_initial_call=True,
    )(save)
    app.callback(
        Output(field_id("clearance", MATCH), "value"),
        Output(field_id("result", MATCH), "value"),
        Input({"type": "walk-chip", "place": MATCH, "text": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )(choose_clearance)
