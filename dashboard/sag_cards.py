"""Where the height went as a page tells it: words first, then pictures. Pure: an answer in, components out."""

from collections.abc import Mapping
from datetime import date

from dash import dcc, html

from dashboard.sag_figures import (
    HEIGHT,
    chart_figure,
    first_to_look_at,
    split_figure,
    split_height,
    to_come_figure,
    trend_figure,
)
from dashboard.shell import Component, address, fact, sentence
from dashboard.words import CORNER_WORDS
from tuning.fit import Fit
from tuning.report.sag import corner_words
from tuning.report.sag_words import verdict_words
from tuning.report.shared import CAUTION, between
from tuning.sag.answer import CornerSag, Sag
from tuning.sag.chart import FALSE_ALARM, H, K
from tuning.sag.next_step import NextStep
from tuning.truck import CORNERS, Truck
from tuning.units import System, decimal_length, to_unit, unit_in

GRAPH = {"displayModeBar": False, "responsive": True}
KIND = {"settling": "warn", "loaded": "warn", "low": "warn", "steady": "good", "unknown": "plain"}
SHAPES = {"none": "no trend stands out", "straight": "straight", "settling": "settling, slower and slower"}


def sag_cards(
    fit: Fit, found: Sag, steps: Mapping[str, NextStep], name: str, corner: str, since: str
) -> list[Component]:
    """The whole answer. corner: whose trend and alarm are drawn, empty: that with most to say; since: as asked."""
    which = corner or first_to_look_at(found)
    system = fit.truck.units
    unsaid = not_known(found, fit.truck)
    return [
        *[sentence(f"{note[:1].upper()}{note[1:]}.", "plain") for note in found.notes],
        html.Div(
            [_verdict(c, found.corners[c], steps.get(c), name, system) for c in CORNERS],
            className="above walk-round",
        ),
        *([sentence(CAUTION, "warn")] if steps else []),
        html.H2("What took how much"),
        html.P(
            "Each bar begins where the one before it ends; they add up to the height lost; minus is gained. The "
            "whisker is the 90 % interval of the true value.",
            className="more",
        ),
        _graph("sag-split", split_figure(found, system), split_height(found)),
        *([html.P("What the log can't say:"), html.Ul([html.Li(line) for line in unsaid])] if unsaid else []),
        html.H2("Run by run"),
        html.Nav(
            [_link(c, found.corners[c], name, since, c == which) for c in CORNERS],
            className="above choice",
            **{"aria-label": "Corner"},
        ),
        *corner_pictures(fit, found, which),
    ]


def _verdict(corner: str, found: CornerSag, step: NextStep | None, name: str, system: System) -> Component:
    words, verdict = corner_words(corner, found, step, system), verdict_words(corner, found.parts)
    short = (
        step is not None and step.still_out is not None and step.still_out.held in ("own nut", "other nuts")
    )
    return html.Section(
        [
            html.H2([f"{corner} ", html.Small(CORNER_WORDS[corner])]),
            html.Div(
                [html.P(verdict[:1].upper() + verdict[1:], className="strong"), html.P(words)],
                className=f"note {KIND[found.verdict]}",
            ),
            _go("Turns for all four corners", "adjust", name) if step else "",
            _go("Springs that reach its height", "springs", name) if short else "",
        ],
        className=f"corner {corner}",
        **{"aria-label": CORNER_WORDS[corner]},
    )


def _go(text: str, page: str, name: str) -> Component:
    return dcc.Link(text, href=address(page, truck=name), className="go")


def _link(corner: str, found: CornerSag, name: str, since: str, here: bool) -> Component:
    query = {"truck": name, "corner": corner} | ({"since": since} if since else {})
    return dcc.Link(
        [
            corner,
            html.Span(f" {CORNER_WORDS[corner]}, {verdict_words(corner, found.parts)}", className="more"),
        ],
        href=address("sag", **query),
        className=f"tab {corner}{' here' if here else ''}",
    )


def _graph(kind: str, figure: object, height: int) -> Component:
    return dcc.Graph(id={"type": kind}, figure=figure, config=GRAPH, style={"height": f"{height}px"})


# ---------------------------------------------------------------- what the log can't say


