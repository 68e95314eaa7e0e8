"""Who signs in: accounts, links to choose a password, sessions, failed tries, what was done."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "accounts"
down_revision = "parts"
branch_labels = None
depends_on = None

_TIME = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "accounts",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("folded_name", sa.String(120), nullable=False),
        sa.Column("role", sa.String(20), nullable=False),
        sa.Column("student_id", sa.Integer),
        sa.Column("password", sa.String(200), nullable=False),
        sa.Column("second_factor", sa.String(64), nullable=False),
        sa.Column("last_code", sa.Integer, nullable=False),
        sa.Column("made_at", _TIME, nullable=False),
        sa.Column("ended_at", _TIME),
        sa.PrimaryKeyConstraint("id", name="pk_accounts"),
        _of("accounts", "student_id", "students"),
        sa.UniqueConstraint("folded_name", name="uq_accounts_folded_name"),
        sa.UniqueConstraint("student_id", name="uq_accounts_student_id"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "wards",
        sa.Column("account_id", sa.Integer, nullable=False),
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("account_id", "student_id", name="pk_wards"),
        _of("wards", "account_id", "accounts"),
        _of("wards", "student_id", "students"),
    )
    op.create_index("ix_wards_student_id", "wards", ["student_id"])
    _accounts_own(
        "account_links",
        sa.Column("expires_at", _TIME, nullable=False),
        sa.Column("used_at", _TIME),
    )
    _accounts_own(
        "sessions",
        sa.Column("device", sa.String(80), nullable=False),
        sa.Column("begun_at", _TIME, nullable=False),
        sa.Column("seen_at", _TIME, nullable=False),
        sa.Column("ended_at", _TIME),
    )
    op.create_table(
        "attempts",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("subject", sa.String(64), nullable=False),
        sa.Column("at", _TIME, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_attempts"),
    )
    op.create_index("ix_attempts_subject", "attempts", ["subject"])
    op.create_table(
        "audit",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("at", _TIME, nullable=False),
        sa.Column("account", sa.Integer),
        sa.Column("deed", sa.String(80), nullable=False),
        sa.Column("whose", sa.Integer),
        sa.PrimaryKeyConstraint("id", name="pk_audit"),
    )
    op.create_index("ix_audit_at", "audit", ["at"])


def _of(table: str, column: str, parent: str) -> sa.ForeignKeyConstraint:
    name = f"fk_{table}_{column}"
    return sa.ForeignKeyConstraint([column], [f"{parent}.id"], name=name, ondelete="CASCADE")


def _accounts_own(table: str, *columns: sa.Column[object]) -> None:
    op.create_table(
        table,
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("account_id", sa.Integer, nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        *columns,
        sa.PrimaryKeyConstraint("id", name=f"pk_{table}"),
        _of(table, "account_id", "accounts"),
        sa.UniqueConstraint("digest", name=f"uq_{table}_digest"),
    )
    op.create_index(f"ix_{table}_account_id", table, ["account_id"])
