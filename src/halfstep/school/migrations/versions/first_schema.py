"""The first schema: students, takes, evidence, plans."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "first"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "students",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("folded_name", sa.String(120), nullable=False),
        sa.Column("instrument", sa.String(40), nullable=False),
        sa.Column("level", sa.String(20), nullable=False),
        sa.Column("known_notes", sa.Text, nullable=False),
        sa.Column("keys", sa.Text, nullable=False),
        sa.Column("minutes", sa.Float, nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_students"),
        sa.UniqueConstraint("folded_name", name="uq_students_folded_name"),
    )
    op.create_table(
        "takes",
        *_students_own("takes"),
        sa.Column("source", sa.String(64), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("file", sa.String(200), nullable=False),
        sa.Column("feedback", sa.Text, nullable=False),
        sa.UniqueConstraint("student_id", "source", name="uq_takes_student_id"),
    )
    op.create_table(
        "evidence",
        *_students_own("evidence"),
        sa.Column("source", sa.String(64), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("unit", sa.String(80), nullable=False),
        sa.Column("step", sa.String(80), nullable=False),
        sa.Column("key", sa.Integer, nullable=False),
        sa.Column("tempo_bpm", sa.Float, nullable=False),
        sa.Column("verdict", sa.String(20), nullable=False),
        sa.Column("weight", sa.Float, nullable=False),
        sa.Column("minutes", sa.Float, nullable=False),
        sa.Column("trouble", sa.Text, nullable=False),
        sa.Column("trouble_bar", sa.Integer),
        sa.Column("progression", sa.Integer),
        sa.UniqueConstraint(
            "student_id", "source", "unit", "step", "key", name="uq_evidence_student_id"
        ),
    )
    op.create_table(
        "plans",
        *_students_own("plans"),
        sa.Column("day", sa.Date, nullable=False),
        sa.Column("plan", sa.Text, nullable=False),
        sa.UniqueConstraint("student_id", "day", name="uq_plans_student_id"),
    )
    for table in ("takes", "evidence", "plans"):
        op.create_index(f"ix_{table}_student_id", table, ["student_id"])
    op.create_index("ix_evidence_student_at", "evidence", ["student_id", "at"])


def _students_own(table: str) -> tuple[sa.schema.SchemaItem, ...]:
    """What every row of a student's has."""
    return (
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name=f"pk_{table}"),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=f"fk_{table}_student_id", ondelete="CASCADE"
        ),
    )
