"""Recordings that come from the practice room in pieces."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "room"
down_revision = "once"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their table."""
    op.create_table(
        "room_recordings",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.Column("key", sa.String(36), nullable=False),
        sa.Column("piece", sa.String(200), nullable=False),
        sa.Column("about", sa.Text, nullable=False),
        sa.Column("begun_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("take_id", sa.Integer),
        sa.PrimaryKeyConstraint("id", name="pk_room_recordings"),
        sa.ForeignKeyConstraint(
            ["student_id"],
            ["students.id"],
            name="fk_room_recordings_student_id",
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["take_id"],
            ["sent_takes.id"],
            name="fk_room_recordings_take_id",
            ondelete="CASCADE",
        ),
        sa.UniqueConstraint("student_id", "key", name="uq_room_recordings_student_id"),
    )
    op.create_index("ix_room_recordings_student_id", "room_recordings", ["student_id"])
    op.create_index("ix_room_recordings_take_id", "room_recordings", ["take_id"])
