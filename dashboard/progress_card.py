"""How far long work is, beside a button that stops it. `assets/progress.js` looks after it while there is any.

A callback that asks `jobs` takes the page's own name from the store `…-page`, has `…-go` among its inputs, and answers
`under_way()` into `…-job` where the work goes on, None where it is over.
"""

import secrets
import time
from typing import Any

import dash
from dash import ClientsideFunction, Input, Output, State, dcc, html
from flask import Response, jsonify

from dashboard.jobs import KEY, Jobs, jobs
from dashboard.shell import Component


def progress_card(area: str, stopped: str) -> list[Component]:
    """What is shown while the work of an area goes on. stopped: what is said when somebody has stopped it."""
    card = html.Div(
        [
            html.P(id=f"{area}-what"),
            html.Progress(id=f"{area}-share", max="1", value="0", **{"aria-label": "How far it is"}),
            html.Button("Stop", id=f"{area}-stop", type="button", className="minor"),
            html.Button("Start again", id=f"{area}-again", type="button", className="minor", hidden=True),
        ],
        id=f"{area}-doing",
        className="note plain doing",
        hidden=True,
        **{"data-stopped": stopped},
    )
    # Said aloud once at its beginning and once at its end: the figures change too fast to be read out.
    said = html.Div(id=f"{area}-said", role="status", className="unseen")
    page = dcc.Store(id=f"{area}-page", data=secrets.token_hex(16))
    return [page, dcc.Store(id=f"{area}-job"), dcc.Store(id=f"{area}-go"), said, card]


def under_way() -> dict[str, Any]:
    """For `…-job`: the work goes on."""
    return {"at": time.time()}


def register_card(app: dash.Dash, area: str) -> None:
    """Wire one area's card."""
    page = State(f"{area}-page", "data")
    app.clientside_callback(
        ClientsideFunction("progress", "follow"),
        Input(f"{area}-job", "data"),
        page,
        State(f"{area}-doing", "id"),
    )
    app.clientside_callback(
        ClientsideFunction("progress", "again"),
        Output(f"{area}-go", "data"),
        Input(f"{area}-again", "n_clicks"),
        prevent_initial_call=True,
    )
    app.callback(Input(f"{area}-stop", "n_clicks"), page, prevent_initial_call=True)(_stop)


def _stop(_: Any, page: str) -> None:
    jobs().stop(page)


def register(app: dash.Dash) -> None:
    """Give an app its work, and the route that says how far a page's is."""
    app.server.config[KEY] = Jobs()
    app.server.add_url_rule("/doing/<page>", "doing", _doing)


def _doing(page: str) -> Response:
    answer = jsonify(jobs().told(page))
    answer.headers["Cache-Control"] = "no-store"
    return answer
