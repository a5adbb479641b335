"""Which springs instead: a list of springs in, what is asked for, and every stack ranked."""

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboard.help import help_fold
from dashboard.pages.home import choose as choose_truck
from dashboard.shell import Component, address, guarded, one, sentence, tabs
from dashboard.source import source
from dashboard.spring_answer import answer_parts, register_answer
from dashboard.spring_form import (
    FIELDS,
    Asked,
    coilover_ends,
    practice_words,
    read_windows,
)
from dashboard.spring_list import list_parts, register_list
from dashboard.words import END_WORDS
from tuning.report.shared import CAUTION
from tuning.truck import Truck
from tuning.units import System, unit_in

SUGGESTED = 40  # names that a field offers at once


# ---------------------------------------------------------------- layout


@guarded
def layout(truck: Any = None, end: Any = None, **_: object) -> Component:
    """The springs of a truck's end."""
    name = one(truck)
    if name is None:
        return html.Div([choose_truck("springs"), html.Div(_fixed("", "front", None), hidden=True)])
    built = source().question(name).truck
    ends = coilover_ends(built)
    which = one(end) or (ends[0] if ends else "front")
    head = [tabs(name, "springs"), html.H1("Springs"), help_fold("springs")]
    if which not in ends:
        there = " or ".join(ends)
        text = f"The {which[:20]} has no coilovers, so there are no springs to choose."
        link = html.P(
            [dcc.Link(END_WORDS[e], href=address("springs", truck=name, end=e), className="go") for e in ends]
        )
        return html.Div([*head, sentence(f"{text} Look at the {there}." if ends else text), link])
    return html.Div([*head, *_ends(name, which, ends), *_fixed(name, which, built)])


def _ends(name: str, here: str, ends: list[str]) -> list[Component]:
    if len(ends) == 1:
        return [html.P(f"{END_WORDS[here]} end: the other has no coilovers.", className="more")]
    links = [
        html.Li(
            dcc.Link(
                END_WORDS[end],
                href=address("springs", truck=name, end=end),
                className="tab here" if end == here else "tab",
            )
        )
        for end in ends
    ]
    return [html.Nav(html.Ul(links), className="tabs", **{"aria-label": "End"})]


def _fixed(name: str, end: str, truck: Truck | None) -> list[Component]:
    """What the callbacks know by name."""
    system: System = truck.units if truck else "us"
    return [
        dcc.Store(id="springs-where", data={"truck": name, "end": end}),
        *(dcc.Store(id=f"springs-{what}") for what in ("lost", "asked")),
        *list_parts(name),
        *_wishes(f"{name} {end}", system, practice_words(truck) if truck else {}),
        *answer_parts(),
        *_why_fields(),
        sentence(CAUTION, "warn"),
    ]


def _wishes(key: str, system: System, practice: dict[str, str]) -> list[Component]:
    def window(name: str, label: str, unit: str) -> Component:
        fields = [
            dmc.TextInput(
                id=f"springs-{name}-{end}",
                label=f"{end} ({unit})",
                value="",
                autoComplete="off",
                debounce=600,
                persistence=key,
                persistence_type="local",
            )
            for end in ("least", "most")
        ]
        words = html.P(practice.get(name, ""), className="more")
        return html.Fieldset([html.Legend(label), words, html.Div(fields, className="pair")])

    box = {"checked": False, "persistence": key, "persistence_type": "local", "mb": "xs"}
    boxes = [
        dmc.Checkbox(id="springs-ring-stays", label="The stop ring stays where it is", **box),
        dmc.Checkbox(id="springs-sides-differ", label="Left and right may wear different springs", **box),
    ]
    windows = [
        window("frequency", "Ride frequency", "Hz"),
        window("crossover", "Crossover height: slider on its ring", unit_in("length", system)),
    ]
    return [html.H2("What is asked for"), html.Div(windows, className="asks"), html.Div(boxes)]


def _why_fields() -> list[Component]:
    def field(place: str, label: str) -> Component:
        return dmc.Autocomplete(
            id=f"springs-{place}",
            label=label,
            data=[],
            limit=SUGGESTED,
            value="",
            debounce=300,
            maxDropdownHeight=260,
        )

    fields = [
        field("upper", "Upper, empty for a single spring"),
        field("lower", "Lower, or the single spring"),
    ]
    return [
        html.Section(
            [
                html.H2("Why not …?"),
                html.Div(fields, className="pair"),
                html.Div(id="springs-line", role="status"),
            ],
            id="springs-why",
            hidden=True,
        )
    ]


# ---------------------------------------------------------------- callbacks


def ask(*values: Any) -> tuple[Any, ...]:
    """What is asked for, or what is wrong at which field; then all else stays as it is."""
    *texts, ring_stays, sides_differ, where = values
    if not where["truck"]:
        raise PreventUpdate
    windows, wrong = read_windows(
        dict(zip(FIELDS, texts, strict=True)), source().question(where["truck"]).truck
    )
    asked = Asked(**windows, ring_moves=not ring_stays, alike=not sides_differ).data
    return (*[wrong.get(field) for field in FIELDS], no_update if wrong else asked)


def register(app: dash.Dash) -> None:
    """Put the page at its address and wire it."""
    dash.register_page("springs", path="/springs", title="Springs", layout=layout)
    register_list(app)
    register_answer(app)
    app.callback(
        *[Output(f"springs-{field}", "error") for field in FIELDS],
        Output("springs-asked", "data"),
        *[Input(f"springs-{field}", "value") for field in FIELDS],
        Input("springs-ring-stays", "checked"),
        Input("springs-sides-differ", "checked"),
        State("springs-where", "data"),
    )(ask)
