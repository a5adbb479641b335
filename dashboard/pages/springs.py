"""Which springs instead: a list of springs in, what is asked for, and every stack ranked."""

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboard.help import help_fold
from dashboard.pages.home import choose as choose_truck
from dashboard.shell import Component, address, guarded, one, said, sentence, tabs
from dashboard.source import source
from dashboard.spring_cards import own_place, reasons, verdict, why_not
from dashboard.spring_figures import HEIGHT, caption, spring_figure
from dashboard.spring_form import (
    FIELDS,
    Asked,
    asked_of,
    coilover_ends,
    practice_words,
    read_windows,
    sought_of,
)
from dashboard.spring_list import list_parts, register_list
from dashboard.spring_table import choices
from dashboard.stock import ForgottenError
from dashboard.words import END_WORDS
from tuning.choices import EndAnswer
from tuning.fit import Fit
from tuning.report.shared import CAUTION
from tuning.springs import Search
from tuning.truck import Truck
from tuning.units import System, unit_in

SUGGESTED = 40  # names that a field offers at once
# In place of reasons, choices, picture, names for “Why not …?” and that section itself, hidden.
NOTHING: tuple[Any, ...] = ("", "", [], [], [], True)


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
        dcc.Loading(
            [
                html.Div(id="springs-verdict", role="status"),
                html.Div(id="springs-reasons"),
                html.Div(id="springs-choices"),
                html.Div(id="springs-picture"),
            ],
            custom_spinner=html.P("Going through the springs …", className="note plain", role="status"),
            overlay_style={"visibility": "visible", "opacity": 0.4},
            delay_show=250,
            parent_className="waits",
        ),
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


# ---------------------------------------------------------------- pure parts


def picture(answer: EndAnswer, system: System) -> list[Component]:
    """All stacks of the end, a picture for each side that was searched by itself."""
    parts: list[Component] = [html.H2("All stacks")]
    for place, search in enumerate(answer.searches):
        listed = [
            at for c in answer.choices if (at := pair_of(search, c.springs[search.corners[0]])) is not None
        ]
        figure = spring_figure(search, listed, own_place(search), system)
        graph = dcc.Graph(
            figure=figure,
            id={"type": "springs-graph", "place": place},
            config={"displayModeBar": False, "responsive": True},
            style={"height": f"{HEIGHT}px"},
        )
        parts += [html.H3(" and ".join(search.corners)), graph]
        parts.append(html.P(caption(search, bool(search.rejected)), className="more"))
    return parts


def pair_of(search: Search, springs: Any) -> int | None:
    """Where a choice's springs stand among the pairs."""
    upper, lower = springs
    return search.find(None if upper is None else upper.name, lower.name)


def drawn(answer: EndAnswer, fit: Fit, listed: int, name: str) -> tuple[Any, ...]:
    """Verdict, reasons, choices and picture. name: what the log calls the truck."""
    table = choices(answer, fit.truck, name)
    return verdict(answer, fit, listed), reasons(answer, fit), table, picture(answer, fit.truck.units)


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


def answer(
    stock: dict[str, Any] | None, asked: dict[str, Any] | None, where: dict[str, str]
) -> tuple[Any, ...]:
    """Every stack ranked. A list that the server has forgotten is asked for again."""
    if not where["truck"] or asked is None:
        raise PreventUpdate
    if stock is None:
        text = "No list of springs yet. Paste one, take a file, or try the invented stock."
        return (sentence(text, "plain"), *NOTHING, no_update)
    try:
        fit, found = _found(stock, asked, where)
    except ForgottenError:
        return (*[no_update] * (1 + len(NOTHING)), stock)
    except Exception as error:
        return (sentence(said(error)), *NOTHING, no_update)
    names = sorted({c.name for search in found.searches for c in search.candidates})
    return (*drawn(found, fit, stock["count"], where["truck"]), names, names, False, no_update)


def tell_why(
    upper: str | None,
    lower: str | None,
    stock: dict[str, Any] | None,
    asked: dict[str, Any] | None,
    where: dict[str, str],
) -> Component:
    """Why these two were turned away, or what they do."""
    if stock is None or asked is None or not (upper or lower):
        return ""
    try:
        fit, found = _found(stock, asked, where)
    except Exception as error:
        return sentence(said(error))
    return why_not(found, fit, upper or "", lower or "")


def pick(
    clicks: list[Any], stock: dict[str, Any] | None, asked: dict[str, Any] | None, where: dict[str, str]
) -> tuple[str, str]:
    """The springs of a dot that was touched, put where “Why not …?” asks for them."""
    place = ctx.triggered_id["place"] if ctx.triggered_id else None
    if place is None or stock is None or asked is None or not clicks[place]:
        raise PreventUpdate
    _, found = _found(stock, asked, where)
    upper, lower = found.searches[place].springs(int(clicks[place]["points"][0]["customdata"]))
    return "" if upper is None else upper.name, lower.name


def _found(stock: dict[str, Any], asked: dict[str, Any], where: dict[str, str]) -> tuple[Fit, EndAnswer]:
    shop = source()
    question = shop.question(where["truck"])
    sought = sought_of(asked_of(asked), where["end"], stock["key"], question.truck)
    return question.fit, shop.stock.answer(question, sought)


def register(app: dash.Dash) -> None:
    """Put the page at its address and wire it."""
    dash.register_page("springs", path="/springs", title="Springs", layout=layout)
    register_list(app)
    stock, asked, where = (f"springs-{what}" for what in ("stock", "asked", "where"))
    app.callback(
        *[Output(f"springs-{field}", "error") for field in FIELDS],
        Output(asked, "data"),
        *[Input(f"springs-{field}", "value") for field in FIELDS],
        Input("springs-ring-stays", "checked"),
        Input("springs-sides-differ", "checked"),
        State(where, "data"),
    )(ask)
    app.callback(
        Output("springs-verdict", "children"),
        Output("springs-reasons", "children"),
        Output("springs-choices", "children"),
        Output("springs-picture", "children"),
        Output("springs-upper", "data"),
        Output("springs-lower", "data"),
        Output("springs-why", "hidden"),
        Output("springs-lost", "data"),
        Input(stock, "data"),
        Input(asked, "data"),
        State(where, "data"),
    )(answer)
    app.callback(
        Output("springs-line", "children"),
        Input("springs-upper", "value"),
        Input("springs-lower", "value"),
        Input(stock, "data"),
        Input(asked, "data"),
        State(where, "data"),
        prevent_initial_call=True,
    )(tell_why)
    app.callback(
        Output("springs-upper", "value"),
        Output("springs-lower", "value"),
        Input({"type": "springs-graph", "place": ALL}, "clickData"),
        State(stock, "data"),
        State(asked, "data"),
        State(where, "data"),
        prevent_initial_call=True,
    )(pick)
