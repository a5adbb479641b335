"""The log: trucks, their versions, runs and readings in one SQLite file or a PostgreSQL database.

Nothing is rewritten. A truck file saved again is a new version, a correction is a new row that replaces an
older one and says why. What counts is the effective reading: not replaced, not withdrawn. SI base units.
"""

import json
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from difflib import get_close_matches
from typing import Any, NoReturn

import sqlalchemy as sa

from tuning.findings import WalkRow
from tuning.log import schema, walks
from tuning.log.database import Database, LogError
from tuning.log.schema import reading as readings_table
from tuning.log.schema import run as runs_table
from tuning.log.schema import truck as trucks_table
from tuning.log.schema import truck_version as versions_table
from tuning.log.schema import walk as walk_table
from tuning.log.walks import LoggedWalkRow, WalkHeld, WalkSaved
from tuning.progress import Tell, untold
from tuning.readings import Reading
from tuning.truck import CORNERS

Row = dict[str, Any]


@dataclass(frozen=True)
class TruckVersion:
    """A truck file as it was saved."""

    id: int
    recorded_at: datetime
    toml: str
    note: str


@dataclass(frozen=True)
class LoggedReading:
    """A reading that counts, and the version of the truck it belongs to."""

    id: int
    truck_version_id: int
    reading: Reading


@dataclass(frozen=True)
class Entry:
    """A row of the log as written. `replaces`, `replaced_by`: its neighbours' ids in a chain of corrections.

    because: why it replaces; withdrawn: the chain ends here, nothing of it counts; typed: fields as typed.
    """

    id: int
    truck_version_id: int
    reading: Reading
    recorded_at: datetime
    replaces: int | None
    replaced_by: int | None
    because: str
    withdrawn: bool
    typed: dict[str, str] | None


@dataclass(frozen=True)
class Held:
    """A reading as one save put it in, whatever became of it since. truck: its name; typed: fields as typed."""

    truck: str
    reading: Reading
    typed: dict[str, str] | None


@dataclass(frozen=True)
class Saved:
    """Ids in the order given; `already`: an earlier save with the same key had put them there."""

    ids: tuple[int, ...]
    already: bool = False


def default_log() -> str:
    """TUNING_LOG, or else a file in the user's data folder, which is made if missing."""
    named = os.environ.get("TUNING_LOG")
    if named:
        return named
    from platformdirs import user_data_path

    try:
        return str(user_data_path("tuning", appauthor=False, ensure_exists=True) / "log.db")
    except OSError as exc:
        raise LogError(f"{exc.filename}: can't make this folder ({exc.strerror}). Set TUNING_LOG.") from exc


