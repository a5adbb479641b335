"""A truck's home: what it is, what is wanted of it, its file and versions. A change is looked at before it is saved."""

from collections.abc import Sequence
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboard import downloads, truck_readings
from dashboard.help import help_fold
from dashboard.pages.home import choose
from dashboard.phone import phone_card
from dashboard.shell import Component, address, guarded, one, said, sentence, tabs
from dashboard.source import source
from dashboard.truck_cards import faults_list, history, preview, run_line, summary
from dashboard.truck_changes import Proposal, proposal
from dashboard.truck_fields import TARGETS, by_field, texts, unit_of, values
from tuning.faults import InputError
from tuning.log.database import LogError
from tuning.log.store import TruckVersion
from tuning.tableedit import MOST_BLOCK, with_stacks, with_values
from tuning.truck import Truck
from tuning.truckfile import MAX_FILE
from tuning.units import System

MOST_REASON = 300

# ---------------------------------------------------------------- layout


@guarded
def layout(truck: Any = None, stack_toml: Any = None, saved: Any = None, **_: object) -> Component:
    """A truck. stack_toml: a [[stacks]] block to add, from another page's link; saved: a version to speak of."""
    name = one(truck)
    if name is None:
        return html.Div(
            [
                choose("truck"),
                html.Div([*_editors("", "us", 0, {}, ""), *_saving(), *truck_readings.parts()], hidden=True),
            ]
        )
    shelf = source().question(name).shelf
    versions = source().log.truck_versions(name)
    latest, built = versions[-1], shelf.truck
    last = shelf.runs[-1].name if shelf.runs else ""
    shown = texts(latest.toml, TARGETS)
    return html.Div(
        [
            tabs(name, "truck"),
            html.H1(name),
            *_said_saved(one(saved), versions),
            run_line(name, len(shelf.runs), last),
            help_fold("truck"),
            html.H2("What it is"),
            *summary(built),
            html.Div(
                [
                    *_editors(latest.toml, built.units, latest.id, shown, one(stack_toml) or "", name),
                    *_saving(),
                ],
                className="writes",
            ),
            html.H2("Files"),
            downloads.links(name),
            *truck_readings.parts(),
            html.H2("Versions"),
            html.P(
                "Nothing is rewritten: each run is read against the truck as it was then.", className="more"
            ),
            history(name, versions),
            phone_card(address("truck", truck=name)),
        ]
    )


def _said_saved(saved: str | None, versions: Sequence[TruckVersion]) -> list[Component]:
    place = next((n for n, v in enumerate(versions, 1) if str(v.id) == saved), None)
    return [] if place is None else [sentence(f"Version {place} is saved.", "good", role="status")]


def _editors(
    toml: str, system: System, base: int, targets: dict[str, str], block: str, name: str = ""
) -> list[Component]:
    """Targets, another stack, the file itself. What is typed stays in the browser until this version is replaced."""
    kept = {"persistence": f"{name} {base}", "persistence_type": "local"}
    fields = [
        dmc.TextInput(
            id={"type": "truck-target", "key": field.key},
            label=f"{field.label} ({unit_of(field, system)})",
            value=targets.get(field.key, ""),
            autoComplete="off",
            **kept,
        )
        for field in TARGETS
    ]
    too_long = len(block) > MOST_BLOCK
    problem = f"The stack in this page's address is longer than {MOST_BLOCK} characters and was left out."
    return [
        dcc.Store(id="truck-store", data={"truck": name, "base": base}),
        html.H2("Targets"),
        html.P("What is left empty is free. Fractions are fine: 22 1/2.", className="more"),
        html.Div(fields, className="targets"),
        dmc.Button("See what changes", id="truck-set-targets"),
        html.Details(
            [
                html.Summary("Add a stack that readings may name"),
                *([sentence(problem)] if too_long else []),
                dmc.Textarea(
                    id="truck-stack",
                    label="Stack, as the truck file has it",
                    value="" if too_long else block,
                    autosize=True,
                    minRows=4,
                    maxRows=14,
                    spellCheck=False,
                    classNames={"input": "code"},
                    **({} if block else kept),
                ),
                html.Details(
                    [
                        html.Summary("What a stack looks like"),
                        html.Pre(_STACK, tabIndex="0", role="group", **{"aria-label": "Example"}),
                    ]
                ),
                dmc.Button("See what changes", id="truck-add-stack"),
            ],
            open=bool(block),
            className="fold",
        ),
        html.Details(
            [
                html.Summary("The whole truck file"),
                dmc.Textarea(
                    id="truck-raw",
                    label="Truck file (TOML)",
                    description="Notes after # stay. Errors name the line.",
                    value=toml,
                    autosize=True,
                    minRows=12,
                    maxRows=30,
                    spellCheck=False,
                    classNames={"input": "code"},
                    **kept,
                ),
                dmc.Button("Check and see what changes", id="truck-set-raw"),
            ],
            className="fold",
        ),
    ]