def not_known(found: Sag, truck: Truck) -> list[str]:
    """What the log leaves open at each corner, a line each, with what would mend it."""
    lines = []
    for corner, one in found.corners.items():
        parts = one.parts
        if parts.verdict == "unknown":
            lines.append(f"{corner}: anything yet. Read it again in a month.")
        elif parts.set_or_weight is not None:
            lines.append(
                f"{corner}: how much is spring set and how much is weight, "
                f"{decimal_length(parts.set_or_weight.mean, truck.units)} together "
                f"({between(parts.set_or_weight, truck.units)}). Weigh all four wheels."
            )
        elif parts.left_over is None:
            lines.append(
                f"{corner}: load and what is left over apart, for one of the two runs was not weighed."
            )
    rates = [c for c, one in found.corners.items() if one.rate_change is None and one.verdict != "unknown"]
    if rates:
        who = "any corner" if len(rates) == len(CORNERS) else ", ".join(rates)
        lines.append(
            f"Whether the springs of {who} have become softer: the loads varied too little. Weigh it once empty "
            "and once full."
        )
    return lines


# ---------------------------------------------------------------- one corner over time


def corner_pictures(fit: Fit, found: Sag, which: str) -> list[Component]:
    """The trend, what is to come and the alarm of one corner, each with a sentence that says it."""
    corner, system = found.corners[which], fit.truck.units
    parts: list[Component] = [html.H2([f"{which} ", html.Small(CORNER_WORDS[which])]), _facts(corner, system)]
    if len(corner.history.run):
        parts += [
            html.H3("Spring set and its trend"),
            _graph("sag-trend", trend_figure(fit, corner, system), HEIGHT),
            html.P(
                "Points: what each weighed run says the spring has lost since its stack went on, with 90 % of tape and "
                "friction. Line and band: the trend and its 90 %; no line where none stands out from chance.",
                className="more",
            ),
        ]
    parts += [
        html.H3("Height to come"),
        _graph("sag-to-come", to_come_figure(fit, found, which), HEIGHT),
        html.P(
            "At today's weight and nuts. Dark: 90 % for the true height; light: for the next reading. "
            f"{_tolerance(fit.truck, which)}",
            className="more",
        ),
    ]
    if len(corner.chart.run):
        parts += [
            html.H3("Alarm"),
            _graph("sag-chart", chart_figure(fit, corner), HEIGHT),
            html.P(
                "What each run tells beyond all before it, in standard deviations, less "
                f"{K:g}, summed up and never below zero; over {H:g} (dashed) the alarm goes and the sum begins anew. "
                f"A sound corner gives one false alarm in {FALSE_ALARM} runs, six years of monthly readings.",
                className="more",
            ),
        ]
    return parts


def _tolerance(truck: Truck, which: str) -> str:
    if which in truck.target.heights:
        return "Green: the tolerance; dotted: the chance of being out of it by then."
    return "This corner has no height target of its own, so no tolerance is drawn."


def _facts(corner: CornerSag, system: System) -> Component:
    trend = SHAPES[corner.trend.shape]
    if corner.trend.shape != "none":
        trend += " over time" if corner.trend.clock == "time" else " over distance"
    rows = [
        fact(
            "Trend",
            trend,
            "the plainest shape that the readings ask for, where they ask for more than chance would",
        )
    ]
    if corner.rate_per_month is not None:
        month, unit = corner.rate_per_month, unit_in("length", system)
        low, high = (to_unit(v, unit) for v in (month.low, month.high))
        rows.append(
            fact(
                "Pace now",
                f"{to_unit(month.mean, unit):.3f} {unit} a month",
                f"{low:.3f} to {high:.3f} {unit} of spring",
            )
        )
    rows.append(fact("Out of tolerance", _leaves(corner), "by date, if weight and nuts stay as they are"))
    if corner.leaves_at is not None and corner.leaves_at[1] is not None:
        unit = unit_in("odometer", system)
        rows.append(
            fact(
                "On the odometer",
                f"{round(to_unit(corner.leaves_at[1], unit), -2):,.0f} {unit}",
                "even odds, at the log's pace",
            )
        )
    if len(corner.chart.run):
        rang = (
            "the latest run rings it"
            if corner.alarm
            else f"rang {len(corner.chart.alarms)} times in {len(corner.chart.run)} runs"
        )
        rows.append(
            fact("Alarm", rang.replace("rang 0 times", "never rang").replace("rang 1 times", "rang once"))
        )
    return html.Dl(rows, className="facts wide")


def _leaves(corner: CornerSag) -> str:
    named = [
        f"{odds} % {'already' if days == 0 else f'by {day:%B %Y}'}"
        for days, day, odds in zip(corner.forecast.leaves, corner.leaves_on, (10, 50, 90), strict=True)
        if isinstance(day, date)
    ]
    return ", ".join(named) if named else "not within five years, or no target"
