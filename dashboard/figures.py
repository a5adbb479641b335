"""Answers drawn. Pure: an answer in, a plotly figure in the owner's units out.

Colours are the public colour-blind-safe set of Okabe and Ito (2008), those of it that stand out on white and on
near-black alike. Text and grid lines take the page's own colours by its style sheet, so one figure serves both.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard.words import SETTLED_WORDS
from tuning.curve import CornerCurve, Point
from tuning.fit import Check
from tuning.interval import NORMAL_HALF_WIDTH
from tuning.units import System, shop_length, shop_load, to_unit, unit_in

BLUE, VERMILION, GREEN, GREY, PINK = "#0072B2", "#D55E00", "#009E73", "#808080", "#CC79A7"
BAND = "rgba(0, 114, 178, 0.25)"
MARKS = {
    "": "circle",
    "above": "triangle-down",
    "below": "triangle-up",
}  # shape as well as words, never colour alone
DRAWN = 300  # readings in a figure; more are a blot, and a phone draws them slowly
REACH = 30  # px around a point in which a finger means it
HEIGHT = 400  # px; a graph without one collapses on a phone


def corner_figure(
    curve: CornerCurve, system: System, doubted: Sequence[Point] = (), ids: Mapping[int, int] | None = None
) -> go.Figure:
    """Load on the springs across, height up: readings, line, 90 % band, nominal, crossover, bump and droop.

    doubted: readings out of the fit, drawn as crosses. ids: place in the log of each reading, by identity; a point
    carries it, so that it can be tapped.
    """
    length, force = unit_in("length", system), unit_in("force", system)
    x = to_unit(curve.loads, force)
    figure = go.Figure()
    figure.add_scatter(
        x=np.concatenate([x, x[::-1]]),
        y=to_unit(np.concatenate([curve.high, curve.low[::-1]]), length),
        fill="toself",
        fillcolor=BAND,
        line={"width": 0},
        hoverinfo="skip",
        name="90 % band of the line",
    )
    figure.add_scatter(
        x=x,
        y=to_unit(curve.nominal, length),
        mode="lines",
        line={"color": GREY, "dash": "dash", "width": 2},
        hoverinfo="skip",
        name="by the truck file alone",
    )
    figure.add_scatter(
        x=x,
        y=to_unit(curve.height, length),
        mode="lines",
        line={"color": BLUE, "width": 3},
        hoverinfo="skip",  # a tap beside a reading is meant for the reading
        name="fitted line",
    )
    _add_readings(figure, curve, system, ids or {})
    _add_doubted(figure, doubted[-DRAWN:], system, ids or {})
    if curve.crossover is not None:
        load, height = curve.crossover
        figure.add_scatter(
            x=[to_unit(load, force)],
            y=[to_unit(height, length)],
            mode="markers",
            marker={"symbol": "diamond-open", "size": 14, "color": GREEN, "line": {"width": 3}},
            hovertemplate=f"crossover: {shop_load(load, system)}, {shop_length(height, system)}<extra></extra>",
            name="crossover",
        )
    for name, end in (("full bump", curve.bump), ("full droop", curve.droop)):
        if end is not None:
            figure.add_hline(
                y=to_unit(end, length),
                line={"color": GREY, "width": 1.5, "dash": "dot"},
                annotation={"text": f"{name} {shop_length(end, system)}", "showarrow": False},
                annotation_position="top left" if name == "full bump" else "bottom right",
            )
    lay_out(figure, f"Load on the springs ({force})", f"Height at the spring seat ({length})")
    return figure


def _add_readings(figure: go.Figure, curve: CornerCurve, system: System, ids: Mapping[int, int]) -> None:
    length, force = unit_in("length", system), unit_in("force", system)
    for settled, words in SETTLED_WORDS.items():
        points = [p for p in curve.points[-DRAWN:] if p.reading.settled == settled]
        if not points:
            continue
        load, height, sd = np.array([(p.load, p.height, p.height_sd) for p in points]).T
        figure.add_scatter(
            x=to_unit(load, force),
            y=to_unit(height, length),
            error_y={"type": "data", "array": to_unit(NORMAL_HALF_WIDTH * sd, length)},
            mode="markers",
            marker={"symbol": MARKS[settled], "size": 10, "color": VERMILION},
            text=[p.reading.run for p in points],
            customdata=[ids.get(id(p.reading)) for p in points],
            hovertemplate=f"%{{text}}: %{{x:.0f}} {force}, %{{y:.2f}} {length}<extra>{words}</extra>",
            name=f"readings, {words}",
        )


def _add_doubted(figure: go.Figure, points: Sequence[Point], system: System, ids: Mapping[int, int]) -> None:
    if not points:
        return
    length, force = unit_in("length", system), unit_in("force", system)
    figure.add_scatter(
        x=[to_unit(p.load, force) for p in points],
        y=[to_unit(p.height, length) for p in points],
        mode="markers",
        marker={"symbol": "x-thin", "size": 11, "line": {"width": 3, "color": GREY}},
        text=[p.reading.run for p in points],
        customdata=[ids.get(id(p.reading)) for p in points],
        hovertemplate=f"%{{text}}: %{{x:.0f}} {force}, %{{y:.2f}} {length}<extra>in doubt</extra>",
        name="readings in doubt",
    )


def misses_figure(checks: Sequence[Check], system: System, ids: Mapping[int, int]) -> go.Figure:
    """Each reading's miss against what the others allow, over the days."""
    length, shown = unit_in("length", system), checks[-DRAWN:]
    figure = go.Figure()
    figure.add_hline(y=0, line={"color": BLUE, "width": 3})
    sd = [c.error / c.t if c.t else 0.0 for c in shown]
    figure.add_scatter(
        x=[c.reading.taken_at for c in shown],
        y=[to_unit(c.error, length) for c in shown],
        error_y={"type": "data", "array": [to_unit(NORMAL_HALF_WIDTH * one, length) for one in sd]},
        mode="markers",
        marker={"symbol": [MARKS[c.reading.settled] for c in shown], "size": 10, "color": VERMILION},
        text=[c.reading.run for c in shown],
        customdata=[ids.get(id(c.reading)) for c in shown],
        hovertemplate=f"%{{text}}: %{{y:.2f}} {length}<extra></extra>",
        name="readings",
    )
    lay_out(figure, "Date", f"Off what the others allow ({length})")
    return figure


