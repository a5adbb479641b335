"""What a phone's outbox posts, as plain JSON without Dash: something to save, a form to look at. All or nothing. Here
is what all of that shares, and the run; a position of a cycle walk is in `walk_api`.

An answer with `refused` is the last word on what was sent: a person has to decide. Without it (a log that is busy, a
login that ran out) the same is sent again later.
"""

from collections.abc import Callable
from typing import Annotated, Any, ClassVar, Literal, TypeVar

from dash import Dash
from flask import Response, jsonify, request
from pydantic import BaseModel, ConfigDict, StringConstraints, ValidationError
from werkzeug.exceptions import RequestEntityTooLarge

from dashboard.auth import LOOKING, may_write
from dashboard.entry import FIELDS, HEIGHTS, Asked, Checked, Form, check, doubts, sums
from dashboard.source import source
from dashboard.words import listed
from tuning.faults import InputError
from tuning.log.database import LogError, LogFailedError
from tuning.log.shelf import Shelf
from tuning.readings import Reading
from tuning.truck import CORNERS

LARGEST = 64_000  # bytes; a long note and four readings at each corner are a tenth of it

Text = Annotated[str, StringConstraints(max_length=100)]
Corner = Literal[CORNERS]
Field = Literal[FIELDS]


class Sent(BaseModel):
    """What a page sends. key: the sender's own, one for each save; log: which log's truck it was typed for.

    confirmed: keys of what was asked and is so.
    """

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)
    what: ClassVar[str]

    key: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{32}$")]
    log: Text
    truck: Text
    confirmed: list[Text] = []


AnySent = TypeVar("AnySent", bound=Sent)


class SentRun(Sent):
    """A run as typed."""

    what = "run"

    run: Text
    taken_at: Text
    settled: Literal["", "above", "below"]
    note: Annotated[str, StringConstraints(max_length=10_000)]
    corners: dict[Corner, dict[Field, Text]]

    @property
    def form(self) -> Form:
        """The form it was typed into."""
        return Form(self.run, self.taken_at, self.settled, self.note, self.corners)


class RefusedError(Exception):
    """What was sent can't be saved as it is; nothing was saved. status: 200 where it is what a person typed that has
    to be looked at, which is no fault of the sending.
    """

    def __init__(self, status: int, error: str, **more: Any) -> None:
        """error: a sentence; more: what else the sender is told."""
        super().__init__(error)
        self.status, self.said = status, {"refused": True, "error": error} | more


def register(app: Dash) -> None:
    """Put the run's routes on the app's server."""
    add_route(app, "/api/runs", SentRun, save)
    add_route(app, "/api/check", SentRun, look)


def add_route(app: Dash, path: str, kind: type[AnySent], answer: Callable[[AnySent], dict[str, Any]]) -> None:
    """Put a route on the app's server that takes one kind of thing sent and answers it."""
    app.server.add_url_rule(path, path, lambda: _answered(kind, answer), methods=["POST"])


def _answered(kind: type[AnySent], answer: Callable[[AnySent], dict[str, Any]]) -> Response:
    """What a route answers to what was sent, or why it does not."""
    key = ""
    try:
        sent = _sent(kind)
        key = sent.key
        said, status = answer(sent), 200
    except RefusedError as error:
        said, status = error.said, error.status
    except PermissionError as error:
        said, status = {"error": str(error)}, 403
    except (LogError, InputError) as error:  # the log's own trouble: the same may be taken later
        said, status = {"error": str(error)}, 503
    response = jsonify(said | {"key": key})
    response.status_code = status
    response.cache_control.no_store = True
    return response


def _sent(kind: type[AnySent]) -> AnySent:
    """What came. Raises RefusedError where it is nothing that our page sends."""
    if request.mimetype != "application/json":
        raise RefusedError(415, "Only application/json is taken here.")
    request.max_content_length = LARGEST
    try:
        return kind.model_validate_json(request.get_data())
    except RequestEntityTooLarge:
        raise RefusedError(413, f"Larger than {LARGEST // 1000} kB. Shorten the note.") from None
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False, include_context=False)[0]
        place = ".".join(map(str, first["loc"])) or "body"
        raise RefusedError(400, f"Not a {kind.what}: {place}: {first['msg']}. Reload the page.") from None


