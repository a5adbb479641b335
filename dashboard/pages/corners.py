"""The fit of one corner: load against height, and the readings it was made from."""

from dataclasses import dataclass
from typing import Any

import dash
import dash_mantine_components as dmc
import numpy as np
from dash import ALL, Input, Output, State, ctx, dcc, html

from dashboard.figures import DRAWN, HEIGHT, corner_figure, corner_key
from dashboard.help import help_fold
from dashboard.pages.home import choose
from dashboard.shell import Component, address, fact, guarded, one, said, sentence, tabs
from dashboard.source import Question, source
from dashboard.words import CORNER_WORDS, END_WORDS, SETTLED_WORDS, rate_range
from tuning.curve import corner_curve
from tuning.fit import DOUBTFUL, ROBUST_DISAGREES, Check, Fit
from tuning.interval import NORMAL_HALF_WIDTH, Interval, from_sd
from tuning.log.database import LogError
from tuning.readings import Reading
from tuning.truck import CORNERS, END_OF
from tuning.units import System, decimal_length, shop_length, shop_load, shop_rate

SHOWN = 40  # readings in the table at a time


# ---------------------------------------------------------------- layout


@guarded
def layout(truck: Any = None, corner: Any = None, part: Any = None, **_: object) -> Component:
    """The fit of a truck's corner. part: of the table of readings, 1 the latest."""
    name, which = one(truck), one(corner) or "LF"
    if name is None:
        return html.Div([choose("corners"), html.Div(_fixed("", "LF", 1, []), hidden=True)])
    if which not in CORNERS:
        return html.Div(
            [
                tabs(name, "corners"),
                sentence(f"There is no corner {which[:20]}. Corners are LF, RF, LR and RR."),
            ]
        )
    text = one(part) or "1"
    shown = int(text) if text.isdecimal() and len(text) < 6 else 1
    body = page(name, source().question(name), which, shown)
    return html.Div(
        [
            tabs(name, "corners"),
            html.H1("Corner fit"),
            help_fold("corners"),
            _choice(name, which),
            *_fixed(name, which, shown, body),
        ]
    )


def _choice(name: str, here: str) -> Component:
    links = [
        dcc.Link(
            [corner, html.Span(f" {CORNER_WORDS[corner]}", className="more")],
            href=address("corners", truck=name, corner=corner),
            className=f"tab {corner}{' here' if corner == here else ''}",
        )
        for corner in CORNERS
    ]
    return html.Nav(links, className="above choice", **{"aria-label": "Corner"})


def _fixed(name: str, corner: str, part: int, body: list[Component]) -> list[Component]:
    return [
        dcc.Store(id="corners-store", data={"truck": name, "corner": corner, "part": part}),
        html.Div(id="corners-said", role="status"),
        html.Div(body, id="corners-body"),
    ]


def page(name: str, question: Question, corner: str, part: int = 1) -> list[Component]:
    """Figure, words and table. Pure but for the question's own memory."""
    ids = question.shelf.reading_ids
    readings = [r for run in question.shelf.runs for r in run.readings if r.corner == corner]
    system = question.truck.units
    try:
        fit = question.fit
    except Exception as error:
        return [sentence(said(error)), *table(readings, {}, ids, system, Place(name, corner, part))]
    checks = question.once(("checks", corner), lambda: checks_of(fit, corner))
    curve = question.once(("curve", corner), lambda: corner_curve(fit, corner))
    parts: list[Component] = [html.H2(f"{corner} {CORNER_WORDS[corner]}")]
    if curve.points:
        parts += [
            dcc.Graph(
                figure=question.once(("figure", corner), lambda: corner_figure(curve, system)),
                config={"displayModeBar": False, "responsive": True},
                style={"height": f"{HEIGHT}px"},
                id={"type": "corners-graph", "corner": corner},
            ),
            html.Ul(
                [html.Li([html.Span(className=f"sign {sign}"), text]) for sign, text in corner_key(curve)],
                className="key",
            ),
            html.P(caption(fit, corner, len(curve.points)), className="more"),
        ]
    else:
        parts.append(
            sentence(
                "No load was read at this corner, so there is no load to draw its height against.", "plain"
            )
        )
    rows = table(readings, checks, ids, system, Place(name, corner, part))
    return [*parts, facts(fit, corner, checks), *rows]


def checks_of(fit: Fit, corner: str) -> dict[int, Check]:
    """What the rest of the log says of each height of a corner, by identity of the reading."""
    return {id(c.reading): c for c in fit.checks_at(corner, "height")}


# ---------------------------------------------------------------- words


