"""Travel drawn: the shock and its springs at three heights to scale, and load against height. Pure.

Colours as in `figures`. Both figures are laid out in pixels, so that no label can lie on another on a phone.
"""

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard.figures import BLUE, GREEN, GREY, VERMILION, lay_out
from tuning.drawing import Drawing, drawing
from tuning.positions import Position
from tuning.travel import CornerTravel
from tuning.travel_curve import RIDE, Event, TravelCurve
from tuning.units import System, decimal_length, shop_length, shop_load, to_unit, unit_in

LINE = 16  # px a line of text takes
WIDTH, COLUMN = 348, 116  # px: of the drawing, of one position in it
COIL, BODY, SHAFT, PLATE, RING = 15, 9, 3, 19, 13  # px, half widths
AXIS, TEXT = 20, 44  # px from a column's left edge
TALL, HEAD, FOOT = 470, 62, 14  # px: the shocks, what stands over and under them
CURVE_HEIGHT, CURVE_MARGIN = 400, {"l": 62, "r": 12, "t": 10, "b": 56}
STEEL = "rgba(128, 128, 128, 0.28)"
TURNS_PER_METRE = 34  # coils drawn per metre of free length
HEADS = {"bump": "full bump", "ride": "ride", "strap": "strapped droop", "droop": "full droop"}


def spread(wanted: Sequence[float], sizes: Sequence[float]) -> list[float]:
    """Middles of labels, none on another and each as near as may be to where it is wanted (least squares).

    wanted: rising; sizes: of each. Labels that would meet share what they have to move (pooled means).
    """
    offset = np.concatenate([[0.0], np.cumsum((np.array(sizes[:-1]) + np.array(sizes[1:])) / 2)])
    pools: list[tuple[float, int]] = []
    for value in np.array(wanted) - offset[: len(wanted)]:
        mean, count = float(value), 1
        while pools and pools[-1][0] >= mean:
            before, many = pools.pop()
            mean, count = (mean * count + before * many) / (count + many), count + many
        pools.append((mean, count))
    flat = [mean for mean, count in pools for _ in range(count)]
    return [float(place) for place in flat + offset[: len(flat)]]


# ---------------------------------------------------------------- the shock to scale


def shock_figure(corner: CornerTravel, stroke: float, system: System) -> go.Figure | None:
    """Bump, ride and droop side by side, lengths along the shock to scale; None where lengths are not known."""
    droop = "strap" if corner.positions["strap"].height < corner.positions["droop"].height else "droop"
    names = ("bump", "ride", droop)
    drawn = [drawing(corner.positions[name], corner.stack, stroke) for name in names]
    shown = [one for one in drawn if one is not None]
    if len(shown) < len(drawn):
        return None
    low, high = min(d.perch for d in shown), max(d.body[1] for d in shown)
    scale = TALL / (high - low)  # px per metre
    figure = go.Figure()
    for number, (name, one) in enumerate(zip(names, shown, strict=True)):
        position = corner.positions[name]
        left = number * COLUMN
        _add_shock(figure, one, corner, left, scale)
        _add_labels(figure, _labels(one, position, system), left, scale)
        head = (f"<b>{HEADS[name]}</b>", shop_length(position.height, system))
        _write(figure, left + AXIS - PLATE, high * scale + HEAD - LINE - 2, head, scale)
    height = TALL + HEAD + FOOT
    figure.update_layout(
        template="none",
        height=height,
        margin={"l": 0, "r": 0, "t": 0, "b": 0},
        paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        font={"family": "system-ui, sans-serif", "size": 12},
        showlegend=False,
        dragmode=False,
        hovermode=False,
        xaxis={"visible": False, "fixedrange": True, "range": [0, WIDTH / scale]},
        yaxis={
            "visible": False,
            "fixedrange": True,
            "range": [low - FOOT / scale, high + HEAD / scale],
            "scaleanchor": "x",
        },
    )
    return figure


