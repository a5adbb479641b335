"""The truck from above: every corner and the cross-weight, now and after. Pure: an answer in, components out.

Plain boxes and text, no picture: it is read aloud and takes the page's colours. What changes under a moving hand is
`live`: the browser is sent its text, style and class alone, by name, since a drawing made anew is too slow for a
finger. A verdict is never colour alone: a sign and words say the same.
"""

from typing import Any

from dash import html

from dashboard.words import END_WORDS, length_range, load_range, share, share_range
from tuning.adjust import Adjustment, CornerAnswer
from tuning.interval import Interval
from tuning.report.shared import odds
from tuning.truck import CORNERS, SIDES, Truck
from tuning.units import System, decimal_length, shop_length, shop_load, to_unit, unit_in

Component = Any

REACH = 3.0  # tolerances to each side that a gauge shows
INSIDE, HIGH, LOW = "✓", "▲", "▼"


def live(name: str, kind: Any, text: str = "", **more: Any) -> Component:
    """A part that follows the hand. name: of its own on the page. kind: of element."""
    return kind(text, **{"data-live": name}, **more)


def drawn(*trees: Any) -> dict[str, Any]:
    """Text, class and style of every live part, by its name."""
    parts = [part for tree in trees for part in html.Div(tree)._traverse()]
    return {
        name: [part.children, getattr(part, "className", ""), getattr(part, "style", None) or {}]
        for part in parts
        if (name := getattr(part, "data-live", None))
    }


def plan(answer: Adjustment, truck: Truck) -> Component:
    """The whole drawing."""
    stands = [
        html.Section(
            corner_view(c, truck, answer.corners[c]),
            className=f"stand {c}",
            **{"aria-label": f"{c} now and after"},
        )
        for c in CORNERS
    ]
    ends = [_end(end, answer, truck) for end in truck.target.ends]
    cross = html.Div([*_cross(answer, truck), *ends], className="cross")
    return html.Div([*stands, _frame(), cross, _odds(answer)], className="plan")


def corner_view(corner: str, truck: Truck, answer: CornerAnswer) -> list[Component]:
    """Height and load of a corner, now → after, with its miss."""
    system, target, after = truck.units, truck.target, answer.height_after
    parts = [
        html.P(
            [html.B(corner, className="name"), f" {shop_length(answer.height_now, system)} → "],
            className="now",
        ),
        html.P(
            [
                live(f"{corner} height", html.B, shop_length(after.mean, system), className="predicted"),
                live(f"{corner} range", html.Span, length_range(after, system), className="more"),
            ]
        ),
    ]
    wanted = target.heights.get(corner)
    if wanted is not None:
        parts += miss_view(corner, after, wanted, target.height_tolerance, system)
    parts.append(html.P(_load(corner, answer, system), className="load"))
    return parts


def _load(corner: str, answer: CornerAnswer, system: System) -> list[Component]:
    if answer.load_after is None:
        return ["load unknown"]
    now = "not weighed"
    if answer.load_now is not None:
        now = shop_load(answer.load_now, system).rsplit(" ", 1)[0]
    after, spread = shop_load(answer.load_after.mean, system), load_range(answer.load_after, system)
    return [
        f"{now} → ",
        live(f"{corner} load", html.B, after),
        live(f"{corner} load range", html.Span, spread, className="more"),
    ]


def miss_view(name: str, value: Interval, wanted: float, tolerance: float, system: System) -> list[Component]:
    """How far off its target a length is: sign, words, and where it lies between its tolerances. All in m."""
    off = value.mean - wanted
    way = "on target"
    if decimal_length(abs(off), system) != decimal_length(0.0, system):
        way = f"{decimal_length(abs(off), system)} {'high' if off > 0 else 'low'}"
    words = [live(f"{name} off", html.Span, way), " ", _goal(wanted, tolerance, system)]
    return [_verdict(name, off / tolerance, words), gauge(name, value, wanted, tolerance)]


def _goal(wanted: float, tolerance: float, system: System) -> Component:
    """`of 22 ± 1/8 in`: the unit once."""
    words = f"of {shop_length(wanted, system).rsplit(' ', 1)[0]} ± {shop_length(tolerance, system)}"
    return html.Span(words, className="more")


def _verdict(name: str, miss: float, words: list[Component]) -> Component:
    """miss: in tolerances."""
    inside = abs(miss) <= 1
    sign, kind = (INSIDE, "inside") if inside else (HIGH if miss > 0 else LOW, "outside")
    return html.P(
        [
            live(f"{name} sign", html.Span, sign, className=f"sign-of {kind}", **{"aria-hidden": "true"}),
            live(f"{name} verdict", html.Span, f"{kind} tolerance: ", className="unseen"),
            *words,
        ],
        className="miss",
    )


