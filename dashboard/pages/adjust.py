"""What to turn, what to expect of it, sliders to try other turns, and a count to tick them off while turning.

A slider is followed by the browser (assets/adjust.js), which asks `/adjust/try` one question at a time, the latest
one: a hand is faster than any answer. No Dash callback: that takes twice as long to draw. What was turned so far is
counted and kept in the browser alone; from there it goes into the next run as the preload each nut has then.
"""

import json
from collections.abc import Sequence
from typing import Any

import dash
from dash import ALL, ClientsideFunction, Input, Output, State, dcc, html
from flask import Response, request
from plotly.utils import PlotlyJSONEncoder

from dashboard.adjust_nuts import finish, notes, nut, nut_sliders, room, slider_id, words, work
from dashboard.pages.home import choose
from dashboard.plan_view import drawn, plan
from dashboard.shell import Component, guarded, one, said, sentence, tabs
from dashboard.source import Question, source
from tuning.adjust import Adjustment, predict
from tuning.bench import AdjustError
from tuning.faults import InputError, NoAnswerError
from tuning.fit import Fit
from tuning.log.database import LogError
from tuning.truck import CORNERS

TRIAL_DRAWS = 300  # enough for a figure that moves under a finger; the advice is drawn in full
SAME = 1e-9  # turns
MOST_TURNS = 100.0  # no thread has more


# ---------------------------------------------------------------- layout


@guarded
def layout(truck: Any = None, **_: object) -> Component:
    """The advice for a truck."""
    name = one(truck)
    if name is None:
        return html.Div([choose("adjust"), html.Div(_skeleton(), hidden=True)])
    question = source().question(name)
    body = _page(name, source().mark(name), question)
    return html.Div([tabs(name, "adjust"), html.H1("Adjust"), *body])


def _page(name: str, mark: str, question: Question) -> list[Component]:
    """The page of one state of the log; the state goes along, so that a page moved by hand agrees with itself."""
    try:
        fit = question.fit
    except Exception as error:
        return [sentence(said(error)), html.Div(_skeleton(), hidden=True)]
    try:
        advice, stopped = question.advice, None
    except AdjustError as error:
        advice, stopped = predict(fit, {}), sentence(said(error), "warn")
    return page(name, mark, fit, advice, stopped, question.state)


def page(
    name: str,
    mark: str,
    fit: Fit,
    advice: Adjustment,
    stopped: Component | None = None,
    state: Sequence[int] = (),
) -> list[Component]:
    """The answer, as seen from above, with a slider at each nut. mark: of the log. Pure."""
    turns = {c: answer.turns for c, answer in advice.corners.items() if answer.turns is not None}
    rooms = {c: room(fit, c, turns[c]) for c in turns}
    store = {
        "truck": name,
        "log": mark,
        "run": advice.run,
        "advised": turns,
        "rooms": rooms,
        "state": list(state),
    }
    nuts = [nut(c, fit.truck, advice.corners[c], rooms[c]) for c in turns]
    intro = html.P(
        f"From run {advice.run} and {_others(len(fit.runs))}. Ranges are 90 %: the true value lies inside nine "
        "times in ten.",
        className="more",
    )
    return [
        *([stopped] if stopped else []),
        intro,
        *_stores(store),
        html.Div([plan(advice, fit.truck), nut_sliders(nuts)], className="trying"),
        html.Div(notes(advice, name), id="adjust-notes", role="status"),
        *work(bool(nuts)),
    ]


def _others(runs: int) -> str:
    return "no other yet" if runs == 1 else f"{runs - 1} before it"


def _stores(store: dict[str, Any]) -> list[Component]:
    return [dcc.Store(id="adjust-store", data=store), dcc.Store(id="adjust-turned")]


def _skeleton() -> list[Component]:
    """What the callbacks know by name, where there is nothing to show."""
    return [*_stores({}), *(html.Div(id=f"adjust-{name}") for name in ("count", "done"))]


# ---------------------------------------------------------------- callbacks


def try_turns() -> Response:
    """What to expect of the turns that an address names: every live part of the page, and the notes."""
    name = request.args.get("truck", "")
    try:
        state = [int(part) for part in request.args.get("state", "").split(",") if part]
        question = source().question(name, state)
        fit = question.fit
        chosen = {c: _turns(request.args[c]) for c in CORNERS if c in request.args}
        answer = _outlook(question, chosen)
    except (LogError, InputError, NoAnswerError) as error:
        return Response(said(error), 400, mimetype="text/plain")
    except ValueError:
        return Response("Not turns that a thread has: reload the page.", 400, mimetype="text/plain")
    nuts = [words(c, answer.corners[c], fit.truck) for c in chosen]
    found = {"drawn": drawn(plan(answer, fit.truck), *nuts), "notes": notes(answer, name)}
    return Response(json.dumps(found, cls=PlotlyJSONEncoder), mimetype="application/json")


def _outlook(question: Question, chosen: dict[str, float]) -> Adjustment:
    """What to expect of turns; of the advised ones the advice itself, as the page had it first."""
    try:
        advice = question.advice
    except AdjustError:
        return predict(question.fit, chosen, draws=TRIAL_DRAWS)
    if all(abs((a.turns or 0.0) - chosen.get(c, 0.0)) < SAME for c, a in advice.corners.items()):
        return advice
    return predict(question.fit, chosen, draws=TRIAL_DRAWS)


def _turns(text: str) -> float:
    """Turns of an address. Raises ValueError for what no thread has."""
    turns = float(text)
    if not abs(turns) <= MOST_TURNS:
        raise ValueError(text)
    return turns


def done(turned: dict[str, Any] | None, store: dict[str, Any]) -> Any:
    """Where the count leads."""
    made = {c: float(n) for c, n in ((turned or {}).get("turns") or {}).items() if abs(n) > SAME}
    if not store or not store["advised"]:
        return ""
    if not made:
        return html.P("Nothing is counted yet. Once it is, this leads to the next run.", className="more")
    fit = source().question(store["truck"]).fit
    if fit.runs[-1].name != store["run"]:
        return sentence(
            f"Run {fit.runs[-1].name} was logged since this page was opened, and these turns were counted from "
            f"{store['run']}. Reload the page.",
            "warn",
        )
    return finish(
        store["truck"], fit.truck, predict(fit, made, draws=TRIAL_DRAWS), turned["at"] if turned else ""
    )


def register(app: dash.Dash) -> None:
    """Put the page at its address and wire it."""
    dash.register_page("adjust", path="/adjust", title="Adjust", layout=layout)
    app.server.add_url_rule("/adjust/try", "adjust_try", try_turns)
    app.clientside_callback(
        ClientsideFunction(namespace="adjust", function_name="follow"),
        Output("adjust-count", "className"),  # a callback without one is not called when its page is opened
        Input(slider_id(ALL), "value"),
        State(slider_id(ALL), "id"),
        State("adjust-store", "data"),
    )
    app.callback(
        Output("adjust-done", "children"),
        Input("adjust-turned", "data"),
        State("adjust-store", "data"),
    )(done)