def _add_shock(figure: go.Figure, one: Drawing, corner: CornerTravel, left: float, scale: float) -> None:
    """Body, shaft, springs, nut, slider, ring and perch of one position."""
    axis, px = (left + AXIS) / scale, 1 / scale

    def plate(low: float, high: float, half: float, fill: str) -> None:
        ends = {"x0": axis - half * px, "x1": axis + half * px, "y0": low, "y1": high}
        figure.add_shape(type="rect", **ends, fillcolor=fill, line={"width": 1, "color": GREY}, layer="below")

    plate(*one.shaft, SHAFT, GREY)
    plate(*one.body, BODY, STEEL)
    for span, spring, colour in (
        (one.upper, corner.stack.upper, BLUE),
        (one.lower, corner.stack.lower, GREEN),
    ):
        if span is not None and spring is not None and spring.free_length is not None:
            coils = max(4, round(spring.free_length * TURNS_PER_METRE))
            _coil(figure, axis, COIL * px, span, coils, colour)
    plate(one.nut, one.nut + 7 * px, PLATE, GREY)
    plate(one.perch - 7 * px, one.perch, PLATE, GREY)
    if one.slider is not None:
        plate(one.slider - 2 * px, one.slider + 2 * px, PLATE - 2, GREY)
    if one.ring is not None:
        plate(one.ring, one.ring + 6 * px, RING, VERMILION)


def _coil(
    figure: go.Figure, axis: float, half: float, span: tuple[float, float], coils: int, colour: str
) -> None:
    heights = np.linspace(*span, 2 * coils + 1)
    side = axis + half * (-1.0) ** np.arange(2 * coils + 1)
    figure.add_scatter(x=side, y=heights, mode="lines", line={"color": colour, "width": 2.5}, name=colour)


def _labels(one: Drawing, position: Position, system: System) -> list[tuple[float, float, tuple[str, ...]]]:
    """What is written beside one position: (height in m, half width of its part in px, lines), lowest first."""

    def spring(name: str, length: float | None, left: float | None) -> tuple[str, ...]:
        lines = [f"<b>{name}</b>", decimal_length(length or 0.0, system)]
        if left is not None:
            lines.append(f"{_bare(abs(left), system)} {'left' if left >= 0 else 'short'}")
        return tuple(lines)

    middle = {span: sum(span) / 2 for span in (one.lower, one.upper, one.shaft, one.loose) if span}
    shaft = ("<b>shaft</b>", decimal_length(position.shaft or 0.0, system))
    lower = spring("lower" if one.upper else "spring", position.lower_length, position.lower_left)
    found = [(one.nut, PLATE, ("nut",)), (middle[one.lower], COIL, lower)]
    found.append((middle[one.shaft] if one.shaft[0] < 0 else one.perch, SHAFT, shaft))
    if one.upper is not None:
        upper = spring("upper", position.upper_length, position.upper_left)
        found.append((middle[one.upper], COIL, upper))
    if one.ring is not None and position.ring_distance is not None and one.slider is not None:
        free = position.ring_distance > 1e-6
        text = ("to ring", decimal_length(position.ring_distance, system)) if free else ("on ring",)
        found.append(((one.slider + one.ring) / 2, PLATE, text))
    if one.loose is not None:
        found.append((middle[one.loose], 0, ("loose", decimal_length(one.loose[1] - one.loose[0], system))))
    return sorted(found)


def _bare(length: float, system: System) -> str:
    return decimal_length(length, system).split(" ")[0]


def _add_labels(
    figure: go.Figure, labels: list[tuple[float, float, tuple[str, ...]]], left: float, scale: float
) -> None:
    """Labels beside a position, each with a thin line to its part."""
    places = spread([at * scale for at, _, _ in labels], [LINE * len(lines) + 2 for _, _, lines in labels])
    for (at, half, lines), place in zip(labels, places, strict=True):
        figure.add_shape(
            type="line",
            x0=(left + AXIS + half + 1) / scale,
            x1=(left + TEXT - 2) / scale,
            y0=at,
            y1=place / scale,
            line={"width": 1, "color": GREY},
        )
        _write(figure, left + TEXT, place, lines, scale)