class Log:
    """One log. Open it with `Log.open`. `where`: its file or address, without a password, for messages."""

    def __init__(self, database: Database) -> None:
        """A log in an open database."""
        self._db = database
        self.where = database.where

    @classmethod
    def open(cls, url_or_path: str | os.PathLike[str]) -> "Log":
        """Open a file or SQLAlchemy URL; make the log if missing, bring an older one up to date.

        Before an older SQLite log is changed, a copy is put beside it. Raises LogError where that place holds
        something else or a newer log, or can't be reached.
        """
        return cls(Database(url_or_path))

    def only_read(self, because: str) -> "Log":
        """The same log for somebody who may look but not write: every write raises LogError with this sentence."""
        return Log(self._db.only_read(because))

    def take_away(self) -> None:
        """Remove the file of a log that holds nothing: somebody began one, and nothing came of it."""
        self._db.may_write()
        if not self.trucks():
            self._db.remove()

    # Trucks

    def trucks(self) -> tuple[str, ...]:
        """Names of all trucks, in alphabetical order."""
        with self._db.read() as conn:
            return tuple(sorted(conn.scalars(sa.select(trucks_table.c.name))))

    def save_truck(self, name: str, toml: str, note: str = "", after: int | None = None) -> int:
        """Id of the truck's latest version: a new one if the text differs from the latest one's.

        after: id of the version that the text was made from, 0 for a truck that is new to the log. Raises LogError
        where the log has gone on since; the same text sent twice is saved once.
        """
        with self._db.write() as conn:
            if after is not None:
                self._refuse_stale(conn, name, toml, after)
            return self._put_truck(conn, name, toml, note)

    def truck_toml(self, name: str) -> str:
        """Latest truck file. Raises LogError with the nearest names if there is no such truck."""
        return self.truck_versions(name)[-1].toml

    def truck_versions(self, name: str) -> tuple[TruckVersion, ...]:
        """Every version, oldest first."""
        with self._db.read() as conn:
            rows = conn.execute(_versions(self._truck_id(conn, name)).order_by(versions_table.c.id))
            return tuple(TruckVersion(*row) for row in rows)

    def state(self, name: str) -> tuple[int, int]:
        """Ids of a truck's latest version and latest row: while they stay the same, so does all else of it.

        Raises LogError with the nearest names if there is no such truck.
        """
        rows = sa.select(sa.func.max(readings_table.c.id)).join(runs_table)
        with self._db.read() as conn:
            truck_id = self._truck_id(conn, name)
            version = conn.scalar(_versions(truck_id).with_only_columns(sa.func.max(versions_table.c.id)))
            row = conn.scalar(rows.where(runs_table.c.truck_id == truck_id))
            return int(version or 0), int(row or 0)

    # Readings

    def readings(self, truck_name: str) -> tuple[LoggedReading, ...]:
        """What counts: neither replaced nor withdrawn, oldest first, equal times in the order they came."""
        with self._db.read() as conn:
            columns = (readings_table.c.id, readings_table.c.truck_version_id, *_READING)
            rows = conn.execute(
                _effective(self._truck_id(conn, truck_name), *columns).order_by(
                    readings_table.c.instant, readings_table.c.position
                )
            )
            return tuple(LoggedReading(id_, version, Reading(*values)) for id_, version, *values in rows)

    def history(self, truck_name: str) -> tuple[Entry, ...]:
        """Every row ever written, replaced and withdrawn ones too, in the order of writing."""
        with self._db.read() as conn:
            rows = _history(conn, self._truck_id(conn, truck_name))
        replaced_by = {row.replaces_id: row.id for row in rows}
        return tuple(
            Entry(
                id=row.id,
                truck_version_id=row.truck_version_id,
                reading=_reading(row),
                recorded_at=row.recorded_at,
                replaces=row.replaces_id,
                replaced_by=replaced_by.get(row.id),
                because=row.because,
                withdrawn=row.withdrawn,
                typed=None if row.typed is None else json.loads(row.typed),
            )
            for row in rows
        )

    def saved_under(self, entry_key: str) -> tuple[Held, ...]:
        """What an earlier save put in under its sender's own key, in the order given; empty where there was none."""
        query = _rows().add_columns(trucks_table.c.name.label("truck")).join(trucks_table)
        with self._db.read() as conn:
            rows = conn.execute(
                query.where(readings_table.c.entry_key == entry_key).order_by(readings_table.c.entry_row)
            ).all()
        return tuple(
            Held(row.truck, _reading(row), None if row.typed is None else json.loads(row.typed))
            for row in rows
        )

    def add_readings(
        self,
        truck_name: str,
        readings: Sequence[Reading],
        entry_key: str | None = None,
        typed: Sequence[Mapping[str, str]] | None = None,
        toml: str | None = None,
        tell: Tell = untold,
    ) -> Saved:
        """Save all readings or none, against the truck's latest version.

        toml: the truck's file, saved first, with the readings or not at all. entry_key: the sender's own key of
        this save; the same readings sent again under it are answered as saved already. typed: the fields as
        somebody typed them, one mapping per reading. tell: may stop it until all is in; then nothing is saved.
        A run may get further rows later (a repeat, another corner). A row that equals one already in the log
        in everything measured is refused, so that no file is taken in twice. Within one call equal rows are
        repeats.
        """
        if not readings:
            raise LogError(f"{self.where}: no readings to save.")
        rows = [self._row(r, f"reading {i} of {len(readings)}") for i, r in enumerate(readings, 1)]
        for row, fields in zip(rows, typed or (), strict=typed is not None):
            row["typed"] = self._json(fields, f"run {row['run']!r}, {row['corner']}")
        if entry_key is not None:
            self._check_texts({"entry key": entry_key}, "this save")
            rows = [row | {"entry_key": entry_key, "entry_row": i} for i, row in enumerate(rows)]
        with self._db.write() as conn:
            if toml is not None:
                self._put_truck(conn, truck_name, toml, "")
            truck_id = self._truck_id(conn, truck_name)
            if entry_key is not None and (ids := self._saved_under(conn, truck_id, entry_key, readings)):
                return Saved(ids, already=True)
            self._refuse_doubles(conn, truck_id, readings, rows)
            self._refuse_mixed_zones(conn, truck_id, rows)
            version = conn.scalar(
                sa.select(sa.func.max(versions_table.c.id)).where(versions_table.c.truck_id == truck_id)
            )
            for row in rows:
                row["truck_version_id"] = version
            tell(saving := f"Saving {len(rows):,} readings", 0, 2)
            ids = _insert(conn, truck_id, rows)
            tell(saving, 1, 2)  # the last word: behind it all is in
            return Saved(ids)

    def replace(
        self, reading_id: int, new: Reading, because: str, typed: Mapping[str, str] | None = None
    ) -> int:
        """Correct a reading; returns the id of the row that now counts.

        It stays with the truck version of the one it replaces. The same correction sent twice is saved once.
        Raises LogError if the reading has been replaced otherwise, naming what came first.
        """
        text = None if typed is None else self._json(typed, f"correction of reading {reading_id}")
        return self._replace(reading_id, lambda _: {"reading": new, "typed": text}, because)

    def withdraw(self, reading_id: int, because: str) -> int:
        """Take a reading out of what counts; returns the id of the row that says so."""
        return self._replace(reading_id, lambda _: {"withdrawn": True}, because)

    def doubt(self, reading_id: int, because: str) -> int:
        """Mark a reading as doubtful: it stays out of the fit. Returns the id of the row that now counts."""
        return self._replace(reading_id, lambda old: {"reading": replace(old, doubt=because)}, because)

    def clear_doubt(self, reading_id: int, because: str) -> int:
        """Take the doubt off a reading; returns the id of the row that now counts."""
        return self._replace(reading_id, lambda old: {"reading": replace(old, doubt="")}, because)

    # The cycle walk

    def walk(self, truck_name: str) -> tuple[LoggedWalkRow, ...]:
        """Every row of a truck's walk, in the order of saving; the last of each place or position counts."""
        with self._db.read() as conn:
            return walks.logged(conn, self._truck_id(conn, truck_name))

    def walk_saved_under(self, entry_key: str) -> WalkHeld | None:
        """What an earlier save put in under its sender's own key; None where there was none."""
        with self._db.read() as conn:
            return walks.held(conn, entry_key)

    def add_walk(
        self,
        truck_name: str,
        rows: Sequence[WalkRow],
        entry_key: str | None = None,
        toml: str | None = None,
        remake: Callable[[str, Sequence[WalkRow], Sequence[WalkRow]], str] | None = None,
    ) -> WalkSaved:
        """Save all rows of a walk or none. Without a key, rows that say what the log says already are left out.

        toml: the truck's file, saved with them or not at all. remake: makes the truck file of the one that was,
        the rows there were and the new ones; what it raises stops the save. entry_key: the sender's own key of
        this save; sent again under it, the same rows are answered as saved already. All of them stand in the log
        under it, so that this stays so whatever others put down meanwhile.
        """
        for number, row in enumerate(rows, 1):
            self._check_walk_row(row, f"walk, row {number}")
        if entry_key is not None:
            self._check_texts({"entry key": entry_key}, "this save")
        with self._db.write() as conn:
            there = conn.scalar(sa.select(trucks_table.c.id).where(trucks_table.c.name == truck_name))
            if there is None and toml is None:
                self._truck_id(conn, truck_name)  # says which trucks there are
            if entry_key is not None and (ids := self._walk_under(conn, there, entry_key, rows)):
                return WalkSaved(ids, already=True)
            known = walks.logged(conn, there)
            new = walks.news(known, rows) if entry_key is None else list(enumerate(rows))
            before = self._latest_toml(conn, there) if toml is None else toml
            after = before
            if remake is not None:
                # A file from outside may be older than the log: all that is given now is new to it.
                fresh = [row for _, row in new] if toml is None else rows
                after = remake(before, [one.row for one in known], fresh)
            note = "" if after == before else "cycle table of the walk"
            version = self._put_truck(conn, truck_name, after, note)
            same = {"truck_version_id": version, "recorded_at": datetime.now(UTC), "entry_key": entry_key}
            full = [
                walks.columns(row) | same | {"entry_row": None if entry_key is None else place}
                for place, row in new
            ]
            truck_id = self._truck_id(conn, truck_name)
            return WalkSaved(walks.insert(conn, truck_id, _next_id(conn, walk_table), full))

    # Copies

    def backup(self, path: str | os.PathLike[str]) -> None:
        """Copy a SQLite log to a new file while others may be writing (SQLite's online backup)."""
        self._db.backup(path)

    def dump(self, truck_name: str) -> str:
        """One truck's whole history as JSON text, without loss: `load` of it dumps to the same text."""
        from tuning.log import dump

        with self._db.read() as conn:
            truck_id = self._truck_id(conn, truck_name)
            versions = [TruckVersion(*row) for row in conn.execute(_versions(truck_id).order_by("id"))]
            return dump.write(truck_name, versions, _history(conn, truck_id), walks.logged(conn, truck_id))

    def load(self, text: str, called: str = "dump") -> str:
        """Take in a truck's dumped history under new ids; returns the truck's name. called: the file's, for messages.

        Raises LogError if the text is no whole dump or the log already has a truck of that name.
        """
        from tuning.log import dump

        try:
            name, versions, rows, walk = dump.read(text)
        except ValueError as exc:
            mend = "Give the history.json that tuning export --out FOLDER wrote, as it wrote it."
            raise LogError(f"{called}: {exc}. Nothing was saved. {mend}") from exc
        self._check_texts({"truck name": name}, called)
        for number, row in enumerate(rows, 1):
            row |= self._row(row.pop("reading"), f"{called}, reading {number}")
            self._check_texts(
                {"reason": row["because"], "entry key": row["entry_key"]}, f"{called}, reading {number}"
            )
        for number, one in enumerate(walk, 1):
            self._check_walk_row(one.row, f"{called}, walk row {number}")
            self._check_texts({"entry key": one.entry_key}, f"{called}, walk row {number}")
        with self._db.write() as conn:
            if conn.scalar(sa.select(trucks_table.c.id).where(trucks_table.c.name == name)) is not None:
                raise LogError(
                    f"{self.where}: already has a truck {name!r}. Load the dump into another log, "
                    "or give the truck in the dump another name.",
                    truck=name,
                )
            truck_id, first = _next_id(conn, trucks_table), _next_id(conn, versions_table)
            conn.execute(trucks_table.insert(), {"id": truck_id, "name": name})
            for number, version in enumerate(versions):
                self._check_texts({"truck file": version["toml"], "note": version["note"]}, called)
                conn.execute(versions_table.insert(), version | {"id": first + number, "truck_id": truck_id})
            before = _next_id(conn, readings_table) - 1
            for number, row in enumerate(rows, 1):
                row["truck_version_id"] += first - 1
                replaced = row["replaces_id"]
                row["position"] = before + number if replaced is None else rows[replaced - 1]["position"]
                row["replaces_id"] = None if replaced is None else before + replaced
            replaced_ids = {row["replaces_id"] for row in rows}
            ends = [row for number, row in enumerate(rows, 1) if before + number not in replaced_ids]
            self._refuse_mixed_zones(conn, truck_id, [row for row in ends if not row["withdrawn"]])
            _insert(conn, truck_id, rows)
            full = [
                walks.columns(one.row)
                | {
                    "truck_version_id": first - 1 + one.truck_version_id,
                    "recorded_at": one.recorded_at,
                    "entry_key": one.entry_key,
                    "entry_row": one.entry_row,
                }
                for one in walk
            ]
            walks.insert(conn, truck_id, _next_id(conn, walk_table), full)
        return name

    def _put_truck(self, conn: sa.Connection, name: str, toml: str, note: str) -> int:
        self._check_texts({"truck name": name, "truck file": toml, "note": note}, f"truck {name!r}")
        if not name.strip():
            raise LogError(f"{self.where}: a truck needs a name.")
        truck_id = conn.scalar(sa.select(trucks_table.c.id).where(trucks_table.c.name == name))
        if truck_id is None:
            truck_id = _next_id(conn, trucks_table)
            conn.execute(trucks_table.insert(), {"id": truck_id, "name": name})
        latest = conn.execute(_versions(truck_id).order_by(versions_table.c.id.desc()).limit(1)).first()
        if latest and latest.toml == toml:
            return int(latest.id)
        version_id = _next_id(conn, versions_table)
        own = {"id": version_id, "truck_id": truck_id, "recorded_at": datetime.now(UTC)}
        conn.execute(versions_table.insert(), own | {"toml": toml, "note": note})
        return version_id

    def _refuse_stale(self, conn: sa.Connection, name: str, toml: str, after: int) -> None:
        """Nobody's version is covered by one that was made without knowing of it."""
        truck_id = conn.scalar(sa.select(trucks_table.c.id).where(trucks_table.c.name == name))
        query = _versions(truck_id or 0).order_by(versions_table.c.id.desc()).limit(1)
        latest = conn.execute(query).first()
        if latest is None or latest.id == after or latest.toml == toml:
            return
        if after == 0:
            raise LogError(
                f"{self.where}: already has a truck {name!r}. Nothing was saved; give this one another name.",
                truck=name,
            )
        raise LogError(
            f"{self.where}: {name!r} was changed by somebody else at {_when(latest)}. Nothing was saved; look at the "
            "truck as it is now and change that.",
            truck=name,
        )

    def _latest_toml(self, conn: sa.Connection, truck_id: int | None) -> str:
        query = _versions(truck_id or 0).order_by(versions_table.c.id.desc()).limit(1)
        return str(conn.execute(query).one().toml)

    def _truck_id(self, conn: sa.Connection, name: str) -> int:
        found = conn.scalar(sa.select(trucks_table.c.id).where(trucks_table.c.name == name))
        if found is not None:
            return int(found)
        names = sorted(conn.scalars(sa.select(trucks_table.c.name)))
        near = get_close_matches(name, names, cutoff=0.5) or names[:5]
        hint = f"It has: {', '.join(near)}." if near else "It has no trucks yet: save a truck file first."
        raise LogError(f"{self.where}: has no truck {name!r}. {hint}", truck=name, nearest=tuple(near))

    def _check_texts(self, texts: Mapping[str, str | None], place: str) -> None:
        """Refuse what a database can't keep: a zero character, half of a surrogate pair."""
        for what, text in texts.items():
            if text is not None and ("\0" in text or not _encodes(text)):
                raise LogError(
                    f"{self.where}, {place}: the {what} holds a character that is no text.", text=text
                )

    def _json(self, typed: Mapping[str, str], place: str) -> str:
        self._check_texts(typed, place)
        return json.dumps(dict(typed), ensure_ascii=False)

    def _row(self, r: Reading, place: str) -> Row:
        """Columns of a reading; refuses values the tables don't allow, saying which."""
        place = f"{place} (run {r.run!r}, {r.corner})"
        instant = _instant(r.taken_at)
        self._check_texts({"run": r.run, "stack": r.stack, "note": r.note, "doubt": r.doubt}, place)
        for what, value, allowed, words in (
            ("run", r.run, bool(r.run.strip()), "a name"),
            ("corner", r.corner, r.corner in CORNERS, "one of " + ", ".join(CORNERS)),
            ("settled", r.settled, r.settled in ("above", "below", ""), "above, below or empty"),
            ("time", r.taken_at, instant is not None, "a time from year 1 to 9999 at UTC"),
            ("height", r.height, r.height is None or 0 < r.height < schema.MOST, "above 0 m, or empty"),
            ("load", r.load, r.load is None or 0 <= r.load < schema.MOST, "0 N or more, or empty"),
            (
                "preload",
                r.preload,
                r.preload is None or abs(r.preload) < schema.MOST,
                "a number of m, or empty",
            ),
            (
                "odometer",
                r.odometer,
                r.odometer is None or 0 <= r.odometer < schema.MOST,
                "0 m or more, or empty",
            ),
        ):
            if not allowed:
                raise LogError(
                    f"{self.where}, {place}: {what} {value} can't be. It must be {words}. Nothing was saved.",
                    reading=r,
                    what=what,
                )
        return {
            "run": r.run,
            "corner": r.corner,
            "taken_at": r.taken_at,
            "instant": instant,
            "height_m": r.height,
            "load_n": r.load,
            "preload_m": r.preload,
            "stack": r.stack,
            "settled": r.settled,
            "odometer_m": r.odometer,
            "note": r.note,
            "doubt": r.doubt,
        }

    def _check_walk_row(self, row: WalkRow, place: str) -> None:
        """Refuse what the table doesn't allow, saying which."""
        place = f"{place} ({', '.join(filter(None, row.key))})"
        names = ("place", "note", "photo", "by")
        self._check_texts({name: getattr(row, name, None) for name in names}, place)
        if refused := walks.refusal(row):
            what, value, words = refused
            raise LogError(
                f"{self.where}, {place}: {what} {value} can't be. It must be {words}. Nothing was saved.",
                row=row,
                what=what,
            )

    def _walk_under(
        self, conn: sa.Connection, truck_id: int | None, key: str, rows: Sequence[WalkRow]
    ) -> tuple[int, ...]:
        """Ids saved earlier under a key, if any; refuses the key for anything but the same rows."""
        saved = walks.under_key(conn, key)
        if saved and [(truck_id, row) for row in rows] != [(truck, row) for truck, _, row in saved.values()]:
            raise LogError(
                f"{self.where}: the entry key {key!r} was used for another save. Nothing was saved; save this under a "
                "new key.",
                key=key,
            )
        return tuple(id_ for _, id_, _ in saved.values())

    def _saved_under(
        self, conn: sa.Connection, truck_id: int, key: str, readings: Sequence[Reading]
    ) -> tuple[int, ...]:
        """Ids saved earlier under a key, if any; refuses the key for anything but the same readings."""
        rows = conn.execute(
            _rows().where(readings_table.c.entry_key == key).order_by(readings_table.c.entry_row)
        ).all()
        same = [(truck_id, r) for r in readings] == [(row.truck_id, _reading(row)) for row in rows]
        if rows and not same:
            raise LogError(
                f"{self.where}: the entry key {key!r} was used for other readings, at {_when(rows[0])}. "
                "Nothing was saved; save these under a new key.",
                key=key,
            )
        return tuple(row.id for row in rows)

    def _refuse_doubles(
        self, conn: sa.Connection, truck_id: int, readings: Sequence[Reading], rows: Sequence[Row]
    ) -> None:
        instants = [row["instant"] for row in rows]
        known = conn.execute(
            sa.select(*_READING)
            .join(runs_table)
            .where(runs_table.c.truck_id == truck_id)
            .where(readings_table.c.instant.between(min(instants), max(instants)))
        )
        held = {_measured(Reading(*row)) for row in known}
        double = [r for r in readings if held and _measured(r) in held]
        if double:
            names = tuple(dict.fromkeys(r.run for r in double))
            raise LogError(
                f"{self.where}: {len(double)} of {len(readings)} readings are in the log already (run "
                f"{_listed(names)}). Nothing was saved; leave these out, or give a true repeat its own time.",
                runs=names,
            )

    def _refuse_mixed_zones(
        self, conn: sa.Connection, truck_id: int, rows: Iterable[Row], besides: int | None = None
    ) -> None:
        """A truck's times either all have a zone or none has: otherwise their order is unknown."""
        held = _effective(truck_id, readings_table.c.instant).where(readings_table.c.id != (besides or 0))
        instant = conn.scalar(held.limit(1))  # one speaks for all: none was let in against the others
        zoned = set() if instant is None else {len(instant) > len(_NAIVE)}
        added = {len(row["instant"]) > len(_NAIVE) for row in rows}
        if len(zoned | added) > 1:
            has = {True: "with a zone", False: "without a zone"}
            found = (
                f"the log's times are {has[zoned.pop()]}, these {has[added.pop()]}"
                if len(zoned) == len(added) == 1
                else "some times have a zone, others have none"
            )
            raise LogError(
                f"{self.where}: {found}. One truck can't mix them; nothing was saved. Write all one way."
            )

    def _replace(self, reading_id: int, change: Callable[[Reading], Row], because: str) -> int:
        """Write the row that replaces another: the old one with what `change` gives."""
        if not because.strip():
            raise LogError(f"{self.where}: a correction of reading {reading_id} needs a reason. Say why.")
        self._check_texts({"reason": because}, f"reading {reading_id}")
        with self._db.write() as conn:
            old = self._logged(conn, reading_id)
            new = {"reading": _reading(old), "typed": old.typed, "withdrawn": False} | change(_reading(old))
            reading = new.pop("reading")
            new |= self._row(reading, f"correction of reading {reading_id}") | {"because": because}
            first = conn.execute(_rows().where(readings_table.c.replaces_id == old.id)).first()
            if first and (_reading(first), first.withdrawn, first.because) == (
                reading,
                new["withdrawn"],
                because,
            ):
                return int(first.id)
            if first:
                self._refuse_second(conn, old.id, first)
            if (reading, new["withdrawn"]) == (_reading(old), old.withdrawn):
                raise LogError(f"{self.where}: reading {reading_id} says this already. Nothing to correct.")
            if not new["withdrawn"]:
                self._refuse_mixed_zones(conn, old.truck_id, [new], besides=old.id)
            new |= {"truck_version_id": old.truck_version_id, "replaces_id": old.id, "position": old.position}
            return _insert(conn, old.truck_id, [new])[0]

    def _logged(self, conn: sa.Connection, reading_id: int) -> sa.Row[Any]:
        query = _rows()
        # The bound is the column's own: PostgreSQL refuses to compare a larger number.
        found = conn.execute(
            query.where(readings_table.c.id == (reading_id if 0 < reading_id < 2**31 else 0))
        ).first()
        if found is None:
            raise LogError(f"{self.where}: has no reading {reading_id}. Look it up in the truck's history.")
        return found

    def _refuse_second(self, conn: sa.Connection, reading_id: int, first: sa.Row[Any]) -> NoReturn:
        last = first.id
        while after := conn.scalar(
            sa.select(readings_table.c.id).where(readings_table.c.replaces_id == last)
        ):
            last = after
        done = "withdrawn" if first.withdrawn else "corrected"
        raise LogError(
            f"{self.where}: reading {reading_id} was {done} already, at {_when(first)}, because "
            f'"{first.because}". Nothing was saved; reading {last} stands for it now: correct that one.',
            reading_id=reading_id,
            latest=last,
            because=first.because,
        )


# Reading's fields in their order, then what else a row holds.
_READING = (
    runs_table.c.name,
    readings_table.c.taken_at,
    readings_table.c.corner,
    readings_table.c.height_m,
    readings_table.c.load_n,
    readings_table.c.preload_m,
    readings_table.c.stack,
    readings_table.c.settled,
    readings_table.c.odometer_m,
    readings_table.c.note,
    readings_table.c.doubt,
)
_KEPT = (
    "id",
    "position",
    "truck_version_id",
    "recorded_at",
    "typed",
    "entry_key",
    "entry_row",
    "replaces_id",
    "because",
)
_NAIVE = "2026-01-31T23:59:59.000000"  # as long as an instant without a zone


def _encodes(text: str) -> bool:
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


def _instant(taken_at: datetime) -> str | None:
    """Sortable text: at UTC with its offset, or the shop's own time without; None beyond the calendar."""
    try:
        at = taken_at if taken_at.utcoffset() is None else taken_at.astimezone(UTC)
    except OverflowError:
        return None
    return at.isoformat(timespec="microseconds")


def _measured(r: Reading) -> tuple[object, ...]:
    """What makes two rows the same reading: everything but a doubt, which is somebody's judgement."""
    values = (r.corner, r.height, r.load, r.preload, r.stack, r.settled, r.odometer, r.note)
    return (r.run, _instant(r.taken_at), *values)


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")


