"""A cycle walk on the screen: one position of the axle at a time. Pure: answers and rows in, components out.

Every place of an end has its fields here; the browser shows those of the position in hand (assets/walkform.js).
"""

from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from dashboard.shell import Component, address, sentence
from dashboard.walk_form import Station
from dashboard.walk_state import station_words
from dashboard.words import END_WORDS
from tuning.report.walk import WALK_CAUTIONS, tally
from tuning.truck import END_NAMES, Truck
from tuning.units import System, shop_length, unit_in
from tuning.walk import WalkAnswer

CHIPS: dict[System, tuple[str, ...]] = {
    "us": ("1/8", "1/4", "3/8", "1/2", "3/4", "1"),
    "metric": ("3", "6", "10", "12", "20", "25"),
}
NOTE, NAME, LENGTH = 2000, 80, 64  # letters that go into a field
_SAFE = (
    "Frame on stands, springs out, axle strapped to its jack. Hands out of links, wheel wells and shocks while "
    "anything moves; watch the brake hoses."
)
_HOW = (
    "Write the clearance where it is tight, of a hose or wire the slack. A place that touches is contact, also where "
    "it only rubs. Height and shaft showing are measured at one shock, with both wheels alike."
)
_OFFLINE = (
    "A page that is open goes on without a link: what is saved waits on this phone and goes in when the server answers "
    "again. Open each end once before going where there is none."
)


def page(
    name: str, truck: Truck, answer: WalkAnswer, station: Station, data: dict[str, Any]
) -> list[Component]:
    """Everything under the heading. data: what the browser goes on with. Pure."""
    ends = [
        html.Li(
            dcc.Link(
                [
                    END_WORDS[end],
                    html.Span(f" {tally(answer.ends[end])}", className="more", id=f"walk-tally-{end}"),
                ],
                href=address("walk", truck=name, end=end),
                className="tab here" if end == station.end else "tab",
            )
        )
        for end in END_NAMES
    ]
    least = shop_length(truck.walk.least_clearance, truck.units)
    return [
        html.Nav(html.Ul(ends), className="tabs", **{"aria-label": "Ends"}),
        _help(not answer.begun),
        html.H2(station_words(station), id="walk-station", tabIndex="-1"),
        *form(_places(truck, station.end), data, unit_in("length", truck.units)),
        html.Details(
            [html.Summary("All positions"), html.Ol(id="walk-stations", className="stations")],
            open=answer.ends[station.end].begun,
        ),
        html.Div(
            [
                html.H2(f"Contact, or closer than {least}"),
                html.P(
                    "The least clearance is common practice unless the truck file says otherwise.",
                    className="more",
                ),
                html.Ul(id="walk-close"),
            ],
            id="walk-close-part",
            hidden=True,
        ),
        html.Div([html.H2("Cycle table"), html.Div(id="walk-cycle")], id="walk-cycle-part", hidden=True),
        html.P([_print("Print what is found", name), _print("Print an empty check list", name, blank="1")]),
    ]


def form(places: list[Component], data: dict[str, Any], unit: str) -> list[Component]:
    """The form of an end, and where its answer goes."""
    return [
        dcc.Store(id="walk-store", data=data),
        html.Div(
            html.Div(
                [
                    html.Div(
                        [
                            _text(
                                "height", f"Height ({unit})", LENGTH, description="frame mark to axle mark"
                            ),
                            _text(
                                "shaft",
                                f"Shaft showing ({unit})",
                                LENGTH,
                                description="of the shock on that side",
                            ),
                        ],
                        id="walk-pair",
                        className="pair wide",
                    ),
                    html.Div(id="walk-asked-pair", role="status"),
                    html.Div(places, className="places"),
                    _text("by", "Who (optional)", NAME, className="wide"),
                    html.P(id="walk-unchecked", className="more", role="status"),
                    html.Div(
                        [
                            html.Button(
                                "Save this position", id="walk-save", type="button", className="do writes"
                            ),
                            html.Button("Clear the form", id="walk-clear", type="button", className="minor"),
                        ],
                        className="ends",
                    ),
                ],
                id="walk-form",
                hidden=True,  # until the browser has put back what was typed before
            ),
            className="writes",
        ),
        html.Div(id="walk-answer", role="status"),
    ]


def _text(name: str, label: Component, most: int, **more: Any) -> Component:
    return dmc.TextInput(
        id=f"walk-{name}",
        label=label,
        value="",
        autoComplete="off",
        attributes={"input": {"maxLength": most}},
        **more,
    )


def _places(truck: Truck, end: str) -> list[Component]:
    """Every place of an end that is looked at at one position or another, by its name."""
    return [_place(number, place, truck) for number, place in enumerate(truck.walk.places(end))]


def _place(number: int, place: str, truck: Truck) -> Component:
    unit = unit_in("length", truck.units)
    what = "Slack" if "slack" in place else "Clearance"
    results = [
        {"value": "open", "label": "Not yet"},
        {"value": "pass", "label": "Pass"},
        {"value": "contact", "label": "Contact"},
    ]
    chips = [
        html.Button(
            text,
            type="button",
            className="chip",
            **{"aria-label": f"{place}: {text} {unit}", "data-text": text},
        )
        for text in CHIPS[truck.units]
    ]

    def named(label: str) -> Component:
        return [label, html.Span(f" {place}", className="unseen")]

    return html.Section(
        [
            html.H3(place),
            dmc.SegmentedControl(
                id=f"walk-result-{number}", data=results, value="open", fullWidth=True, size="md"
            ),
            html.Div(
                [
                    _text(f"clearance-{number}", named(f"{what} ({unit})"), LENGTH),
                    html.Div(chips, className="chips"),
                ]
            ),
            html.Details(
                [
                    html.Summary("Note, photo"),
                    _text(f"note-{number}", named("Note"), NOTE),
                    _text(f"photo-{number}", named("Photo's file name"), NAME),
                ]
            ),
            html.P(id=f"walk-said-{number}", className="fault"),
            html.Div(id=f"walk-asked-{number}", role="status"),
        ],
        className="corner place",
        role="group",
        **{"aria-label": place, "data-place": place},
    )


def _print(text: str, name: str, **more: str) -> Component:
    return html.A(text, href=address("print/walk", truck=name, **more), target="_blank", className="go")


def _help(unfold: bool) -> Component:
    lines = html.Ul([html.Li(line) for line in (*WALK_CAUTIONS, _HOW, _OFFLINE)])
    fold = html.Details([html.Summary("How to walk it safely"), lines], open=unfold)
    return html.Div([fold, sentence(_SAFE, "warn")])
