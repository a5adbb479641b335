"""A new truck: its file filled in here, taken from a file, or a whole truck from another log."""

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboard import truck_guide
from dashboard.help import help_fold
from dashboard.shell import Component, address, guarded, said, sentence
from dashboard.source import source
from dashboard.truck_cards import faults_list, summary
from dashboard.truck_changes import proposal
from dashboard.uploads import text_of, upload
from tuning.faults import InputError
from tuning.log.database import LogError
from tuning.truckfile import MAX_FILE, truck_template


@guarded
def layout(**_: object) -> Component:
    """The file to fill in, and files to take."""
    return html.Div(
        [
            html.H1("New truck"),
            html.P(
                "Step by step, or straight in the file further down. Nothing is in the log until you save."
            ),
            help_fold("truck"),
            *truck_guide.guide(),
            html.H2("The truck file"),
            html.P(
                "Until the steps fill it, an example stands here: each figure is invented.",
                className="more",
            ),
            html.Div(
                [
                    upload("new-file", "Take a truck file (TOML)", ".toml,text/plain"),
                    upload("new-history", "Take a whole truck (history.json)", ".json,application/json"),
                    html.Button("Begin again", id="new-reset", type="button", className="like-button"),
                ],
                className="ways writes",
            ),
            html.Div(id="new-taken", role="alert"),
            dmc.Textarea(
                id="new-text",
                label="Truck file (TOML)",
                description="What you type stays in this browser until it is saved.",
                value=truck_template(),
                autosize=True,
                minRows=16,
                maxRows=40,
                spellCheck=False,
                classNames={"input": "code"},
                persistence="new truck",
                persistence_type="local",
            ),
            html.Div(
                [
                    html.Button("Check it", id="new-check", type="button", className="minor"),
                    html.Button("Save this truck", id="new-save", type="button", className="do writes"),
                ],
                className="ends",
            ),
            html.Div(id="new-answer", role="alert"),
            dcc.Location(id="new-goto", refresh="callback-nav"),
        ]
    )


def checked(text: str | None) -> Component:
    """The truck as it reads, or what is wrong, with lines. Pure."""
    found = proposal((text or "")[: MAX_FILE + 1])
    if found.truck is None:
        return faults_list(found.faults, "Not yet:", "truck file")
    return html.Div([html.H2(f"{found.truck.name}, as the file reads"), *summary(found.truck)])


def check(_: Any, text: str | None) -> Component:
    """Look at it without saving."""
    return checked(text)


def save(_: Any, text: str | None) -> tuple[Any, Any]:
    """Save the truck's first version, once; then its home. A name that is taken is refused."""
    found = proposal((text or "")[: MAX_FILE + 1])
    if found.truck is None:
        return checked(text), no_update
    name = found.truck.name
    try:
        version = source().log.save_truck(name, found.text, after=0)
    except (LogError, InputError) as error:
        return sentence(said(error)), no_update
    return "", address("truck", truck=name, saved=str(version))


def take_file(contents: str | None, name: str | None) -> tuple[Any, Any]:
    """A truck file into the box."""
    if not contents:
        raise PreventUpdate
    name = (name or "truck.toml")[:80]
    try:
        text = text_of(contents, name)
        if len(text) > MAX_FILE:
            return sentence(f"{name} is longer than {MAX_FILE} characters: no truck file."), no_update
    except InputError as error:
        return sentence(said(error)), no_update
    return sentence(f"{name} is in the box below, not saved yet.", "plain"), text


def take_history(contents: str | None, name: str | None) -> Component:
    """A whole truck with its history into the log, or nothing of it."""
    if not contents:
        raise PreventUpdate
    try:
        truck = source().log.load(text_of(contents, name or "history.json"))
    except (LogError, InputError) as error:
        return sentence(said(error))
    link = dcc.Link(truck, href=address("truck", truck=truck), className="go")
    return html.Div([html.P(["The whole history is in the log: ", link])], className="note good")


def reset(_: Any) -> str:
    """The template again."""
    return truck_template()


def register(app: dash.Dash) -> None:
    """Put the page at its address and wire it."""
    dash.register_page("new", path="/new", title="New truck", layout=layout)
    truck_guide.register(app)
    app.callback(
        Output("new-answer", "children"),
        Input("new-check", "n_clicks"),
        State("new-text", "value"),
        prevent_initial_call=True,
    )(check)
    app.callback(
        Output("new-answer", "children", allow_duplicate=True),
        Output("new-goto", "href"),
        Input("new-save", "n_clicks"),
        State("new-text", "value"),
        prevent_initial_call=True,
    )(save)
    app.callback(
        Output("new-taken", "children"),
        Output("new-text", "value"),
        Input("new-file", "contents"),
        State("new-file", "filename"),
        prevent_initial_call=True,
    )(take_file)
    app.callback(
        Output("new-taken", "children", allow_duplicate=True),
        Input("new-history", "contents"),
        State("new-history", "filename"),
        prevent_initial_call=True,
    )(take_history)
    app.callback(
        Output("new-text", "value", allow_duplicate=True),
        Input("new-reset", "n_clicks"),
        prevent_initial_call=True,
    )(reset)
