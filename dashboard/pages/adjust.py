"""What to turn, what to expect of it, sliders to try other turns, and a count to tick them off while turning.

A slider is followed by the browser (assets/adjust.js), which asks `/adjust/try` one question at a time, the latest
one: a hand is faster than any answer. No Dash callback: that takes twice as long to draw. What was turned so far is
counted and kept in the browser alone; from there it goes into the next run as the preload each nut has then.
"""

import json
from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

import dash
import dash_mantine_components as dmc
import numpy as np
from dash import ALL, ClientsideFunction, Input, Output, State, dcc, html
from flask import Response, request
from plotly.utils import PlotlyJSONEncoder

from dashboard.pages.home import choose
from dashboard.plan_view import drawn, live, plan, preload_words
from dashboard.shell import Component, address, guarded, one, said, sentence, tabs
from dashboard.source import Question, source
from dashboard.words import CORNER_WORDS, entry_length, listed, target_text
from tuning.adjust import Adjustment, CornerAnswer, predict
from tuning.bench import AdjustError
from tuning.faults import InputError, NoAnswerError
from tuning.fit import Fit
from tuning.log.database import LogError
from tuning.report.shared import CAUTION, ORDER_OF_WORK
from tuning.truck import CORNERS, Truck
from tuning.units import turns_text

TRIAL_DRAWS = 300  # enough for a figure that moves under a finger; the advice is drawn in full
SAME = 1e-9  # turns

COUNT_WELL = (
    "Mark the nut and the body with one stroke of paint; a turn is done when the strokes meet again.",
    "Clean the threads first. Turn both nuts of an end a turn at a time, so that the axle stays level.",
    "Count here as you turn: it is kept in this browser, through a reload or a locked phone, until the next run.",
    "Turned otherwise than advised? Count what was really turned. The next run is read against that.",
)

MOST_TURNS = 100.0  # no thread has more
Room = tuple[float, float, float]


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
    nuts = [_nut(c, fit.truck, advice.corners[c], rooms[c]) for c in turns]
    intro = html.P(
        f"From run {advice.run} and {_others(len(fit.runs))}. Ranges are 90 %: the true value lies inside nine "
        "times in ten.",
        className="more",
    )
    return [
        *([stopped] if stopped else []),
        intro,
        *_stores(store),
        html.Div([plan(advice, fit.truck), _nuts(nuts)], className="trying"),
        html.Div(notes(advice, name), id="adjust-notes", role="status"),
        *_work(bool(nuts)),
    ]


def _others(runs: int) -> str:
    return "no other yet" if runs == 1 else f"{runs - 1} before it"


def _stores(store: dict[str, Any]) -> list[Component]:
    return [dcc.Store(id="adjust-store", data=store), dcc.Store(id="adjust-turned")]


def _skeleton() -> list[Component]:
    """What the callbacks know by name, where there is nothing to show."""
    return [*_stores({}), *(html.Div(id=f"adjust-{name}") for name in ("count", "done"))]


def _nuts(nuts: list[Component]) -> Component:
    """The sliders, with what their keys do."""
    keys = (
        "Drag, tap − and +, or with a slider in focus: an arrow key is one step, with Shift or Page up and Page down "
        "one turn, Home and End the ends of the thread."
    )
    reset = html.Button("Back to the advised turns", id="adjust-reset", type="button", className="minor")
    parts = [html.H2("Turns at each nut"), *nuts, reset, html.P(keys, className="more")]
    return html.Div(parts, id="adjust-nuts", hidden=not nuts)


def _nut(corner: str, truck: Truck, answer: CornerAnswer, room_: Room) -> Component:
    turns, (low, high, step) = answer.turns or 0.0, room_
    size = f"{step:g} turn"
    slider = dmc.Slider(
        id=_id("slider", corner),
        min=low,
        max=high,
        step=step,
        value=turns,
        marks=[{"value": 0}, {"value": turns}],
        updatemode="drag",
        label=None,
        thumbLabel=f"{corner} turns",
        attributes={"thumb": {"aria-valuetext": turns_text(turns)}},
        className="slide",
        size="lg",
    )
    return html.Section(
        [
            html.H3([corner, html.Small(f" {CORNER_WORDS[corner]}")]),
            html.P(words(corner, answer, truck), className="turns"),
            html.Div(
                [
                    _step(-1, "−", f"{corner} nut {size} up"),
                    slider,
                    _step(1, "+", f"{corner} nut {size} down"),
                ],
                className="nut",
            ),
        ],
        className=f"turning at-{corner}",
        **{"data-nut": corner, "aria-label": f"{CORNER_WORDS[corner]} nut"},
    )


