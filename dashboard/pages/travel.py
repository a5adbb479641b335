"""Is the travel right: checks, figures and drawings of one corner, as it stands or with other turns."""

from collections.abc import Mapping, Sequence
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, ctx, dcc, html

from dashboard.help import help_fold
from dashboard.pages.home import choose
from dashboard.shell import Component, address, guarded, one, said, sentence, tabs
from dashboard.source import Question, source
from dashboard.travel_cards import corner_cards
from dashboard.words import CORNER_WORDS
from tuning.fit import Fit
from tuning.travel import CornerTravel, travel
from tuning.truck import CORNERS
from tuning.units import UnitError, parse, shown

TRIAL_DRAWS = 300
MOST_TURNS = 100.0  # no thread has more

Texts = dict[str, str]  # turns as typed, by corner


# ---------------------------------------------------------------- layout


@guarded
def layout(truck: Any = None, corner: Any = None, turns: Any = None, **_: object) -> Component:
    """The travel of a truck's corner."""
    name, which = one(truck), one(corner) or "LF"
    if name is None:
        return html.Div([choose("travel"), html.Div(_fixed("", "LF", [], []), hidden=True)])
    if which not in CORNERS:
        wrong = sentence(f"There is no corner {shown(which)}. Corners are LF, RF, LR and RR.")
        return html.Div([tabs(name, "travel"), wrong, html.Div(_fixed(name, "LF", [], []), hidden=True)])
    question = source().question(name)
    texts, stray = from_address(one(turns) or "")
    return html.Div(
        [
            tabs(name, "travel"),
            html.H1("Travel"),
            help_fold("travel"),
            *([stray] if stray else []),
            *_page(question, name, which, texts),
        ]
    )


def _page(question: Question, name: str, corner: str, texts: Texts) -> list[Component]:
    try:
        fit = question.fit
    except Exception as error:
        return [sentence(said(error)), html.Div(_fixed(name, corner, [], []), hidden=True)]
    nuts = [c for c in CORNERS if fit.truck.corners[c].adjuster is not None]
    body, errors, nav = looked_at(fit, name, corner, {c: texts.get(c, "") for c in nuts})
    fields = [_field(c, texts.get(c, ""), error) for c, error in zip(nuts, errors, strict=True)]
    return _fixed(name, corner, fields, body, nav)


def _fixed(
    name: str, corner: str, fields: list[Component], body: list[Component], nav: Sequence[Component] = ()
) -> list[Component]:
    """What the callbacks know by name."""
    buttons = html.Div(
        [
            dmc.Button("The advised turns", id="travel-advised", variant="default"),
            dmc.Button("As it stands", id="travel-today", variant="default"),
        ],
        className="ways",
    )
    tried = html.Details(
        [
            html.Summary("Try other turns"),
            html.P("From where each nut is now, down the thread: 2, 1 1/4, -0.5.", className="more"),
            html.Div(fields, className="above choice"),
            buttons,
        ],
        open=any(field.children.value for field in fields),
        hidden=not fields,
    )
    return [
        dcc.Store(id="travel-store", data={"truck": name, "corner": corner}),
        html.Nav(list(nav), id="travel-corners", className="above choice", **{"aria-label": "Corner"}),
        tried,
        html.Div(body, id="travel-body", role="status"),
    ]


def _field(corner: str, text: str, error: str) -> Component:
    field = dmc.TextInput(
        id=_id(corner),
        label=f"{corner} turns",
        value=text,
        error=error,
        autoComplete="off",
        debounce=400,
    )
    return html.Div(field, className=corner)


def _id(corner: Any) -> dict[str, Any]:
    return {"type": "travel-turns", "corner": corner}


# ---------------------------------------------------------------- what was typed


