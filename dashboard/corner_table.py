"""A corner's readings as a table, latest first, each with the way to look at it. Pure."""

from dataclasses import dataclass

from dash import dcc, html

from dashboard.shell import Component, address
from dashboard.words import SETTLED_WORDS
from tuning.fit import Check
from tuning.readings import Reading
from tuning.units import System, decimal_length, shop_length, shop_load

SHOWN = 40  # readings in the table at a time


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
    heads = ("Run", "Height", "Load", "Preload", "Settled", "Against the fit", "Look")
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
        _look(reading, id_),
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


def _look(reading: Reading, id_: int) -> Component:
    """The way to a reading without pointing at the figure."""
    at = f"{reading.run}, {reading.taken_at:%Y-%m-%d %H:%M}"
    return html.Button(
        "Look at it",
        id={"type": "corners-look", "corner": reading.corner, "id": id_},
        type="button",
        className="minor",
        **{"aria-label": f"Look at it: {at}"},
    )
