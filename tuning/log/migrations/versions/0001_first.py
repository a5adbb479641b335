"""Trucks, their versions, runs and readings."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the four tables."""
    op.create_table(
        "truck",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.UniqueConstraint("name", name="truck_name_once"),
    )
    op.create_table(
        "truck_version",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("truck_id", sa.Integer, sa.ForeignKey("truck.id"), nullable=False, index=True),
        sa.Column("recorded_at", sa.Text, nullable=False),
        sa.Column("toml", sa.Text, nullable=False),
        sa.Column("note", sa.Text, nullable=False),
    )
    op.create_table(
        "run",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("truck_id", sa.Integer, sa.ForeignKey("truck.id"), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.UniqueConstraint("truck_id", "name", name="run_name_once"),
    )
    op.create_table(
        "reading",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("run_id", sa.Integer, sa.ForeignKey("run.id"), nullable=False, index=True),
        sa.Column("truck_version_id", sa.Integer, sa.ForeignKey("truck_version.id"), nullable=False),
        sa.Column("corner", sa.Text, nullable=False),
        sa.Column("taken_at", sa.Text, nullable=False),
        sa.Column("instant", sa.Text, nullable=False, index=True),
        sa.Column("height_m", sa.Double),
        sa.Column("load_n", sa.Double),
        sa.Column("preload_m", sa.Double),
        sa.Column("stack", sa.Text),
        sa.Column("settled", sa.Text, nullable=False),
        sa.Column("odometer_m", sa.Double),
        sa.Column("note", sa.Text, nullable=False),
        sa.Column("doubt", sa.Text, nullable=False),
        sa.Column("typed", sa.Text),
        sa.Column("position", sa.Integer, nullable=False),
        sa.Column("recorded_at", sa.Text, nullable=False),
        sa.Column("entry_key", sa.Text),
        sa.Column("entry_row", sa.Integer),
        sa.Column("replaces_id", sa.Integer, sa.ForeignKey("reading.id")),
        sa.Column("because", sa.Text, nullable=False),
        sa.Column("withdrawn", sa.Boolean, nullable=False),
        sa.UniqueConstraint("replaces_id", name="reading_replaced_once"),
        sa.UniqueConstraint("entry_key", "entry_row", name="reading_entry_once"),
        sa.CheckConstraint("corner IN ('LF', 'RF', 'LR', 'RR')", name="reading_corner"),
        sa.CheckConstraint("settled IN ('above', 'below', '')", name="reading_settled"),
        sa.CheckConstraint("height_m > 0 AND height_m < 1000000000000", name="reading_height"),
        sa.CheckConstraint("load_n >= 0 AND load_n < 1000000000000", name="reading_load"),
        sa.CheckConstraint(
            "preload_m > -1000000000000 AND preload_m < 1000000000000", name="reading_preload"
        ),
        sa.CheckConstraint("odometer_m >= 0 AND odometer_m < 1000000000000", name="reading_odometer"),
        sa.CheckConstraint("(entry_key IS NULL) = (entry_row IS NULL)", name="reading_entry_whole"),
        sa.CheckConstraint(
            "replaces_id IS NULL OR (replaces_id < id AND because <> '')", name="reading_because"
        ),
        sa.CheckConstraint("replaces_id IS NOT NULL OR NOT withdrawn", name="reading_withdrawn"),
    )
