"""Readings from a file into a truck's log: all or nothing, faults by line, what is unlikely asked about first."""

import hashlib
from dataclasses import dataclass
from functools import partial
from typing import Any, cast

import dash
from dash import Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate
from flask import current_app

from dashboard.jobs import Kept, StillWorkingError, jobs
from dashboard.progress_card import progress_card, register_card, under_way
from dashboard.shell import Component, address, said, sentence
from dashboard.source import Question, source
from dashboard.truck_cards import faults_list
from dashboard.uploads import MOST_BYTES, text_of, upload
from tuning.faults import InputError
from tuning.log.database import LogError
from tuning.log.files import read_readings
from tuning.log.intake import questioned
from tuning.log.store import Log
from tuning.progress import StoppedError, Tell
from tuning.readings import Reading

KEY = "TUNING_LOOKED"  # where an app keeps the files that were looked at
STOPPED = "Stopped; nothing is saved."
_KEPT_FILES = 2
_SHOWN = 30  # questions
_BYTES_A_READING = 70  # without a note

# Words, what to save, no button, the button's words, whether it goes on.
_Answer = tuple[Component, dict[str, str] | None, bool, str, dict[str, Any] | None]


@dataclass(frozen=True)
class Looked:
    """A file's readings, unlikely ones marked doubtful, and what is asked about those."""

    rows: tuple[Reading, ...]
    asked: tuple[str, ...]


def parts() -> list[Component]:
    """Where a file is given and looked at."""
    most = f"{MOST_BYTES // 10**6} MB, some {MOST_BYTES // _BYTES_A_READING // 10_000 * 10_000:,} readings"
    save = html.Button("Save these readings", id="readings-save", type="button", className="do")
    return [
        html.Div(
            [
                html.P(
                    f"Readings from a spreadsheet, as readings.csv above has them: up to {most}. A file is saved "
                    "whole or not at all."
                ),
                upload("readings-file", "Take readings from a file (CSV)", ".csv,text/csv,text/plain"),
                dcc.Store(id="readings-kept"),
                *progress_card("reading", STOPPED),
                html.Div(id="readings-look", role="status"),
                html.Div(save, id="readings-box", hidden=True),
                *progress_card("saving", STOPPED),
                html.Div(id="readings-answer", role="alert"),
            ],
            className="writes",
        )
    ]


def _key(truck: str, text: str) -> str:
    return hashlib.sha256(f"{truck}\0{text}".encode()).hexdigest()[:32]


def _looked(
    files: Kept[tuple[Question, str], Looked], question: Question, text: str, name: str, tell: Tell
) -> Looked:
    """What a file holds beside what the log holds now. Raises InputError, and what `tell` raises."""
    shelf = question.shelf
    place = question, _key(name, text)
    if (known := files.get(place)) is not None:
        return known
    read = read_readings(text, shelf.truck, name, tell)
    rows = questioned(shelf.truck, shelf, read, True, tell)
    pairs = zip(read, rows, strict=True)
    asked = tuple(f"{row.run}: {row.doubt}" for was, row in pairs if row.doubt and not was.doubt)
    return files.put(place, Looked(rows, asked))


def _files() -> Kept[tuple[Question, str], Looked]:
    return cast(Kept[tuple[Question, str], Looked], current_app.config[KEY])


def look(contents: str | None, _: Any, name: str | None, store: dict[str, Any], page: str) -> _Answer:
    """What a file holds, what is wrong with it, or what is asked about it. Writes nothing."""
    if not contents:
        raise PreventUpdate
    name = (name or "readings.csv")[:80]
    try:
        text = text_of(contents, name)
        question = source().question(store["truck"])
        work = partial(_looked, _files(), question, text, name)
        looked = jobs().ask(page, (question, _key(name, text)), work)
    except StillWorkingError:
        return "", None, True, "", under_way()
    except StoppedError:  # its button says so, or another file is looked at
        raise PreventUpdate from None
    except InputError as error:
        head = f"{name} can't be taken in. Nothing is saved."
        return faults_list(error.faults, head, name), None, True, "", None
    kept = {"text": text, "name": name}
    if looked.asked:
        return _asked(looked.asked), kept, False, "Save all, these as doubtful", None
    runs = list(dict.fromkeys(r.run for r in looked.rows))
    held = f"{name}: {len(looked.rows):,} readings in {len(runs):,} runs, {runs[0]} to {runs[-1]}. Not saved yet."
    return sentence(held, "plain"), kept, False, "Save these readings", None


def _asked(reasons: tuple[str, ...]) -> Component:
    items = [html.Li(reason) for reason in reasons[:_SHOWN]]
    if len(reasons) > _SHOWN:
        items.append(html.Li(f"and {len(reasons) - _SHOWN:,} more."))
    first = "Look again at these: the log and the springs make them unlikely. Nothing is saved yet."
    last = "Mend the file and take it again, or save all with these as doubtful: in the log, out of the fit."
    return html.Div([html.P(first, className="strong"), html.Ul(items), html.P(last)], className="note warn")


def save(
    _: Any, __: Any, kept: dict[str, str] | None, store: dict[str, Any], page: str
) -> tuple[Component, dict[str, Any] | None]:
    """Save what was looked at, once: a key made of the file itself is answered as saved already."""
    if not kept:
        raise PreventUpdate
    truck, text = store["truck"], kept["text"]
    try:
        question = source().question(truck)
        look_again = partial(_looked, _files(), question, text, kept["name"])
        # The log for who asks, not for the thread that saves: a viewer's refuses.
        work = partial(_save, source().log, truck, _key(truck, text), look_again)
        rows, how = jobs().ask(page, _key(truck, text), work, lasting=True)
    except StillWorkingError:
        return "", under_way()
    except StoppedError:
        raise PreventUpdate from None
    except (LogError, InputError) as error:
        return sentence(said(error)), None
    doubtful = sum(bool(r.doubt) for r in rows)
    words = f"{len(rows):,} readings {how}, {doubtful:,} of them doubtful."
    link = html.A("See the history", href=address("history", truck=truck), className="go")
    return html.Div([html.P(words), link], className="note good"), None


def _save(
    log: Log, truck: str, key: str, look_again: "partial[Looked]", tell: Tell
) -> tuple[tuple[Reading, ...], str]:
    if rows := tuple(one.reading for one in log.saved_under(key)):
        return rows, "were in the log already"
    rows = look_again(tell).rows
    log.add_readings(truck, rows, entry_key=key, tell=tell)
    return rows, "are in the log"


def register(app: dash.Dash) -> None:
    """Wire it."""
    app.server.config[KEY] = Kept[tuple[Question, str], Looked](_KEPT_FILES)
    for area in ("reading", "saving"):
        register_card(app, area)
    app.callback(
        Output("readings-look", "children"),
        Output("readings-kept", "data"),
        Output("readings-box", "hidden"),
        Output("readings-save", "children"),
        Output("reading-job", "data"),
        Input("readings-file", "contents"),
        Input("reading-go", "data"),
        State("readings-file", "filename"),
        State("truck-store", "data"),
        State("reading-page", "data"),
        prevent_initial_call=True,
    )(look)
    app.callback(
        Output("readings-answer", "children"),
        Output("saving-job", "data"),
        Input("readings-save", "n_clicks"),
        Input("saving-go", "data"),
        State("readings-kept", "data"),
        State("truck-store", "data"),
        State("saving-page", "data"),
        prevent_initial_call=True,
    )(save)
