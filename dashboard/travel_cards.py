"""One corner's travel as a page shows it: checks, figures, drawings. Pure: answers in, components out."""

from collections.abc import Sequence

from dash import dcc, html

from dashboard.shell import Component, fact, sentence
from dashboard.travel_figures import CURVE_HEIGHT, shock_figure, travel_figure
from dashboard.words import CORNER_WORDS, length_range
from tuning.check import Check
from tuning.fit import Fit
from tuning.report.shared import CAUTION
from tuning.report.springs import check_value
from tuning.report.travel import CYCLING, LOADS, POSITION_WORDS, position_rows, travel_split
from tuning.travel import CornerTravel, TravelAnswer
from tuning.travel_curve import travel_curve
from tuning.units import System, decimal_length, shop_length, shop_load

GRAPH = {"displayModeBar": False, "responsive": True}


def corner_cards(fit: Fit, answer: TravelAnswer, which: str) -> list[Component]:
    """One corner: checks first, worst first; figures; drawings."""
    corner, system = answer.corners[which], fit.truck.units
    setting = "with these turns" if answer.turns else f"as of run {answer.run}"
    parts: list[Component] = [
        html.H2([f"{which} {CORNER_WORDS[which]} ", html.Small(setting)]),
        *[sentence(_sentence(note), "plain") for note in corner.notes],
        *check_cards(corner.checks, system),
        facts(corner, system),
    ]
    shock = fit.truck.corners[which].shock
    if shock is None:
        return parts
    parts += [
        position_table(corner, system),
        html.Div(_pictures(fit, answer, which, shock.stroke), className="beside"),
    ]
    return [*parts, html.P(LOADS, className="more"), sentence(f"{CYCLING} {CAUTION}", "warn")]


def check_cards(found: Sequence[Check], system: System) -> list[Component]:
    """Attention and not measured in boxes of their own, what passes a line each."""
    parts: list[Component] = []
    for check in found:
        if check.ok is False:
            figure = "" if check.value is None else f": {check_value(check, system)}"
            head = html.P(f"Attention: {check.name}{figure}", className="strong")
            parts.append(
                html.Div(
                    [head, html.P(f"Wanted: {check.limit}."), html.P(_sentence(check.mend))],
                    className="note bad",
                )
            )
    unmeasured = [
        html.Li([html.B(f"{check.name[:1].upper()}{check.name[1:]}"), f": {check.mend}."])
        for check in found
        if check.ok is None
    ]
    if unmeasured:
        head = html.P("Not measured:", className="strong")
        parts.append(html.Div([head, html.Ul(unmeasured)], className="note plain"))
    passed = [_passed(check, system) for check in found if check.ok]
    return [*parts, html.Ul(passed, className="checks")] if passed else parts


def _passed(check: Check, system: System) -> Component:
    remark = f" {_sentence(check.mend)}" if check.mend else ""
    wanted = html.Span(f"; wanted {check.limit}.{remark}", className="more")
    return html.Li([html.B("pass "), f"{check.name}: {check_value(check, system)}", wanted])


def facts(corner: CornerTravel, system: System) -> Component:
    """Where it rides and what is left either way."""
    found = [fact("Rides at", shop_length(corner.height.mean, system), length_range(corner.height, system))]
    if corner.preload is not None:
        found.append(fact("Preload", decimal_length(corner.preload, system)))
    ride = corner.positions["ride"]
    if ride.load is not None:
        found.append(fact("Wheel load at ride", shop_load(ride.load, system)))
    split = travel_split(corner, system)
    if split:
        found.append(fact("Wheel travel", split))
    if corner.unsure is not None:
        found.append(fact("Spring lengths are sure to", f"± {decimal_length(corner.unsure, system)}", "90 %"))
    return html.Dl(found, className="facts wide")


def position_table(corner: CornerTravel, system: System) -> Component:
    """The positions side by side, units once a row."""
    names = [name for name in POSITION_WORDS if name in corner.positions]
    heads = ["Position", *(POSITION_WORDS[name] for name in names)]
    rows = []
    for label, cells in position_rows(corner, names, system):
        unit, bare = _one_unit(cells)
        head = html.Th(f"{label} ({unit})" if unit else label, scope="row")
        rows.append(html.Tr([head, *(html.Td(cell) for cell in bare)]))
    head = html.Thead(html.Tr([html.Th(text, scope="col") for text in heads]))
    return html.Table([head, html.Tbody(rows)], className="positions")


def _one_unit(cells: Sequence[str]) -> tuple[str, list[str]]:
    """The unit that all figures of a row carry, and the figures without it."""
    units = {cell.rsplit(" ", 1)[-1] for cell in cells if cell != "-"}
    if len(units) != 1 or not all(cell[0].isdigit() or cell[0] == "-" for cell in cells):
        return "", list(cells)
    unit = units.pop()
    return unit, [cell.removesuffix(f" {unit}") for cell in cells]


def _pictures(fit: Fit, answer: TravelAnswer, which: str, stroke: float) -> list[Component]:
    corner, system = answer.corners[which], fit.truck.units
    drawn, curve = shock_figure(corner, stroke, system), travel_curve(fit, which, answer.turns)
    parts: list[Component] = []
    if drawn is None:
        text = "There is no drawing: write free_length and solid_length of each spring into the truck file."
        parts.append(html.Div([html.H3("The shock to scale"), sentence(text, "plain")]))
    else:
        words = (
            "Lengths along the shock are to scale, widths are not. Left: what a spring may still be pressed before it "
            "is coil-bound. The ring is the coloured plate on the body, the slider the one between the springs, the "
            "perch the one at the bottom."
        )
        graph = dcc.Graph(figure=drawn, config=GRAPH, style={"height": f"{drawn.layout.height}px"})
        parts.append(
            html.Div(
                [html.H3("The shock to scale"), graph, html.P(words, className="more")], className="drawing"
            )
        )
    if curve is not None:
        graph = dcc.Graph(
            figure=travel_figure(curve, system), config=GRAPH, style={"height": f"{CURVE_HEIGHT}px"}
        )
        events = [
            html.Li(f"{e.name}: {shop_length(e.height, system)}, {shop_load(e.load, system)}")
            if e.load is not None
            else html.Li(
                f"{e.name}: {shop_length(e.height, system)}, not reached: the springs are coil-bound before"
            )
            for e in curve.events
        ]
        parts.append(
            html.Div(
                [
                    html.H3("Load against height"),
                    graph,
                    html.P("From full bump down, heights and loads at the spring seat:", className="more"),
                    html.Ul(events, className="more"),
                ]
            )
        )
    return parts


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."
