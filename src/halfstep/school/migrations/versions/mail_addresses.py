"""Where somebody who forgot a password gets a link: nowhere, in what was kept before."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "mail"
down_revision = "doublings"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column."""
    mail = sa.Column("mail", sa.String(254), nullable=False, server_default="")
    op.add_column("accounts", mail)
