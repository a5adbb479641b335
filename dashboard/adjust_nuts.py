"""The nuts of the adjust page: a slider for each, the order of work, notes, and the way to the next run. Pure."""

from typing import Any
from urllib.parse import urlencode

import dash_mantine_components as dmc
import numpy as np
from dash import dcc, html

from dashboard.plan_view import live, preload_words
from dashboard.shell import Component, address, sentence
from dashboard.words import CORNER_WORDS, entry_length, listed, target_text
from tuning.adjust import Adjustment, CornerAnswer
from tuning.fit import Fit
from tuning.report.shared import CAUTION, ORDER_OF_WORK
from tuning.truck import CORNERS, Truck
from tuning.units import turns_text

COUNT_WELL = (
    "Mark the nut and the body with one stroke of paint; a turn is done when the strokes meet again.",
    "Clean the threads first. Turn both nuts of an end a turn at a time, so that the axle stays level.",
    "Count here as you turn: it is kept in this browser, through a reload or a locked phone, until the next run.",
    "Turned otherwise than advised? Count what was really turned. The next run is read against that.",
)

Room = tuple[float, float, float]


def nut_sliders(nuts: list[Component]) -> Component:
    """The sliders, with what their keys do."""
    keys = (
        "Drag, tap − and +, or with a slider in focus: an arrow key is one step, with Shift or Page up and Page down "
        "one turn, Home and End the ends of the thread."
    )
    reset = html.Button("Back to the advised turns", id="adjust-reset", type="button", className="minor")
    parts = [html.H2("Turns at each nut"), *nuts, reset, html.P(keys, className="more")]
    return html.Div(parts, id="adjust-nuts", hidden=not nuts)


def nut(corner: str, truck: Truck, answer: CornerAnswer, room_: Room) -> Component:
    """What to do at one nut, and its slider. room_: as `room` gives it."""
    turns, (low, high, step) = answer.turns or 0.0, room_
    size = f"{step:g} turn"
    slider = dmc.Slider(
        id=slider_id(corner),
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


def work(nuts: bool) -> list[Component]:
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


def slider_id(corner: Any) -> dict[str, Any]:
    """What a callback knows a nut's slider by."""
    return {"type": "adjust-slider", "corner": corner}


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
            html.Div([html.P("Mind this:", className="strong"), html.Ul(lines)], className="note warn")
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
