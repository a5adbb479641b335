"""The log's tables, append-only. Lengths m, loads N, times ISO 8601 text.

A row once written stays as it is: triggers refuse every update and delete. A correction is a new row that
names the one it replaces and says why, and a row is replaced once at most, so every chain is straight.
"""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import sqlalchemy as sa

from tuning.findings import LEVEL, LOOKED_AT, RESULTS, STEERING
from tuning.truck import CORNERS, END_NAMES

HEAD = "0002"  # the schema this code writes; a test holds it to the last file in migrations/versions
MIGRATIONS = Path(__file__).with_name("migrations")
VERSION_TABLE = (
    "tuning_version"  # a name of our own, so that another program's log of migrations is not taken for it
)
MOST = 1e12  # beyond any length, load or mileage, and below infinity: SQLite keeps no NaN, but does keep inf


class IsoTime(sa.types.TypeDecorator[datetime]):
    """A time as ISO 8601 text, with the offset it was given: a database's own type would drop the zone."""

    impl = sa.Text
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: sa.Dialect) -> str | None:  # noqa: ARG002
        """Time to text."""
        return None if value is None else value.isoformat()

    def process_result_value(self, value: str | None, dialect: sa.Dialect) -> datetime | None:  # noqa: ARG002
        """Text to time."""
        return None if value is None else datetime.fromisoformat(value)


metadata = sa.MetaData()


def _id() -> sa.Column[int]:
    # Given by the store under its write lock, so that ids follow the order of saving on every database.
    return sa.Column("id", sa.Integer, primary_key=True, autoincrement=False)


truck = sa.Table(
    "truck",
    metadata,
    _id(),
    sa.Column("name", sa.Text, nullable=False),
    sa.UniqueConstraint("name", name="truck_name_once"),
)

truck_version = sa.Table(
    "truck_version",
    metadata,
    _id(),
    sa.Column("truck_id", sa.Integer, sa.ForeignKey("truck.id"), nullable=False, index=True),
    sa.Column("recorded_at", IsoTime, nullable=False),
    sa.Column("toml", sa.Text, nullable=False),
    sa.Column("note", sa.Text, nullable=False),
)

run = sa.Table(
    "run",
    metadata,
    _id(),
    sa.Column("truck_id", sa.Integer, sa.ForeignKey("truck.id"), nullable=False),
    sa.Column("name", sa.Text, nullable=False),
    sa.UniqueConstraint("truck_id", "name", name="run_name_once"),
)

reading = sa.Table(
    "reading",
    metadata,
    _id(),
    sa.Column("run_id", sa.Integer, sa.ForeignKey("run.id"), nullable=False, index=True),
    sa.Column("truck_version_id", sa.Integer, sa.ForeignKey("truck_version.id"), nullable=False),
    sa.Column("corner", sa.Text, nullable=False),
    sa.Column("taken_at", IsoTime, nullable=False),  # as given, with its offset or without
    # The same instant at UTC, or the shop's own time where no zone was given: fixed width, so text sorts.
    sa.Column("instant", sa.Text, nullable=False, index=True),
    sa.Column("height_m", sa.Double),
    sa.Column("load_n", sa.Double),
    sa.Column("preload_m", sa.Double),
    sa.Column("stack", sa.Text),
    sa.Column("settled", sa.Text, nullable=False),
    sa.Column("odometer_m", sa.Double),
    sa.Column("note", sa.Text, nullable=False),
    sa.Column("doubt", sa.Text, nullable=False),
    sa.Column("typed", sa.Text),  # JSON object: the fields as somebody typed them
    sa.Column(
        "position", sa.Integer, nullable=False
    ),  # order among equal times; a correction keeps its place
    sa.Column("recorded_at", IsoTime, nullable=False),
    sa.Column("entry_key", sa.Text),  # the sender's key of one save, so that a second try saves nothing twice
    sa.Column("entry_row", sa.Integer),
    sa.Column("replaces_id", sa.Integer, sa.ForeignKey("reading.id")),
    sa.Column("because", sa.Text, nullable=False),
    sa.Column("withdrawn", sa.Boolean, nullable=False),
    sa.UniqueConstraint("replaces_id", name="reading_replaced_once"),
    sa.UniqueConstraint("entry_key", "entry_row", name="reading_entry_once"),
    sa.CheckConstraint(f"corner IN {CORNERS!r}", name="reading_corner"),
    sa.CheckConstraint("settled IN ('above', 'below', '')", name="reading_settled"),
    sa.CheckConstraint(f"height_m > 0 AND height_m < {MOST:.0f}", name="reading_height"),
    sa.CheckConstraint(f"load_n >= 0 AND load_n < {MOST:.0f}", name="reading_load"),
    sa.CheckConstraint(f"preload_m > -{MOST:.0f} AND preload_m < {MOST:.0f}", name="reading_preload"),
    sa.CheckConstraint(f"odometer_m >= 0 AND odometer_m < {MOST:.0f}", name="reading_odometer"),
    sa.CheckConstraint("(entry_key IS NULL) = (entry_row IS NULL)", name="reading_entry_whole"),
    sa.CheckConstraint("replaces_id IS NULL OR (replaces_id < id AND because <> '')", name="reading_because"),
    sa.CheckConstraint("replaces_id IS NOT NULL OR NOT withdrawn", name="reading_withdrawn"),
)

