"""A truck's years on one picture: heights, cross-weight, loads, preload and events over one time axis. Pure.

Colours as in `figures`; each corner has a sign of its own as well. One label tells all of a visit, wherever in the
picture one points.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta
from textwrap import wrap

import numpy as np
import plotly.graph_objects as go

from dashboard.figures import BLUE, GREEN, GREY, PINK, VERMILION, lay_out
from dashboard.history import EventKind, Visit, by_kind, cross_text, height_text, odometer_text
from tuning.truck import CORNERS
from tuning.units import System, shop_length, shop_load, to_unit, unit_in

CORNER_LOOK = {
    "LF": (BLUE, "circle"),
    "RF": (VERMILION, "square"),
    "LR": (GREEN, "triangle-up"),
    "RR": (PINK, "diamond"),
}
EVENT_SIGN: dict[EventKind, str] = {
    "stack": "diamond-tall",
    "nut": "arrow-up",
    "corrected": "hash-open",
    "doubtful": "x",
}
EVENT_ROWS: dict[EventKind, str] = {
    "stack": "stack",
    "nut": "nut",
    "corrected": "corrected",
    "doubtful": "in doubt",
}
HEIGHT = 880  # px
PANELS = {  # axis of each, from the foot of the picture, and its share of the height
    "y": (0.0, 0.1),
    "y2": (0.14, 0.32),
    "y3": (0.36, 0.56),
    "y4": (0.6, 0.72),
    "y5": (0.76, 1.0),
}
SIGNS_UP_TO = 80  # visits; with more, the signs would hide the lines
LEAST_ROOM = timedelta(days=10)  # on either side, so that a single run has days on its axis
LINE = 46  # letters of a label's line, so that it fits on a phone


def history_figure(visits: Sequence[Visit], system: System) -> go.Figure:
    """The picture. visits: oldest first, at least one."""
    figure = go.Figure()
    length, force = unit_in("length", system), unit_in("force", system)
    _add_corners(figure, visits, "y5", lambda v: v.heights, length)
    _add_line(figure, visits, "y4")
    _add_corners(figure, visits, "y3", lambda v: v.loads, force)
    _add_corners(figure, visits, "y2", lambda v: v.preload, length)
    _add_events(figure, visits)
    _add_labels(figure, visits, system)
    lay_out(figure, "", "")
    titles = ("", f"preload ({length})", f"load ({force})", "cross-weight (%)", f"height ({length})")
    _lay_out_panels(figure, dict(zip(PANELS, titles, strict=True)))
    spare = max(0.03 * (visits[-1].taken_at - visits[0].taken_at), LEAST_ROOM)
    figure.update_layout(
        xaxis={"range": [visits[0].taken_at - spare, visits[-1].taken_at + spare]},
        height=HEIGHT,
        margin={"l": 8, "r": 12, "t": 24, "b": 8},
        hovermode="x",
        hoversubplots="axis",
        hoverdistance=-1,
        hoverlabel={"align": "left", "font": {"size": 12}},
    )
    return figure


def _lay_out_panels(figure: go.Figure, titles: Mapping[str, str]) -> None:
    """All panels over one time axis, with one line across them at the visit that is pointed at."""
    read = {trace.yaxis for trace in figure.data if any(value is not None for value in trace.y)}
    usual = figure.layout.yaxis.to_plotly_json() | {"anchor": "x", "nticks": 6}
    head = {
        "xref": "paper",
        "yref": "paper",
        "x": 0,
        "xanchor": "left",
        "yanchor": "bottom",
        "showarrow": False,
    }
    for axis, domain in PANELS.items():
        figure.update_layout({axis.replace("y", "yaxis"): usual | {"domain": domain}})
        title = titles[axis] if axis in read else f"{titles[axis]}: nothing read"
        figure.add_annotation(text=title, y=domain[1], font={"size": 13}, **head)
    rows = list(reversed(EVENT_ROWS.values()))
    figure.update_layout(
        yaxis={"type": "category", "categoryorder": "array", "categoryarray": rows, "tickfont": {"size": 12}}
    )
    spike = {"showspikes": True, "spikemode": "across", "spikesnap": "hovered data", "spikethickness": 1}
    figure.update_xaxes(
        type="date", anchor="y", nticks=4, tickangle=0, spikecolor=GREY, spikedash="solid", **spike
    )


def _add_corners(
    figure: go.Figure, visits: Sequence[Visit], yaxis: str, of: Callable[[Visit], dict[str, float]], unit: str
) -> None:
    for corner in CORNERS:
        values = [of(v).get(corner) for v in visits]
        if all(value is None for value in values):
            continue
        colour, sign = CORNER_LOOK[corner]
        figure.add_scatter(
            x=[v.taken_at for v in visits],
            y=[None if value is None else to_unit(value, unit) for value in values],
            mode="lines+markers" if len(visits) <= SIGNS_UP_TO else "lines",
            line={"color": colour, "width": 1.5},
            marker={"symbol": sign, "size": 7, "color": colour},
            hoverinfo="skip",
            name=corner,
            yaxis=yaxis,
        )


def _add_line(figure: go.Figure, visits: Sequence[Visit], yaxis: str) -> None:
    figure.add_scatter(
        x=[v.taken_at for v in visits],
        y=[None if v.cross is None else 100 * v.cross for v in visits],
        mode="lines+markers" if len(visits) <= SIGNS_UP_TO else "lines",
        line={"color": GREY, "width": 1.5},
        marker={"size": 6, "color": GREY},
        hoverinfo="skip",
        name="cross-weight",
        yaxis=yaxis,
    )


def _add_events(figure: go.Figure, visits: Sequence[Visit]) -> None:
    """A row of signs for each kind. Kinds that never came up keep their row, so that its absence is seen."""
    found = by_kind(visits)
    for kind, words in EVENT_ROWS.items():
        at = [v.taken_at for v in found.get(kind, [])]
        figure.add_scatter(
            x=at or [None],
            y=[words] * max(len(at), 1),
            mode="markers",
            marker={"symbol": EVENT_SIGN[kind], "size": 11, "color": VERMILION, "line": {"width": 2}},
            hoverinfo="skip",
            name=words,
            yaxis="y",
        )


def _add_labels(figure: go.Figure, visits: Sequence[Visit], system: System) -> None:
    """Unseen points for each visit: one among the heights carries its label, those in the other panels only let
    the line across all panels follow wherever one points."""
    unit, when = unit_in("length", system), [v.taken_at for v in visits]
    lowest = [min(v.heights.values(), default=np.nan) for v in visits]
    spare = np.nanmin([*lowest, np.inf])
    own = {"x": when, "mode": "markers", "marker": {"size": 1, "opacity": 0}}
    figure.add_scatter(
        **own,
        y=to_unit(np.where(np.isnan(lowest), spare if np.isfinite(spare) else 0.0, lowest), unit),
        text=[label(v, system) for v in visits],
        hovertemplate="%{text}<extra></extra>",
        name="visit",
        yaxis="y5",
    )
    inside = {trace.yaxis: next((v for v in trace.y if v is not None), None) for trace in figure.data}
    inside["y"] = EVENT_ROWS["nut"]
    for yaxis in inside.keys() - {"y5"}:
        if inside[yaxis] is not None:
            level = [inside[yaxis]] * len(when)
            figure.add_scatter(**own, y=level, hoverinfo="none", name="pointed at", yaxis=yaxis)


def label(visit: Visit, system: System) -> str:
    """All that is known of a visit, in lines."""
    driven = odometer_text(visit.odometer, system)
    lines = [f"<b>{_safe(visit.run)}</b>  {visit.taken_at:%Y-%m-%d}{f'  {driven}' if driven else ''}"]
    for corner in CORNERS:
        told = [height_text(visit, corner, system)]
        if corner in visit.loads:
            told.append(shop_load(visit.loads[corner], system))
        if corner in visit.preload:
            told.append(f"preload {shop_length(visit.preload[corner], system)}")
        lines.append(f"{corner}  {', '.join(told)}")
    if visit.cross is not None:
        lines.append(f"cross-weight {cross_text(visit)}")
    said = [event.text for event in visit.events] + ([visit.note] if visit.note else [])
    lines += [_safe(line) for text in said for line in wrap(text, LINE)[:3]]
    return "<br>".join(lines)


def _safe(text: str) -> str:
    """Text that the picture does not take for marks of its own."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace("%{", "% {")
