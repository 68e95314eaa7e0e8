"""What is kept of whom? The tables as they are today; `migrations` leads there from any older."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    Column,
    Date,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)

LONGEST_NAME = 60
"""Letters of a nickname."""


class UtcTime(TypeDecorator[datetime]):
    """A moment, stored as universal time: databases without time zones lose none."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """The moment as the database takes it."""
        if value is None:
            return None
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """The moment as it was stored."""
        del dialect
        return value.replace(tzinfo=UTC) if value and value.tzinfo is None else value


metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _students_own() -> Column[int]:
    return Column(
        "student_id", ForeignKey("students.id", ondelete="CASCADE"), nullable=False, index=True
    )


students = Table(
    "students",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String(LONGEST_NAME), nullable=False),
    Column("folded_name", String(2 * LONGEST_NAME), nullable=False, unique=True),
    Column("instrument", String(40), nullable=False),
    Column("level", String(20), nullable=False),
    Column("known_notes", Text, nullable=False, default=""),
    Column("keys", Text, nullable=False, default=""),
    Column("minutes", Float, nullable=False),
    Column("added_at", UtcTime, nullable=False),
)
"""Nicknames alone: no other fact of a person is kept."""

takes = Table(
    "takes",
    metadata,
    Column("id", Integer, primary_key=True),
    _students_own(),
    Column("source", String(64), nullable=False),
    Column("recorded_at", UtcTime, nullable=False),
    Column("file", String(200), nullable=False),
    Column("feedback", Text, nullable=False),
    UniqueConstraint("student_id", "source"),
)
"""Recordings by their place below the folder, with what was said of them, as data."""

evidence = Table(
    "evidence",
    metadata,
    Column("id", Integer, primary_key=True),
    _students_own(),
    Column("source", String(64), nullable=False),
    Column("at", UtcTime, nullable=False),
    Column("unit", String(80), nullable=False),
    Column("step", String(80), nullable=False),
    Column("key", Integer, nullable=False),
    Column("tempo_bpm", Float, nullable=False),
    Column("verdict", String(20), nullable=False),
    Column("weight", Float, nullable=False),
    Column("minutes", Float, nullable=False),
    Column("trouble", Text, nullable=False, default=""),
    Column("trouble_bar", Integer),
    Column("progression", Integer),
    UniqueConstraint("student_id", "source", "unit", "step", "key"),
    Index("ix_evidence_student_at", "student_id", "at"),
)

plans = Table(
    "plans",
    metadata,
    Column("id", Integer, primary_key=True),
    _students_own(),
    Column("day", Date, nullable=False),
    Column("plan", Text, nullable=False),
    UniqueConstraint("student_id", "day"),
)
"""What was planned for a day, as data."""
