"""What a truck is, what a change to it changes and what it was before, as components. Pure."""

from collections.abc import Sequence
from datetime import datetime

from dash import dcc, html

from dashboard.shell import Component, address, fact
from dashboard.truck_changes import Proposal, changes
from dashboard.words import END_WORDS
from tuning.faults import Fault
from tuning.log.store import TruckVersion
from tuning.truck import END_NAMES, SIDES, Corner, Shock, Stack, Truck
from tuning.units import System, shop_length, shop_load, shop_rate

_SHOWN = 30  # faults


def summary(truck: Truck) -> list[Component]:
    """The truck in a few facts: its ends, what stands between frame and axle, its stacks, what is wanted."""
    system = truck.units
    units = "US units" if system == "us" else "metric units"
    ends = [_end(truck, end) for end in END_NAMES]
    others = [s for s in truck.stacks.values() if s not in [c.stack for c in truck.corners.values()]]
    more = (
        [
            html.H3("Other stacks"),
            html.Ul([html.Li([html.B(s.name), ": ", stack_words(s, system)]) for s in others]),
        ]
        if others
        else []
    )
    return [
        html.P(f"Wheelbase {shop_length(truck.wheelbase, system)}; answers in {units}."),
        html.Div(ends, className="beside"),
        *more,
    ]


def _end(truck: Truck, end: str) -> Component:
    axle, system = truck.end(end), truck.units
    rows = [
        fact("Axle", "solid" if axle.solid else "independent", f" track {shop_length(axle.track, system)}"),
        fact("Unsprung weight", shop_load(axle.unsprung_weight, system), " both wheels"),
    ]
    left, right = (truck.corners[c] for c in SIDES[end])
    if left == right:
        rows += _corner(left, system)
    else:
        for corner in SIDES[end]:
            rows += _corner(truck.corners[corner], system, f", {corner}")
    return html.Section([html.H3(f"{END_WORDS[end]} end"), html.Dl(rows, className="facts")])


def _corner(corner: Corner, system: System, where: str = "") -> list[Component]:
    if corner.shock is None or corner.adjuster is None:
        return [fact(f"Spring{where}", f"{shop_rate(corner.stack.lower.rate, system)}, no adjuster")]
    nut = corner.adjuster
    low, high = (shop_length(v, system) for v in (nut.preload_min, nut.preload_max))
    heights = [height for height, _ in corner.cycle]
    return [
        fact(f"Springs{where}", corner.stack.name, f" {stack_words(corner.stack, system)}"),
        fact(f"Shock{where}", f"{shop_length(corner.shock.stroke, system)} of stroke", _gas(corner.shock)),
        fact(f"Nut{where}", f"preload {low} to {high}", f" in steps of {nut.step:g} turn"),
        fact(
            f"Cycled{where}",
            f"{shop_length(min(heights), system)} to {shop_length(max(heights), system)}",
            f" {len(heights)} positions, motion ratio {_ratio(corner.cycle):.2f}",
        ),
    ]


def _gas(shock: Shock) -> str:
    return "" if shock.gas_pressure is None else " with gas pressure"


def _ratio(cycle: Sequence[tuple[float, float]]) -> float:
    (low, shaft_low), (high, shaft_high) = min(cycle), max(cycle)
    return (shaft_high - shaft_low) / (high - low)


def stack_words(stack: Stack, system: System) -> str:
    """`200 lbf/in over 300 lbf/in, stop ring 7 in below the slider`."""
    rates = " over ".join(shop_rate(spring.rate, system) for spring in stack.springs)
    if stack.ring_gap is None:
        return rates
    return f"{rates}, stop ring {shop_length(stack.ring_gap, system)} from the slider"


def faults_list(faults: Sequence[Fault], said: str, file: str = "") -> Component:
    """A sentence, and under it all that is wrong."""
    items = [html.Li(fault.said(file)) for fault in faults[:_SHOWN]]
    if len(faults) > _SHOWN:
        items.append(html.Li(f"and {len(faults) - _SHOWN} more."))
    return html.Div([html.P(said, className="strong"), html.Ul(items)], className="note bad")


def preview(proposed: Proposal) -> Component:
    """What saving it would do, or why it can't be saved."""
    if proposed.faults:
        return faults_list(proposed.faults, "This can't be saved yet.")
    if not proposed.changed:
        return html.Div(html.P("Nothing is changed, so there is nothing to save."), className="note plain")
    return html.Div([html.H3("What changes in the truck file"), changed_lines(proposed.changed)])


def changed_lines(changed: Sequence[tuple[str, str]]) -> Component:
    """Lines that go and lines that come, each marked by a sign and by colour."""
    words = {"+": "in: ", "-": "out: ", " ": "", "@": ""}
    kinds = {"+": "come", "-": "gone", " ": "same", "@": "at"}
    lines = [
        html.Div(
            [html.Span(words[sign], className="unseen"), f"{'' if sign == '@' else sign} {line}"],
            className=f"line {kinds[sign]}",
        )
        for sign, line in changed
    ]
    return html.Div(lines, className="lines", tabIndex="0", role="group", **{"aria-label": "Changed lines"})


def history(name: str, versions: Sequence[TruckVersion], again: bool = True) -> Component:
    """Every version, the latest first. again: with buttons to take an old one up again."""
    items = []
    for place in range(len(versions) - 1, -1, -1):
        version = versions[place]
        link = html.A(
            "Download",
            href=address("download/truck.toml", truck=name, version=str(version.id)),
            download=f"truck-{place + 1}.toml",
            className="go",
        )
        parts: list[Component] = [
            html.P([html.B(f"Version {place + 1}"), f", {when(version.recorded_at)}"]),
            html.P(version.note or ("as first saved" if place == 0 else "no reason given"), className="more"),
        ]
        if place:
            lines = changes(versions[place - 1].toml, version.toml)
            parts.append(html.Details([html.Summary("What it changed"), changed_lines(lines)]))
        foot: list[Component] = [link]
        if again and place < len(versions) - 1:
            button = html.Button(
                "Take this one again",
                id={"type": "truck-again", "version": version.id},
                className="minor writes",
                type="button",
                **{"aria-label": f"Take version {place + 1} again"},
            )
            foot.append(button)
        items.append(html.Li([*parts, html.P(foot, className="ends")]))
    return html.Ul(items, className="cards")


def when(at: datetime) -> str:
    """A time of saving."""
    return f"{at:%Y-%m-%d %H:%M} UTC"


def run_line(name: str, runs: int, latest: str) -> Component:
    """How many runs there are, and the way on."""
    said = f"{runs} runs, the latest {latest}. " if runs else "No run yet. "
    return html.P([said, dcc.Link("Log a run", href=address("log", truck=name), className="go")])
