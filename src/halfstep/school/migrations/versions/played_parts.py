"""Which share of the bars was played: all of them, in what was kept before."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "parts"
down_revision = "printed"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column of the evidence."""
    part = sa.Column("part", sa.Float, nullable=False, server_default="1")
    op.add_column("evidence", part)