def from_address(text: str) -> tuple[Texts, Component]:
    """`LF=2,RF=-1 1/4` as texts by corner, and a sentence about what is none."""
    texts: Texts = {}
    for part in filter(None, text.split(",")):
        corner, sign, number = part.strip().partition("=")
        if not sign or corner.strip().upper() not in CORNERS:
            wrong = f'The address asks for the turns "{shown(part)}". Write turns=LF=2,RF=-1 1/4.'
            return {}, sentence(wrong)
        texts[corner.strip().upper()] = number.strip()
    return texts, ""


def turns_of(texts: Mapping[str, str]) -> tuple[dict[str, float], dict[str, str]]:
    """Turns by corner, and what is wrong with the others. An empty field is none."""
    turns, wrong = {}, {}
    for corner, text in texts.items():
        if not (text or "").strip():
            continue
        try:
            number = parse(text, "number")
        except UnitError as error:
            wrong[corner] = f"{error.problem}. Write 2, 1 1/4 or -0.5"
            continue
        if abs(number) > MOST_TURNS:
            wrong[corner] = "No thread has a hundred turns."
        elif number:
            turns[corner] = number
    return turns, wrong


# ---------------------------------------------------------------- pure parts


def looked_at(
    fit: Fit, name: str, corner: str, texts: Texts
) -> tuple[list[Component], list[str], list[Component]]:
    """The body, an error for each field and the links to the corners."""
    turns, wrong = turns_of(texts)
    answer = travel(fit, turns, draws=TRIAL_DRAWS)
    query = ",".join(f"{c}={texts[c].strip()}" for c in turns)
    nav = [_link(name, answer.corners[c], c == corner, query) for c in CORNERS]
    left_out = [
        sentence(f"Left out: {c} turns. {text}.".replace("..", "."), "warn") for c, text in wrong.items()
    ]
    return [*left_out, *corner_cards(fit, answer, corner)], [wrong.get(c, "") for c in texts], nav


def _link(name: str, corner: CornerTravel, here: bool, turns: str) -> Component:
    amiss = sum(check.ok is False for check in corner.checks)
    count = f", {amiss} to mend" if amiss else ""
    query = {"truck": name, "corner": corner.corner} | ({"turns": turns} if turns else {})
    return dcc.Link(
        [corner.corner, html.Span(f" {CORNER_WORDS[corner.corner]}{count}", className="more")],
        href=address("travel", **query),
        className=f"tab {corner.corner}{' here' if here else ''}",
    )


# ---------------------------------------------------------------- callbacks


def try_turns(
    texts: list[str], where: list[dict[str, str]], store: dict[str, str]
) -> tuple[list[Component], list[Component], list[str]]:
    """The corner with the turns that are typed."""
    fit = source().question(store["truck"]).fit
    typed = {place["corner"]: text or "" for place, text in zip(where, texts, strict=True)}
    body, errors, nav = looked_at(fit, store["truck"], store["corner"], typed)
    return body, nav, errors


def set_turns(_advised: Any, _today: Any, where: list[dict[str, str]], store: dict[str, str]) -> list[str]:
    """The advised turns in all fields, or none."""
    if ctx.triggered_id != "travel-advised":
        return ["" for _ in where]
    advice = source().question(store["truck"]).advice
    return [f"{advice.corners[place['corner']].turns or 0:g}" for place in where]


def register(app: dash.Dash) -> None:
    """Put the page at its address and wire it."""
    dash.register_page("travel", path="/travel", title="Travel", layout=layout)
    app.callback(
        Output("travel-body", "children"),
        Output("travel-corners", "children"),
        Output(_id(ALL), "error"),
        Input(_id(ALL), "value"),
        State(_id(ALL), "id"),
        State("travel-store", "data"),
        prevent_initial_call=True,
    )(try_turns)
    app.callback(
        Output(_id(ALL), "value"),
        Input("travel-advised", "n_clicks"),
        Input("travel-today", "n_clicks"),
        State(_id(ALL), "id"),
        State("travel-store", "data"),
        prevent_initial_call=True,
    )(set_turns)
