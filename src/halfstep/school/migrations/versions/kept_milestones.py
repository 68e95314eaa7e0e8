"""Milestones: beliefs on the way, so that a plan need not begin at the first take."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "milestones"
down_revision = "jobs"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their table."""
    op.create_table(
        "milestones",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.Column("count", sa.Integer, nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_milestones"),
        sa.ForeignKeyConstraint(
            ["student_id"],
            ["students.id"],
            name="fk_milestones_student_id",
            ondelete="CASCADE",
        ),
        sa.UniqueConstraint("student_id", "digest", name="uq_milestones_student_id"),
    )
    op.create_index("ix_milestones_student_id", "milestones", ["student_id"])
