"""The steps of a new truck as a form. Values stay in the browser; checks are the truck file's own."""

from typing import Any

import dash
from dash import ALL, ClientsideFunction, Input, Output, State, html, no_update

from dashboard.shell import Component
from dashboard.truck_checks import At, new_faults
from dashboard.truck_form import Form, faults_said, inputs, stage, typed_of, wire
from dashboard.truck_parts import STEPS
from dashboard.truck_written import Typed, written

_FORM = Form("new", {}, {"persistence": "new truck by steps", "persistence_type": "local"}, changes=False)


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
    back = [html.Button("Back", id=_go(number - 1, f"back {number}"), type="button", className="minor")]
    on = [html.Button("Next", id=_go(number + 1, f"next {number}"), type="button", className="minor")]
    skip = [
        html.P("This step may be left as it is: common practice stands for what is empty.", className="more")
    ]
    return html.Section(
        [
            html.H2(f"{number} of {len(STEPS)}: {step.title}"),
            *(skip if step.may_skip else []),
            stage(_FORM, step),
            html.Div([*(back if number > 1 else []), *(on if number < len(STEPS) else [])], className="ends"),
        ],
        id={"type": "new-step", "n": number},
        hidden=number > 1,
        className=f"guide-step of-{step.end}",
    )


# ---------------------------------------------------------------- callbacks


def check(typed: Typed, _: Any) -> At:
    """What is wrong at the fields that were filled in."""
    return new_faults(typed, strict=False)[0]


def write(
    _: Any, values: Any, kinds: Any, aparts: Any, ids: Any, kind_ids: Any, apart_ids: Any
) -> tuple[Any, ...]:
    """The truck file into the box below, or what is still missing, at its fields and as a list."""
    typed = typed_of([*values, *kinds, *aparts], [*ids, *kind_ids, *apart_ids])
    found, others = new_faults(typed, strict=True)
    errors = [found.get(one["key"]) for one in ids]
    if not found and not others:
        done = "The truck file is in the box below: look it over, then save this truck."
        return html.P(done, className="note good"), errors, written(typed)
    return faults_said(found, others, numbered=True), errors, no_update


def register(app: dash.Dash) -> None:
    """Wire it."""
    wire(app, "new", check, lambda typed, _: typed, State("new-text", "id"))
    app.callback(
        Output("new-steps-said", "children"),
        Output({"type": "new-field", "key": ALL}, "error", allow_duplicate=True),
        Output("new-text", "value", allow_duplicate=True),
        Input("new-write", "n_clicks"),
        *inputs("new", only_read=True),
        prevent_initial_call=True,
    )(write)
    app.clientside_callback(
        ClientsideFunction("truck", "step"),
        Output({"type": "new-step", "n": ALL}, "hidden"),
        Output({"type": "new-go", "to": ALL, "at": "top"}, "className"),
        Input({"type": "new-go", "to": ALL, "at": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )
