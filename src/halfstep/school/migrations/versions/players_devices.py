"""On which devices players came in; links end, and open on a few devices each."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import sqlalchemy as sa
from alembic import op

revision = "devices"
down_revision = "turns"
branch_labels = None
depends_on = None

_TIME = sa.DateTime(timezone=True)
OPENS_FOR, KNOWN_FOR = timedelta(days=30), timedelta(days=90)
"""What stands opens as if it were made now; browsers that have its word are known for so long."""


def upgrade() -> None:
    """Make the table and the columns; what stands goes on."""
    op.create_table(
        "devices",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("device", sa.String(80), nullable=False),
        sa.Column("begun_at", _TIME, nullable=False),
        sa.Column("seen_at", _TIME, nullable=False),
        sa.Column("ended_at", _TIME),
        sa.PrimaryKeyConstraint("id", name="pk_devices"),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name="fk_devices_student_id", ondelete="CASCADE"
        ),
        sa.UniqueConstraint("digest", name="uq_devices_digest"),
    )
    op.create_index("ix_devices_student_id", "devices", ["student_id"])
    for name in ("round", "opened"):
        number = sa.Column(name, sa.Integer, nullable=False, server_default="0")
        op.add_column("invitations", number)
    for name in ("opens_until", "known_until"):
        op.add_column("invitations", sa.Column(name, _TIME))
    columns = ("opens_until", "known_until", "withdrawn_at")
    invitations = sa.table("invitations", *(sa.column(name, _TIME) for name in columns))
    now = datetime.now(UTC)
    if op.get_bind().dialect.name == "sqlite":
        now = now.replace(tzinfo=None)
    until = {"opens_until": now + OPENS_FOR, "known_until": now + KNOWN_FOR}
    stands = invitations.c.withdrawn_at.is_(None)
    op.execute(invitations.update().where(stands).values(**until))
