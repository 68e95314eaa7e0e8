"""How large a student's pages are printed, and on which tint."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "printed"
down_revision = "practised"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the column."""
    setting = sa.Column("print_setting", sa.Text, nullable=False, server_default="")
    op.add_column("students", setting)
