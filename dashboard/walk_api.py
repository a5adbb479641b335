"""A position of a cycle walk as a phone's outbox posts it: to save it once, to look at it."""

from typing import Annotated, Any, Literal

from dash import Dash
from pydantic import StringConstraints

from dashboard.api import RefusedError, Sent, Text, add_route, must_write, shelf_of
from dashboard.shell import said
from dashboard.source import source
from dashboard.walk_form import FIELDS, PAIR, Asked, Checked, Form, Station, check, meanwhile
from dashboard.walk_state import end_state, saved_words
from dashboard.words import listed
from tuning.findings import STEERING
from tuning.log.database import LogError, LogFailedError
from tuning.log.walk_intake import record
from tuning.truck import END_NAMES
from tuning.truckfile import read_truck
from tuning.units import System
from tuning.walk import WalkError, progress, stations

PLACES = 100  # to look at in one position; a truck file names a dozen

Name = Literal[(*FIELDS, *PAIR)]
Steering = Literal[("", *STEERING["front"])]
Typed = Annotated[str, StringConstraints(max_length=2_100)]  # a little more than a note may have
Texts = dict[Text, dict[Name, Typed]]


class SentStation(Sent):
    """One position of an end's axle as typed. typed, shown: as in `Form`, only of places that were changed."""

    what = "position of a walk"

    end: Literal[END_NAMES]
    position: Text
    steering: Steering
    units: System
    taken_at: Text
    by: Text
    typed: Texts
    shown: Texts

    @property
    def form(self) -> Form:
        """The form it was typed into."""
        station = Station(self.end, self.position, self.steering)
        return Form(station, self.typed, self.shown, self.taken_at, " ".join(self.by.split()), self.units)


def register(app: Dash) -> None:
    """Put the routes on the app's server."""
    add_route(app, "/api/walk", SentStation, save)
    add_route(app, "/api/walk/check", SentStation, look)


def look(sent: SentStation) -> dict[str, Any]:
    """What is wrong so far, and what somebody else put down meanwhile. Writes nothing."""
    truck = shelf_of(sent).truck
    checked = check(sent.form, truck)
    found = meanwhile(sent.form, truck, source().log.walk(sent.truck))
    return {"faults": _faults(checked), "asked": list(map(_question, found))}


def save(sent: SentStation) -> dict[str, Any]:
    """Save a position once. Raises RefusedError where it is faulty, changed meanwhile, or no cycle table."""
    must_write()
    if _held(sent):
        return _saved(sent, already=True)
    truck, log = shelf_of(sent).truck, source().log
    here = (sent.position, sent.steering)
    if here not in stations(sent.end) or len(sent.typed) > PLACES:
        raise RefusedError(200, f"Nothing is saved. No such position of the {sent.end}: {', '.join(here)}.")
    checked = check(sent.form, truck)
    if checked.faults:
        raise RefusedError(200, _faulty(checked), faults=_faults(checked))
    if not checked.rows:
        raise RefusedError(200, "Nothing was changed here, so nothing is saved.")
    open_ = [
        one for one in meanwhile(sent.form, truck, log.walk(sent.truck)) if one.key not in sent.confirmed
    ]
    if open_:
        told = "Nothing is saved yet: somebody else put down something here meanwhile. Say which is right."
        raise RefusedError(200, told, asked=list(map(_question, open_)))
    try:
        done = record(log, sent.truck, checked.rows, sent.key)
    except WalkError as error:
        raise RefusedError(200, f"Nothing is saved. {said(error)}") from error
    except LogFailedError:
        raise
    except LogError as error:
        _held(sent)  # sent twice at once with other words: says so
        raise RefusedError(200, said(error)) from error
    return _saved(sent, done.already)


def _held(sent: SentStation) -> bool:
    """Whether the log has this already. Raises RefusedError where it has something else under this key.

    It is read with the truck file it was saved with: places and units may have been renamed since.
    """
    found = source().log.walk_saved_under(sent.key)
    if found is None:
        return False
    if found.truck != sent.truck or check(sent.form, read_truck(found.toml)).rows != found.rows:
        raise RefusedError(
            409,
            "Something else was saved in this one's place before. Nothing was saved now: look, then save it again.",
            renew=True,
        )
    return True


def _saved(sent: SentStation, already: bool) -> dict[str, Any]:
    truck = source().question(sent.truck).truck
    rows = tuple(one.row for one in source().log.walk(sent.truck))
    answer = progress(truck, rows)
    text = saved_words(sent.form.station, "" in sent.typed, answer.ends[sent.end], truck)
    return {"saved": text, "already": already, "state": end_state(truck, rows, answer, sent.end)}


def _faults(checked: Checked) -> list[dict[str, str]]:
    return [{"place": place, "field": name, "text": text} for (place, name), text in checked.faults.items()]


def _faulty(checked: Checked) -> str:
    """Which fields need a look, and what belongs to no field."""
    fields = [f"{place} {name}".strip() for place, name in checked.faults if name]
    homeless = [text for (_, name), text in checked.faults.items() if not name]
    return " ".join(["Nothing is saved.", *([f"Look at {listed(fields)}."] if fields else []), *homeless])


def _question(asked: Asked) -> dict[str, Any]:
    return {"key": asked.key, "place": asked.place, "text": asked.text, "there": dict(asked.there)}
