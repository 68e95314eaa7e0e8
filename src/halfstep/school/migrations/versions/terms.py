"""Since when a class is put away: none, in what was kept before."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "terms"
down_revision = "shared"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column."""
    op.add_column("classes", sa.Column("archived_at", sa.DateTime(timezone=True)))