def lay_out(figure: go.Figure, across: str, up: str) -> None:
    """Axes and paper as all figures have them."""
    axis = {"zeroline": False, "showline": True, "ticks": "outside", "fixedrange": True, "automargin": True}
    figure.update_layout(
        template="none",
        height=HEIGHT,
        autosize=True,
        margin={"l": 8, "r": 8, "t": 8, "b": 8},
        paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        font={"family": "system-ui, sans-serif", "size": 14},
        xaxis=axis | {"title": {"text": across}},
        yaxis=axis | {"title": {"text": up}},
        showlegend=False,
        dragmode=False,
        hovermode="closest",
        hoverdistance=REACH,
    )


def corner_key(curve: CornerCurve, doubted: bool = False) -> list[tuple[str, str]]:
    """The signs in the figure, as classes of the style sheet, and what they stand for: its legend as plain text."""
    signs = [("line", "fitted line"), ("band", "its 90 % band"), ("nominal", "by the truck file alone")]
    settled = {p.reading.settled for p in curve.points}
    signs += [
        (f"point {way}", f"a reading, {words}") for way, words in SETTLED_WORDS.items() if way in settled
    ]
    if doubted:
        signs.append(("cross-out", "in doubt, out of the fit"))
    return signs + ([("knee", "crossover")] if curve.crossover is not None else [])
