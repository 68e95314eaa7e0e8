"""Who was erased, by marks that say nothing, and where copies lie: nobody and nowhere, before."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "erasures"
down_revision = "mail"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "erasures",
        sa.Column("mark", sa.String(32), nullable=False),
        sa.PrimaryKeyConstraint("mark", name="pk_erasures"),
    )
    op.create_table(
        "copy_places",
        sa.Column("path", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("path", name="pk_copy_places"),
    )
