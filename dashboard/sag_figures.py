"""Where the height went, drawn: the split, the trend, what is to come, the alarm. Pure: an answer in, a figure out.

Colours as in `figures`.
"""

from collections.abc import Sequence
from datetime import timedelta

import numpy as np
import plotly.graph_objects as go

from dashboard.figures import BAND, BLUE, GREEN, GREY, PINK, VERMILION, lay_out
from tuning.arrays import Array
from tuning.fit import Fit
from tuning.interval import NORMAL_HALF_WIDTH, Interval
from tuning.sag.answer import CornerSag, Sag
from tuning.sag.chart import H
from tuning.sag.parts import Parts
from tuning.truck import CORNERS
from tuning.units import System, decimal_length, to_unit, unit_in

ROW = 25  # px of a bar and its label
PART_COLOUR = {
    "spring set": VERMILION,
    "load": BLUE,
    "nut or stack": GREEN,
    "left over": PINK,
    "set or load": BLUE,
    "height lost": GREY,
}
HEIGHT = 320  # px
SOON = 2 * 365  # days ahead that are shown at least
WIDER = "rgba(0, 114, 178, 0.12)"
DAY = timedelta(days=1)


def parts_of(parts: Parts) -> list[tuple[str, Interval]]:
    """The parts that the log tells of a corner and their sum, last, in words."""
    if parts.height_lost is None:
        return []
    named = [
        ("spring set", parts.from_set),
        ("load", parts.from_load),
        ("set or load", parts.set_and_load),
        ("nut or stack", parts.from_adjustment),
        ("left over", parts.left_over),
        ("height lost", parts.height_lost),
    ]
    return [(name, part) for name, part in named if part is not None]


def split_height(found: Sag) -> int:
    """Height of the split's picture (px)."""
    return ROW * sum(len(parts_of(c.parts)) + 1 for c in found.corners.values()) + 80


def split_figure(found: Sag, system: System) -> go.Figure:
    """A waterfall for each corner: every part begins where the one before ends, the sum begins at zero.

    Whiskers are the 90 % interval of each part.
    """
    figure, unit, row = go.Figure(), unit_in("height", system), 0
    ticks: dict[int, str] = {}
    for name, corner in found.corners.items():
        ticks[row] = f"<b>{name}</b>"
        row -= 1
        start = 0.0
        for what, part in parts_of(corner.parts):
            begin = 0.0 if what == "height lost" else start
            _add_bar(figure, row, begin, part, what, name, system)
            ticks[row] = f"{what} {decimal_length(part.mean, system)}"
            start, row = begin + part.mean, row - 1
    lay_out(figure, f"height lost ({unit})", "")
    figure.add_vline(x=0, line={"color": GREY, "width": 1.5})
    figure.update_yaxes(
        tickvals=list(ticks),
        ticktext=list(ticks.values()),
        range=[row + 0.4, 0.6],
        ticks="",
        tickfont={"size": 13},
    )
    figure.update_layout(height=split_height(found), barmode="overlay")
    return figure


def _add_bar(
    figure: go.Figure, row: int, begin: float, part: Interval, what: str, corner: str, system: System
) -> None:
    unit = unit_in("height", system)
    figure.add_bar(
        orientation="h",
        y=[row],
        x=[to_unit(part.mean, unit)],
        base=[to_unit(begin, unit)],
        width=0.72,
        marker={"color": PART_COLOUR[what]},
        error_x={
            "array": [to_unit(part.high - part.mean, unit)],
            "arrayminus": [to_unit(part.mean - part.low, unit)],
            "color": "#7a7a7a",
            "thickness": 2,
        },
        hovertemplate=f"{corner} {what}: {decimal_length(part.mean, system)}, 90 %: "
        f"{decimal_length(part.low, system)} to {decimal_length(part.high, system)}<extra></extra>",
        name=f"{corner} {what}",
    )


# ---------------------------------------------------------------- one corner over time


def trend_figure(fit: Fit, corner: CornerSag, system: System) -> go.Figure:
    """Length that the springs have lost by each weighed run, and the trend with the 90 % band of its slope."""
    lost, unit = corner.history, unit_in("spring_set", system)
    when = [fit.runs[i].taken_at for i in lost.run]
    figure = go.Figure()
    if corner.trend.shape != "none":
        line, half = trend_line(corner)
        _add_band(figure, when, to_unit(line - half, unit), to_unit(line + half, unit), BAND)
        figure.add_scatter(
            x=when, y=to_unit(line, unit), mode="lines", line={"color": BLUE, "width": 3}, hoverinfo="skip"
        )
    figure.add_scatter(
        x=when,
        y=to_unit(lost.length, unit),
        error_y={"type": "data", "array": to_unit(NORMAL_HALF_WIDTH * lost.spread, unit), "thickness": 1},
        mode="markers",
        marker={"color": VERMILION, "size": 8 if len(when) < 80 else 4},
        text=[fit.runs[i].name for i in lost.run],
        hovertemplate=f"%{{text}}: %{{y:.2f}} {unit} shorter<extra></extra>",
    )
    lay_out(figure, "", f"spring set ({unit})")
    figure.update_layout(height=HEIGHT)
    return figure


