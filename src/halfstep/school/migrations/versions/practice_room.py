"""The practice room: what was practised of a day's plan, and what a take was played to."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "practised"
down_revision = "room"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table, and the column of the takes."""
    op.create_table(
        "practised",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.Column("day", sa.Date, nullable=False),
        sa.Column("unit", sa.String(80), nullable=False),
        sa.Column("step", sa.String(80), nullable=False),
        sa.Column("key", sa.Integer, nullable=False),
        sa.Column("role", sa.String(20), nullable=False),
        sa.Column("tempo_bpm", sa.Float, nullable=False),
        sa.Column("word", sa.String(20), nullable=False),
        sa.Column("heard", sa.String(20), nullable=False),
        sa.Column("source", sa.String(64), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_practised"),
        sa.ForeignKeyConstraint(
            ["student_id"],
            ["students.id"],
            name="fk_practised_student_id",
            ondelete="CASCADE",
        ),
        sa.UniqueConstraint(
            "student_id", "day", "unit", "step", "key", "role", name="uq_practised_student_id"
        ),
    )
    op.create_index("ix_practised_student_id", "practised", ["student_id"])
    about = sa.Column("about", sa.Text, nullable=False, server_default="")
    op.add_column("sent_takes", about)
