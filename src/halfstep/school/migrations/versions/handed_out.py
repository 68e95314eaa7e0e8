"""Handed out: which job makes a sheet, and what is there as a demo."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "handed"
down_revision = "milestones"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column and the table."""
    with op.batch_alter_table("sheets") as sheets:
        sheets.add_column(sa.Column("job_id", sa.Integer))
        sheets.create_foreign_key(
            "fk_sheets_job_id", "jobs", ["job_id"], ["id"], ondelete="SET NULL"
        )
        sheets.create_index("ix_sheets_job_id", ["job_id"])
    op.create_table(
        "demo_things",
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("kind", "number", name="pk_demo_things"),
    )