def _write(figure: go.Figure, x: float, y: float, lines: Sequence[str], scale: float) -> None:
    figure.add_annotation(
        x=x / scale,
        y=y / scale,
        text="<br>".join(lines),
        showarrow=False,
        xanchor="left",
        yanchor="middle",
        align="left",
        borderpad=0,
        font={"size": 12},
    )


# ---------------------------------------------------------------- load against height


def travel_figure(curve: TravelCurve, system: System) -> go.Figure:
    """Load on the springs across, height up, from as high as the axle can come to full droop; each event marked."""
    length, force = unit_in("length", system), unit_in("force", system)
    x, y = to_unit(curve.load, force), to_unit(curve.height, length)
    figure = go.Figure()
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines",
        line={"color": BLUE, "width": 3},
        hovertemplate=f"%{{y:.2f}} {length}: %{{x:.0f}} {force}<extra></extra>",
        name="load on the springs",
    )
    lay_out(figure, f"Load on the springs ({force})", f"Height at the spring seat ({length})")
    pad = 0.09 * float(y[-1] - y[0])  # room for names that stand beside their mark
    low, high = float(y[0]) - pad, float(y[-1]) + pad
    figure.update_layout(height=CURVE_HEIGHT, margin=CURVE_MARGIN)
    figure.update_xaxes(range=[0, 1.08 * float(x.max())], automargin=False)
    figure.update_yaxes(range=[low, high], automargin=False)
    shown = [event for event in curve.events if event.load is not None]
    scale = (CURVE_HEIGHT - CURVE_MARGIN["t"] - CURVE_MARGIN["b"]) / (high - low)
    middle = (low + high) / 2
    _add_events(figure, [e for e in shown if to_unit(e.height, length) <= middle], "left", scale, system)
    _add_events(figure, [e for e in shown if to_unit(e.height, length) > middle], "right", scale, system)
    return figure


def _add_events(figure: go.Figure, events: Sequence[Event], side: str, scale: float, system: System) -> None:
    """Marks on the line and their names, above it at the right or below it at the left, where the line never is."""
    if not events:
        return
    length, force = unit_in("length", system), unit_in("force", system)
    x = [to_unit(e.load or 0.0, force) for e in events]
    y = [to_unit(e.height, length) for e in events]
    figure.add_scatter(
        x=x,
        y=y,
        mode="markers",
        marker={
            "size": 11,
            "color": [GREEN if e.name == RIDE else VERMILION for e in events],
            "symbol": ["diamond" if e.name == RIDE else "circle-open" for e in events],
            "line": {"width": 2},
        },
        text=[
            f"{e.name}: {shop_length(e.height, system)}, {shop_load(e.load or 0.0, system)}" for e in events
        ],
        hovertemplate="%{text}<extra></extra>",
        name="events",
    )
    for at, name, place in zip(
        zip(x, y, strict=True), [e.name for e in events], _stepped(y, side, scale), strict=True
    ):
        figure.add_annotation(
            x=at[0],
            y=at[1],
            text=name,
            showarrow=True,
            arrowhead=0,
            arrowwidth=1,
            arrowcolor=GREY,
            standoff=6,
            ax=-18 if side == "left" else 18,
            ay=-(place - at[1]) * scale,
            xanchor="right" if side == "left" else "left",
            yanchor="middle",
            borderpad=0,
            font={"size": 13},
        )


def _stepped(heights: Sequence[float], side: str, scale: float) -> list[float]:
    """Where the names go: at their mark, or as far above (right) or below (left) it as the one before asks."""
    step = (LINE + 1) / scale
    places: list[float] = []
    for height in heights if side == "right" else reversed(heights):
        if not places:
            places.append(height)
        elif side == "right":
            places.append(max(height, places[-1] + step))
        else:
            places.append(min(height, places[-1] - step))
    return places if side == "right" else places[::-1]
