"""The fields of a truck as a form: drawing beside groups of fields, cycle tables that grow, left and right apart.

Used alike where a truck is made and where one is changed. Pure but for `wire`.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, html

from dashboard.shell import Component
from dashboard.truck_cards import faults_list
from dashboard.truck_checks import At
from dashboard.truck_drawings import drawing
from dashboard.truck_edited import ALL_FIELDS, APART
from dashboard.truck_fields import Field, unit_of
from dashboard.truck_live import figures, in_order
from dashboard.truck_parts import EVERY_STEP, KINDS, Group, Step, apart_key, kind_key
from dashboard.truck_written import Typed, system_of
from tuning.faults import Fault
from tuning.units import System, decimal_length, parse

Check = Callable[[Typed, Any], At]

_FIELDS = {field.key: field for field in ALL_FIELDS}
_CHOICES = {
    "us": "US: in, lbf",
    "metric": "Metric: mm, N",
    "solid": "Solid",
    "independent": "Independent",
    "hydraulic": "Hydraulic",
    "soft": "Soft: rubber, urethane",
}
_NONE = "-"  # a choice left open
_FIRST = {"units": "us", "axle": "solid"}  # choices that are never empty
_OPEN = 2  # rows of a cycle table that always show


class Form(NamedTuple):
    """page: first part of its ids. shown: what stands in it at first. kept: how the browser keeps what is typed.
    changes: it is of a truck that is there, whose sides may be apart."""

    page: str
    shown: Typed
    kept: Mapping[str, str]
    changes: bool

    def id(self, what: str, key: str) -> dict[str, str]:
        """Of one of its parts."""
        return {"type": f"{self.page}-{what}", "key": key}


def stage(form: Form, step: Step) -> Component:
    """One step: its drawing and its fields."""
    kind = [_kind(form, step.end)] if step.drawing == "axle" else []
    coilover = step.end and step.drawing == "coilover"
    bare = [html.P("No shock and nut at this end.", className="only leaf")] if coilover else []
    groups = [part for group in step.groups for part in _sides(form, step.end, group)]
    return html.Div([drawing(step.drawing), html.Div([*kind, *bare, *groups])], className="stage")


def _kind(form: Form, end: str) -> Component:
    kinds = {
        key: words for key, words in KINDS.items() if key != "same" or (end == "rear" and not form.changes)
    }
    return dmc.RadioGroup(
        dmc.Stack([dmc.Radio(label=words, value=key) for key, words in kinds.items()], gap="xs"),
        id=form.id("kind", kind_key(end)),
        label="What stands between frame and axle",
        value=form.shown.get(kind_key(end)) or "coilover",
        mb="sm",
        **form.kept,
    )


def _sides(form: Form, end: str, group: Group) -> list[Component]:
    """A group for both sides; where it may be apart, for the right one too."""
    name = f"only {group.only}" if group.only else ""
    if not (form.changes and group.part):
        return [_group(form, group, group.fields, group.title, name)]
    key = apart_key(end, group.part)
    choice = dmc.Checkbox(
        id=form.id("apart", key),
        label="Left and right apart",
        checked=bool(form.shown.get(key)),
        className="apart",
        **form.kept,
    )
    both = html.Span(
        [", ", html.Span("both sides", className="alike"), html.Span("left", className="left-only")]
    )
    left = _group(form, group, group.fields, [group.title, both], "", choice)
    right = _group(form, group, APART[group.part, end], f"{group.title}, right", "right-side")
    return [html.Div([left, right], className=f"sided {name}")]


def _group(
    form: Form, group: Group, fields: Sequence[Field], title: Component, name: str, first: Component = None
) -> Component:
    body = (
        _rows(form, fields)
        if group.rows
        else [html.Div([_field(form, f) for f in fields], className="targets")]
    )
    live = (
        [html.Div(id=form.id("figures", fields[0].key), role="status")] if group.rows or group.springs else []
    )
    legend = [html.Legend(title)] if title else []
    return html.Fieldset([*legend, *([] if first is None else [first]), *body, *live], className=name)


def _rows(form: Form, fields: Sequence[Field]) -> list[Component]:
    rows = []
    for place in range(0, len(fields), 2):
        row = fields[place : place + 2]
        open_ = place < 2 * _OPEN or any(form.shown.get(field.key) for field in row)
        out = html.Button(
            "×",
            type="button",
            className="minor take-out",
            title="Take this row out",
            **{"aria-label": "Take this row out"},
        )
        number = place // 2 + 1
        inside = [
            html.Span(number, className="row-number"),
            *(_field(form, f, placeholder=" ") for f in row),
            out,
        ]
        name = "cycle-row open" if open_ else "cycle-row"
        rows.append(html.Div(inside, className=name, role="group", **{"aria-label": f"Row {number}"}))
    add = html.Button("Add a row", type="button", className="minor add-row")
    how = html.P("Rows may stand in any order. One left empty is not in the table.", className="more")
    return [how, html.Div([*rows, add], className="cycle-rows")]


def _field(form: Form, field: Field, **more: Any) -> Component:
    given = form.shown.get(field.key, "")
    if field.choices:
        first = _FIRST.get(str(field.path[-1]))
        words = [{"value": word, "label": _CHOICES[word]} for word in field.choices]
        never_empty = first and (given or not form.changes)
        made = dmc.Select(
            id=form.id("field", field.key),
            label=field.label,
            description=field.help or None,
            data=words if never_empty else [{"value": _NONE, "label": "Not given"}, *words],
            value=given or (first if never_empty else _NONE),
            allowDeselect=False,
            inputWrapperOrder=["label", "input", "description", "error"],
            **form.kept,
        )
    else:
        made = dmc.TextInput(
            id=form.id("field", field.key),
            label=_label(field, system_of(form.shown)),
            description=_help(field, system_of(form.shown)),
            value=given,
            autoComplete="off",
            debounce=True,
            inputWrapperOrder=["label", "input", "description", "error"],
            **form.kept,
            **more,
        )
    named = {"data-dim": field.dim} if field.dim else {}
    return html.Div(made, className="whole" if field.kind == "places" else None, **named)


def _label(field: Field, system: System) -> str:
    """With the unit that a bare figure is taken in."""
    unit = unit_of(field, system)
    return f"{field.label} ({unit})" if unit else field.label


def _help(field: Field, system: System) -> str | None:
    if not field.usual:
        return field.help or None
    usual = f"{field.usual} {unit_of(field, system)}".strip()
    if field.kind == "length":
        usual = field.usual
        if field.usual.endswith("in") and system == "metric":
            usual = decimal_length(parse(field.usual, "length"), system)
    return f"Empty: {usual}, common practice."


# ---------------------------------------------------------------- what is wrong, all in one place


def faults_said(found: At, others: Sequence[Fault], numbered: bool = False) -> list[Component]:
    """What is wrong at fields, by their step and label, and what belongs to none. numbered: steps have numbers."""
    items = [html.Li([html.B(f"{_place(key, numbered)}: "), text]) for key, text in found.items()]
    words = [html.P("Not yet.", className="strong"), html.Ul(items)]
    said = [html.Div(words, className="note bad")] if items else []
    return [*said, *([faults_list(others, "Also:" if items else "Not yet.")] if others else [])]


def _place(key: str, numbered: bool) -> str:
    field = _FIELDS[key]
    row = f", row {int(field.path[-2]) + 1}" if isinstance(field.path[-2:-1] and field.path[-2], int) else ""
    for number, step in enumerate(EVERY_STEP, 1):
        if any(one.key == key for group in step.groups for one in group.fields):
            return f"{f'{number}. ' if numbered else ''}{step.title}, {field.label}{row}"
    end = next(end for part, end in APART if field in APART[part, end])
    return f"{end.capitalize()}, right side, {field.label}{row}"


# ---------------------------------------------------------------- what appears while it is typed


def typed_of(values: Sequence[Any], ids: Sequence[Mapping[str, str]]) -> dict[str, str]:
    """What stands in the fields and choices that are on the page, by their keys."""
    typed = {}
    for one, given in zip(ids, values, strict=True):
        key = one["key"]
        open_ = (
            given is None or given is False or (given == _NONE and key in _FIELDS and _FIELDS[key].choices)
        )
        typed[key] = "" if open_ else "yes" if given is True else str(given)
    return typed


def wire(app: dash.Dash, page: str, check: Check, full: Callable[[Typed, Any], Typed], about: State) -> None:
    """Errors at the fields that were filled in, the units of bare figures, and the figures that follow, as fields are
    left. check: what is wrong at each field; full: what stands in every field, also those that are not on the page;
    about: what both are told besides."""
    field, figure = ({"type": f"{page}-{what}", "key": ALL} for what in ("field", "figures"))

    def look(
        values: list[Any],
        kinds: list[Any],
        aparts: list[Any],
        ids: Any,
        kind_ids: Any,
        apart_ids: Any,
        shown: Any,
        more: Any,
    ) -> tuple[Any, ...]:
        typed = typed_of([*values, *kinds, *aparts], [*ids, *kind_ids, *apart_ids])
        return answer(
            full(typed, more), check(typed, more), [one["key"] for one in ids], [one["key"] for one in shown]
        )

    app.callback(
        Output(field, "error"),
        Output(field, "label"),
        Output(field, "description"),
        Output(figure, "children"),
        *inputs(page),
        State(figure, "id"),
        about,
    )(look)


def inputs(page: str, only_read: bool = False) -> list[Any]:
    """What `typed_of` needs of a page's form: values of fields, kinds and sides, then their ids."""
    parts = [
        ({"type": f"{page}-{what}", "key": ALL}, prop)
        for what, prop in (("field", "value"), ("kind", "value"), ("apart", "checked"))
    ]
    first = State if only_read else Input
    return [*(first(id_, prop) for id_, prop in parts), *(State(id_, "id") for id_, _ in parts)]


def answer(typed: Typed, found: At, keys: Sequence[str], figure_keys: Sequence[str]) -> tuple[Any, ...]:
    """Errors, labels, descriptions and figures of the fields and places with these keys. Pure."""
    system = system_of(typed)
    fields = [_FIELDS[key] for key in keys]
    notes = in_order(typed, fields)
    return (
        [found.get(key) for key in keys],
        [_label(field, system) for field in fields],
        [notes.get(field.key) or _help(field, system) for field in fields],
        [_figures(typed, key) for key in figure_keys],
    )


def _figures(typed: Typed, key: str) -> Component:
    """key: of the first field of a group."""
    for step in EVERY_STEP:
        for group in step.groups:
            for fields in (group.fields, APART.get((group.part, step.end), group.fields)):
                if fields[0].key == key:
                    return figures(typed, group, fields)
    return ""
