"""Several instruments of a student: what was kept before belongs to the first."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "doublings"
down_revision = "devices"
branch_labels = None
depends_on = None

_ONCE = {
    "evidence": ["student_id", "doubling", "source", "unit", "step", "key"],
    "plans": ["student_id", "doubling", "day"],
    "practised": ["student_id", "doubling", "day", "unit", "step", "key", "role"],
    "milestones": ["student_id", "doubling", "digest"],
    "sheets": ["hand_out_id", "student_id", "doubling"],
}
"""What stands once, with the instrument that it belongs to."""


def upgrade() -> None:
    """Make the table, and the columns of what belongs to an instrument."""
    op.create_table(
        "doublings",
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.Column("doubling", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("instrument", sa.String(40), nullable=False),
        sa.Column("level", sa.String(20), nullable=False),
        sa.Column("known_notes", sa.Text, nullable=False),
        sa.Column("keys", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("student_id", "doubling", name="pk_doublings"),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name="fk_doublings_student_id", ondelete="CASCADE"
        ),
    )
    for table in ("students", "sent_takes"):
        op.add_column(table, _doubling())
    for table, columns in _ONCE.items():
        name = f"uq_{table}_{columns[0]}"
        with op.batch_alter_table(table) as batch:
            batch.add_column(_doubling())
            batch.drop_constraint(name, type_="unique")
            batch.create_unique_constraint(name, columns)


def _doubling() -> sa.Column[int]:
    return sa.Column("doubling", sa.Integer, nullable=False, server_default="0")