# A cycle walk: a place looked at, or (place empty) height and shaft at a position. The last row of a place counts.
walk = sa.Table(
    "walk",
    metadata,
    _id(),
    sa.Column("truck_id", sa.Integer, sa.ForeignKey("truck.id"), nullable=False, index=True),
    sa.Column("truck_version_id", sa.Integer, sa.ForeignKey("truck_version.id"), nullable=False),
    sa.Column("axle", sa.Text, nullable=False),  # the end; `end` is a word of SQL
    sa.Column("position", sa.Text, nullable=False),
    sa.Column("steering", sa.Text, nullable=False),
    sa.Column("place", sa.Text, nullable=False),
    sa.Column("result", sa.Text, nullable=False),
    sa.Column("clearance_m", sa.Double),
    sa.Column("height_m", sa.Double),
    sa.Column("shaft_m", sa.Double),
    sa.Column("note", sa.Text, nullable=False),
    sa.Column("photo", sa.Text, nullable=False),
    sa.Column("taken_at", IsoTime),
    sa.Column("taken_by", sa.Text, nullable=False),
    sa.Column("recorded_at", IsoTime, nullable=False),
    sa.Column("entry_key", sa.Text),
    sa.Column("entry_row", sa.Integer),
    sa.UniqueConstraint("entry_key", "entry_row", name="walk_entry_once"),
    sa.CheckConstraint("(entry_key IS NULL) = (entry_row IS NULL)", name="walk_entry_whole"),
    sa.CheckConstraint(f"axle IN {END_NAMES!r}", name="walk_axle"),
    sa.CheckConstraint(f"steering IN {('', *STEERING['front'])!r}", name="walk_steering"),
    sa.CheckConstraint(
        f"(place <> '' AND position IN {LOOKED_AT!r}) OR (place = '' AND position IN {LEVEL!r})",
        name="walk_position",
    ),
    sa.CheckConstraint(
        f"(place <> '' AND result IN {RESULTS!r}) OR (place = '' AND result = '')", name="walk_result"
    ),
    sa.CheckConstraint(f"clearance_m >= 0 AND clearance_m < {MOST:.0f}", name="walk_clearance"),
    sa.CheckConstraint(f"height_m > 0 AND height_m < {MOST:.0f}", name="walk_height"),
    sa.CheckConstraint(f"shaft_m > -{MOST:.0f} AND shaft_m < {MOST:.0f}", name="walk_shaft"),
    sa.CheckConstraint("(height_m IS NULL) = (shaft_m IS NULL)", name="walk_pair"),
    sa.CheckConstraint(
        "(place <> '' AND height_m IS NULL) OR (place = '' AND clearance_m IS NULL)", name="walk_row"
    ),
)


def append_only(dialect: str) -> Iterator[str]:
    """Statements that (re)make the triggers on every table, for `sqlite` or `postgresql`.

    Run after every migration, because rebuilding a table drops its triggers without a word.
    """
    refusal = "the log is append-only: correct a reading by a new row that replaces it"
    if dialect == "postgresql":
        yield (
            "CREATE OR REPLACE FUNCTION tuning_append_only() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{refusal}' USING ERRCODE = 'restrict_violation'; END $$"
        )
    for table in metadata.sorted_tables:
        if dialect == "postgresql":
            yield (
                f"CREATE OR REPLACE TRIGGER append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON {table.name} "
                "FOR EACH STATEMENT EXECUTE FUNCTION tuning_append_only()"
            )
            continue
        # INSERT OR REPLACE deletes the old row without asking the delete trigger.
        pushing_out = f"BEFORE INSERT ON {table.name} WHEN {_pushes_out(table)}"
        changes = {"update": f"BEFORE UPDATE ON {table.name}", "delete": f"BEFORE DELETE ON {table.name}"}
        for change, moment in (changes | {"replace": pushing_out}).items():
            yield f"DROP TRIGGER IF EXISTS {table.name}_no_{change}"
            refuse = f"BEGIN SELECT RAISE(ABORT, '{refusal}'); END"
            yield f"CREATE TRIGGER {table.name}_no_{change} {moment} {refuse}"


def _pushes_out(table: sa.Table) -> str:
    """SQL that holds where a NEW row would push out a stored one."""
    unique = [c for c in table.constraints if isinstance(c, sa.PrimaryKeyConstraint | sa.UniqueConstraint)]
    keys = sorted([column.name for column in key.columns] for key in unique)
    matches = (" AND ".join(f"{column} = NEW.{column}" for column in key) for key in keys)
    return " OR ".join(f"EXISTS (SELECT 1 FROM {table.name} WHERE {match})" for match in matches)
