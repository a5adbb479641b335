"""What a browser is told of an end's walk, so that it goes on without a link. Pure: answers in, plain data out."""

from typing import TypedDict

from dashboard.walk_form import Station, measured_here, places_here, rows_here, texts_of
from dashboard.words import END_WORDS
from tuning.findings import LOOKED_AT, POSITION_WORDS, Finding, WalkRow
from tuning.report.walk import cycle_lines, tally
from tuning.truck import Truck
from tuning.units import System, shop_length
from tuning.walk import EndWalk, WalkAnswer, in_truck, stations


class StationState(TypedDict):
    """A position with its steering. wanted: what is filled in there, the pair of height and shaft under the empty
    place; shown: what the log has of it; left: something is missing; said: how far it is."""

    position: str
    steering: str
    words: str
    wanted: list[str]
    shown: dict[str, dict[str, str]]
    left: bool
    said: str


class EndState(TypedDict):
    """An end: its stations in walking order, what touches or is close, its cycle table, how far both ends are."""

    end: str
    stations: list[StationState]
    close: list[str]
    cycle: list[str]
    tallies: dict[str, str]


def end_state(truck: Truck, rows: tuple[WalkRow, ...], answer: WalkAnswer, end: str) -> EndState:
    """All that the page shows of an end."""
    walk = answer.ends[end]
    return {
        "end": end,
        "stations": [_station(truck, rows, walk, Station(end, *one)) for one in stations(end)],
        "close": [_finding_words(row, truck.units) for row in (*walk.contacts, *walk.close)],
        "cycle": list(cycle_lines(walk, truck)),
        "tallies": {name: tally(one) for name, one in answer.ends.items()},
    }


def _station(truck: Truck, rows: tuple[WalkRow, ...], walk: EndWalk, station: Station) -> StationState:
    known = rows_here(rows, station)
    wanted = [""] * measured_here(truck, station) + list(places_here(truck, station))
    return {
        "position": station.position,
        "steering": station.steering,
        "words": station_words(station),
        "wanted": wanted,
        "shown": {place: texts_of(place, known.get(place), truck) for place in wanted},
        "left": (station.position, station.steering) in left_at(walk),
        "said": _how_far(walk, station),
    }


def _how_far(walk: EndWalk, station: Station) -> str:
    here = (station.position, station.steering)
    left = sum(len(one.places) for one in walk.missing if (one.position, one.steering) == here)
    parts = ["contact"] if here in {(row.position, row.steering) for row in walk.contacts} else []
    parts += [f"{left} missing"] if left else []
    if station.position in walk.unmeasured and station.steering in ("", "straight"):
        parts.append("height and shaft not measured")
    return ", ".join(parts) or "done"


def left_at(walk: EndWalk) -> set[tuple[str, str]]:
    """Stations at which something is missing: a place to look at, or height and shaft at bump or droop."""
    measured = {s for s in stations(walk.end) if s[0] in ("bump", "droop") and s[1] in ("", "straight")}
    left = {(one.position, one.steering) for one in walk.missing}
    return left | {s for s in measured if s[0] in walk.unmeasured}


def first_left(walk: EndWalk) -> tuple[str, str]:
    """The first station at which something is missing; the first of all where nothing is."""
    known = list(stations(walk.end))
    return next((one for one in known if one in left_at(walk)), known[0])


def station_words(station: Station) -> str:
    """`Front: full bump, both wheels up; steering at left lock`."""
    words = f"{END_WORDS[station.end]}: {POSITION_WORDS[station.position]}"
    if not station.steering or station.position not in LOOKED_AT:
        return words
    at = "" if station.steering == "straight" else "at "
    return f"{words}; steering {at}{station.steering}"


def saved_words(station: Station, measured: bool, walk: EndWalk, truck: Truck) -> str:
    """What became of a save. measured: height and shaft were of it."""
    text = f"Saved: {station_words(station)}. {tally(walk)}."
    if measured and in_truck(truck, station.end, walk.cycle.pairs):
        text += " Height and shaft are in the cycle table of the truck file now."
    elif measured and walk.cycle.held_back:
        text += f" Not the cycle table of the truck file: {walk.cycle.held_back}."
    return text


def _finding_words(row: Finding, system: System) -> str:
    figure = "contact" if row.contact or row.clearance is None else shop_length(row.clearance, system)
    where = f"{row.position}, {row.steering}" if row.steering else row.position
    more = "; ".join(filter(None, (row.note, row.photo)))
    return f"{row.place}: {figure} at {where}" + (f" ({more})" if more else "")
