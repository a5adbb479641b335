"""What to turn, what to expect of it, and sliders to try other turns."""

from typing import Any

import dash
import dash_mantine_components as dmc
import numpy as np
from dash import ALL, Input, Output, State, ctx, dcc, html

from dashboard.pages.home import choose
from dashboard.shell import Component, fact, guarded, one, said, sentence, tabs
from dashboard.source import Question, source
from dashboard.words import (
    CORNER_WORDS,
    END_WORDS,
    length_range,
    load_range,
    share,
    share_range,
    target_text,
)
from tuning.adjust import AdjustError, Adjustment, CornerAnswer, predict
from tuning.fit import Fit
from tuning.report.shared import odds
from tuning.truck import CORNERS, SIDES, Truck
from tuning.units import decimal_length, shop_length, shop_load, turns_text

TRIAL_DRAWS = 300  # enough for a figure that moves under a finger; the advice is drawn in full

ORDER = (
    "Raise the truck and set the frame on stands on firm ground; wheels chocked.",
    "Let the axle hang until the springs are unloaded. Springs under load let go hard: never turn a loaded nut.",
    "Turn each nut as written above, counting by a mark on it. Lock it again.",
    "Set the truck down, connect nothing new, load it as it was.",
    "Roll it back and forth and bounce it; or bring it to rest from above, then from below.",
    "Read all four corners again and log them as the next run, with the preload each nut has now.",
)

Room = tuple[float, float, float]


# ---------------------------------------------------------------- layout


@guarded
def layout(truck: Any = None, **_: object) -> Component:
    """The advice for a truck."""
    name = one(truck)
    if name is None:
        return html.Div([choose("adjust"), html.Div(_fixed({}), hidden=True)])
    return html.Div([tabs(name, "adjust"), html.H1("Adjust"), *_page(name, source().question(name))])


def _page(name: str, question: Question) -> list[Component]:
    try:
        fit = question.fit
    except Exception as error:
        return [sentence(said(error)), *_fixed({})]
    try:
        advice, stopped = question.advice, None
    except AdjustError as error:
        advice, stopped = predict(fit, {}), sentence(said(error), "warn")
    return page(name, fit, advice, stopped)


def page(name: str, fit: Fit, advice: Adjustment, stopped: Component | None = None) -> list[Component]:
    """The answer, as seen from above, with a slider at each nut. Pure."""
    turns = {c: answer.turns for c, answer in advice.corners.items() if answer.turns is not None}
    rooms = {c: room(fit, c, turns[c]) for c in turns}
    store = {"truck": name, "advised": turns, "rooms": rooms}
    corners = [_corner(c, fit.truck, advice.corners[c], rooms.get(c)) for c in CORNERS]
    intro = html.P(
        f"From run {advice.run} and {_others(len(fit.runs))}. Ranges are 90 %: the true value lies inside nine "
        "times in ten.",
        className="more",
    )
    return [
        *([stopped] if stopped else []),
        intro,
        *_fixed(store, overall(advice, fit.truck), notes(advice), corners),
        html.H2("Order of work"),
        html.Ol([html.Li(step) for step in ORDER]),
    ]


def _others(runs: int) -> str:
    return "no other yet" if runs == 1 else f"{runs - 1} before it"


def _fixed(
    store: dict[str, Any],
    summary: Component = "",
    remarks: Component = "",
    corners: list[Component] | None = None,
) -> list[Component]:
    """What the callbacks know by name; hidden where there is nothing to turn."""
    reset = dmc.Button("Back to the advised turns", id="adjust-reset", variant="default", className="wide")
    return [
        dcc.Store(id="adjust-store", data=store),
        html.Div(summary, id="adjust-overall", role="status"),
        html.P(
            "As seen from above, the front at the top. Now → after.", className="more", hidden=not corners
        ),
        html.Div(corners or [], className="above"),
        html.Div(reset, hidden=not store.get("advised")),
        html.Div(remarks, id="adjust-notes", role="status"),
    ]


def _corner(corner: str, truck: Truck, answer: CornerAnswer, room_: Room | None) -> Component:
    parts = [html.H2([corner, html.Small(f" {CORNER_WORDS[corner]}")])]
    if answer.turns is not None and room_ is not None:
        parts += _nut(corner, answer.turns, room_)
    else:
        parts.append(html.P("no adjuster", className="more"))
    parts.append(html.Div(outcome(corner, truck, answer), id=_id("out", corner)))
    return html.Section(parts, className=f"corner {corner}", **{"aria-label": CORNER_WORDS[corner]})


def _nut(corner: str, turns: float, room_: Room) -> list[Component]:
    low, high, step = room_
    size = f"{step:g} turn"
    return [
        html.P(turns_text(turns), id=_id("words", corner), className="turns"),
        html.Div(
            [
                _step("up", corner, "−", f"{corner} nut {size} up"),
                dmc.Slider(
                    id=_id("slider", corner),
                    min=low,
                    max=high,
                    step=step,
                    value=turns,
                    updatemode="drag",
                    label=None,
                    thumbLabel=f"{corner} turns",
                    attributes=spoken(turns),
                    className="slide",
                    size="lg",
                ),
                _step("down", corner, "+", f"{corner} nut {size} down"),
            ],
            className="nut",
        ),
    ]


def _step(way: str, corner: str, sign: str, label: str) -> Component:
    return html.Button(sign, id=_id(way, corner), type="button", className="step", **{"aria-label": label})


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


