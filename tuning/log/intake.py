"""What goes into the log from the command line and the dashboard: checked, questioned, all of it or nothing."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from tuning.doubt import Suspect, suspects
from tuning.log.database import LogError
from tuning.log.files import ReadingsError, read_readings, read_readings_file, write_readings
from tuning.log.shelf import Shelf, open_truck
from tuning.log.store import Log
from tuning.log.table import Bad, text_in
from tuning.progress import Tell, untold
from tuning.readings import Reading, runs_of
from tuning.truck import Truck
from tuning.truckfile import load_truck
from tuning.units import Kind, parse


class QuestionedError(Exception):
    """Readings are possible but unlikely and nobody has confirmed them; nothing was stored."""

    def __init__(self, found: Sequence[Suspect]) -> None:
        """found: what is questioned, with reasons in words."""
        self.suspects = tuple(found)
        self.reasons = tuple(f"{s.reading.run}: {s.reason}" for s in found)
        super().__init__("; ".join(self.reasons))


@dataclass(frozen=True)
class Taken:
    """What was stored: the truck's name, how many readings, how many of them doubtful."""

    truck: str
    readings: int
    doubtful: int


def take_in(log: Log, truck: str, readings: str | None, confirm: bool, tell: Tell = untold) -> Taken:
    """A truck file (or the name of a truck in the log) and a readings file into the log.

    Raises TruckFileError, ReadingsError, LogError or, unless `confirm`, QuestionedError, and what `tell` raises; then
    nothing was stored.
    """
    from_file = Path(truck).is_file()
    loaded = load_truck(truck) if from_file else open_truck(log, truck).truck
    rows = () if readings is None else read_readings_file(readings, loaded, tell)
    known = open_truck(log, loaded.name) if loaded.name in log.trucks() else None
    rows = questioned(loaded, known, rows, confirm, tell)
    text = Path(truck).read_text("utf-8-sig") if from_file else None
    if rows:
        log.add_readings(loaded.name, rows, toml=text, tell=tell)
    elif text is not None:
        log.save_truck(loaded.name, text)
    return Taken(loaded.name, len(rows), sum(bool(r.doubt) for r in rows))


def take_in_history(log: Log, path: str) -> str:
    """A whole truck as `Log.dump` wrote it; returns its name. Raises LogError."""
    try:
        return log.load(Path(path).read_text("utf-8-sig"), Path(path).name)
    except UnicodeDecodeError:
        raise LogError(
            f"{path}: no text but some other kind of file. Nothing was saved. Give the history.json that tuning "
            "export --out FOLDER wrote, as it wrote it."
        ) from None


def unlikely(
    truck: Truck,
    known: Shelf | None,
    before: Sequence[Reading],
    rows: Sequence[Reading],
    tell: Tell = untold,
) -> list[Suspect]:
    """Which of the new readings the ones before make unlikely, each run against the truck as it then was.

    known: the log, None for a truck that is not in it. before: those of its readings to judge by. A reading is judged
    without its own repeats: they are what tells how far friction makes readings scatter, and would make room for a
    gross slip.
    """
    repeats: dict[tuple[str, str, str], list[Reading]] = {}
    for r in rows:
        repeats.setdefault((r.run, r.corner, r.settled), []).append(r)
    others = [r for r in before if (r.run, r.corner, r.settled) not in repeats]
    then = {} if known is None else {run.name: t for run, t in zip(known.runs, known.trucks, strict=True)}
    weighed = {(r.run, r.corner): r.load for r in rows if r.load is not None}
    found = []
    for turn in range(max(map(len, repeats.values()), default=0)):
        taken = [group[min(turn, len(group) - 1)] for group in repeats.values()]
        judged = [r if r.load is not None else replace(r, load=weighed.get((r.run, r.corner))) for r in taken]
        runs = runs_of([*others, *judged])
        trucks = [then.get(run.name, truck) for run in runs]
        own = {
            id(a): b for a, b, group in zip(judged, taken, repeats.values(), strict=True) if turn < len(group)
        }
        found += [
            replace(s, reading=own[id(s.reading)])
            for s in suspects(truck, runs, {r.run for r in rows}, trucks, tell)
            if id(s.reading) in own and getattr(own[id(s.reading)], s.kind) is not None
        ]
    return found


def questioned(
    truck: Truck, known: Shelf | None, rows: Sequence[Reading], confirm: bool, tell: Tell = untold
) -> tuple[Reading, ...]:
    """The new readings, unlikely ones marked doubtful. Raises QuestionedError where they are not confirmed."""
    before = [] if known is None else [r for run in known.runs for r in run.readings]
    found = unlikely(truck, known, before, rows, tell)
    if found and not confirm:
        raise QuestionedError(found)
    why = {id(s.reading): s.reason for s in found}
    return tuple(replace(r, doubt=why[id(r)]) if id(r) in why else r for r in rows)


def _refuse_unbelievable(reading: Reading, truck: Truck, where: str) -> None:
    """What a file may not say, a correction may not. Raises ReadingsError; no line of a file is to blame."""
    try:
        read_readings(write_readings([reading], truck), truck, where)
    except ReadingsError as error:
        raise ReadingsError(where, [replace(fault, line=None) for fault in error.faults]) from None


def correct_reading(
    log: Log, truck: str, run: str, corner: str, nth: int, because: str, change: Mapping[str, Any]
) -> str:
    """Carry one correction into the log and say what was done. Raises LogError where there is no such reading."""
    shelf = open_truck(log, truck)
    found = [r for known in shelf.runs if known.name == run for r in known.at(corner)]
    if not 1 <= nth <= len(found):
        names = ", ".join(known.name for known in shelf.runs[-10:])
        count = f"{len(found)} reading{'' if len(found) == 1 else 's'}"
        raise LogError(f"{truck}: run {run} has {count} of {corner}. Runs: {names or 'none'}.")
    if isinstance(wrong := text_in(because), Bad):
        raise LogError(f"--because: {wrong.problem}. {wrong.mend}.")
    reading = found[nth - 1]
    place = shelf.reading_ids[id(reading)]
    where = f"{run} {corner}"
    asked = [key for key in ("clear", "doubt", "withdraw") if change.get(key)]
    kinds: dict[str, Kind] = {"height": "length", "load": "force", "preload": "length"}
    values: dict[str, Any] = {
        key: parse(change[key], kind, key) for key, kind in kinds.items() if change.get(key)
    }
    if len(asked) + bool(values) != 1:
        raise LogError(f"{where}: give new values, or one of --clear, --doubt, --withdraw.")
    if values:
        new = replace(reading, doubt="", **values)
        _refuse_unbelievable(new, shelf.truck, where)
        current = [
            replace(known, readings=tuple(new if r is reading else r for r in known.readings))
            for known in shelf.runs
        ]
        doubted = [s for s in suspects(shelf.truck, current, {run}, shelf.trucks) if s.reading is new]
        new = replace(new, doubt=doubted[0].reason) if doubted else new
        log.replace(place, new, because)
        return f"{where}: corrected." + (
            f" Kept out of the fit until cleared: {new.doubt}" if doubted else ""
        )
    {"clear": log.clear_doubt, "doubt": log.doubt, "withdraw": log.withdraw}[asked[0]](place, because)
    return (
        f"{where}: "
        + {"clear": "back in the fit.", "doubt": "kept out of the fit.", "withdraw": "withdrawn."}[asked[0]]
    )
