"""The fields of a truck that is there, part by part in folds. What is typed stays in the browser until it is saved."""

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, MATCH, Input, Output, State, html
from dash.exceptions import PreventUpdate

from dashboard.shell import Component
from dashboard.source import source
from dashboard.truck_checks import At
from dashboard.truck_edited import edit_faults, shown
from dashboard.truck_form import Form, inputs, stage, wire
from dashboard.truck_parts import EVERY_STEP, OTHER_STACKS, Step
from dashboard.truck_written import Typed

_LARGE = ("coilover", "cycle")  # steps by their drawing, whose many fields come when their fold is opened
_TARGETS = next(n for n, step in enumerate(EVERY_STEP) if step.title == "What you want")


def form_of(name: str, version: int, toml: str) -> Form:
    """The form of a truck as one of its versions has it."""
    kept = {"persistence": f"{name} {version}", "persistence_type": "local"}
    return Form("truck", shown(toml), kept, changes=True)


def targets(form: Form) -> list[Component]:
    """What is wanted, open to be changed."""
    return _part(form, _TARGETS)


def folds(form: Form) -> list[Component]:
    """Everything else, a fold for each part."""
    return [_fold(form, n, step) for n, step in enumerate(EVERY_STEP) if n != _TARGETS]


def _fold(form: Form, number: int, step: Step) -> Component:
    late = step.drawing in _LARGE
    wait = html.P("A moment …", className="more")
    return html.Details(
        [
            html.Summary(step.title, id={"type": "truck-open", "n": number}),
            html.Div(wait if late else _part(form, number), id={"type": "truck-part", "n": number}),
        ],
        className=f"fold part of-{step.end}",
    )


def _part(form: Form, number: int) -> list[Component]:
    step = EVERY_STEP[number]
    if step is OTHER_STACKS:  # those that there are, and room for one more
        known = sum(any(form.shown[field.key] for field in group.fields) for group in step.groups)
        step = step._replace(groups=step.groups[: known + 1])
    return [stage(form, step), _see(number)]


def _see(number: int) -> Component:
    return dmc.Button("See what changes", id={"type": "truck-see", "n": number})


# ---------------------------------------------------------------- callbacks


def toml_of(store: dict[str, Any]) -> str:
    """The version that the page was drawn from."""
    return {v.id: v.toml for v in source().log.truck_versions(store["truck"])}[store["base"]]


def unfold(clicks: int | None, id_: dict[str, Any], store: dict[str, Any]) -> Component:
    """The fields of a fold when it is first opened."""
    step = EVERY_STEP[id_["n"]]
    if clicks != 1 or step.drawing not in _LARGE:
        raise PreventUpdate
    return _part(form_of(store["truck"], store["base"], toml_of(store)), id_["n"])


def check(typed: Typed, store: dict[str, Any]) -> At:
    """What would be wrong at each field."""
    return edit_faults(toml_of(store), typed)[0] if typed else {}


def full(typed: Typed, store: dict[str, Any]) -> Typed:
    """What stands in every field, also in those whose fold was never opened."""
    return shown(toml_of(store)) | dict(typed)


def register(app: dash.Dash) -> None:
    """Wire it."""
    wire(app, "truck", check, full, State("truck-store", "data"))
    app.callback(
        Output({"type": "truck-part", "n": MATCH}, "children"),
        Input({"type": "truck-open", "n": MATCH}, "n_clicks"),
        State({"type": "truck-open", "n": MATCH}, "id"),
        State("truck-store", "data"),
        prevent_initial_call=True,
    )(unfold)


SEE = Input({"type": "truck-see", "n": ALL}, "n_clicks")
FORM = inputs("truck", only_read=True)
TYPED = inputs("truck")[:3]