_STACK = """[[stacks]]
name = "250 over 300"
ring_gap = "3 in"
upper = { rate = "250 lbf/in", free_length = "14 in", solid_length = "5.5 in" }
lower = { rate = "300 lbf/in", free_length = "16 in", solid_length = "6.4 in" }"""


def _saving() -> list[Component]:
    """The change as it would be saved; empty and hidden until there is one."""
    return [
        dcc.Location(id="truck-goto", refresh="callback-nav"),
        dcc.Store(id="truck-proposal"),
        html.Section(
            [
                html.Div(id="truck-preview", role="status"),
                html.Div(
                    [
                        dmc.TextInput(id="truck-reason", label="Reason (may be left empty)", value=""),
                        html.Button("Save as a new version", id="truck-save", className="do", type="button"),
                    ],
                    id="truck-save-box",
                    hidden=True,
                ),
                html.Div(id="truck-answer", role="alert"),
            ],
            className="change",
            id="truck-change",
        ),
    ]


# ---------------------------------------------------------------- callbacks


def look(
    _targets: Any,
    _stack: Any,
    _raw: Any,
    again: list[Any],
    typed: list[str | None],
    block: str | None,
    raw: str | None,
    store: dict[str, Any],
) -> tuple[Any, ...]:
    """What the change that was asked for would do: words, the text to save, whether it can't be, errors at fields."""
    which = ctx.triggered_id
    if isinstance(which, dict) and not any(again):
        raise PreventUpdate  # the buttons have only just been drawn
    clear = [None] * len(TARGETS)
    versions = {v.id: v.toml for v in source().log.truck_versions(store["truck"])}
    before = versions[store["base"]]
    try:
        text = _text(
            which, before, versions, typed, block or "", raw or "", source().question(store["truck"]).truck
        )
    except InputError as error:
        return faults_list(error.faults, "This can't be saved yet."), None, True, clear, ""
    proposed = proposal(text, before, store["truck"])
    errors = clear
    if which == "truck-set-targets":
        found = by_field(proposed.faults, TARGETS)
        errors = [found.get(field.key) for field in TARGETS]
    return preview(proposed), _kept(proposed), not proposed.ready, errors, ""


def _text(
    which: Any, before: str, versions: dict[int, str], typed: list[Any], block: str, raw: str, truck: Truck
) -> str:
    if isinstance(which, dict):
        return versions[which["version"]]
    if which == "truck-set-targets":
        fields = {f.key: str(v or "") for f, v in zip(TARGETS, typed, strict=True)}
        return with_values(before, values(fields, texts(before, TARGETS), TARGETS, truck.units))
    if which == "truck-add-stack":
        return with_stacks(before, block)
    return raw[: MAX_FILE + 1]


def _kept(proposed: Proposal) -> dict[str, str] | None:
    return {"text": proposed.text} if proposed.ready else None


def save(_: Any, kept: dict[str, str] | None, reason: str | None, store: dict[str, Any]) -> tuple[Any, Any]:
    """Save what was looked at, once; then the truck as it is now."""
    if not kept:
        raise PreventUpdate
    name, log = store["truck"], source().log
    try:
        before = {v.id: v.toml for v in log.truck_versions(name)}[store["base"]]
        proposed = proposal(kept["text"], before, name)
        if not proposed.ready:
            return preview(proposed), no_update
        note = " ".join((reason or "").split())[:MOST_REASON]
        version = log.save_truck(name, proposed.text, note, after=store["base"])
    except (LogError, InputError) as error:
        return sentence(said(error)), no_update
    return "", address("truck", truck=name, saved=str(version))


def register(app: dash.Dash) -> None:
    """Put the page at its address and wire it."""
    dash.register_page("truck", path="/truck", title="Truck", layout=layout)
    downloads.register(app)
    app.callback(
        Output("truck-preview", "children"),
        Output("truck-proposal", "data"),
        Output("truck-save-box", "hidden"),
        Output({"type": "truck-target", "key": ALL}, "error"),
        Output("truck-answer", "children", allow_duplicate=True),
        Input("truck-set-targets", "n_clicks"),
        Input("truck-add-stack", "n_clicks"),
        Input("truck-set-raw", "n_clicks"),
        Input({"type": "truck-again", "version": ALL}, "n_clicks"),
        State({"type": "truck-target", "key": ALL}, "value"),
        State("truck-stack", "value"),
        State("truck-raw", "value"),
        State("truck-store", "data"),
        prevent_initial_call=True,
    )(look)
    app.callback(
        Output("truck-answer", "children"),
        Output("truck-goto", "href"),
        Input("truck-save", "n_clicks"),
        State("truck-proposal", "data"),
        State("truck-reason", "value"),
        State("truck-store", "data"),
        prevent_initial_call=True,
    )(save)
    app.clientside_callback(
        ClientsideFunction("truck", "show"),
        Output("truck-change", "title"),
        Input("truck-preview", "children"),
        prevent_initial_call=True,
    )
    truck_readings.register(app)
