"""The trucks in the log, each with its latest run."""

import dash
from dash import dcc, html

from dashboard.shell import Component, address, guarded, said, sentence
from dashboard.source import source
from dashboard.standing import standing
from tuning.log.shelf import Shelf

_EMPTY = """# a truck file to fill in
tuning new truck.toml
# readings you have on paper or in a spreadsheet
tuning import --truck truck.toml --readings readings.csv"""


@guarded
def layout(**_: object) -> Component:
    """All trucks."""
    names = source().log.trucks()
    if not names:
        return empty()
    cards = html.Ul([_item(name) for name in names], className="cards")
    return html.Div([html.H1("Trucks"), cards, _new()])


def _new() -> Component:
    return html.P(dcc.Link("New truck, or one from a file", href="/new", className="go"), className="writes")


def empty() -> Component:
    """What to do while there is no truck."""
    return html.Div(
        [
            html.H1("No truck yet"),
            html.P("Measure a truck and fill in its file, or take the files of one: it appears here."),
            _new(),
            html.P("The same at a command line:"),
            html.Pre(_EMPTY),
            html.P("To look around first, “tuning demo” shows an invented truck with its runs."),
        ],
        className="note plain",
    )


def _item(name: str) -> Component:
    try:
        shelf = source().question(name).shelf
    except Exception as error:
        return html.Li([html.H2(name), sentence(said(error))])
    return truck_card(name, shelf)


def truck_card(name: str, shelf: Shelf) -> Component:
    """A truck with its latest run and its pages. Pure."""
    if shelf.runs:
        run = shelf.runs[-1]
        latest = [
            html.P(f"Latest run {run.name}, {run.taken_at:%Y-%m-%d %H:%M}; {len(shelf.runs)} in all."),
            *standing(run, shelf.truck),
        ]
    else:
        latest = [html.P("No run yet: log the first one.")]
    links = [("log", "Log a run"), ("adjust", "Adjust"), ("corners", "Corner fit"), ("truck", "Truck")]
    shown = [dcc.Link(text, href=address(page, truck=name), className="go") for page, text in links]
    if shelf.runs:
        sheet = address("sheet", truck=name)
        shown.append(html.A("Set-up sheet", href=sheet, target="_blank", className="go"))
    return html.Li(
        [
            html.H2(name),
            *latest,
            html.P(shown),
        ]
    )


def choose(page: str) -> Component:
    """Links to a page for each truck."""
    names = source().log.trucks()
    if not names:
        return empty()
    items = [html.Li(dcc.Link(name, href=address(page, truck=name), className="go")) for name in names]
    return html.Div([html.H1("Which truck?"), html.Ul(items)])


def register(app: dash.Dash) -> None:  # noqa: ARG001
    """Put the page at its address."""
    dash.register_page("home", path="/", title="Trucks", layout=layout)