def caption(fit: Fit, corner: str, points: int) -> str:
    """What the figure shows, for eyes and screen readers alike. points: how many readings there are to draw."""
    i = CORNERS.index(corner)
    stack = fit.stacks[i]
    preload = f" at today's preload of {shop_length(float(fit.preload[i]), fit.truck.units)}"
    nut = fit.truck.corners[corner].adjuster is not None
    return (
        f"Height against load with {stack.name} on{preload if nut else ''}. Each reading is moved to today's "
        "setting by the model; its bar is 90 % of tape and friction."
        + (f" Of {points:,} readings the latest {DRAWN} are drawn." if points > DRAWN else "")
    )


def facts(fit: Fit, corner: str, checks: dict[int, Check]) -> Component:
    """What the fit says of the corner, in plain words."""
    i, system = CORNERS.index(corner), fit.truck.units
    sd = fit.regression.sd
    rows = []
    place = fit.unknowns.datum.start + i
    if fit.evidence.has_datum[i]:
        datum = from_sd(float(fit.theta[place]), float(sd[place]))
        rows.append(fact("Datum", *datum_words(datum, system)))
    for position, spring in enumerate(reversed(fit.stacks[i].springs)):
        at = int(fit.spring_index[i][1 - position])
        if at < fit.unknowns.size:
            label = ("Lower spring", "Upper spring")[position] if len(fit.stacks[i].springs) > 1 else "Spring"
            rows.append(fact(label, *rate_words(spring.rate, float(fit.theta[at]), float(sd[at]), system)))
    end = END_OF[corner]
    at = fit.unknowns.friction.start + (end == "rear")
    friction = from_sd(float(fit.theta[at]), float(sd[at]))
    low = shop_load(max(friction.low, 0.0), system).rsplit(" ", 1)[0]
    rows.append(
        fact(
            f"{END_WORDS[end]} friction",
            f"± {shop_load(friction.mean, system)} a corner",
            f"{low} to {shop_load(friction.high, system)}; readings settled from above and below tell it",
        )
    )
    if checks:
        rows += residual_words(list(checks.values()), system)
    agrees = fit.robust_shift < ROBUST_DISAGREES
    words = "agrees" if agrees else "disagrees: some readings pull the fit; look at the largest residuals"
    rows.append(
        fact(
            "A fit that trusts outliers less",
            words,
            f"moves by {fit.robust_shift:.1f} of its own spread at most",
        )
    )
    return html.Dl(rows, className="facts wide")


def datum_words(datum: Interval, system: System) -> tuple[str, str]:
    """Which way the corner stands off its file, and the interval."""
    way = "lower" if datum.mean > 0 else "higher"
    low, high = sorted((-datum.low, -datum.high))
    span = f"{decimal_length(low, system)} to {decimal_length(high, system)} along the shock, plus is higher"
    return (
        f"stands {decimal_length(abs(datum.mean), system)} {way} than its file says",
        f"{span}: marks, mount and free lengths together",
    )


def rate_words(nominal: float, share: float, sd: float, system: System) -> tuple[str, str]:
    """Fitted rate of a spring from its compliance share over nominal."""
    reach = NORMAL_HALF_WIDTH * sd
    interval = Interval(
        nominal / (1 + share), nominal / (1 + share + reach), nominal / max(1 + share - reach, 0.1)
    )
    return (
        f"{shop_rate(interval.mean, system)}, {100 / (1 + share):.0f} % of the listed {shop_rate(nominal, system)}",
        rate_range(interval, system),
    )


def residual_words(checks: list[Check], system: System) -> list[Component]:
    """Residuals and influence: the typical one, the largest, and the reading that holds the line most."""
    typical = float(np.sqrt(np.mean([c.error**2 for c in checks])))
    worst = max(checks, key=lambda c: abs(c.t))
    side = "above" if worst.error > 0 else "below"
    mark = (
        "further off than one in a thousand would be"
        if abs(worst.t) > DOUBTFUL
        else f"{abs(worst.t):.1f} times what is usual"
    )
    firm = max(checks, key=lambda c: abs(c.influence))
    return [
        fact(
            "Typical miss",
            f"{decimal_length(typical, system)}, of {len(checks)} readings",
            "each reading against what all the others allow",
        ),
        fact(
            "Largest miss",
            f"{worst.reading.run} reads {decimal_length(abs(worst.error), system)} {side}",
            mark,
        ),
        fact(
            "Counts most",
            f"{firm.reading.run} holds the line most",
            f"without it the line would stand {decimal_length(abs(firm.influence), system)} "
            f"{'higher' if firm.influence > 0 else 'lower'} there",
        ),
    ]


# ---------------------------------------------------------------- table


@dataclass(frozen=True)
class Place:
    """Where one is on this page: which truck, corner and part of the table, 1 the latest."""

    truck: str
    corner: str
    part: int

    def link(self, text: str, part: int) -> Component:
        """To another part of the table."""
        to = address("corners", truck=self.truck, corner=self.corner, part=str(part))
        return dcc.Link(text, href=to, className="go")


