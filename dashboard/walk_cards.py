"""A cycle walk on the screen: one position of the axle at a time. Pure: answers and rows in, components out."""

from datetime import datetime
from typing import Any
from uuid import uuid4

import dash_mantine_components as dmc
from dash import dcc, html

from dashboard.shell import Component, address, sentence
from dashboard.walk_form import Checked, Station, measured_here, places_here, rows_here, shown_texts
from dashboard.words import END_WORDS, entry_length, listed
from tuning.findings import LOOKED_AT, POSITION_WORDS, Finding, WalkRow
from tuning.log.walk_intake import Recorded
from tuning.report.walk import WALK_CAUTIONS, cycle_lines, tally
from tuning.truck import END_NAMES, Truck
from tuning.units import System, shop_length, unit_in
from tuning.walk import EndWalk, WalkAnswer, stations

CHIPS: dict[System, tuple[str, ...]] = {
    "us": ("1/8", "1/4", "3/8", "1/2", "3/4", "1"),
    "metric": ("3", "6", "10", "12", "20", "25"),
}
_SAFE = (
    "Frame on stands, springs out, axle strapped to its jack. Hands out of links, wheel wells and shocks while "
    "anything moves; watch the brake hoses."
)
_HOW = (
    "Write the clearance where it is tight, of a hose or wire the slack. A place that touches is contact, also where "
    "it only rubs. Height and shaft showing are measured at one shock, with both wheels alike."
)


def field_id(what: str, place: Any) -> dict[str, Any]:
    """Id of a place's field."""
    return {"type": f"walk-{what}", "place": place}


def page(
    name: str, truck: Truck, rows: tuple[WalkRow, ...], answer: WalkAnswer, station: Station
) -> list[Component]:
    """Everything under the heading. Pure."""
    here = answer.ends[station.end]
    ends = [
        html.Li(
            dcc.Link(
                [END_WORDS[end], html.Span(f" {tally(answer.ends[end])}", className="more")],
                href=address("walk", truck=name, end=end),
                className="tab here" if end == station.end else "tab",
            )
        )
        for end in END_NAMES
    ]
    by = rows[-1].by if rows else ""
    return [
        html.Nav(html.Ul(ends), className="tabs", **{"aria-label": "Ends"}),
        _help(not answer.begun),
        html.H2(station_words(station), id="walk-station"),
        *station_form(name, truck, rows, station, by),
        html.Details(
            [html.Summary("All positions"), html.Ol(_stations(name, here), className="stations")],
            open=here.begun,
        ),
        *_found(here, truck),
        html.P([_print("Print what is found", name), _print("Print an empty check list", name, blank="1")]),
    ]


def station_form(
    name: str, truck: Truck, rows: tuple[WalkRow, ...], station: Station, by: str
) -> list[Component]:
    """Fields for what is looked at and measured here. Pure but for the time and the key of its saves."""
    known = rows_here(rows, station)
    wanted = [""] * measured_here(truck, station) + list(places_here(truck, station))
    shown = {
        place: shown_texts(known.get(place), lambda value: entry_length(value, truck.units))
        for place in wanted
    }
    store = {
        "truck": name,
        "end": station.end,
        "position": station.position,
        "steering": station.steering,
        "key": str(uuid4()),
        "opened": datetime.now().isoformat(timespec="seconds"),
        "places": [place for place in wanted if place],
        "shown": shown,
    }
    unit = unit_in("length", truck.units)
    pair = _pair(shown.get(""), unit)
    places = [_place(number, place, shown[place], truck) for number, place in enumerate(store["places"])]
    return form(pair, places, store, by)


def form(pair: list[Component], places: list[Component], store: dict[str, Any], by: str) -> list[Component]:
    """The form of a station, and where its answer goes. Without a store only what callbacks hang on to."""
    who = dmc.TextInput(id="walk-by", label="Who (optional)", value=by, autoComplete="off", className="wide")
    return [
        dcc.Store(id="walk-store", data=store),
        dcc.Store(id="walk-strict", data=0),
        html.Div(
            [
                *(pair or _pair(None, "in")),
                html.Div(places, className="places"),
                who,
                dmc.Button("Save this position", id="walk-save", size="md"),
            ],
            id="walk-form",
            className="writes",
        ),
        html.Div(id="walk-answer", role="status"),
    ]


def _pair(shown: dict[str, str] | None, unit: str) -> list[Component]:
    """Height and shaft; there for the callbacks, but hidden, where nothing is measured."""
    texts = shown or {}
    fields = [
        dmc.TextInput(
            id=f"walk-{what}",
            label=f"{words} ({unit})",
            description=more,
            value=texts.get(what, ""),
            autoComplete="off",
        )
        for what, words, more in (
            ("height", "Height", "frame mark to axle mark"),
            ("shaft", "Shaft showing", "of the shock on that side"),
        )
    ]
    return [html.Div(fields, className="pair wide") if shown is not None else html.Div(fields, hidden=True)]


