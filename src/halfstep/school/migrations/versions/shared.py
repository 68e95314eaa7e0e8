"""Which takes a class hears; and the names of who was let out are free again."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "shared"
down_revision = "consents"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table, and forget who was let out."""
    op.create_table(
        "shared_takes",
        sa.Column("take_id", sa.Integer, nullable=False),
        sa.Column("class_id", sa.Integer, nullable=False),
        sa.Column("shared_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("take_id", "class_id", name="pk_shared_takes"),
        sa.ForeignKeyConstraint(
            ["take_id"], ["sent_takes.id"], name="fk_shared_takes_take_id", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["class_id"], ["classes.id"], name="fk_shared_takes_class_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_shared_takes_class_id", "shared_takes", ["class_id"])
    _forget_who_was_let_out()


def _forget_who_was_let_out() -> None:
    columns = ("id", "name", "folded_name", "student_id", "ended_at")
    accounts = sa.table("accounts", *map(sa.column, columns))
    wards = sa.table("wards", sa.column("account_id"))
    out = accounts.c.ended_at.is_not(None)
    numbers = sa.select(accounts.c.id).where(out)
    connection = op.get_bind()
    for number in connection.scalars(numbers).all():
        # no name begins with a blank
        free = {"name": "", "folded_name": f" ended {number}", "student_id": None}
        connection.execute(accounts.update().where(accounts.c.id == number).values(**free))
        connection.execute(wards.delete().where(wards.c.account_id == number))