def table(
    readings: list[Reading], checks: dict[int, Check], ids: dict[int, int], system: System, place: Place
) -> list[Component]:
    """A part of a corner's readings, latest first; doubtful ones greyed with their reason."""
    if not readings:
        return [html.P("No reading of this corner is in the log.")]
    last = -(-len(readings) // SHOWN)
    part = min(max(place.part, 1), last)
    first = (part - 1) * SHOWN
    shown = list(reversed(readings))[first : first + SHOWN]
    ways = [place.link("Later readings", part - 1)] if part > 1 else []
    ways += [place.link("Earlier readings", part + 1)] if part < last else []
    count = f"{first + 1} to {first + len(shown)} of {len(readings)}, latest first" if last > 1 else ""
    return [
        html.H2("Readings"),
        html.P(count, className="more"),
        _rows(shown, checks, ids, system),
        html.P(ways),
    ]


def _rows(
    readings: list[Reading], checks: dict[int, Check], ids: dict[int, int], system: System
) -> Component:
    heads = ("Run", "Height", "Load", "Preload", "Settled", "Against the fit", "Doubt")
    head = html.Thead(html.Tr([html.Th(text, scope="col") for text in heads]))
    rows = [_row(r, checks.get(id(r)), ids[id(r)], system, heads) for r in readings]
    return html.Table([head, html.Tbody(rows)], className="rows")


def _row(
    reading: Reading, check: Check | None, id_: int, system: System, heads: tuple[str, ...]
) -> Component:
    cells = (
        [reading.run, html.Span(f" {reading.taken_at:%Y-%m-%d %H:%M}", className="more")],
        shop_length(reading.height, system) if reading.height is not None else "not read",
        shop_load(reading.load, system) if reading.load is not None else "not read",
        shop_length(reading.preload, system) if reading.preload is not None else "none",
        SETTLED_WORDS[reading.settled],
        _against(reading, check, system),
        _judge(reading, id_),
    )
    named = [html.Td(cell, **{"data-label": head}) for head, cell in zip(heads, cells, strict=True)]
    return html.Tr(named, className="doubtful" if reading.doubt else "")


def _against(reading: Reading, check: Check | None, system: System) -> str:
    if reading.doubt:
        return f"out of the fit: {reading.doubt}"
    if check is None:
        return "no figure"
    side = "above" if check.error > 0 else "below"
    return f"{decimal_length(abs(check.error), system)} {side}"


def _judge(reading: Reading, id_: int) -> Component:
    """A fold with a reason to type: put in doubt, or clear the doubt."""
    what = "Clear the doubt" if reading.doubt else "Doubt it"
    way = "clear" if reading.doubt else "doubt"
    return html.Details(
        [
            html.Summary([f"{what}…", html.Span(f" {reading.run}", className="unseen")]),
            dmc.TextInput(id={"type": "corners-why", "id": id_}, label="Why?", value="", autoComplete="off"),
            dmc.Button(what, id={"type": f"corners-{way}", "id": id_}, size="sm", variant="default", mt="xs"),
        ],
        className="writes",
    )


# ---------------------------------------------------------------- callbacks


def judge(
    _doubt: Any, _clear: Any, why: list[str], where: list[dict[str, Any]], store: dict[str, Any]
) -> tuple[Any, Any]:
    """Doubt a reading or clear its doubt; the page drawn again. Without a reason nothing is written."""
    which = ctx.triggered_id
    reason = next(
        (text or "" for text, place in zip(why, where, strict=True) if place["id"] == which["id"]), ""
    ).strip()
    if not reason:
        return sentence("Nothing is saved: say why, in a few words."), dash.no_update
    change = source().log.doubt if which["type"] == "corners-doubt" else source().log.clear_doubt
    try:
        change(which["id"], reason)
    except LogError as error:
        return sentence(said(error)), dash.no_update
    done = (
        "The reading is in doubt and out of the fit."
        if which["type"] == "corners-doubt"
        else "The doubt is cleared."
    )
    name = store["truck"]
    return sentence(done, "good"), page(name, source().question(name), store["corner"], store["part"])


def register(app: dash.Dash) -> None:
    """Put the page at its address and wire it."""
    dash.register_page("corners", path="/corners", title="Corner fit", layout=layout)
    app.callback(
        Output("corners-said", "children"),
        Output("corners-body", "children"),
        Input({"type": "corners-doubt", "id": ALL}, "n_clicks"),
        Input({"type": "corners-clear", "id": ALL}, "n_clicks"),
        State({"type": "corners-why", "id": ALL}, "value"),
        State({"type": "corners-why", "id": ALL}, "id"),
        State("corners-store", "data"),
        prevent_initial_call=True,
    )(judge)
