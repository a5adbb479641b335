"""What every page stands in: header, language, colours, one place for errors."""

import logging
from collections.abc import Callable
from functools import wraps
from typing import Any
from urllib.parse import urlencode

import dash_mantine_components as dmc
from dash import dcc, html, page_container, set_props
from flask_wtf.csrf import generate_csrf

from dashboard.auth import CSRF_FIELD, logged_in, may_write
from tuning.faults import InputError, NoAnswerError
from tuning.log.database import LogError

Component = Any

INDEX = """<!DOCTYPE html>
<html lang="en">
    <head>
        {%metas%}
        <meta name="viewport" content="width=device-width, initial-scale=1">
        <meta name="color-scheme" content="light dark">
        <title>{%title%}</title>
        <link rel="icon" href="data:,">
        {%css%}
    </head>
    <body>
        {%app_entry%}
        <footer>
            {%config%}
            {%scripts%}
            {%renderer%}
        </footer>
    </body>
</html>"""

THEME = {
    "primaryColor": "blue",
    "primaryShade": 8,
    "fontFamily": "system-ui, sans-serif",
    "headings": {"fontFamily": "system-ui, sans-serif"},
}

PLAIN = (LogError, InputError, NoAnswerError)  # their message is for people

_log = logging.getLogger("dashboard")


def layout() -> Component:
    """The frame around all pages."""
    return dmc.MantineProvider(
        [
            html.A("Skip to the page", href="#page", className="skip"),
            html.Header(
                [dcc.Link("Truck log", href="/", className="brand"), *_who()],
                className="top" if may_write() else "top looking",
            ),
            html.Div(id="connection", role="alert", className="note bad", hidden=True),
            html.Div(id="outbox", role="status"),
            html.Main(page_container, id="page", tabIndex="-1"),
        ],
        defaultColorScheme="auto",
        theme=THEME,
    )


def _who() -> list[Component]:
    """Who is here and the way out, where there is a login."""
    if not logged_in():
        return []
    token = dcc.Input(type="hidden", name=CSRF_FIELD, value=generate_csrf())
    out = html.Form(
        [token, html.Button("Log out", type="submit", className="out")], action="/logout", method="POST"
    )
    return [out] if may_write() else [html.Span("Looking only", className="more"), out]


def address(page: str, **query: str) -> str:
    """A page's address, as a bookmark keeps it."""
    return f"/{page}?{urlencode(query)}"


def tabs(truck: str, here: str) -> Component:
    """The truck's pages."""
    pages = {  # in the order of the job: log, turn, trust it, look further, look back, measure the truck itself
        "truck": "Truck",
        "log": "Log a run",
        "adjust": "Adjust",
        "corners": "Corner fit",
        "travel": "Travel",
        "springs": "Springs",
        "sag": "Sag",
        "history": "History",
        "walk": "Cycle walk",
    }
    links = [
        html.Li(
            dcc.Link(
                text,
                href=address(page, truck=truck),
                className="tab here" if page == here else "tab",
                **({"title": f"{text}: this page"} if page == here else {}),
            ),
            **({"aria-current": "page"} if page == here else {}),
        )
        for page, text in pages.items()
    ]
    # A page of the server's own: a link within the app would not find it.
    sheet = html.A("Set-up sheet", href=address("sheet", truck=truck), target="_blank", className="tab")
    return html.Nav(
        [html.P(truck, className="truck-name"), html.Ul([*links, html.Li(sheet)])],
        className="tabs pages",
        **{"aria-label": f"Pages of {truck}"},
    )


def sentence(text: str, kind: str = "bad", **more: Any) -> Component:
    """One clear sentence in a box: `bad`, `warn`, `good` or `plain`."""
    return html.Div([html.P(line) for line in text.split("\n")], className=f"note {kind}", **more)


def said(error: Exception) -> str:
    """An error as people may read it; what they may not is kept for the server's log."""
    if isinstance(error, PLAIN):
        return _stop(str(error))
    _log.error("a page failed", exc_info=error)
    return "Something went wrong here; the server's output says what. Nothing was saved."


def _stop(text: str) -> str:
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "?", "!")) else f"{text}."


def guarded(draw: Callable[..., Component]) -> Callable[..., Component]:
    """A layout that says in one sentence what stands in its way; above it a place for callbacks to do so."""

    @wraps(draw)
    def safe(*args: Any, **query: Any) -> Component:
        try:
            body = draw(*args, **{name: one(value) for name, value in query.items()})
        except Exception as error:
            body = html.Div(
                [
                    html.H1("Not possible now"),
                    sentence(said(error)),
                    html.P(dcc.Link("All trucks", href="/", className="go")),
                ]
            )
        return html.Div([html.Div(id="trouble", role="alert"), body])

    return safe


def one(value: Any) -> str | None:
    """A query value: the first where the address repeats it, None where it is empty."""
    first = value[0] if isinstance(value, list) else value
    return str(first) if first else None


def on_error(error: Exception) -> None:
    """Callbacks that fail say so at the top of the page."""
    set_props("trouble", {"children": sentence(said(error))})


def fact(term: str, value: Component, more: Component = "") -> Component:
    """A term and its value, one line of a list of facts."""
    return html.Div(
        [html.Dt(term), html.Dd([html.Span(value, className="value"), html.Span(more, className="more")])]
    )
