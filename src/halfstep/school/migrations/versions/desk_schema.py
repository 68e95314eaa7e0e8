"""The desk: classes, invitations, charts, lines, what was handed out, what was sent."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "desk"
down_revision = "first"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    _classes()
    _charts()
    _handed_out()
    for table, column in _INDEXED:
        op.create_index(f"ix_{table}_{column}", table, [column])


_INDEXED = (
    ("members", "student_id"),
    ("invitations", "class_id"),
    ("invitations", "student_id"),
    ("lines", "chart_id"),
    ("hand_outs", "class_id"),
    ("hand_outs", "student_id"),
    ("hand_outs", "chart_id"),
    ("hand_outs", "line_id"),
    ("sheets", "hand_out_id"),
    ("sheets", "student_id"),
    ("sent_takes", "student_id"),
    ("sent_takes", "hand_out_id"),
)


def _classes() -> None:
    _table(
        "classes",
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("folded_name", sa.String(120), nullable=False),
        _moment("made_at"),
        sa.UniqueConstraint("folded_name", name="uq_classes_folded_name"),
    )
    op.create_table(
        "members",
        sa.Column("class_id", sa.Integer, nullable=False),
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("class_id", "student_id", name="pk_members"),
        _key("members", "class_id", "classes", "CASCADE"),
        _key("members", "student_id", "students", "CASCADE"),
    )
    _table(
        "invitations",
        sa.Column("class_id", sa.Integer),
        sa.Column("student_id", sa.Integer),
        _moment("made_at"),
        _moment("withdrawn_at", nullable=True),
        _key("invitations", "class_id", "classes", "CASCADE"),
        _key("invitations", "student_id", "students", "CASCADE"),
    )


def _charts() -> None:
    _table(
        "charts",
        sa.Column("title", sa.String(200), nullable=False),
        *_texts("text", "sheet", "scales"),
        _moment("made_at"),
        _moment("changed_at"),
    )
    _table(
        "lines",
        sa.Column("chart_id", sa.Integer, nullable=False),
        *_texts("request", "etude", "edits", "undone"),
        sa.Column("locked", sa.String(400), nullable=False),
        _moment("made_at"),
        _moment("changed_at"),
        _key("lines", "chart_id", "charts", "CASCADE"),
    )


def _handed_out() -> None:
    _table(
        "hand_outs",
        sa.Column("class_id", sa.Integer),
        sa.Column("student_id", sa.Integer),
        sa.Column("chart_id", sa.Integer),
        sa.Column("line_id", sa.Integer),
        sa.Column("title", sa.String(200), nullable=False),
        *_texts("note"),
        sa.Column("due_on", sa.Date),
        *_texts("request"),
        _moment("made_at"),
        _key("hand_outs", "class_id", "classes", "CASCADE"),
        _key("hand_outs", "student_id", "students", "CASCADE"),
        _key("hand_outs", "chart_id", "charts", "SET NULL"),
        _key("hand_outs", "line_id", "lines", "SET NULL"),
    )
    _table(
        "sheets",
        sa.Column("hand_out_id", sa.Integer, nullable=False),
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.Column("folder", sa.String(200), nullable=False),
        _moment("made_at", nullable=True),
        _key("sheets", "hand_out_id", "hand_outs", "CASCADE"),
        _key("sheets", "student_id", "students", "CASCADE"),
        sa.UniqueConstraint("hand_out_id", "student_id", name="uq_sheets_hand_out_id"),
    )
    _table(
        "sent_takes",
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.Column("hand_out_id", sa.Integer),
        sa.Column("source", sa.String(64), nullable=False),
        sa.Column("file", sa.String(200), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        _moment("sent_at"),
        *_texts("feedback"),
        sa.Column("folder", sa.String(200), nullable=False),
        *_texts("trouble", "words", "marks"),
        _moment("answered_at", nullable=True),
        _key("sent_takes", "student_id", "students", "CASCADE"),
        _key("sent_takes", "hand_out_id", "hand_outs", "SET NULL"),
        sa.UniqueConstraint("student_id", "hand_out_id", "source", name="uq_sent_takes_student_id"),
    )


def _table(name: str, *columns: sa.schema.SchemaItem) -> None:
    """A table whose rows have numbers."""
    op.create_table(
        name,
        sa.Column("id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name=f"pk_{name}"),
        *columns,
    )


def _texts(*names: str) -> tuple[sa.Column[Any], ...]:
    return tuple(sa.Column(name, sa.Text, nullable=False) for name in names)


def _moment(name: str, *, nullable: bool = False) -> sa.Column[Any]:
    return sa.Column(name, sa.DateTime(timezone=True), nullable=nullable)


def _key(table: str, column: str, other: str, ondelete: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        [column], [f"{other}.id"], name=f"fk_{table}_{column}", ondelete=ondelete
    )
