"""Jobs: work that is done beside the page."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "jobs"
down_revision = "desk"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("belongs_to", sa.String(80), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("request", sa.Text, nullable=False),
        sa.Column("student_id", sa.Integer),
        sa.Column("state", sa.String(20), nullable=False),
        sa.Column("progress", sa.Float, nullable=False),
        sa.Column("phrase", sa.String(80), nullable=False),
        sa.Column("worker", sa.String(80), nullable=False),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("trouble", sa.Text, nullable=False),
        sa.Column("result", sa.Text, nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True)),
        sa.Column("heartbeat_at", sa.DateTime(timezone=True)),
        sa.Column("ended_at", sa.DateTime(timezone=True)),
        sa.PrimaryKeyConstraint("id", name="pk_jobs"),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name="fk_jobs_student_id", ondelete="CASCADE"
        ),
        sa.UniqueConstraint("belongs_to", "digest", name="uq_jobs_belongs_to"),
    )
    op.create_index("ix_jobs_student_id", "jobs", ["student_id"])
    op.create_index("ix_jobs_state", "jobs", ["state"])
