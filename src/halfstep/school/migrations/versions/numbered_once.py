"""Invitations whose numbers never come again, though their rows be gone."""

from __future__ import annotations

from alembic import op

revision = "once"
down_revision = "handed"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table anew where numbers would be used again."""
    kind = {"sqlite_autoincrement": True}
    with op.batch_alter_table("invitations", recreate="always", table_kwargs=kind):
        pass
