"""The fit of one corner: load against height, and the readings it was made from."""

from typing import Any

import dash
from dash import ALL, MATCH, ClientsideFunction, Input, Output, State, ctx, dcc, html

from dashboard.corner_table import Place, table
from dashboard.corner_words import caption, facts, reading_card
from dashboard.figures import HEIGHT, corner_figure, corner_key, misses_figure
from dashboard.help import help_fold
from dashboard.pages.home import choose
from dashboard.shell import Component, address, guarded, one, said, sentence, tabs
from dashboard.source import Question, source
from dashboard.words import CORNER_WORDS
from tuning.curve import corner_curve, doubtful_points
from tuning.faults import NoAnswerError
from tuning.fit import Check, Fit
from tuning.log.database import LogError
from tuning.truck import CORNERS

# ---------------------------------------------------------------- layout


@guarded
def layout(truck: Any = None, corner: Any = None, part: Any = None, **_: object) -> Component:
    """The fit of a truck's corner. part: of the table of readings, 1 the latest."""
    name, which = one(truck), one(corner) or "LF"
    if name is None:
        return html.Div([choose("corners"), html.Div(_fixed("", "LF", 1, []), hidden=True)])
    if which not in CORNERS:
        return html.Div(
            [
                tabs(name, "corners"),
                sentence(f"There is no corner {which[:20]}. Corners are LF, RF, LR and RR."),
            ]
        )
    text = one(part) or "1"
    shown = int(text) if text.isdecimal() and len(text) < 6 else 1
    body = page(name, source().question(name), which, shown)
    return html.Div(
        [
            tabs(name, "corners"),
            html.H1("Corner fit"),
            help_fold("corners"),
            _choice(name, which),
            *_fixed(name, which, shown, body),
        ]
    )


def _choice(name: str, here: str) -> Component:
    links = [
        dcc.Link(
            [corner, html.Span(f" {CORNER_WORDS[corner]}", className="more")],
            href=address("corners", truck=name, corner=corner),
            className=f"tab {corner}{' here' if corner == here else ''}",
        )
        for corner in CORNERS
    ]
    return html.Nav(links, className="above choice", **{"aria-label": "Corner"})


def _fixed(name: str, corner: str, part: int, body: list[Component]) -> list[Component]:
    return [
        dcc.Store(id="corners-store", data={"truck": name, "corner": corner, "part": part}),
        html.Div(id="corners-said", role="status"),
        html.Div(body, id="corners-body"),
    ]


def page(
    name: str, question: Question, corner: str, part: int = 1, chosen: int | None = None
) -> list[Component]:
    """Figure, one reading, words and table. chosen: the reading's place in the log. Pure but for the question's own
    memory."""
    ids = question.shelf.reading_ids
    readings = [r for run in question.shelf.runs for r in run.readings if r.corner == corner]
    system = question.truck.units
    try:
        fit = question.fit
    except Exception as error:
        rows = table(readings, {}, ids, system, Place(name, corner, part))
        return [sentence(said(error)), _chosen(question, corner, chosen), *rows]
    checks = question.once(("checks", corner), lambda: checks_of(fit, corner))
    rows = table(readings, checks, ids, system, Place(name, corner, part))
    return [
        html.H2(f"{corner} {CORNER_WORDS[corner]}"),
        *picture(question, corner, checks),
        _chosen(question, corner, chosen),
        facts(fit, corner, checks),
        *rows,
    ]


def _chosen(question: Question, corner: str, chosen: int | None) -> Component:
    """The place of one reading, empty where none is looked at."""
    card = None if chosen is None else look_at(question, corner, chosen)
    return html.Div(card, id={"type": "corners-chosen", "corner": corner})


def look_at(question: Question, corner: str, id_: int) -> Component:
    """One reading by its place in the log."""
    ids, runs = question.shelf.reading_ids, question.shelf.runs
    reading = next((r for run in runs for r in run.readings if ids[id(r)] == id_), None)
    if reading is None:
        return sentence("This reading was corrected since the page was opened. Reload the page.", "warn")
    try:
        checks = question.once(("checks", corner), lambda: checks_of(question.fit, corner))
    except NoAnswerError:  # no fit: the reading can be looked at all the same
        checks = {}
    return reading_card(reading, checks.get(id(reading)), id_, question.truck.units)


