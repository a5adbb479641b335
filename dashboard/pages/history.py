"""A truck's years: one linked picture, the same as a table, and as a file to take along."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import Input, Output, State, dcc, html
from flask import Response, request

from dashboard.help import help_fold
from dashboard.history import Range, Visit, cross_text, height_text, odometer_text, visits_csv, visits_of
from dashboard.history_figure import CORNER_LOOK, HEIGHT, history_figure
from dashboard.pages.home import choose
from dashboard.shell import Component, address, guarded, one, said, sentence, tabs
from dashboard.source import Question, source
from tuning.truck import CORNERS
from tuning.units import System, UnitError, parse, shop_length, shop_load, shown, unit_in

FIELDS = ("from", "to", "odometer_from", "odometer_to")
SHOWN = 40  # runs in the table at a time


@dataclass(frozen=True)
class Asked:
    """What was asked for, as typed, what could be read of it, and what is wrong with the rest."""

    texts: dict[str, str]
    range: Range
    wrong: dict[str, str]


# ---------------------------------------------------------------- layout


@guarded
def layout(truck: Any = None, part: Any = None, **query: Any) -> Component:
    """The history of a truck. from, to: dates; odometer_from, odometer_to; part: of the table, 1 the latest."""
    name = one(truck)
    if name is None:
        return html.Div([choose("history"), html.Div(_fixed("", "us", {}, {}, []), hidden=True)])
    question = source().question(name)
    system = question.truck.units
    asked = asked_of({field: one(query.get(field)) or "" for field in FIELDS}, system)
    text = one(part) or "1"
    place = int(text) if text.isdecimal() and len(text) < 6 else 1
    body = shown_history(name, visits(name, question), asked, system, place)
    return html.Div(
        [
            tabs(name, "history"),
            html.H1("History"),
            help_fold("history"),
            _others(name, asked),
            *_fixed(name, system, asked.texts, asked.wrong, body),
        ]
    )


def _others(name: str, asked: Asked) -> Component:
    """The same dates of another truck."""
    dates = {field: asked.texts[field] for field in ("from", "to") if asked.texts[field]}
    others = [other for other in source().log.trucks() if other != name]
    links = [
        html.Li(dcc.Link(o, href=address("history", **{"truck": o, **dates}), className="go")) for o in others
    ]
    return html.Details([html.Summary("Another truck"), html.Ul(links)], hidden=not others)


def _fixed(
    name: str, system: System, texts: Mapping[str, str], wrong: Mapping[str, str], body: list[Component]
) -> list[Component]:
    """What the callback knows by name."""
    unit = unit_in("odometer", system)
    labels = dict(
        zip(FIELDS, ("From", "To", f"Odometer from ({unit})", f"Odometer to ({unit})"), strict=True)
    )
    fields = [
        _field(field, text, texts.get(field, ""), wrong.get(field, "")) for field, text in labels.items()
    ]
    return [
        dcc.Store(id="history-store", data={"truck": name}),
        dcc.Location(id="history-where", refresh=False),
        html.Div(fields, className="span"),
        html.Div(body, id="history-body", role="status"),
    ]


def _field(field: str, label: str, value: str, error: str) -> Component:
    kind = {"inputMode": "numeric", "maxLength": 32} if field.startswith("odometer") else {"type": "date"}
    return dmc.TextInput(
        id=f"history-{field}",
        label=label,
        value=value,
        error=error,
        autoComplete="off",
        debounce=500,
        attributes={"input": kind},
    )


def visits(name: str, question: Question) -> tuple[Visit, ...]:
    """All visits of the truck, worked out once for each state of its log."""
    log = source().log
    return question.once("visits", lambda: visits_of(question.shelf, log.history(name)))


# ---------------------------------------------------------------- what was asked


def asked_of(texts: Mapping[str, str], system: System) -> Asked:
    """The range that was typed. What can't be read limits nothing and is told at its field."""
    texts = {field: (texts.get(field) or "").strip() for field in FIELDS}
    values: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    for field, text in filter(lambda pair: pair[1], texts.items()):
        read: Callable[[str], Any] = _day if field in ("from", "to") else lambda t: _driven(t, system)
        try:
            values[field] = read(text)
        except UnitError as error:
            wrong[field] = f"{error.problem}. Write {20_000:,} or leave it empty"
        except ValueError:
            wrong[field] = f'"{shown(text)}" is no date. Write 2025-03-16 or leave it empty'
    for low, high in (("from", "to"), ("odometer_from", "odometer_to")):
        if low in values and high in values and values[low] > values[high]:
            wrong[high] = f"Ends before it begins, at {texts[low]}"
    limits = Range(*(values.get(field) for field in FIELDS))
    return Asked(texts, limits, wrong)


def _day(text: str) -> date:
    if len(text) != len("2025-03-16"):
        raise ValueError(text)
    return date.fromisoformat(text)


def _driven(text: str, system: System) -> float:
    return parse(text.replace(",", ""), "distance", default_unit=unit_in("odometer", system))


# ---------------------------------------------------------------- pure parts


