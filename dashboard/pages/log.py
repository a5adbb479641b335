"""Log a run: four corners, as somebody walks round the truck with greasy hands and a phone.

The page is drawn here once. From then on it lives in the browser (assets/runform.js and outbox.js), so that it goes on
without a link; what is typed comes back through `dashboard.api`.
"""

from collections.abc import Mapping
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ClientsideFunction, Input, Output, dcc, html

from dashboard.entry import HEIGHTS, amount, latest_by_corner, next_run, zoned
from dashboard.help import hands_off, help_fold
from dashboard.pages.home import choose
from dashboard.phone import phone_card
from dashboard.shell import Component, address, guarded, one, tabs
from dashboard.source import Question, source
from dashboard.words import CORNER_WORDS, entry_length
from tuning.bench import AdjustError
from tuning.fit import FitError
from tuning.log.shelf import Shelf
from tuning.readings import Reading
from tuning.statics import StaticsError
from tuning.truck import CORNERS, Truck
from tuning.units import decimal_length, shop_length, shop_load, unit_in

WALK = ("LF", "RF", "RR", "LR")  # as one walks round; a wide page puts them where they stand
NOTE = 300  # letters of a note that an address may bring
SETTLED = {"rolled": "Rolled, bounced", "above": "From above", "below": "From below"}


# ---------------------------------------------------------------- layout


@guarded
def layout(truck: Any = None, run: Any = None, note: Any = None, **more: Any) -> Component:
    """The form for a truck. run: go on with a run, for a repeat of it. preload_LF …: how the nuts were just turned;
    note: that in words.
    """
    name = one(truck)
    if name is None:
        return html.Div([choose("log"), html.Div(_parts([], {}, "", ""), hidden=True)])
    question = source().question(name)
    turned = {
        c: value
        for c in CORNERS
        if (value := _turned(more.get(f"preload_{c}"), question.truck, c)) is not None
    }
    advised = {} if one(run) or turned else _advised(question)
    fields = form(
        name, source().mark(name), question.shelf, one(run), advised, turned, (one(note) or "")[:NOTE]
    )
    page = address("log", truck=name)
    return html.Div([tabs(name, "log"), html.H1("Log a run"), phone_card(page), *fields])


def _turned(text: Any, truck: Truck, corner: str) -> float | None:
    """Preload that an address says a nut was turned to (m); None where it says nothing sensible."""
    if text is None or truck.corners[corner].adjuster is None:
        return None
    return amount(str(one(text) or ""), "length", truck)


def _advised(question: Question) -> dict[str, float]:
    """Preload each nut should be turned to (m), where there is advice."""
    try:
        corners = question.advice.corners
    except (FitError, AdjustError, StaticsError):
        return {}
    return {c: a.preload_after for c, a in corners.items() if a.preload_after is not None and a.turns}


def form(
    name: str,
    mark: str,
    shelf: Shelf,
    run: str | None,
    advised: Mapping[str, float] | None = None,
    turned: Mapping[str, float] | None = None,
    note: str = "",
) -> list[Component]:
    """The form and the help beside it. advised, turned: preload each nut should be turned to, and was (m). Pure."""
    last, system = latest_by_corner(shelf), shelf.truck.units
    advised, turned = advised or {}, turned or {}
    heights = {c: r.height for c, r in last.items() if r.height is not None}
    store = {
        "truck": name,
        "log": mark,
        "run": run or next_run(shelf.runs),
        "named": run is not None,
        "zoned": zoned(shelf),
        "units": system,
        "before": {f"{c}-height": entry_length(h, system) for c, h in heights.items()},
        "advised": {c: entry_length(v, system) for c, v in advised.items()},
        "note": note,
        "turned": {f"{c}-preload": entry_length(v, system) for c, v in turned.items()},
    }
    corners = [_corner(c, shelf, last.get(c), advised.get(c), turned.get(c)) for c in WALK]
    before = f"Last was {shelf.runs[-1].name}." if shelf.runs else "The first of this truck."
    return [help_fold("log", not shelf.runs), hands_off(), *_parts(corners, store, store["run"], before)]


def _parts(corners: list[Component], store: dict[str, Any], run: str, before: str) -> list[Component]:
    start = html.Select([html.Option(c, value=c) for c in WALK], id="walk-start", className="start")
    return [
        dcc.Store(id="log-store", data=store),
        html.Div(id="log-others"),
        html.Div(
            [
                html.Div(
                    [_text("run", "Run name", before, run), _text("taken", "When", "set when you begin")],
                    className="pair",
                ),
                _settled(),
                html.P(
                    [html.Label("Walk round, beginning at ", htmlFor="walk-start"), start],
                    className="walk-order",
                ),
                html.Div(corners, id="log-corners", className="above walk-round"),
                html.Dl(id="log-sums", className="facts", **{"aria-live": "polite"}),
                _text("note", "Note (optional)"),
                html.P(id="log-unchecked", className="more", role="status"),
                html.Div(id="log-asked", role="status"),
                html.Div(
                    [
                        html.Button("Save the run", id="log-save", type="button", className="do writes"),
                        html.Button("Clear the form", id="log-clear", type="button", className="minor"),
                    ],
                    className="ends",
                ),
            ],
            id="log-form",
            hidden=True,  # until the browser has put back what was typed before
        ),
        html.Div(id="log-answer", role="status"),
        html.P(id="log-last", className="more"),
    ]


