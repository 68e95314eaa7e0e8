"""Whose a chart is, and who teaches a class: everybody's, in what was kept before."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "taught"
down_revision = "accounts"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column of the charts, and the table."""
    op.add_column("charts", sa.Column("account", sa.Integer))
    op.create_index("ix_charts_account", "charts", ["account"])
    op.create_table(
        "class_teachers",
        sa.Column("class_id", sa.Integer, nullable=False),
        sa.Column("account_id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("class_id", "account_id", name="pk_class_teachers"),
        sa.ForeignKeyConstraint(
            ["class_id"], ["classes.id"], name="fk_class_teachers_class_id", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["account_id"], ["accounts.id"], name="fk_class_teachers_account_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_class_teachers_account_id", "class_teachers", ["account_id"])