def spoken(turns: float) -> dict[str, Any]:
    """The slider's value in words for a screen reader."""
    return {"thumb": {"aria-valuetext": turns_text(turns)}}


def outcome(corner: str, truck: Truck, answer: CornerAnswer) -> list[Component]:
    """Height, load and preload of a corner, before and after."""
    system = truck.units
    height = shop_length(answer.height_after.mean, system)
    facts = [
        fact(
            "Height",
            [f"{shop_length(answer.height_now, system)} → ", html.B(height, className="predicted")],
            length_range(answer.height_after, system),
        )
    ]
    if answer.load_after is not None:
        now = shop_load(answer.load_now, system) if answer.load_now is not None else "not weighed"
        load = shop_load(answer.load_after.mean, system)
        facts.append(fact("Load", [f"{now} → ", html.B(load)], load_range(answer.load_after, system)))
    else:
        facts.append(fact("Load", "unknown"))
    if answer.preload_now is not None and answer.preload_after is not None:
        now, after = decimal_length(answer.preload_now, system), decimal_length(answer.preload_after, system)
        facts.append(fact("Preload", [f"{now} → ", html.B(after)]))
    wanted = target_text(truck, corner)
    return [html.Dl(facts, className="facts"), html.P(wanted, className="more") if wanted else ""]


def overall(answer: Adjustment, truck: Truck) -> Component:
    """Cross-weight and the chance to land inside all tolerances."""
    target = truck.target
    wanted = ""
    if target.cross_weight is not None:
        wanted = f"target {share(target.cross_weight)} ± {target.cross_weight_tolerance * 100:g} %"
    if answer.cross_weight_after is not None:
        now = share(answer.cross_weight_now) if answer.cross_weight_now is not None else "not weighed"
        value = [f"{now} → ", html.B(share(answer.cross_weight_after.mean))]
        facts = [fact("Cross-weight", value, [share_range(answer.cross_weight_after), html.Br(), wanted])]
    else:
        facts = [fact("Cross-weight", "unknown", ["weigh all four wheels once", html.Br(), wanted])]
    if target.heights or target.ends or target.cross_weight is not None:
        inside = "expected inside all tolerances" if answer.reachable else "expected outside a tolerance"
        facts.append(
            fact("Chance to land inside all targets", html.B(odds(answer.probability_in_tolerance)), inside)
        )
    for end, height in target.ends.items():
        means = [answer.corners[c].height_after.mean for c in SIDES[end]]
        value = html.B(shop_length(sum(means) / 2, truck.units))
        facts.append(
            fact(f"{END_WORDS[end]} height, mean", value, f"target {shop_length(height, truck.units)}")
        )
    return html.Dl(facts, className="facts")


def notes(answer: Adjustment) -> Component:
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
        head = html.P("A reading would help more than turning:", className="strong")
        parts.append(html.Div([head, html.P(answer.next_reading.text)], className="note plain"))
    return html.Div(parts)


def moved(turns: float, ways: int, room_: Room) -> float:
    """Turns a step further, held in the thread's room."""
    low, high, step = room_
    return min(max(turns + ways * step, low), high)


# ---------------------------------------------------------------- callbacks


def try_turns(turns: list[float], where: list[dict[str, str]], store: dict[str, Any]) -> tuple[Any, ...]:
    """What to expect of the sliders' turns."""
    fit = source().question(store["truck"]).fit
    chosen = {place["corner"]: float(value) for place, value in zip(where, turns, strict=True)}
    answer = predict(fit, chosen, draws=TRIAL_DRAWS)
    return (
        overall(answer, fit.truck),
        notes(answer),
        [outcome(c, fit.truck, answer.corners[c]) for c in CORNERS],
        [turns_text(value) for value in chosen.values()],
        [spoken(value) for value in chosen.values()],
    )


def set_turns(
    _up: Any, _down: Any, _reset: Any, turns: list[float], where: list[dict[str, str]], store: dict[str, Any]
) -> list[float]:
    """A step of one nut, or all back to the advised turns."""
    chosen = {place["corner"]: float(value) for place, value in zip(where, turns, strict=True)}
    which = ctx.triggered_id
    if which == "adjust-reset":
        return [store["advised"][corner] for corner in chosen]
    corner, ways = which["corner"], 1 if which["type"] == "adjust-down" else -1
    chosen[corner] = moved(chosen[corner], ways, store["rooms"][corner])
    return list(chosen.values())


def register(app: dash.Dash) -> None:
    """Put the page at its address and wire it."""
    dash.register_page("adjust", path="/adjust", title="Adjust", layout=layout)
    app.callback(
        Output("adjust-overall", "children"),
        Output("adjust-notes", "children"),
        Output(_id("out", ALL), "children"),
        Output(_id("words", ALL), "children"),
        Output(_id("slider", ALL), "attributes"),
        Input(_id("slider", ALL), "value"),
        State(_id("slider", ALL), "id"),
        State("adjust-store", "data"),
        prevent_initial_call=True,
    )(try_turns)
    app.callback(
        Output(_id("slider", ALL), "value"),
        Input(_id("up", ALL), "n_clicks"),
        Input(_id("down", ALL), "n_clicks"),
        Input("adjust-reset", "n_clicks"),
        State(_id("slider", ALL), "value"),
        State(_id("slider", ALL), "id"),
        State("adjust-store", "data"),
        prevent_initial_call=True,
    )(set_turns)