def gauge(name: str, value: Interval, wanted: float, tolerance: float) -> Component:
    """The tolerance as a lane in the middle, the expected value as a mark with its 90 % to both sides."""

    def place(length: float) -> float:
        """Percent from the left; what lies beyond the gauge stands at its end."""
        return 50 + 50 * min(max((length - wanted) / tolerance / REACH, -1.0), 1.0)

    low, high = place(value.low), place(value.high)
    kind = "inside" if abs(value.mean - wanted) <= tolerance else "outside"
    lane = {"left": f"{50 - 50 / REACH:.1f}%", "width": f"{100 / REACH:.1f}%"}
    spread = {"left": f"{low:.1f}%", "width": f"{high - low:.1f}%"}
    at = {"left": f"{place(value.mean):.1f}%"}
    return html.Div(
        [
            html.Span(className="lane", style=lane),
            live(f"{name} spread", html.Span, className="spread", style=spread),
            live(f"{name} at", html.Span, className=f"at {kind}", style=at),
        ],
        className="gauge",
        **{"aria-hidden": "true"},
    )


def _cross(answer: Adjustment, truck: Truck) -> list[Component]:
    """Cross-weight, on its diagonal."""
    after, target = answer.cross_weight_after, truck.target
    name = html.P([html.B("Cross-weight"), html.Span("RF + LR", className="more")])
    if after is None:
        return [name, html.P("unknown"), html.P("weigh all four wheels once", className="more")]
    now = share(answer.cross_weight_now) if answer.cross_weight_now is not None else "not weighed"
    parts = [name, html.P([f"{now} → ", live("cross", html.B, share(after.mean))])]
    if target.cross_weight is not None:
        off, tolerance = after.mean - target.cross_weight, target.cross_weight_tolerance
        words = f"of {share(target.cross_weight)} ± {tolerance * 100:g} %"
        parts.append(_verdict("cross", off / tolerance, [html.Span(words, className="more")]))
    spread = live("cross range", html.Span, share_range(after), className="more")
    other = live("cross other", html.Span, f"LF + RR {share(1 - after.mean)}", className="more")
    return [*parts, html.P([spread, other])]


def _end(end: str, answer: Adjustment, truck: Truck) -> Component:
    """Mean height of an end against its target."""
    target, system = truck.target, truck.units
    mean = sum(answer.corners[c].height_after.mean for c in SIDES[end]) / 2
    off = (mean - target.ends[end]) / target.height_tolerance
    value = live(f"{end} mean", html.Span, f"{END_WORDS[end]} mean {shop_length(mean, system)} ")
    return _verdict(end, off, [value, _goal(target.ends[end], target.height_tolerance, system)])


def _odds(answer: Adjustment) -> Component:
    """The chance of landing inside everything."""
    chance = answer.probability_in_tolerance
    if chance is None:
        return html.P("No target can be judged yet.", className="odds")
    inside = "expected inside all tolerances" if answer.reachable else "expected outside a tolerance"
    kind = "inside" if answer.reachable else "outside"
    bar = live("chance", html.Span, style={"width": f"{100 * chance:.0f}%"})
    value = live("odds", html.B, odds(chance), className=f"odds-now {kind}")
    return html.Div(
        [
            html.P(["Chance to land inside all targets ", value]),
            html.Div(bar, className="chance", **{"aria-hidden": "true"}),
            live("inside", html.P, inside, className="more"),
        ],
        className="odds",
        id="adjust-odds",
        role="status",
    )


def _frame() -> Component:
    """Frame, axles, wheels and the two diagonals; says nothing that the words beside it don't."""
    wheels = [html.Span(className=f"wheel at-{c}") for c in CORNERS]
    rest = [
        html.Span(className=name)
        for name in ("rail left", "rail right", "axle fore", "axle aft", "diagonals")
    ]
    return html.Div(
        [*rest, *wheels, html.Span("front", className="front")], className="truck", **{"aria-hidden": "true"}
    )


def preload_words(answer: CornerAnswer, system: System) -> str:
    """`preload 1.25 → 1.46 in`, `preload stays 1.25 in`; nothing where there is no nut."""
    if answer.preload_now is None or answer.preload_after is None:
        return ""
    unit, places = unit_in("preload", system), 2 if system == "us" else 1
    values = (to_unit(v, unit) for v in (answer.preload_now, answer.preload_after))
    now, after = (f"{value:.{places}f}" for value in values)
    return f"preload stays {now} {unit}" if now == after else f"preload {now} → {after} {unit}"
