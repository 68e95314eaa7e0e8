"""When the turn of a job comes: in what was kept before, when it was added."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "turns"
down_revision = "terms"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column."""
    op.add_column(
        "jobs",
        sa.Column(
            "turn_at",
            sa.DateTime(timezone=True),
            nullable=False,
            server_default="2020-01-01 00:00:00.000000",
        ),
    )
    op.execute("UPDATE jobs SET turn_at = added_at")
