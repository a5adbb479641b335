"""Where did the height go: since which run, to what, how fast, and when it needs attention."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import Input, Output, State, dcc, html

from dashboard.help import help_fold
from dashboard.pages.home import choose
from dashboard.sag_cards import sag_cards
from dashboard.shell import Component, address, guarded, one, said, sentence, tabs
from dashboard.source import Question, source
from tuning.faults import InputError
from tuning.readings import Run
from tuning.sag.answer import Sag, sag
from tuning.sag.next_step import NextStep, next_steps
from tuning.truck import CORNERS
from tuning.units import shown

FIRST = ""  # the reference where none is named


@guarded
def layout(truck: Any = None, since: Any = None, corner: Any = None, **_: object) -> Component:
    """Where the height of a truck went. since: a run; corner: whose years are drawn."""
    name, which, run = one(truck), one(corner) or "", one(since) or FIRST
    if name is None:
        return html.Div([choose("sag"), html.Div(_fixed("", "", FIRST, (), []), hidden=True)])
    head = [tabs(name, "sag"), html.H1("Sag"), help_fold("sag")]
    if which and which not in CORNERS:
        wrong = sentence(f"There is no corner {shown(which)}. Corners are LF, RF, LR and RR.")
        return html.Div([*head, wrong, html.Div(_fixed(name, "", FIRST, (), []), hidden=True)])
    question = source().question(name)
    body = page(question, name, run, which)
    return html.Div([*head, *_fixed(name, which, run, question.shelf.runs, body)])


def _fixed(
    name: str, corner: str, since: str, runs: tuple[Run, ...], body: list[Component]
) -> list[Component]:
    """What the callback knows by name."""
    choices = reference_choices(runs)
    field = dmc.Select(
        id="sag-since",
        label="Count from run",
        data=choices,
        value=since if any(c["value"] == since for c in choices) else FIRST,
        searchable=True,
        allowDeselect=False,
        nothingFoundMessage="No run of that name",
        maxDropdownHeight=320,
    )
    return [
        dcc.Store(id="sag-store", data={"truck": name, "corner": corner}),
        dcc.Location(id="sag-where", refresh=False),
        html.Div(field, className="choice"),
        html.Div(body, id="sag-body", role="status"),
    ]


def reference_choices(runs: tuple[Run, ...]) -> list[dict[str, str]]:
    """Every run but the last, latest first, after what counts where none is chosen; a name once."""
    named = {run.name: f"{run.name}, {run.taken_at:%Y-%m-%d}" for run in reversed(runs[:-1])}
    first = {"value": FIRST, "label": "The first with today's stack"}
    return [first, *({"value": name, "label": text} for name, text in named.items())]


def page(question: Question, name: str, since: str, corner: str) -> list[Component]:
    """The answer, or why there is none. Pure but for the question's own memory."""
    try:
        found, steps = answer(question, since)
    except InputError as error:
        faults = [fault.said().removeprefix(": ") for fault in error.faults]
        return [sentence(" ".join(f"{text[:1].upper()}{text[1:]}" for text in faults))]
    except Exception as error:
        return [sentence(said(error))]
    return sag_cards(question.fit, found, steps, name, corner, since)


def answer(question: Question, since: str) -> tuple[Sag, Mapping[str, NextStep]]:
    """Where the height went and what to do, worked out once a day for each reference run."""
    now = datetime.now().astimezone()

    def made() -> tuple[Sag, Mapping[str, NextStep]]:
        found = sag(question.fit, since or None, now)
        return found, next_steps(question.fit, found)

    return question.once(("sag", since, now.date()), made)


def count_from(since: str | None, store: dict[str, str]) -> tuple[list[Component], str]:
    """The answer since another run, and the address that keeps it."""
    name, corner, run = store["truck"], store["corner"], since or FIRST
    query = {"truck": name} | ({"since": run} if run else {}) | ({"corner": corner} if corner else {})
    return page(source().question(name), name, run, corner), address("", **query)[1:]


def register(app: dash.Dash) -> None:
    """Put the page at its address and wire it."""
    dash.register_page("sag", path="/sag", title="Sag", layout=layout)
    app.callback(
        Output("sag-body", "children"),
        Output("sag-where", "search"),
        Input("sag-since", "value"),
        State("sag-store", "data"),
        prevent_initial_call=True,
    )(count_from)