def trend_line(corner: CornerSag) -> tuple[Array, Array]:
    """The trend at each run of the corner's history and half its 90 % band (m), the band from the slope alone.

    A weighted straight line goes through the weighted mean of what it was fitted to.
    """
    trend, lost = corner.trend, corner.history
    clock = lost.days if trend.clock == "time" or lost.distance is None else lost.distance
    basis, weight = trend.basis(clock), 1 / lost.spread**2
    away = basis - np.average(basis, weights=weight)
    month = corner.rate_per_month
    assert month is not None
    share = (month.high - month.mean) / month.mean
    return np.average(lost.length, weights=weight) + trend.slope * away, np.abs(share * trend.slope * away)


def to_come_figure(fit: Fit, found: Sag, name: str) -> go.Figure:
    """Height as it was read, as it is to come with its bands, the tolerance, and when it is left."""
    corner, system = found.corners[name], fit.truck.units
    unit, future, figure = unit_in("height", system), corner.forecast, go.Figure()
    sound = [r for run in fit.runs for r in run.at(name) if r.height is not None and not r.doubt]
    show = future.days <= max([SOON, *(d * 1.15 for d in future.leaves if d is not None)])
    when = [found.taken_at + timedelta(days=float(d)) for d in future.days[show]]
    low, high, mean = future.low[show], future.high[show], future.mean[show]
    reading = NORMAL_HALF_WIDTH * future.reading_sd
    below, above = mean - np.hypot(mean - low, reading), mean + np.hypot(high - mean, reading)
    _add_target(figure, fit, name, unit)
    _add_band(figure, when, to_unit(below, unit), to_unit(above, unit), WIDER)
    _add_band(figure, when, to_unit(low, unit), to_unit(high, unit), BAND)
    figure.add_scatter(
        x=when,
        y=to_unit(mean, unit),
        mode="lines",
        line={"color": BLUE, "width": 3},
        hovertemplate=f"%{{x|%B %Y}}: %{{y:.2f}} {unit}<extra>to come</extra>",
    )
    figure.add_scatter(
        x=[r.taken_at for r in sound],
        y=[to_unit(r.height, unit) for r in sound],
        mode="markers",
        marker={"color": VERMILION, "size": 7 if len(sound) < 80 else 4},
        text=[r.run for r in sound],
        hovertemplate=f"%{{text}}: %{{y:.2f}} {unit}<extra>read</extra>",
    )
    for days, odds in zip(future.leaves, ("10 %", "50 %", "90 %"), strict=True):
        if days is not None:
            x = found.taken_at + timedelta(days=days)
            figure.add_vline(x=x, line={"color": GREY, "width": 1.5, "dash": "dot"})
            figure.add_annotation(x=x, y=1, yref="paper", yanchor="bottom", text=odds, showarrow=False)
    lay_out(figure, "", f"height ({unit})")
    figure.update_layout(height=HEIGHT, margin={"t": 26})
    return figure


def _add_target(figure: go.Figure, fit: Fit, name: str, unit: str) -> None:
    target = fit.truck.target
    if name in target.heights:
        middle, tolerance = target.heights[name], target.height_tolerance
        edges = [to_unit(middle + side * tolerance, unit) for side in (-1, 1)]
        figure.add_hrect(y0=edges[0], y1=edges[1], fillcolor=GREEN, opacity=0.14, line={"width": 0})
        for edge in edges:
            figure.add_hline(y=edge, line={"color": GREEN, "width": 1.5, "dash": "dash"})


def chart_figure(fit: Fit, corner: CornerSag) -> go.Figure:
    """The cumulative sum run by run, its limit, and where it rang."""
    chart, figure = corner.chart, go.Figure()
    when = [fit.runs[i].taken_at for i in chart.run]
    names = [fit.runs[i].name for i in chart.run]
    many = len(when) >= 80
    figure.add_scatter(
        x=when,
        y=chart.total,
        mode="lines" if many else "lines+markers",
        line={"color": BLUE, "width": 2},
        marker={"size": 7},
        text=names,
        customdata=chart.z,
        hovertemplate="%{text}: sum %{y:.1f}; this run %{customdata:+.1f} standard deviations<extra></extra>",
    )
    rung = list(chart.alarms)
    figure.add_scatter(
        x=[when[i] for i in rung],
        y=chart.total[rung],
        mode="markers",
        marker={"symbol": "x", "size": 12, "color": VERMILION},
        text=[names[i] for i in rung],
        hovertemplate="%{text}: alarm, sum %{y:.1f}<extra></extra>",
    )
    figure.add_hline(y=H, line={"color": VERMILION, "width": 2, "dash": "dash"})
    lay_out(figure, "", "sum (standard deviations)")
    figure.update_yaxes(range=[-0.1, max(1.25 * H, 1.08 * float(chart.total.max(initial=0.0)))])
    figure.update_layout(height=HEIGHT)
    return figure


def _add_band(figure: go.Figure, when: Sequence[object], low: Array, high: Array, colour: str) -> None:
    figure.add_scatter(
        x=[*when, *reversed(when)],
        y=np.concatenate([high, low[::-1]]),
        fill="toself",
        fillcolor=colour,
        line={"width": 0},
        mode="lines",
        hoverinfo="skip",
    )


def first_to_look_at(found: Sag) -> str:
    """The corner with most to say: a cause before none, then the most height lost."""
    urgent = ("settling", "low", "loaded", "steady", "unknown")

    def order(name: str) -> tuple[int, float]:
        lost = found.corners[name].parts.height_lost
        return urgent.index(found.corners[name].verdict), -(lost.mean if lost else 0.0)

    return min(CORNERS, key=order)