def picture(question: Question, corner: str, checks: dict[int, Check]) -> list[Component]:
    """Load against height, where something was weighed, then how far each height lies off the others."""
    fit, ids, system = question.fit, question.shelf.reading_ids, question.truck.units
    curve = question.once(("curve", corner), lambda: corner_curve(fit, corner))
    misses = _misses(question, corner, checks)
    if not curve.points:
        told = "No load was read at this corner, so there is none to draw its height against."
        return [sentence(told, "plain"), *misses]
    doubted = question.once(("doubtful", corner), lambda: doubtful_points(fit, corner, question.shelf.trucks))
    figure = question.once(("figure", corner), lambda: corner_figure(curve, system, doubted, ids))
    signs = corner_key(curve, bool(doubted))
    return [
        _graph(figure, corner, "readings"),
        html.Ul(
            [html.Li([html.Span(className=f"sign {sign}"), text]) for sign, text in signs], className="key"
        ),
        html.P(caption(fit, corner, len(curve.points)), className="more"),
        *misses,
    ]


def _misses(question: Question, corner: str, checks: dict[int, Check]) -> list[Component]:
    """How far each height lies off what the others allow."""
    if not checks:
        return []
    ids, system = question.shelf.reading_ids, question.truck.units
    figure = question.once(("misses", corner), lambda: misses_figure(list(checks.values()), system, ids))
    words = "How far each height lies off what all others allow; its bar is 90 % of that."
    return [html.H3("Reading by reading"), _graph(figure, corner, "misses"), html.P(words, className="more")]


def _graph(figure: Any, corner: str, of: str) -> Component:
    return dcc.Graph(
        figure=figure,
        config={"displayModeBar": False, "responsive": True},
        style={"height": f"{HEIGHT}px"},
        id={"type": "corners-graph", "corner": corner, "of": of},
    )


def checks_of(fit: Fit, corner: str) -> dict[int, Check]:
    """What the rest of the log says of each height of a corner, by identity of the reading."""
    return {id(c.reading): c for c in fit.checks_at(corner, "height")}


# ---------------------------------------------------------------- callbacks


def choose_reading(_clicked: Any, _looked: Any, store: dict[str, Any]) -> Any:
    """The reading that was tapped in a figure or asked for in the table."""
    which, id_ = ctx.triggered_id, None
    value = ctx.triggered[0]["value"] if which else None
    if value and which["type"] == "corners-look":
        id_ = which["id"]
    elif value:
        id_ = value["points"][0].get("customdata")
    if id_ is None:
        return dash.no_update
    return look_at(source().question(store["truck"]), store["corner"], int(id_))


def judge(
    _doubt: Any, _clear: Any, why: list[str], where: list[dict[str, Any]], store: dict[str, Any]
) -> tuple[Any, Any]:
    """Doubt a reading or clear its doubt; the page drawn again. Without a reason nothing is written."""
    which = ctx.triggered_id
    if not ctx.triggered[0]["value"]:  # its card was only opened
        return dash.no_update, dash.no_update
    reason = next(
        (text or "" for text, place in zip(why, where, strict=True) if place["id"] == which["id"]), ""
    ).strip()
    if not reason:
        return sentence("Nothing is saved: say why, in a few words."), dash.no_update
    change = source().log.doubt if which["type"] == "corners-doubt" else source().log.clear_doubt
    try:
        now = change(which["id"], reason)
    except LogError as error:
        return sentence(said(error)), dash.no_update
    done = (
        "The reading is in doubt and out of the fit."
        if which["type"] == "corners-doubt"
        else "The doubt is cleared."
    )
    name = store["truck"]
    body = page(name, source().question(name), store["corner"], store["part"], now)
    return sentence(done, "good"), body


def register(app: dash.Dash) -> None:
    """Put the page at its address and wire it."""
    dash.register_page("corners", path="/corners", title="Corner fit", layout=layout)
    app.callback(
        Output("corners-said", "children"),
        Output("corners-body", "children"),
        Input({"type": "corners-doubt", "id": ALL}, "n_clicks"),
        Input({"type": "corners-clear", "id": ALL}, "n_clicks"),
        State({"type": "corners-why", "id": ALL}, "value"),
        State({"type": "corners-why", "id": ALL}, "id"),
        State("corners-store", "data"),
        prevent_initial_call=True,
    )(judge)
    here = {"type": "corners-chosen", "corner": MATCH}
    app.callback(
        Output(here, "children"),
        Input({"type": "corners-graph", "corner": MATCH, "of": ALL}, "clickData"),
        Input({"type": "corners-look", "corner": MATCH, "id": ALL}, "n_clicks"),
        State("corners-store", "data"),
        prevent_initial_call=True,
    )(choose_reading)
    app.clientside_callback(
        ClientsideFunction(namespace="corners", function_name="show"),
        Output(here, "className"),
        Input(here, "children"),
    )
