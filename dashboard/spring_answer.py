"""The answer about springs on its page: drawn where it is there, worked out aside where it is not."""

import time
from functools import partial
from typing import Any

import dash
from dash import ALL, Input, Output, State, ctx, dcc, html, no_update, set_props
from dash.exceptions import PreventUpdate

from dashboard.jobs import StillWorkingError, jobs
from dashboard.progress_card import progress_card, register_card, under_way
from dashboard.shell import Component, said, sentence
from dashboard.source import Question, source
from dashboard.spring_cards import own_place, reasons, verdict, why_not
from dashboard.spring_figures import HEIGHT, caption, spring_figure
from dashboard.spring_form import asked_of, sought_of
from dashboard.spring_table import choices
from dashboard.stock import ForgottenError, Sought
from tuning.choices import EndAnswer
from tuning.fit import Fit
from tuning.progress import StoppedError
from tuning.springs import Search
from tuning.units import System

AREA = "springs"
# In place of reasons, choices, picture, names for “Why not …?”, that section itself, hidden, and what is drawn.
NOTHING: tuple[Any, ...] = ("", "", [], [], [], True, None)


def answer_parts() -> list[Component]:
    """Where the answer goes, below how far it is."""
    parts = [
        html.Div(id="springs-verdict", role="status"),
        html.Div(id="springs-reasons"),
        html.Div(id="springs-choices"),
        html.Div(id="springs-picture"),
    ]
    return [
        dcc.Store(id="springs-drawn"),
        *progress_card(AREA, "Stopped; nothing changed. Any answer below is to what was asked before."),
        html.Div(parts, className="before"),
    ]


# ---------------------------------------------------------------- pure parts


def picture(answer: EndAnswer, system: System) -> list[Component]:
    """All stacks of the end, a picture for each side that was searched by itself."""
    parts: list[Component] = [html.H2("All stacks")]
    for place, search in enumerate(answer.searches):
        listed = [
            at for c in answer.choices if (at := pair_of(search, c.springs[search.corners[0]])) is not None
        ]
        figure = spring_figure(search, listed, own_place(search), system)
        graph = dcc.Graph(
            figure=figure,
            id={"type": "springs-graph", "place": place},
            config={"displayModeBar": False, "responsive": True},
            style={"height": f"{HEIGHT}px"},
        )
        parts += [html.H3(" and ".join(search.corners)), graph]
        parts.append(html.P(caption(search, bool(search.rejected)), className="more"))
    return parts


def pair_of(search: Search, springs: Any) -> int | None:
    """Where a choice's springs stand among the pairs."""
    upper, lower = springs
    return search.find(None if upper is None else upper.name, lower.name)


def drawn(answer: EndAnswer, fit: Fit, listed: int, name: str) -> tuple[Any, ...]:
    """Verdict, reasons, choices and picture. name: what the log calls the truck."""
    table = choices(answer, fit.truck, name)
    return verdict(answer, fit, listed), reasons(answer, fit), table, picture(answer, fit.truck.units)


# ---------------------------------------------------------------- callbacks


def answer(
    stock: dict[str, Any] | None,
    asked: dict[str, Any] | None,
    _: Any,
    where: dict[str, str],
    page: str,
    shown: dict[str, Any] | None,
) -> tuple[Any, ...]:
    """Every stack ranked, or word that it takes its time. A list that the server has forgotten is asked for again."""
    if not where["truck"] or asked is None:
        raise PreventUpdate
    if stock is None:
        jobs().stop(page)
        text = "No list of springs yet. Paste one, take a file, or try the invented stock."
        return (sentence(text, "plain"), *NOTHING, no_update, None)
    same = (no_update,) * (1 + len(NOTHING))
    try:
        question, sought = _asked(stock, asked, where)
        found = source().stock.known(question, sought)
        if found is None:
            work = partial(source().stock.answer, question, sought)
            found = jobs().ask(page, (question, sought), work)
        else:
            jobs().stop(page)  # what was asked before
        parts = drawn(found, question.fit, stock["count"], where["truck"])
    except StillWorkingError:
        if shown is None:  # words that ask for a list are out of date
            return ("", *NOTHING, no_update, under_way())
        return (*same, no_update, under_way())
    except StoppedError:  # its button says so, or a newer question is under way
        raise PreventUpdate from None
    except ForgottenError:
        return (*same, stock, None)
    except Exception as error:
        return (sentence(said(error)), *NOTHING, no_update, None)
    names = sorted({c.name for search in found.searches for c in search.candidates})
    return (*parts, names, names, False, {"stock": stock, "asked": asked}, no_update, None)


def tell_why(
    upper: str | None, lower: str | None, shown: dict[str, Any] | None, where: dict[str, str]
) -> Component:
    """Why these two were turned away, or what they do."""
    if shown is None or not (upper or lower):
        return ""
    try:
        known = _known(shown, where)
    except Exception as error:
        return sentence(said(error))
    return "" if known is None else why_not(*known, upper or "", lower or "")


def pick(clicks: list[Any], shown: dict[str, Any] | None, where: dict[str, str]) -> tuple[str, str]:
    """The springs of a dot that was touched, put where “Why not …?” asks for them."""
    place = ctx.triggered_id["place"] if ctx.triggered_id else None
    known = None if place is None or shown is None or not clicks[place] else _known(shown, where)
    if place is None or known is None:
        raise PreventUpdate
    upper, lower = known[0].searches[place].springs(int(clicks[place]["points"][0]["customdata"]))
    return "" if upper is None else upper.name, lower.name


def _asked(stock: dict[str, Any], asked: dict[str, Any], where: dict[str, str]) -> tuple[Question, Sought]:
    question = source().question(where["truck"])
    return question, sought_of(asked_of(asked), where["end"], stock["key"], question.truck)


def _known(shown: dict[str, Any], where: dict[str, str]) -> tuple[EndAnswer, Fit] | None:
    """The answer that the page shows. Where the server has forgotten it, it is worked out and drawn anew."""
    question, sought = _asked(shown["stock"], shown["asked"], where)
    found = source().stock.known(question, sought)
    if found is None:
        set_props(f"{AREA}-go", {"data": time.time()})  # no output, or callbacks would run in a circle
        return None
    return found, question.fit


def register_answer(app: dash.Dash) -> None:
    """Wire it."""
    register_card(app, AREA)
    shown, where = State("springs-drawn", "data"), State("springs-where", "data")
    app.callback(
        Output("springs-verdict", "children"),
        Output("springs-reasons", "children"),
        Output("springs-choices", "children"),
        Output("springs-picture", "children"),
        Output("springs-upper", "data"),
        Output("springs-lower", "data"),
        Output("springs-why", "hidden"),
        Output("springs-drawn", "data"),
        Output("springs-lost", "data"),
        Output(f"{AREA}-job", "data"),
        Input("springs-stock", "data"),
        Input("springs-asked", "data"),
        Input(f"{AREA}-go", "data"),
        where,
        State(f"{AREA}-page", "data"),
        shown,
    )(answer)
    app.callback(
        Output("springs-line", "children"),
        Input("springs-upper", "value"),
        Input("springs-lower", "value"),
        Input("springs-drawn", "data"),
        where,
        prevent_initial_call=True,
    )(tell_why)
    app.callback(
        Output("springs-upper", "value"),
        Output("springs-lower", "value"),
        Input({"type": "springs-graph", "place": ALL}, "clickData"),
        shown,
        where,
        prevent_initial_call=True,
    )(pick)