def shown_history(
    name: str, all_visits: Sequence[Visit], asked: Asked, system: System, part: int = 1
) -> list[Component]:
    """What lies in the range: how many, the picture, the table."""
    if not all_visits:
        return [sentence("No run yet. Read all four corners and log the first one.", "plain")]
    inside = [v for v in all_visits if asked.range.holds(v)]
    left_out = [sentence(f"{text}.", "warn") for text in asked.wrong.values()]
    first, last = all_visits[0].taken_at, all_visits[-1].taken_at
    if not inside:
        text = f"No run lies in this range. The log goes from {first:%Y-%m-%d} to {last:%Y-%m-%d}."
        return [*left_out, sentence(text, "plain")]
    query = {"truck": name} | {field: text for field, text in asked.texts.items() if text}
    return [
        *left_out,
        html.P(
            [
                f"{len(inside)} of {len(all_visits)} runs, {inside[0].taken_at:%Y-%m-%d} to "
                f"{inside[-1].taken_at:%Y-%m-%d}. ",
                # A file of the server's own: a link within the app would not find it.
                html.A("Take it along as CSV", href=address("history.csv", **query), className="go"),
            ]
        ),
        _key(),
        dcc.Graph(
            id={"type": "history-graph", "truck": name},
            figure=history_figure(inside, system),
            config={"displayModeBar": False, "responsive": True},
            style={"height": f"{HEIGHT}px"},
        ),
        html.P(
            "Point at a run, or tap it, for all its figures. Readings in doubt are in no line; of several readings "
            "of a corner the mean is drawn.",
            className="more",
        ),
        html.H2("Runs"),
        *_table(inside, system, query, part),
    ]


def _key() -> Component:
    signs = [html.Li([html.Span(className=f"sign point of-{corner}"), corner]) for corner in CORNER_LOOK]
    return html.Ul(signs, className="key")


def _table(inside: Sequence[Visit], system: System, query: dict[str, str], part: int) -> list[Component]:
    """A part of the runs, latest first."""
    last = -(-len(inside) // SHOWN)
    part = min(max(part, 1), last)
    first = (part - 1) * SHOWN
    rows = [_row(v, system) for v in list(reversed(inside))[first : first + SHOWN]]
    head = html.Thead(
        html.Tr([html.Th(t, scope="col") for t in ("Run", *CORNERS, "Cross-weight", "What happened")])
    )
    ways = [("Later runs", part - 1)] * (part > 1) + [("Earlier runs", part + 1)] * (part < last)
    links = [dcc.Link(t, href=address("history", **query, part=str(p)), className="go") for t, p in ways]
    count = (
        f"{first + 1} to {first + len(rows)} of {len(inside)}, latest first" if last > 1 else "Latest first"
    )
    table = html.Table([head, html.Tbody(rows)], className="rows history")
    return [html.P(count, className="more"), table, html.P(links)]


def _row(visit: Visit, system: System) -> Component:
    run = [
        html.B(visit.run),
        html.Span(f" {visit.taken_at:%Y-%m-%d} {odometer_text(visit.odometer, system)}", className="more"),
    ]
    corners = [html.Td(_at_corner(visit, corner, system), **{"data-label": corner}) for corner in CORNERS]
    happened = [html.Div(event.text) for event in visit.events]
    if visit.note:
        happened.append(html.Div(visit.note, className="more"))
    return html.Tr(
        [
            html.Td(run, **{"data-label": "Run"}),
            *corners,
            html.Td(cross_text(visit), **{"data-label": "Cross-weight"}),
            html.Td(happened, className="wide", **({"data-label": "What happened"} if happened else {})),
        ],
        className="doubtful" if not visit.heights else "",
    )


def _at_corner(visit: Visit, corner: str, system: System) -> list[Component]:
    lines = []
    if corner in visit.loads:
        lines.append(shop_load(visit.loads[corner], system))
    if corner in visit.preload:
        lines.append(f"preload {shop_length(visit.preload[corner], system)}")
    return [height_text(visit, corner, system), *(html.Div(line, className="more") for line in lines)]


# ---------------------------------------------------------------- callbacks


def narrow(start: str, end: str, low: str, high: str, store: dict[str, str]) -> tuple[Any, ...]:
    """What lies in the range that is typed, what is wrong with each field, and the address that keeps it."""
    name = store["truck"]
    question = source().question(name)
    asked = asked_of(dict(zip(FIELDS, (start, end, low, high), strict=True)), question.truck.units)
    query = {"truck": name} | {field: text for field, text in asked.texts.items() if text}
    body = shown_history(name, visits(name, question), asked, question.truck.units)
    return body, *(asked.wrong.get(field, "") for field in FIELDS), address("", **query)[1:]


def file() -> Response:
    """The runs in the range of the address as CSV."""
    name = request.args.get("truck", "")
    try:
        question = source().question(name)
        system = question.truck.units
        asked = asked_of({field: request.args.get(field, "") for field in FIELDS}, system)
        if asked.wrong:
            return Response("\n".join(asked.wrong.values()), 400, mimetype="text/plain")
        rows = [v for v in visits(name, question) if asked.range.holds(v)]
    except Exception as error:
        return Response(said(error), 404, mimetype="text/plain")
    answer = Response(visits_csv(rows, system), mimetype="text/csv")
    answer.headers.set("Content-Disposition", "attachment", filename=f"{name} history.csv")
    return answer


def register(app: dash.Dash) -> None:
    """Put the page and the file at their addresses and wire the page."""
    dash.register_page("history", path="/history", title="History", layout=layout)
    app.server.add_url_rule("/history.csv", "history_csv", file)
    app.callback(
        Output("history-body", "children"),
        *(Output(f"history-{field}", "error") for field in FIELDS),
        Output("history-where", "search"),
        *(Input(f"history-{field}", "value") for field in FIELDS),
        State("history-store", "data"),
        prevent_initial_call=True,
    )(narrow)