def must_write() -> None:
    """Raises PermissionError for who may only look."""
    if not may_write():
        raise PermissionError(LOOKING)


def shelf_of(sent: Sent) -> Shelf:
    """The truck it was typed for. Raises RefusedError where that is not here."""
    names = source().log.trucks()
    if sent.truck not in names:
        there = f"It has {listed(list(names[:5]))}." if names else "It has none."
        raise RefusedError(404, f"This log has no truck {sent.truck!r}. {there}")
    if sent.log != source().mark(sent.truck):
        raise RefusedError(
            409, f"This was typed for another log's {sent.truck}. Look before you save it here."
        )
    return source().question(sent.truck).shelf


# ---------------------------------------------------------------- a run


def look(sent: SentRun) -> dict[str, Any]:
    """What is wrong or unlikely so far, and the sums. Writes nothing."""
    shelf = shelf_of(sent)
    checked = check(sent.form, shelf)
    asked = doubts(checked.readings, shelf).asked if checked.readings else ()
    return {
        "faults": _faults(checked),
        "asked": [_question(one) for one in asked if not one.key.startswith("missing")],
        "sums": sums(sent.form, shelf.truck),
    }


def save(sent: SentRun) -> dict[str, Any]:
    """Save a run once. Raises RefusedError where it is faulty or questioned."""
    must_write()
    held = _held(sent)
    if held:
        return _saved(held, already=True)
    shelf = shelf_of(sent)
    checked = check(sent.form, shelf)
    if checked.faults:
        raise RefusedError(200, _faulty(checked), faults=_faults(checked))
    found = doubts(checked.readings, shelf)
    open_ = [_question(one) for one in found.asked if one.key not in sent.confirmed]
    if open_:
        raise RefusedError(200, "Nothing is saved yet: look again at what is asked.", asked=open_)
    readings = found.marked(checked.readings)
    try:
        done = source().log.add_readings(sent.truck, readings, entry_key=sent.key, typed=sent.form.rows)
    except LogFailedError:
        raise
    except LogError as error:
        held = _held(sent)  # sent twice at once, the other was quicker
        if not held:
            raise RefusedError(200, str(error)) from error
        return _saved(held, already=True)
    return _saved(readings, done.already)


def _held(sent: SentRun) -> tuple[Reading, ...]:
    """What is in the log under this key already. Raises RefusedError where that is something else."""
    found = source().log.saved_under(sent.key)
    if not found:
        return ()
    if [(one.truck, one.typed) for one in found] != [(sent.truck, row) for row in sent.form.rows]:
        raise RefusedError(
            409,
            f"Run {found[0].reading.run} was saved before with other readings. Nothing was saved now: mend one on the "
            "Corner fit page, or save this again as a repeat.",
            renew=True,
        )
    return tuple(one.reading for one in found)


def _saved(readings: tuple[Reading, ...], already: bool) -> dict[str, Any]:
    run, corners = readings[0].run, list(dict.fromkeys(r.corner for r in readings))
    doubtful = list(dict.fromkeys(r.corner for r in readings if r.doubt))
    text = f"Run {run} is saved: {', '.join(corners)}."
    if doubtful:
        text += f" {', '.join(doubtful)} as doubtful: in the log, out of the fit."
    return {"saved": text, "already": already, "run": run, "readings": len(readings)}


def _faults(checked: Checked) -> list[dict[str, str]]:
    return [{"corner": c, "field": name, "text": text} for (c, name), text in checked.faults.items()]


def _faulty(checked: Checked) -> str:
    """Which fields need a look, and what belongs to no field."""
    named = {"run": "run name", "taken_at": "when"}
    named |= {name: f"height (reading {i})" for i, name in enumerate(HEIGHTS[1:], 2)}
    fields = [f"{corner} {named.get(name, name)}".strip() for corner, name in checked.faults]
    homeless = [
        text for (_, name), text in checked.faults.items() if name not in (*FIELDS, "run", "taken_at")
    ]
    return " ".join([f"Nothing is saved. Look at {listed(fields)}.", *homeless])


def _question(asked: Asked) -> dict[str, str]:
    return {"key": asked.key, "corner": asked.corner, "field": asked.field, "text": asked.text}
