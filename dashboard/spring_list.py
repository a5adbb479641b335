"""The list of springs: pasted, from a file or the sample; kept by the browser, known to the server by its hash.

The browser's store `springs-kept` holds the text; `assets/springs.js` fills the box from it and names it in
`springs-stock`, which is all that other callbacks are sent. Where the server has forgotten the list, `springs-lost`
asks for the text again.
"""

from datetime import datetime
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Input, Output, State, ctx, dcc, html, no_update, set_props

from dashboard.shell import Component, sentence
from dashboard.source import source
from dashboard.stock import MOST_SPRINGS
from sample_runs import springs_path
from tuning.faults import InputError

PASTED, SAMPLE = "the pasted list", "the invented stock"

_EXAMPLE = """spring,rate [lbf/in],free_length [in],solid_length [in],inside_diameter [in]
A,250,14,5.3,2.5
B,400 lbf/in,12 1/2,133 mm,2.5"""


def list_parts(truck: str) -> list[Component]:
    """Box, file, sample, what is in use and what is wrong. truck: whose list the browser keeps."""
    # The label names the unseen field inside, which takes the keys; for a finger there is what looks like a button.
    take = html.Label(
        dcc.Upload(
            html.Span("Take a file (CSV)", className="like-button"),
            id="springs-file",
            accept=".csv,.txt,text/csv,text/plain",
            className="upload",
            disable_click=True,  # the label opens it
        )
    )
    ways = [
        dmc.Button("Use this list", id="springs-use"),
        take,
        dmc.Button("Invented stock, to try", id="springs-sample", variant="default"),
    ]
    body = [
        dmc.Textarea(
            id="springs-list",
            label="Springs that could go on",
            description="Paste a list as CSV: any supplier's, or what lies on your shelf, "
            f"up to {MOST_SPRINGS} springs. It stays in this browser.",
            value="",
            autosize=True,
            minRows=4,
            maxRows=10,
            spellCheck=False,
        ),
        html.Div(ways, className="ways"),
        html.Details(
            [
                html.Summary("What a list looks like"),
                html.P(
                    "One line for each spring. Any unit in the brackets, or beside a figure; fractions are fine."
                ),
                html.Pre(_EXAMPLE, tabIndex="0", role="group", **{"aria-label": "Example of a list"}),
            ]
        ),
    ]
    return [
        dcc.Store(id={"type": "springs-kept", "truck": truck}, storage_type="local"),
        dcc.Store(id="springs-stock"),
        dcc.Store(id="springs-offer"),
        html.Details([html.Summary("List of springs"), *body], id="springs-fold", open=True),
        html.P(id="springs-in-use", className="strong"),
        html.Div(id="springs-faults", role="alert"),
    ]


def take(_use: Any, _sample: Any, offer: Any, text: str | None, kept: list[Any]) -> tuple[Any, ...]:
    """A list from the box, a file or the sample: for the browser to keep, or what is wrong with it; and the box."""
    which, name, text = ctx.triggered_id, PASTED, text or ""
    if which == "springs-sample":
        text, name = springs_path().read_text("utf-8"), SAMPLE
    elif which == "springs-offer":
        if "fault" in offer:
            return [no_update], sentence(f"{offer['name']} {offer['fault']}"), no_update
        text, name = offer["text"], offer["name"]
    try:
        key, springs = source().stock.take(text, name)
    except InputError as error:
        return [no_update], faults(error, bool(kept[0])), text
    at = datetime.now().isoformat()
    return [{"key": key, "count": len(springs), "name": name, "text": text, "at": at}], "", text


def restock(lost: Any, kept: list[Any]) -> None:
    """A list that the server has forgotten, from the browser's own store. Names it anew, so that it is answered."""
    if not lost or not kept[0]:
        return
    key, springs = source().stock.take(kept[0]["text"], kept[0]["name"])
    stock = {"key": key, "count": len(springs), "at": datetime.now().isoformat()}
    set_props("springs-stock", {"data": stock})  # no output, or callbacks would run in a circle


def faults(error: InputError, kept: bool) -> Component:
    """What is wrong with a list, line by line."""
    lines = [html.Li(line) for line in str(error).split("\n")]
    before = " The list before stays in use." if kept else ""
    return html.Div(
        [html.P(f"This list can't be used yet.{before}", className="strong"), html.Ul(lines)],
        className="note bad",
    )


def register_list(app: dash.Dash) -> None:
    """Wire the list."""
    kept = {"type": "springs-kept", "truck": ALL}
    app.clientside_callback(
        ClientsideFunction("springs", "fill"),
        Output("springs-list", "value"),
        Output("springs-stock", "data"),
        Output("springs-in-use", "children"),
        Output("springs-fold", "open"),
        Input(kept, "data"),
    )
    app.clientside_callback(
        ClientsideFunction("springs", "offer"),
        Output("springs-offer", "data"),
        Input("springs-file", "contents"),
        State("springs-file", "filename"),
        prevent_initial_call=True,
    )
    app.callback(
        Output(kept, "data"),
        Output("springs-faults", "children"),
        Output("springs-list", "value", allow_duplicate=True),
        Input("springs-use", "n_clicks"),
        Input("springs-sample", "n_clicks"),
        Input("springs-offer", "data"),
        State("springs-list", "value"),
        State(kept, "data"),
        prevent_initial_call=True,
    )(take)
    app.callback(Input("springs-lost", "data"), State(kept, "data"), prevent_initial_call=True)(restock)
