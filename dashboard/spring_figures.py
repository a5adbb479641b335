"""Every stack that was looked at as a picture: ride frequency against the place of the nut on its thread. Pure.

Longer springs meet the nut further up its thread, so preloads of different springs have no limits in common; the
nut's place has: it is the preload needed less the least that the thread allows with these springs.
"""

from collections.abc import Sequence
from html import escape

import numpy as np
import plotly.graph_objects as go

from dashboard.figures import BLUE, GREEN, GREY, VERMILION, lay_out
from tuning.arrays import Array, Places
from tuning.springs import REASONS, Search
from tuning.units import System, decimal_length, to_unit, unit_in

MOST_SOUND, MOST_TURNED_AWAY = 3000, 120  # dots: of the sound ones, of each reason
HEIGHT = 620  # px, with its legend
BEYOND = 0.35  # of the thread, seen on either side of it
WINDOW = "rgba(0, 158, 115, 0.15)"
SHAPES = (
    "x-thin",
    "square",
    "triangle-up",
    "triangle-right",
    "triangle-left",
    "hexagon",
    "star-diamond",
    "cross-thin",
)


def spring_figure(one: Search, listed: Sequence[int], own: int | None, system: System) -> go.Figure:
    """A dot for each stack. listed: those on the page, best first; own: what is on the truck, where known."""
    length = unit_in("length", system)
    nut, span = nut_place(one)
    reach = frequency_reach(one)
    figure = go.Figure()
    inside = (nut > -BEYOND * span) & (nut < (1 + BEYOND) * span)
    inside &= (one.outcome.frequency >= reach[0]) & (one.outcome.frequency <= reach[1])
    for i, reason in enumerate(REASONS):
        at = thinned(np.nonzero((one.reason == i) & inside)[0], MOST_TURNED_AWAY)
        marker = {"symbol": f"{SHAPES[i]}-open", "size": 6, "color": GREY, "opacity": 0.5}
        _add(figure, one, at, nut, system, reason, marker)
    dots = {"size": 5, "color": BLUE, "opacity": 0.6}
    _add(figure, one, thinned(one.order, MOST_SOUND), nut, system, "fits", dots)
    ring = {"symbol": "circle-open", "size": 9, "color": BLUE, "line": {"width": 1.5}}
    _add(figure, one, front(one), nut, system, "none better in both", ring)
    diamond = {"symbol": "diamond-open", "size": 13, "color": GREEN, "line": {"width": 2.5}}
    _add(figure, one, np.array(listed, dtype=int), nut, system, "in the table", diamond)
    star = {"symbol": "star", "size": 13, "color": VERMILION}
    _add(figure, one, np.array([] if own is None else [own], dtype=int), nut, system, "on it now", star)
    _limits(figure, one, to_unit(span, length))
    lay_out(figure, f"Nut on its thread ({length})", "Ride frequency (Hz)")
    width = to_unit(span, length)
    figure.update_xaxes(range=[-BEYOND * width, (1 + BEYOND) * width])
    figure.update_yaxes(range=list(reach))
    legend = {
        "orientation": "h",
        "yref": "container",
        "y": 0,
        "yanchor": "bottom",
        "x": 0,
        "font": {"size": 13},
    }
    figure.update_layout(height=HEIGHT, showlegend=True, legend=legend, legend_traceorder="reversed")
    return figure


def nut_place(one: Search) -> tuple[Array, float]:
    """How far from the least its thread allows the nut stands with each stack, mean of the corners, (k,) m; and how
    far it can."""
    spare = one.outcome.spare.mean(axis=1)
    span = float(spare[0].sum()) if len(spare) else 1.0
    return spare[:, 0], span


def frequency_reach(one: Search) -> tuple[float, float]:
    """Frequencies that are drawn (Hz): the window and every sound stack, with a margin."""
    low, high = one.wanted.frequency
    sound = one.outcome.frequency[one.order]
    low, high = min([low, *sound]), max([high, *sound])
    margin = 0.12 * (high - low)
    return max(low - margin, 0.0), high + margin


def front(one: Search) -> Places:
    """Sound stacks that no other sound one betters both in nearness to the middle of the frequency window and of
    the thread."""
    at = one.order
    thread = np.round(one.distance[at, 0], 9)
    off = np.round(np.abs(one.outcome.frequency[at] - np.mean(one.wanted.frequency)), 9)
    by = np.argsort(thread, kind="stable")
    nearest = np.concatenate([[np.inf], np.minimum.accumulate(off[by])])
    nearer = np.searchsorted(thread[by], thread[by], side="left")  # how many are nearer on the thread
    return at[by[off[by] <= nearest[nearer]]]


def thinned(at: Places, most: int) -> Places:
    """At most so many of them, evenly spaced from first to last: the same every time."""
    if len(at) <= most:
        return at
    return at[np.linspace(0, len(at) - 1, most).round().astype(int)]


def _add(
    figure: go.Figure,
    one: Search,
    at: Places,
    nut: Array,
    system: System,
    name: str,
    marker: dict[str, object],
) -> None:
    if not len(at):
        return
    figure.add_scatter(
        x=to_unit(nut[at], unit_in("length", system)),
        y=one.outcome.frequency[at],
        mode="markers",
        marker=marker,
        customdata=at.tolist(),  # packed as an array, a touched dot would come back without it
        text=[_hover(one, int(i), system) for i in at],
        hovertemplate="%{text}<extra></extra>",
        name=name,
    )


def _hover(one: Search, at: int, system: System) -> str:
    preload = decimal_length(float(one.outcome.preload[at].mean()), system)
    return f"{escape(one.said(at), quote=False)}<br>{preload} of preload, {one.outcome.frequency[at]:.2f} Hz"


def _limits(figure: go.Figure, one: Search, width: float) -> None:
    """The window asked for and the ends of the thread."""
    low, high = one.wanted.frequency
    figure.add_hrect(y0=low, y1=high, fillcolor=WINDOW, line={"width": 0}, layer="below")
    for x, anchor in ((0.0, "right"), (width, "left")):
        figure.add_vline(x=x, line={"color": GREY, "width": 1.5, "dash": "dash"})
        figure.add_annotation(
            x=x,
            y=0,
            yref="paper",
            text="thread ends",
            showarrow=False,
            textangle=-90,
            xanchor=anchor,
            yanchor="bottom",
        )


def caption(one: Search, turned_away: bool) -> str:
    """What the picture shows, for eyes and screen readers alike."""
    low, high = one.wanted.frequency
    sound = len(one.order)
    some = f", {MOST_SOUND:,} of them drawn" if sound > MOST_SOUND else ""
    faint = f" Grey ones were turned away, up to {MOST_TURNED_AWAY} for each reason." if turned_away else ""
    return (
        f"Each blue dot is a stack that fits: {sound:,}{some}. Up: ride frequency, the band is {low:.2f} to "
        f"{high:.2f} Hz. Across: where the nut has to stand on its thread. Rings: no other is nearer the middle of "
        f"both.{faint} Touch a dot to see what it is; touch a word below the picture to hide or show it."
    )
