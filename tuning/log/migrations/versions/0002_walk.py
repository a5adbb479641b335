"""The cycle walk."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make its table."""
    op.create_table(
        "walk",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("truck_id", sa.Integer, sa.ForeignKey("truck.id"), nullable=False, index=True),
        sa.Column("truck_version_id", sa.Integer, sa.ForeignKey("truck_version.id"), nullable=False),
        sa.Column("axle", sa.Text, nullable=False),
        sa.Column("position", sa.Text, nullable=False),
        sa.Column("steering", sa.Text, nullable=False),
        sa.Column("place", sa.Text, nullable=False),
        sa.Column("result", sa.Text, nullable=False),
        sa.Column("clearance_m", sa.Double),
        sa.Column("height_m", sa.Double),
        sa.Column("shaft_m", sa.Double),
        sa.Column("note", sa.Text, nullable=False),
        sa.Column("photo", sa.Text, nullable=False),
        sa.Column("taken_at", sa.Text),
        sa.Column("taken_by", sa.Text, nullable=False),
        sa.Column("recorded_at", sa.Text, nullable=False),
        sa.Column("entry_key", sa.Text),
        sa.Column("entry_row", sa.Integer),
        sa.UniqueConstraint("entry_key", "entry_row", name="walk_entry_once"),
        sa.CheckConstraint("(entry_key IS NULL) = (entry_row IS NULL)", name="walk_entry_whole"),
        sa.CheckConstraint("axle IN ('front', 'rear')", name="walk_axle"),
        sa.CheckConstraint("steering IN ('', 'straight', 'left lock', 'right lock')", name="walk_steering"),
        sa.CheckConstraint(
            "(place <> '' AND position IN ('bump', 'droop', 'left up', 'right up'))"
            " OR (place = '' AND position IN ('bump', 'low', 'ride', 'high', 'droop'))",
            name="walk_position",
        ),
        sa.CheckConstraint(
            "(place <> '' AND result IN ('pass', 'contact', 'open')) OR (place = '' AND result = '')",
            name="walk_result",
        ),
        sa.CheckConstraint("clearance_m >= 0 AND clearance_m < 1000000000000", name="walk_clearance"),
        sa.CheckConstraint("height_m > 0 AND height_m < 1000000000000", name="walk_height"),
        sa.CheckConstraint("shaft_m > -1000000000000 AND shaft_m < 1000000000000", name="walk_shaft"),
        sa.CheckConstraint("(height_m IS NULL) = (shaft_m IS NULL)", name="walk_pair"),
        sa.CheckConstraint(
            "(place <> '' AND height_m IS NULL) OR (place = '' AND clearance_m IS NULL)", name="walk_row"
        ),
    )
