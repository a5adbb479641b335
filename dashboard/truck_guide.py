"""The steps of a new truck as a form. Values stay in the browser; checks are the truck file's own."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Input, Output, State, html, no_update

from dashboard.shell import Component, fact
from dashboard.truck_cards import faults_list
from dashboard.truck_drawings import drawing
from dashboard.truck_fields import Field, unit_of
from dashboard.truck_steps import (
    FIELDS,
    KINDS,
    STEPS,
    Group,
    faults,
    kind_key,
    pairs,
    stack_of,
    system_of,
    written,
)
from tuning.stack import compliances
from tuning.truck import END_NAMES, Stack
from tuning.units import System, shop_length, shop_load, shop_rate

_KEPT = {"persistence": "new truck by steps", "persistence_type": "local"}
KEYS = tuple(field.key for field in FIELDS)


def guide() -> list[Component]:
    """All steps, the first one showing."""
    top = [
        html.Li(html.Button(f"{n}. {step.title}", id=_go(n, "top"), type="button", className="tab"))
        for n, step in enumerate(STEPS, 1)
    ]
    return [
        html.Nav(html.Ol(top, className="steps-list"), **{"aria-label": "Steps"}),
        *(_step(n) for n in range(1, len(STEPS) + 1)),
        html.Div(
            html.Button("Put the truck file together", id="new-write", type="button", className="do"),
            className="ends",
        ),
        html.Div(id="new-steps-said", role="alert"),
    ]


def _go(to: int, place: str) -> dict[str, Any]:
    return {"type": "new-go", "to": to, "at": place}


def _step(number: int) -> Component:
    step = STEPS[number - 1]
    end = step.parts[0].fields[0].path[0]
    kind = [_kind(str(end))] if step.drawing == "axle" else []
    bare = html.P("No shock and nut at this end: go on.", className="only leaf")
    figures = [bare] if step.drawing == "coilover" else []
    figures += [html.Div(id={"type": "new-figures", "step": number}, role="status")]
    back = [html.Button("Back", id=_go(number - 1, f"back {number}"), type="button", className="minor")]
    on = [html.Button("Next", id=_go(number + 1, f"next {number}"), type="button", className="minor")]
    return html.Section(
        [
            html.H2(f"{number} of {len(STEPS)}: {step.title}"),
            html.Div(
                [drawing(step.drawing), html.Div([*kind, *map(_group, step.parts), *figures])],
                className="stage",
            ),
            html.Div([*(back if number > 1 else []), *(on if number < len(STEPS) else [])], className="ends"),
        ],
        id={"type": "new-step", "n": number},
        hidden=number > 1,
        className=f"guide-step of-{end}",
    )


def _kind(end: str) -> Component:
    kinds = {key: words for key, words in KINDS.items() if end == "rear" or key != "same"}
    return dmc.RadioGroup(
        dmc.Stack([dmc.Radio(label=words, value=key) for key, words in kinds.items()], gap="xs"),
        id={"type": "new-kind", "end": end},
        label="What stands between frame and axle",
        value="coilover",
        mb="sm",
        **_KEPT,
    )


def _group(group: Group) -> Component:
    title = [html.Legend(group.title)] if group.title else []
    name = f"only {group.only}" if group.only else ""
    return html.Fieldset(
        [*title, html.Div([_field(f) for f in group.fields], className="targets")], className=name
    )


def _field(field: Field) -> Component:
    id_ = {"type": "new-field", "key": field.key}
    if not field.kind and " " in field.help and field.help == field.help.lower():
        choices = [{"value": word, "label": word} for word in field.help.split()]
        first = choices[0]["value"] if field.path[-1] in ("units", "axle") else None
        return dmc.Select(
            id=id_, label=field.label, data=choices, value=first, clearable=first is None, **_KEPT
        )
    return dmc.TextInput(
        id=id_,
        label=_label(field, "us"),
        description=field.help or None,
        value="",
        autoComplete="off",
        debounce=True,
        inputWrapperOrder=["label", "input", "description", "error"],
        **_KEPT,
    )


def _label(field: Field, system: System) -> str:
    """With the unit that a bare figure is taken in."""
    unit = unit_of(field, system)
    return f"{field.label} ({unit})" if unit else field.label


# ---------------------------------------------------------------- what appears


def figures(typed: dict[str, str], number: int) -> Component:
    """What follows from a step's fields so far: motion ratio and travel, or the stack's own figures. Pure."""
    step = STEPS[number - 1]
    end = str(step.parts[0].fields[0].path[0])
    system = system_of(typed)
    if step.drawing == "cycle":
        return _cycle_figures(pairs(typed, end), system)
    if step.drawing == "coilover" and (stack := stack_of(typed, end)):
        return _stack_figures(stack, system)
    return ""


def _cycle_figures(found: list[tuple[float, float]], system: System) -> Component:
    if len({height for height, _ in found}) < 2:
        return html.P("Motion ratio and travel appear with the second row.", className="more")
    rows = []
    for (low, shaft_low), (high, shaft_high) in pairwise(found):
        if high > low:
            between = f"{shop_length(low, system)} to {shop_length(high, system)}"
            rows.append(fact(between, f"motion ratio {(shaft_high - shaft_low) / (high - low):.2f}"))
    travel = found[-1][0] - found[0][0]
    shaft = found[-1][1] - found[0][1]
    whole = fact(
        "Travel", shop_length(travel, system), f" of the axle; {shop_length(shaft, system)} of shaft"
    )
    return html.Dl([whole, *rows], className="facts wide")


def _stack_figures(stack: Stack, system: System) -> Component:
    rates = compliances(stack)
    soft = 1 / float(rates.sum())
    rows = [fact("Rate, all springs at work" if stack.upper else "Rate", shop_rate(soft, system))]
    if stack.free_length is not None:
        rows.append(fact("Free length in all", shop_length(stack.free_length, system)))
    solid = sum(spring.travel_to_solid for spring in stack.springs)
    if solid < float("inf"):
        rows.append(fact("Travel to coil bind", shop_length(solid, system)))
    if stack.upper is not None and stack.ring_gap is not None:
        rows.append(fact("Rate, slider on its ring", shop_rate(stack.lower.rate, system)))
        force = shop_load(stack.upper.rate * stack.ring_gap, system)
        rows.append(fact("Slider meets its ring at", force, " on the stack, without preload"))
    return html.Dl(rows, className="facts wide")


# ---------------------------------------------------------------- callbacks


def _typed(values: Sequence[Any], kinds: Sequence[Any]) -> dict[str, str]:
    fields = {key: str(value or "") for key, value in zip(KEYS, values, strict=True)}
    return fields | {kind_key(end): str(kind or "") for end, kind in zip(END_NAMES, kinds, strict=True)}


def look(values: Sequence[Any], kinds: Sequence[Any]) -> tuple[Any, ...]:
    """Errors at the fields that were filled in, the units that bare figures are in, and the figures that follow."""
    typed = _typed(values, kinds)
    found, _ = faults(typed, strict=False)
    labels = [_label(field, system_of(typed)) for field in FIELDS]
    return [found.get(key) for key in KEYS], labels, [figures(typed, n) for n in range(1, len(STEPS) + 1)]


def write(_: Any, values: Sequence[Any], kinds: Sequence[Any]) -> tuple[Any, ...]:
    """The truck file into the box below, or what is still missing, at its fields and as a list."""
    typed = _typed(values, kinds)
    found, others = faults(typed, strict=True)
    errors = [found.get(key) for key in KEYS]
    if not found and not others:
        done = "The truck file is in the box below: look it over, then save this truck."
        return html.P(done, className="note good"), errors, written(typed)
    items = [html.Li([html.B(f"{_place(key)}: "), text]) for key, text in found.items()]
    words = [html.P("Not yet.", className="strong"), html.Ul(items)]
    said = [html.Div(words, className="note bad")] if items else []
    return [*said, *([faults_list(others, "Also:")] if others else [])], errors, no_update


def _place(key: str) -> str:
    for number, step in enumerate(STEPS, 1):
        for group in step.parts:
            for field in group.fields:
                if field.key == key:
                    return f"Step {number}, {field.label}"
    return key


def register(app: dash.Dash) -> None:
    """Wire it."""
    field, kind = {"type": "new-field", "key": ALL}, {"type": "new-kind", "end": ALL}
    app.callback(
        Output(field, "error"),
        Output(field, "label"),
        Output({"type": "new-figures", "step": ALL}, "children"),
        Input(field, "value"),
        Input(kind, "value"),
    )(look)
    app.callback(
        Output("new-steps-said", "children"),
        Output(field, "error", allow_duplicate=True),
        Output("new-text", "value", allow_duplicate=True),
        Input("new-write", "n_clicks"),
        State(field, "value"),
        State(kind, "value"),
        prevent_initial_call=True,
    )(write)
    app.clientside_callback(
        ClientsideFunction("truck", "step"),
        Output({"type": "new-step", "n": ALL}, "hidden"),
        Output({"type": "new-go", "to": ALL, "at": "top"}, "className"),
        Input({"type": "new-go", "to": ALL, "at": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )
