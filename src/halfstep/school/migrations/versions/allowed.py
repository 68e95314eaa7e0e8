"""What is allowed for whom, what a school has chosen, and who has left; nobody is marked by it.

Recordings that are there already stay for thirty days at least, so that whoever starts a newer
release finds what was kept, and can choose how long.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import sqlalchemy as sa
from alembic import op

revision = "consents"
down_revision = "taught"
branch_labels = None
depends_on = None

_TIME = sa.DateTime(timezone=True)
_STAYS = timedelta(days=30)


def upgrade() -> None:
    """Make the tables and the columns."""
    op.create_table(
        "settings",
        sa.Column("name", sa.String(40), nullable=False),
        sa.Column("value", sa.String(80), nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_settings"),
    )
    op.create_table("under_age", *_of_student("under_age"))
    op.create_table("leavers", *_of_student("leavers"), sa.Column("left_at", _TIME, nullable=False))
    op.create_table(
        "consents",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.Column("purpose", sa.String(20), nullable=False),
        sa.Column("is_given", sa.Boolean, nullable=False),
        sa.Column("giver", sa.String(20), nullable=False),
        sa.Column("account", sa.Integer),
        sa.Column("at", _TIME, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_consents"),
        _to_student("consents"),
    )
    op.create_index("ix_consents_student_id", "consents", ["student_id"])
    op.add_column("audit", sa.Column("student", sa.Integer))
    op.add_column("audit", sa.Column("detail", sa.String(80)))
    op.add_column("takes", sa.Column("kept_at", _TIME))
    _spare_what_is_there()


def _of_student(table: str) -> tuple[sa.Column[int], sa.PrimaryKeyConstraint, sa.Constraint]:
    return (
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("student_id", name=f"pk_{table}"),
        _to_student(table),
    )


def _to_student(table: str) -> sa.ForeignKeyConstraint:
    name = f"fk_{table}_student_id"
    return sa.ForeignKeyConstraint(["student_id"], ["students.id"], name=name, ondelete="CASCADE")


def _spare_what_is_there() -> None:
    now = datetime.now(UTC)
    takes = sa.table("takes", sa.column("id"), sa.column("kept_at", _TIME))
    sent = sa.table("sent_takes", sa.column("id"))
    settings = sa.table("settings", sa.column("name"), sa.column("value"))
    connection = op.get_bind()
    connection.execute(takes.update().values(kept_at=now))
    if any(connection.scalar(sa.select(sa.func.count()).select_from(one)) for one in (takes, sent)):
        until = (now + _STAYS).isoformat(timespec="seconds")
        connection.execute(settings.insert().values(name="spared-until", value=until))
