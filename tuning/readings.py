"""What was measured: readings and the runs they belong to. SI base units, frozen.

A run is one visit to the truck: every corner read once or more between two changes of the nuts. A corner
repeated in a run is a repeat reading of it: rolled and bounced again, or settled from above or below.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from typing import Literal

Settled = Literal["above", "below", ""]


@dataclass(frozen=True)
class Reading:
    """One row of the log. height, preload m; load N; None where not taken.

    settled: how the corner came to rest (friction holds it high after `above`, low after `below`; empty: rolled
    and bounced, anywhere between). doubt: why it stays out of the fit; empty where it is in.
    """

    run: str
    taken_at: datetime
    corner: str
    height: float | None
    load: float | None = None
    preload: float | None = None
    stack: str | None = None
    settled: Settled = ""
    odometer: float | None = None
    note: str = ""
    doubt: str = ""


@dataclass(frozen=True)
class Run:
    """All readings of one visit, in the order they were taken down."""

    name: str
    taken_at: datetime
    readings: tuple[Reading, ...]

    def at(self, corner: str) -> tuple[Reading, ...]:
        """The readings of one corner."""
        return self._by_corner.get(corner, ())

    @cached_property
    def _by_corner(self) -> dict[str, tuple[Reading, ...]]:
        """Asked for over and over in a long log."""
        found: dict[str, tuple[Reading, ...]] = {}
        for reading in self.readings:
            found[reading.corner] = (*found.get(reading.corner, ()), reading)
        return found


def runs_of(readings: Iterable[Reading]) -> tuple[Run, ...]:
    """Readings gathered into runs, oldest first; equal times keep the order they came in.

    A run's time is its first reading's.
    """
    gathered: dict[str, list[Reading]] = {}
    for reading in readings:
        gathered.setdefault(reading.run, []).append(reading)
    runs = [Run(name, rows[0].taken_at, tuple(rows)) for name, rows in gathered.items()]
    return tuple(sorted(runs, key=instant))


def instant(run: Run) -> datetime:
    """When it was, for order and days between: the shop's own time as if UTC; the log refuses to mix the two."""
    return run.taken_at if run.taken_at.tzinfo else run.taken_at.replace(tzinfo=UTC)