def _step(way: int, sign: str, label: str) -> Component:
    return html.Button(sign, type="button", className="step", **{"data-way": str(way), "aria-label": label})


def _work(nuts: bool) -> list[Component]:
    """The order of work, the count, and the way to the next run."""
    return [
        html.Div(
            [
                html.H2("Order of work"),
                html.Ol([html.Li(step) for step in ORDER_OF_WORK]),
                sentence(CAUTION, "warn"),
                html.Details(
                    [html.Summary("How to count turns well"), html.Ul([html.Li(line) for line in COUNT_WELL])]
                ),
                html.H2("Tick off as you turn"),
            ],
            hidden=not nuts,
        ),
        html.Div(id="adjust-count"),
        html.Div(id="adjust-done", role="status", className="writes"),
    ]


def _id(what: str, corner: Any) -> dict[str, Any]:
    return {"type": f"adjust-{what}", "corner": corner}


# ---------------------------------------------------------------- pure parts


def room(fit: Fit, corner: str, advised: float) -> Room:
    """Turns from now that the thread allows (low, high) and the nut's step; the advised ones are inside."""
    adjuster = fit.truck.corners[corner].adjuster
    if adjuster is None:
        raise ValueError(f"{corner} has no adjuster")
    i = CORNERS.index(corner)
    ends = fit.truck.corners[corner].preload_range(fit.stacks[i])
    low, high = ((end - fit.preload[i]) / adjuster.travel_per_turn / adjuster.step for end in ends)
    low, high = np.ceil(low - 1e-6) * adjuster.step, np.floor(high + 1e-6) * adjuster.step
    return float(min(low, advised, 0.0)), float(max(high, advised, 0.0)), adjuster.step


def words(corner: str, answer: CornerAnswer, truck: Truck) -> list[Component]:
    """What to do at a nut, what becomes of its preload, and what its corner is to reach."""
    more = [preload_words(answer, truck.units), target_text(truck, corner)]
    return [
        live(f"{corner} turns", html.Span, turns_text(answer.turns or 0.0)),
        live(f"{corner} preload", html.Span, "; ".join(filter(None, more)), className="more"),
    ]


def notes(answer: Adjustment, name: str) -> Component:
    """What held the answer back, and what to read before turning."""
    parts = []
    if answer.limits:
        lines = [html.Li(line[:1].upper() + line[1:]) for line in answer.limits]
        parts.append(
            html.Div(
                [html.P("What holds it back:", className="strong"), html.Ul(lines)], className="note warn"
            )
        )
    if answer.next_reading is not None:
        again = dcc.Link(
            f"Log it as a repeat of {answer.run}",
            href=address("log", truck=name, run=answer.run),
            className="go",
        )
        parts.append(
            html.Div(
                [
                    html.P("A reading would help more than turning:", className="strong"),
                    html.P(answer.next_reading.text),
                    html.P(again, className="writes"),
                ],
                className="note plain",
            )
        )
    return html.Div(parts)


def finish(name: str, truck: Truck, turned: Adjustment, at: str) -> list[Component]:
    """The way to the next run, with the preload each nut has now. turned: what to expect of the turns as made."""
    preloads = {c: a.preload_after for c, a in turned.corners.items() if a.preload_after is not None}
    made = [f"{c} {turns_text(a.turns)}" for c, a in turned.corners.items() if a.turns]
    query = {"truck": name, "from": "adjust"}
    query |= {f"preload_{c}": entry_length(v, truck.units) for c, v in preloads.items()}
    query["note"] = f"Turned {listed(made)}{f', {at}' if at else ''}"
    nuts = [html.Li([html.B(c), f" {preload_words(turned.corners[c], truck.units)}"]) for c in preloads]
    return [
        html.P(["As counted: ", html.B(listed(made)), ". The next run begins with"]),
        html.Ul(nuts),
        dcc.Link("Done: I turned these", href=f"/log?{urlencode(query)}", className="do like-do"),
    ]


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
        Input(_id("slider", ALL), "value"),
        State(_id("slider", ALL), "id"),
        State("adjust-store", "data"),
    )
    app.callback(
        Output("adjust-done", "children"),
        Input("adjust-turned", "data"),
        State("adjust-store", "data"),
    )(done)
