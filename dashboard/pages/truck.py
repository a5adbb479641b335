"""A truck's home: what it is, what is wanted of it, its file and versions. A change is looked at before it is saved."""

from collections.abc import Mapping, Sequence
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboard import downloads, truck_edit, truck_readings
from dashboard.help import help_fold
from dashboard.pages.home import choose
from dashboard.phone import phone_card
from dashboard.shell import Component, address, guarded, one, said, sentence, tabs
from dashboard.source import source
from dashboard.truck_cards import faults_list, history, preview, run_line, summary
from dashboard.truck_changes import Proposal, proposal
from dashboard.truck_edited import edit_faults, edited
from dashboard.truck_form import faults_said, typed_of
from tuning.faults import InputError
from tuning.log.database import LogError
from tuning.log.store import TruckVersion
from tuning.tableedit import MOST_BLOCK, with_stacks
from tuning.truckfile import MAX_FILE, truck_template

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
                html.Div(
                    [*_editors(truck_template(), 0, ""), *_saving(), *truck_readings.parts()], hidden=True
                ),
            ]
        )
    shelf = source().question(name).shelf
    versions = source().log.truck_versions(name)
    latest, built = versions[-1], shelf.truck
    last = shelf.runs[-1].name if shelf.runs else ""
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
                    *_editors(latest.toml, latest.id, one(stack_toml) or "", name),
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


def _editors(toml: str, base: int, block: str, name: str = "") -> list[Component]:
    """What is wanted, every part, another stack, the file itself. What is typed stays in the browser until this
    version is replaced."""
    form = truck_edit.form_of(name, base, toml)
    return [
        dcc.Store(id="truck-store", data={"truck": name, "base": base}),
        html.H2("Targets"),
        html.P("Fractions are fine: 22 1/2.", className="more"),
        *truck_edit.targets(form),
        html.H2("Change the truck"),
        html.P("Open what you measured anew. Notes in the truck file stay.", className="more"),
        *truck_edit.folds(form),
        *_by_hand(toml, block, form.kept),
    ]


def _by_hand(toml: str, block: str, kept: Mapping[str, str]) -> list[Component]:
    """A stack that another page's link brought, and the whole file."""
    too_long = len(block) > MOST_BLOCK
    problem = f"The stack in this page's address is longer than {MOST_BLOCK} characters and was left out."
    return [
        html.Details(
            [
                html.Summary("Add this stack, which readings may then name"),
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
                dmc.Button("See what changes", id="truck-add-stack"),
            ],
            open=True,
            hidden=not block,
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
    seen: list[Any],
    _stack: Any,
    _raw: Any,
    again: list[Any],
    block: str | None,
    raw: str | None,
    store: dict[str, Any],
    values: list[Any],
    kinds: list[Any],
    aparts: list[Any],
    ids: list[dict[str, str]],
    kind_ids: list[dict[str, str]],
    apart_ids: list[dict[str, str]],
) -> tuple[Any, ...]:
    """What the change that was asked for would do: words, the text to save, whether it can't be, errors at fields."""
    which = ctx.triggered_id
    if isinstance(which, dict) and not any([*seen, *again]):
        raise PreventUpdate  # the buttons have only just been drawn
    versions = {v.id: v.toml for v in source().log.truck_versions(store["truck"])}
    before = versions[store["base"]]
    errors: list[str | None] = [None] * len(ids)
    try:
        if isinstance(which, dict) and which["type"] == "truck-see":
            typed = typed_of([*values, *kinds, *aparts], [*ids, *kind_ids, *apart_ids])
            found, others = edit_faults(before, typed)
            errors = [found.get(one["key"]) for one in ids]
            if found or others:
                return faults_said(found, others), None, True, errors, ""
            text = edited(before, typed)
        elif isinstance(which, dict):
            text = versions[which["version"]]
        else:
            text = (
                with_stacks(before, block or "")
                if which == "truck-add-stack"
                else (raw or "")[: MAX_FILE + 1]
            )
    except InputError as error:
        return faults_list(error.faults, "This can't be saved yet."), None, True, errors, ""
    proposed = proposal(text, before, store["truck"])
    return preview(proposed), _kept(proposed), not proposed.ready, errors, ""


def _kept(proposed: Proposal) -> dict[str, str] | None:
    return {"text": proposed.text} if proposed.ready else None


def save(_: Any, kept: dict[str, str] | None, reason: str | None, store: dict[str, Any]) -> tuple[Any, Any]:
    """Save what was looked at, once; then the truck as it is now."""
    if not kept:
        raise PreventUpdate
    name, log = store["truck"], source().log
    try:
        before = truck_edit.toml_of(store)
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
    truck_edit.register(app)
    app.callback(
        Output("truck-preview", "children"),
        Output("truck-proposal", "data"),
        Output("truck-save-box", "hidden"),
        Output({"type": "truck-field", "key": ALL}, "error", allow_duplicate=True),
        Output("truck-answer", "children", allow_duplicate=True),
        truck_edit.SEE,
        Input("truck-add-stack", "n_clicks"),
        Input("truck-set-raw", "n_clicks"),
        Input({"type": "truck-again", "version": ALL}, "n_clicks"),
        State("truck-stack", "value"),
        State("truck-raw", "value"),
        State("truck-store", "data"),
        *truck_edit.FORM,
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
        ClientsideFunction("truck", "typed"),
        Output("truck-preview", "children", allow_duplicate=True),
        Output("truck-proposal", "data", allow_duplicate=True),
        Output("truck-save-box", "hidden", allow_duplicate=True),
        *truck_edit.TYPED,
        State("truck-proposal", "data"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("truck", "show"),
        Output("truck-change", "title"),
        Input("truck-preview", "children"),
        prevent_initial_call=True,
    )
    truck_readings.register(app)