def _place(number: int, place: str, shown: dict[str, str], truck: Truck) -> Component:
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
            id={"type": "walk-chip", "place": number, "text": text},
            type="button",
            className="chip",
            **{"aria-label": f"{place}: {text} {unit}"},
        )
        for text in CHIPS[truck.units]
    ]
    said_of = {"note": "Note", "photo": "Photo's file name"}
    more = [
        dmc.TextInput(
            id=field_id(name, number),
            label=[label, html.Span(f" {place}", className="unseen")],
            value=shown.get(name, ""),
            autoComplete="off",
        )
        for name, label in said_of.items()
    ]
    filled = any(shown.get(name) for name in said_of)
    return html.Section(
        [
            html.H3(place),
            dmc.SegmentedControl(
                id=field_id("result", number),
                data=results,
                value=shown.get("result", "open"),
                fullWidth=True,
                size="md",
            ),
            html.Div(
                [
                    dmc.TextInput(
                        id=field_id("clearance", number),
                        label=[f"{what} ({unit})", html.Span(f" {place}", className="unseen")],
                        value=shown.get("clearance", ""),
                        autoComplete="off",
                    ),
                    html.Div(chips, className="chips"),
                ]
            ),
            html.Details([html.Summary("Note, photo"), *more], open=filled),
            html.P(id=field_id("said", number), className="fault"),
        ],
        className="corner place",
        role="group",
        **{"aria-label": place},
    )


def _print(text: str, name: str, **more: str) -> Component:
    return html.A(text, href=address("print/walk", truck=name, **more), target="_blank", className="go")


def _help(unfold: bool) -> Component:
    lines = html.Ul([html.Li(line) for line in (*WALK_CAUTIONS, _HOW)])
    fold = html.Details([html.Summary("How to walk it safely"), lines], open=unfold)
    return html.Div([fold, sentence(_SAFE, "warn")])


def station_words(station: Station) -> str:
    """`Front: full bump, both wheels up; steering at left lock`."""
    words = f"{END_WORDS[station.end]}: {POSITION_WORDS[station.position]}"
    if not station.steering or station.position not in LOOKED_AT:
        return words
    at = "" if station.steering == "straight" else "at "
    return f"{words}; steering {at}{station.steering}"


def next_of(walk: EndWalk, after: tuple[str, str] | None) -> tuple[str, str]:
    """The next station, round and round, at which something is missing; the first where nothing is."""
    known = list(stations(walk.end))
    left = {(one.position, one.steering) for one in walk.missing}
    left |= {
        s for s in known if s[0] in walk.unmeasured and s[0] in ("bump", "droop") and s[1] in ("", "straight")
    }
    start = 0 if after is None else known.index(after) + 1
    return next((s for s in (*known[start:], *known[:start]) if s in left), known[0])


def _stations(name: str, walk: EndWalk) -> list[Component]:
    missing = {(one.position, one.steering): len(one.places) for one in walk.missing}
    contacts = {(row.position, row.steering) for row in walk.contacts}
    items = []
    for position, steering in stations(walk.end):
        left = missing.get((position, steering), 0)
        parts = [f"{left} missing"] if left else []
        if (position, steering) in contacts:
            parts.insert(0, "contact")
        if position in walk.unmeasured and steering in ("", "straight"):
            parts.append("height and shaft not measured")
        link = dcc.Link(
            station_words(Station(walk.end, position, steering)).split(": ", 1)[1].capitalize(),
            href=address("walk", truck=name, end=walk.end, position=position, steering=steering),
            className="go",
        )
        items.append(html.Li([link, html.Span(", ".join(parts) or "done", className="more")]))
    return items


def _found(walk: EndWalk, truck: Truck) -> list[Component]:
    """Contacts and close passes, and what was measured."""
    items = [html.Li(_finding_words(row, truck.units)) for row in (*walk.contacts, *walk.close)]
    parts: list[Component] = []
    if items:
        least = shop_length(truck.walk.least_clearance, truck.units)
        head = f"Contact, or closer than {least} (common practice unless the truck file says otherwise)"
        parts += [html.H2(head), html.Ul(items)]
    measured = list(cycle_lines(walk, truck))
    return parts + ([html.H2("Cycle table"), *map(html.P, measured)] if measured else [])


def _finding_words(row: Finding, system: System) -> str:
    figure = "contact" if row.contact or row.clearance is None else shop_length(row.clearance, system)
    where = f"{row.position}, {row.steering}" if row.steering else row.position
    more = "; ".join(filter(None, (row.note, row.photo)))
    return f"{row.place}: {figure} at {where}" + (f" ({more})" if more else "")


def saved(stored: Recorded, station: Station, answer: WalkAnswer, truck: Truck) -> Component:
    """What was saved and where to go on. Pure."""
    walk = answer.ends[station.end]
    lines = [f"Saved: {station_words(station)}. {tally(walk)}."]
    if station.end in stored.ends:
        lines.append("Height and shaft are the cycle table of the truck file now, in a new version of it.")
    elif walk.cycle.held_back and measured_here(truck, station):
        lines.append(f"Not the cycle table of the truck file: {walk.cycle.held_back}.")
    on = Station(station.end, *next_of(walk, (station.position, station.steering)))
    links = [
        (f"Next: {station_words(on)}", on) if walk.missing else ("All is looked at at this end", on),
        ("Back to what was saved", station),
    ]
    return html.Div(
        [
            sentence("\n".join(lines), "good"),
            *(
                html.P(
                    dcc.Link(
                        text,
                        href=address(
                            "walk", truck=stored.truck, end=to.end, position=to.position, steering=to.steering
                        ),
                        className="go",
                    )
                )
                for text, to in links
            ),
        ]
    )


def faults_said(checked: Checked) -> Component:
    """Which fields need a look, and what belongs to no field."""
    fields = [f"{place} {name}".strip() for place, name in checked.faults if name]
    homeless = [text for (_, name), text in checked.faults.items() if not name]
    where = f" Look at {listed(fields)}." if fields else ""
    return sentence("\n".join([f"Nothing is saved.{where}", *homeless]), "bad")