def _when(row: sa.Row[Any]) -> str:
    return f"{row.recorded_at:%Y-%m-%d %H:%M} UTC"


def _reading(row: Sequence[Any]) -> Reading:
    return Reading(*row[: len(_READING)])


def _versions(truck_id: int) -> sa.Select[Any]:
    columns = (versions_table.c[name] for name in ("id", "recorded_at", "toml", "note"))
    return sa.select(*columns).where(versions_table.c.truck_id == truck_id)


def _rows() -> sa.Select[Any]:
    """Whole rows: a reading's fields first, then the log's own columns."""
    own = (readings_table.c[name] for name in (*_KEPT, "withdrawn"))
    return sa.select(*_READING, *own, runs_table.c.truck_id).join_from(readings_table, runs_table)


def _effective(truck_id: int, *columns: Any) -> sa.Select[Any]:
    later = readings_table.alias("later")
    return (
        sa.select(*columns)
        .select_from(readings_table.join(runs_table))
        .where(runs_table.c.truck_id == truck_id, ~readings_table.c.withdrawn)
        .where(~sa.exists().where(later.c.replaces_id == readings_table.c.id))
    )


def _history(conn: sa.Connection, truck_id: int) -> Sequence[sa.Row[Any]]:
    query = _rows().where(runs_table.c.truck_id == truck_id)
    return conn.execute(query.order_by(readings_table.c.id)).all()