def _settled() -> Component:
    ways = dmc.SegmentedControl(
        id="log-settled",
        data=[{"value": way, "label": words} for way, words in SETTLED.items()],
        value="rolled",
        size="md",
        fullWidth=True,
        attributes={"root": {"aria-labelledby": "settled-label"}},
    )
    return html.Div(
        [html.P("How the truck came to rest", id="settled-label", className="strong"), ways],
        className="settled",
    )


def _corner(
    corner: str, shelf: Shelf, last: Reading | None, advised: float | None, turned: float | None
) -> Component:
    truck, own = shelf.truck, shelf.truck.corners[corner]
    length, force = unit_in("length", truck.units), unit_in("force", truck.units)
    before = ""
    if last and last.height is not None:
        before = f"{last.run}: {shop_length(last.height, truck.units)}"
    weighed = ""
    if last and last.load is not None:
        weighed = f"{last.run}: {shop_load(last.load, truck.units)}"
    again = [
        _field(corner, height, f"Height, reading {i} ({length})", "", hidden=True)
        for i, height in enumerate(HEIGHTS[1:], 2)
    ]
    once_more = html.Button(
        "Read again",
        id=f"again-{corner}",
        type="button",
        className="minor",
        **{"aria-label": f"Read {corner} height again"},
    )
    heights = [
        html.Div(
            [_field(corner, "height", f"Height ({length})", before or "frame to axle mark"), once_more],
            className="read",
        ),
        *again,
        html.Div(id=f"pad-{corner}-height"),
        html.P(id=f"mean-{corner}", className="more", **{"aria-live": "polite"}),
    ]
    rest = [_field(corner, "load", f"Load ({force}), optional", weighed or "what the scale reads")]
    if own.adjuster is not None:
        rest += _nut(corner, truck, last, advised, turned)
    return html.Section(
        [
            html.H2([corner, html.Small(f" {CORNER_WORDS[corner]}")]),
            html.Div([html.Div(heights), html.Div(rest)], className="reads"),
            html.Div(id=f"asked-{corner}", role="status"),
        ],
        className=f"corner {corner}",
        id=f"corner-{corner}",
        **{"aria-label": CORNER_WORDS[corner]},
    )


def _nut(
    corner: str, truck: Truck, last: Reading | None, advised: float | None, turned: float | None
) -> list[Component]:
    """Preload and stack. The preload is put in beforehand, and it says where from."""
    system, unit = truck.units, unit_in("length", truck.units)
    known = last.preload if last else None
    before = f"{last.run}: {entry_length(known, system)} {unit}" if last and known is not None else ""
    if turned is not None:
        text, words = entry_length(turned, system), f"as you turned it; {before}".rstrip("; ")
    elif known is not None:
        text, words = entry_length(known, system), f"as in {before}"
    else:
        text, words = "", "nut's travel from snug"
    if advised is not None:
        words += f"; advised {decimal_length(advised, system)}"
    parts = [
        _field(corner, "preload", f"Preload ({unit})", words, text),
        html.Div(id=f"pad-{corner}-preload"),
    ]
    if len(choices := _stacks(truck)) > 1:
        on = (last.stack if last else None) or truck.corners[corner].stack.name
        # No component: the browser's own list is the one a phone shows large.
        options = [
            html.Option(name, value=name) for name in sorted(choices, key=lambda name: (name != on, name))
        ]
        parts += [
            html.Label([html.Span(f"{corner} ", className="unseen"), "Stack"], htmlFor=f"log-{corner}-stack"),
            html.Select(options, id=f"log-{corner}-stack"),
        ]
    return parts


def _stacks(truck: Truck) -> list[str]:
    """Stacks that go on a corner with an adjuster."""
    fixed = {own.stack.name for own in truck.corners.values() if own.adjuster is None}
    return sorted(set(truck.stacks) - fixed)


def _text(name: str, label: Component, description: str = "", value: str = "", **more: Any) -> Component:
    return dmc.TextInput(
        id=f"log-{name}", label=label, description=description, value=value, autoComplete="off", **more
    )


def _field(
    corner: str, name: str, label: str, description: str, value: str = "", hidden: bool = False
) -> Component:
    """A field of a corner. Text, not number: a number field swallows the space of 22 1/2, and a phone's keypad has
    digits alone; the sixteenths come from the buttons below.
    """
    box = _text(
        f"{corner}-{name}",
        [html.Span(f"{corner} ", className="unseen"), label],
        description,
        value,
        attributes={"input": {"inputMode": "decimal", "maxLength": 64, "enterKeyHint": "next"}},
    )
    return html.Div(box, id=f"place-{corner}-{name}", className="entry", hidden=hidden)


def register(app: dash.Dash) -> None:
    """Put the page at its address; the browser takes it from there."""
    dash.register_page("log", path="/log", title="Log a run", layout=layout)
    app.clientside_callback(
        ClientsideFunction(namespace="runform", function_name="open"),
        Output("log-form", "className"),  # a callback without one is not called when its page is opened
        Input("log-store", "data"),
    )
