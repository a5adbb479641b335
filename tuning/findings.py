"""What is found on a cycle walk: places looked at, heights and shafts measured. Lengths m, frozen.

The axle stands at bump, at droop and articulated both ways, in front with the steering straight and at both locks,
and at named places somebody looks whether anything touches. With both wheels alike, height and shaft showing are
measured too. Rows are kept in the order they were put down, and the last one of a place or position counts.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, get_args

Result = Literal["pass", "contact", "open"]
RESULTS: tuple[Result, ...] = get_args(Result)

LEVEL = ("bump", "low", "ride", "high", "droop")  # both wheels alike, from the bottom up
ARTICULATED = ("left up", "right up")
POSITIONS = (*LEVEL, *ARTICULATED)
LOOKED_AT = ("bump", "droop", *ARTICULATED)
POSITION_WORDS = {
    "bump": "full bump, both wheels up",
    "low": "between bump and ride",
    "ride": "about ride height",
    "high": "between ride and droop",
    "droop": "full droop, both wheels down",
    "left up": "left wheel up, right down",
    "right up": "right wheel up, left down",
}
STEERING = {"front": ("straight", "left lock", "right lock"), "rear": ("",)}


@dataclass(frozen=True)
class Finding:
    """What was found at one place with the axle and the steering so.

    steering: one of STEERING of the end. result: pass, contact, or open (to be looked at again; takes back what
    was found before). clearance: m, of a hose or a wire its slack; None where not measured. photo: a file's name.
    taken_at: when, None where not said. by: who.
    """

    end: str
    position: str
    steering: str
    place: str
    result: Result
    clearance: float | None = None
    note: str = ""
    photo: str = ""
    taken_at: datetime | None = None
    by: str = ""

    @property
    def key(self) -> tuple[str, ...]:
        """What a later finding must share to stand in this one's place."""
        return (self.end, self.position, self.steering, self.place)

    @property
    def contact(self) -> bool:
        """Something touches."""
        return self.result == "contact"


@dataclass(frozen=True)
class Measured:
    """Height and shaft showing (m) at one shock of an end, both wheels alike; both None takes the pair back."""

    end: str
    position: str
    height: float | None
    shaft: float | None
    note: str = ""
    photo: str = ""
    taken_at: datetime | None = None
    by: str = ""

    @property
    def key(self) -> tuple[str, ...]:
        """What a later pair must share to stand in this one's place."""
        return (self.end, self.position)


WalkRow = Finding | Measured


def latest(rows: Iterable[WalkRow]) -> tuple[WalkRow, ...]:
    """The rows that count: the last of each key, unless it takes back; in the order of their first."""
    last: dict[tuple[str, ...], WalkRow] = {}
    for row in rows:
        last[row.key] = row
    return tuple(row for row in last.values() if not _takes_back(row))


def _takes_back(row: WalkRow) -> bool:
    return row.result == "open" if isinstance(row, Finding) else row.height is None


def measured_at(end: str, rows: Iterable[WalkRow]) -> tuple[Measured, ...]:
    """Pairs of an end that count, from bump to droop."""
    found = [row for row in latest(rows) if isinstance(row, Measured) and row.end == end]
    return tuple(sorted(found, key=lambda row: LEVEL.index(row.position)))
