"""Readings from a file into a truck's log: all or nothing, faults by line, what is unlikely asked about first."""

import hashlib
from typing import Any

import dash
from dash import Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate

from dashboard.shell import Component, address, said, sentence
from dashboard.source import source
from dashboard.truck_cards import faults_list
from dashboard.uploads import text_of, upload
from tuning.faults import InputError
from tuning.log.database import LogError
from tuning.log.files import read_readings
from tuning.log.intake import QuestionedError, questioned
from tuning.readings import Reading

_SHOWN = 30  # questions

_Looked = tuple[
    Component, dict[str, str] | None, bool, str
]  # words, what to save, no button, the button's words


def parts() -> list[Component]:
    """Where a file is given and looked at."""
    save = html.Button("Save these readings", id="readings-save", type="button", className="do")
    return [
        html.Div(
            [
                html.P("Readings from a spreadsheet, as readings.csv above has them:"),
                upload("readings-file", "Take readings from a file (CSV)", ".csv,text/csv,text/plain"),
                dcc.Store(id="readings-kept"),
                dcc.Loading(
                    html.Div(id="readings-look", role="status"),
                    custom_spinner=html.P("Reading the file …", className="note plain", role="status"),
                    delay_show=250,
                ),
                html.Div(save, id="readings-box", hidden=True),
                html.Div(id="readings-answer", role="alert"),
            ],
            className="writes",
        )
    ]


def _read(text: str, name: str, truck: str, confirm: bool) -> tuple[Reading, ...]:
    shelf = source().question(truck).shelf
    return questioned(shelf.truck, shelf, read_readings(text, shelf.truck, name), confirm)


def look(contents: str | None, name: str | None, store: dict[str, Any]) -> _Looked:
    """What a file holds, what is wrong with it, or what is asked about it. Writes nothing."""
    if not contents:
        raise PreventUpdate
    name = (name or "readings.csv")[:80]
    try:
        text = text_of(contents, name)
        kept = {"text": text, "name": name}
        rows = _read(text, name, store["truck"], confirm=False)
    except InputError as error:
        return faults_list(error.faults, f"{name} can't be taken in. Nothing is saved.", name), None, True, ""
    except QuestionedError as error:
        return _asked(error), kept, False, "Save all, these as doubtful"
    runs = list(dict.fromkeys(r.run for r in rows))
    held = sentence(
        f"{name}: {len(rows)} readings in {len(runs)} runs, {runs[0]} to {runs[-1]}. Not saved yet.", "plain"
    )
    return held, kept, False, "Save these readings"


def _asked(error: QuestionedError) -> Component:
    items = [html.Li(reason) for reason in error.reasons[:_SHOWN]]
    if len(error.reasons) > _SHOWN:
        items.append(html.Li(f"and {len(error.reasons) - _SHOWN} more."))
    first = "Look again at these: the log and the springs make them unlikely. Nothing is saved yet."
    last = "Mend the file and take it again, or save all with these as doubtful: in the log, out of the fit."
    return html.Div([html.P(first, className="strong"), html.Ul(items), html.P(last)], className="note warn")


def save(_: Any, kept: dict[str, str] | None, store: dict[str, Any]) -> Component:
    """Save what was looked at, once: a key made of the file itself is answered as saved already."""
    if not kept:
        raise PreventUpdate
    truck = store["truck"]
    try:
        key = hashlib.sha256(f"{truck}\0{kept['text']}".encode()).hexdigest()[:32]
        rows = tuple(one.reading for one in source().log.saved_under(key))
        how = "were in the log already" if rows else "are in the log"
        if not rows:
            rows = _read(kept["text"], kept["name"], truck, confirm=True)
            source().log.add_readings(truck, rows, entry_key=key)
    except (LogError, InputError) as error:
        return sentence(said(error))
    doubtful = sum(bool(r.doubt) for r in rows)
    text = f"{len(rows)} readings {how}, {doubtful} of them doubtful."
    return html.Div(
        [html.P(text), html.A("See the history", href=address("history", truck=truck), className="go")],
        className="note good",
    )


def register(app: dash.Dash) -> None:
    """Wire it."""
    app.callback(
        Output("readings-look", "children"),
        Output("readings-kept", "data"),
        Output("readings-box", "hidden"),
        Output("readings-save", "children"),
        Input("readings-file", "contents"),
        State("readings-file", "filename"),
        State("truck-store", "data"),
        prevent_initial_call=True,
    )(look)
    app.callback(
        Output("readings-answer", "children"),
        Input("readings-save", "n_clicks"),
        State("readings-kept", "data"),
        State("truck-store", "data"),
        prevent_initial_call=True,
    )(save)