def _next_id(conn: sa.Connection, table: sa.Table) -> int:
    """Safe because writes take turns and nothing is ever deleted."""
    return int(conn.scalar(sa.select(sa.func.coalesce(sa.func.max(table.c.id), 0))) or 0) + 1


def _insert(conn: sa.Connection, truck_id: int, rows: Sequence[Row]) -> tuple[int, ...]:
    """Write rows of one truck, making their runs where missing; returns the ids."""
    query = sa.select(runs_table.c.name, runs_table.c.id).where(runs_table.c.truck_id == truck_id)
    names = {row["run"] for row in rows}
    if len(names) < 500:  # a database takes only so many values in a query, but a truck may have more runs
        query = query.where(runs_table.c.name.in_(names))
    runs = dict(conn.execute(query).all())
    known, next_run, first = len(runs), _next_id(conn, runs_table), _next_id(conn, readings_table)
    blank = {"recorded_at": datetime.now(UTC), "because": "", "withdrawn": False}
    full = []
    for id_, row in enumerate(rows, first):
        run_id = runs.setdefault(row.pop("run"), next_run + len(runs) - known)
        full.append({**blank, "id": id_, "position": id_, "run_id": run_id, **row})
    new = [{"id": id_, "truck_id": truck_id, "name": name} for name, id_ in list(runs.items())[known:]]
    for table, values in ((runs_table, new), (readings_table, full)):
        if values:
            conn.execute(table.insert(), values)
    return tuple(range(first, first + len(full)))
