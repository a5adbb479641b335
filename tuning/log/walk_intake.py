"""A cycle walk into the log: its rows and, where it measured one, its cycle table; all of it or nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tuning.findings import WalkRow
from tuning.log.shelf import open_truck
from tuning.log.store import Log
from tuning.log.walk_file import read_walk_file
from tuning.truckedit import with_walk
from tuning.truckfile import load_truck
from tuning.walk import WalkAnswer, progress


@dataclass(frozen=True)
class Recorded:
    """What was stored. rows: how many were new; same: how many the log had already; ends: those whose cycle table
    in the truck file is the walk's now; already: the same save had come before."""

    truck: str
    rows: int
    same: int
    ends: tuple[str, ...]
    already: bool = False


def record_file(log: Log, truck: str, path: str) -> Recorded:
    """A truck file (or the name of a truck in the log) and a walk file into the log.

    Raises TruckFileError, WalkError or LogError; then nothing was stored.
    """
    from_file = Path(truck).is_file()
    loaded = load_truck(truck) if from_file else open_truck(log, truck).truck
    rows = read_walk_file(path, loaded)
    text = Path(truck).read_text("utf-8-sig") if from_file else None
    return record(log, loaded.name, rows, toml=text)


def record(
    log: Log, truck: str, rows: Sequence[WalkRow], entry_key: str | None = None, toml: str | None = None
) -> Recorded:
    """Rows of a walk into the log, as in `Log.add_walk`. Raises WalkError or LogError; then nothing was stored."""
    ends: tuple[str, ...] = ()

    def remake(text: str, known: Sequence[WalkRow], new: Sequence[WalkRow]) -> str:
        nonlocal ends
        changed, ends = with_walk(text, known, new)
        return changed

    saved = log.add_walk(truck, rows, entry_key, toml, remake)
    return Recorded(truck, len(saved.ids), len(rows) - len(saved.ids), ends, saved.already)


def walk_of(log: Log, truck: str) -> WalkAnswer:
    """How far the walk of a truck in the log is. Raises LogError for a truck that is not there."""
    return progress(open_truck(log, truck).truck, [one.row for one in log.walk(truck)])
