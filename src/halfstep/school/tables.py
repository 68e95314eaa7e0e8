"""What is kept of whom? The tables as they are today; `migrations` leads there from any older."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    Boolean,
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
LONGEST_BELONGING = 80
"""Letters of what a job belongs to."""
LONGEST_PHRASE = 80
"""Letters of what a job does just now."""
LONGEST_ADDRESS = 200
"""Letters of the address of a piece in the practice room."""


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
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


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


def _doubling() -> Column[int]:
    return Column("doubling", Integer, nullable=False, default=0, server_default="0")


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
    Column("print_setting", Text, nullable=False, default=""),
    Column("minutes", Float, nullable=False),
    Column("added_at", UtcTime, nullable=False),
    _doubling(),
)
"""Nicknames alone: no other fact of a person is kept.

``doubling`` is which of the own instruments is at hand, 0 for the first; so it is in the tables of
what belongs to an instrument.
"""

doublings = Table(
    "doublings",
    metadata,
    Column("student_id", ForeignKey("students.id", ondelete="CASCADE"), primary_key=True),
    Column("doubling", Integer, primary_key=True, autoincrement=False),
    Column("instrument", String(40), nullable=False),
    Column("level", String(20), nullable=False),
    Column("known_notes", Text, nullable=False, default=""),
    Column("keys", Text, nullable=False, default=""),
)
"""The instruments of a student that are laid aside."""

takes = Table(
    "takes",
    metadata,
    Column("id", Integer, primary_key=True),
    _students_own(),
    Column("source", String(64), nullable=False),
    Column("recorded_at", UtcTime, nullable=False),
    Column("file", String(200), nullable=False),
    Column("feedback", Text, nullable=False),
    Column("kept_at", UtcTime),
    UniqueConstraint("student_id", "source"),
)
"""Recordings by their place below the folder, with what was said of them, as data.

The place is empty once a recording has gone and what was said of it stays.
"""

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
    Column("part", Float, nullable=False, default=1.0),
    _doubling(),
    UniqueConstraint("student_id", "doubling", "source", "unit", "step", "key"),
    Index("ix_evidence_student_at", "student_id", "at"),
)

plans = Table(
    "plans",
    metadata,
    Column("id", Integer, primary_key=True),
    _students_own(),
    Column("day", Date, nullable=False),
    Column("plan", Text, nullable=False),
    _doubling(),
    UniqueConstraint("student_id", "doubling", "day"),
)
"""What was planned for a day, as data."""

practised = Table(
    "practised",
    metadata,
    Column("id", Integer, primary_key=True),
    _students_own(),
    Column("day", Date, nullable=False),
    Column("unit", String(80), nullable=False),
    Column("step", String(80), nullable=False),
    Column("key", Integer, nullable=False),
    Column("role", String(20), nullable=False),
    Column("tempo_bpm", Float, nullable=False),
    Column("word", String(20), nullable=False, default=""),
    Column("heard", String(20), nullable=False, default=""),
    Column("source", String(64), nullable=False, default=""),
    Column("at", UtcTime, nullable=False),
    _doubling(),
    UniqueConstraint("student_id", "doubling", "day", "unit", "step", "key", "role"),
)
"""The items of a day's plan that were practised: the player's own word, and what was heard.

``source`` is that of the evidence which was heard first; it counts the minutes of the item.
"""

classes = Table(
    "classes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String(LONGEST_NAME), nullable=False),
    Column("folded_name", String(2 * LONGEST_NAME), nullable=False, unique=True),
    Column("made_at", UtcTime, nullable=False),
    Column("archived_at", UtcTime),
)

members = Table(
    "members",
    metadata,
    Column("class_id", ForeignKey("classes.id", ondelete="CASCADE"), primary_key=True),
    Column(
        "student_id", ForeignKey("students.id", ondelete="CASCADE"), primary_key=True, index=True
    ),
)
"""Who is in which class."""

invitations = Table(
    "invitations",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("class_id", ForeignKey("classes.id", ondelete="CASCADE"), index=True),
    Column("student_id", ForeignKey("students.id", ondelete="CASCADE"), index=True),
    Column("made_at", UtcTime, nullable=False),
    Column("withdrawn_at", UtcTime),
    Column("round", Integer, nullable=False, default=0),
    Column("opens_until", UtcTime),
    Column("opened", Integer, nullable=False, default=0),
    Column("known_until", UtcTime),
    sqlite_autoincrement=True,
)
"""Links that let somebody in: one student, or whoever of a class says who it is.

No number comes twice, though its row be gone: an old link would else let somebody in as another.
``round`` is how often the link was made anew, ``opened`` on how many devices it was followed since.
Until ``known_until`` a browser is known by the word of a link, as it was before there were devices.
"""

charts = Table(
    "charts",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("title", String(200), nullable=False),
    Column("text", Text, nullable=False),
    Column("sheet", Text, nullable=False, default=""),
    Column("scales", Text, nullable=False, default=""),
    Column("made_at", UtcTime, nullable=False),
    Column("changed_at", UtcTime, nullable=False),
    Column("account", Integer, index=True),
)
"""Charts as typed; ``sheet`` is one that came as a file, as data, and then the truth.

``account`` is the number of whose it is, where several teach.
"""

lines = Table(
    "lines",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("chart_id", ForeignKey("charts.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("request", Text, nullable=False),
    Column("etude", Text, nullable=False),
    Column("edits", Text, nullable=False, default=""),
    Column("undone", Text, nullable=False, default=""),
    Column("locked", String(400), nullable=False, default=""),
    Column("made_at", UtcTime, nullable=False),
    Column("changed_at", UtcTime, nullable=False),
)
"""Etudes as they were written, with what the teacher did to them since."""

hand_outs = Table(
    "hand_outs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("class_id", ForeignKey("classes.id", ondelete="CASCADE"), index=True),
    Column("student_id", ForeignKey("students.id", ondelete="CASCADE"), index=True),
    Column("chart_id", ForeignKey("charts.id", ondelete="SET NULL"), index=True),
    Column("line_id", ForeignKey("lines.id", ondelete="SET NULL"), index=True),
    Column("title", String(200), nullable=False),
    Column("note", Text, nullable=False, default=""),
    Column("due_on", Date),
    Column("request", Text, nullable=False),
    Column("made_at", UtcTime, nullable=False),
)
"""What was given to a class or to one student, with the lesson that was asked for, as data."""

sheets = Table(
    "sheets",
    metadata,
    Column("id", Integer, primary_key=True),
    Column(
        "hand_out_id", ForeignKey("hand_outs.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    _students_own(),
    Column("job_id", ForeignKey("jobs.id", ondelete="SET NULL"), index=True),
    Column("folder", String(200), nullable=False, default=""),
    Column("made_at", UtcTime),
    _doubling(),
    UniqueConstraint("hand_out_id", "student_id", "doubling"),
)
"""What one student got for an instrument, and the job that makes it; no folder until it is made."""

sent_takes = Table(
    "sent_takes",
    metadata,
    Column("id", Integer, primary_key=True),
    _students_own(),
    Column("hand_out_id", ForeignKey("hand_outs.id", ondelete="SET NULL"), index=True),
    Column("source", String(64), nullable=False),
    Column("file", String(200), nullable=False),
    Column("name", String(200), nullable=False),
    Column("about", Text, nullable=False, default=""),
    Column("sent_at", UtcTime, nullable=False),
    Column("feedback", Text, nullable=False, default=""),
    Column("folder", String(200), nullable=False, default=""),
    Column("trouble", Text, nullable=False, default=""),
    Column("words", Text, nullable=False, default=""),
    Column("marks", Text, nullable=False, default=""),
    Column("answered_at", UtcTime),
    _doubling(),
    UniqueConstraint("student_id", "hand_out_id", "source"),
)
"""Recordings that students sent, what was heard in them, and what the teacher said.

``about`` is what the practice room knows of a take, as data; empty for a file that was sent.
``file`` is empty once a recording has gone and what was said of it stays.
"""

room_recordings = Table(
    "room_recordings",
    metadata,
    Column("id", Integer, primary_key=True),
    _students_own(),
    Column("key", String(36), nullable=False),
    Column("piece", String(LONGEST_ADDRESS), nullable=False),
    Column("about", Text, nullable=False),
    Column("begun_at", UtcTime, nullable=False),
    Column("take_id", ForeignKey("sent_takes.id", ondelete="CASCADE"), index=True),
    UniqueConstraint("student_id", "key"),
)
"""Recordings that come from the practice room in pieces, and the takes that they became.

The key is made where it is recorded; what is known of a recording stands with it as data.
"""

jobs = Table(
    "jobs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("belongs_to", String(LONGEST_BELONGING), nullable=False),
    Column("digest", String(64), nullable=False),
    Column("request", Text, nullable=False),
    Column("student_id", ForeignKey("students.id", ondelete="CASCADE"), index=True),
    Column("state", String(20), nullable=False, index=True),
    Column("progress", Float, nullable=False, default=0.0),
    Column("phrase", String(LONGEST_PHRASE), nullable=False, default=""),
    Column("worker", String(80), nullable=False, default=""),
    Column("attempts", Integer, nullable=False, default=0),
    Column("trouble", Text, nullable=False, default=""),
    Column("result", Text, nullable=False, default=""),
    Column("added_at", UtcTime, nullable=False),
    Column("turn_at", UtcTime, nullable=False),
    Column("started_at", UtcTime),
    Column("heartbeat_at", UtcTime),
    Column("ended_at", UtcTime),
    UniqueConstraint("belongs_to", "digest"),
)
"""Work that is done beside the page: a request as JSON, whose work it is, and how far it is.

The digest is the request's, so that what is asked for twice is known without comparing texts. Of
jobs that wait the one whose ``turn_at`` is first is next.
"""

milestones = Table(
    "milestones",
    metadata,
    Column("id", Integer, primary_key=True),
    _students_own(),
    Column("count", Integer, nullable=False),
    Column("digest", String(64), nullable=False),
    Column("state", Text, nullable=False),
    _doubling(),
    UniqueConstraint("student_id", "doubling", "digest"),
)
"""What followed from the first pieces of evidence: a copy that saves time and may be lost."""

demo_things = Table(
    "demo_things",
    metadata,
    Column("kind", String(20), primary_key=True),
    Column("number", Integer, primary_key=True),
)
"""What the program itself put there to be looked at: it goes at one word."""

accounts = Table(
    "accounts",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String(LONGEST_NAME), nullable=False),
    Column("folded_name", String(2 * LONGEST_NAME), nullable=False, unique=True),
    Column("role", String(20), nullable=False),
    Column("student_id", ForeignKey("students.id", ondelete="CASCADE"), unique=True),
    Column("password", String(200), nullable=False, default=""),
    Column("second_factor", String(64), nullable=False, default=""),
    Column("last_code", Integer, nullable=False, default=0),
    Column("made_at", UtcTime, nullable=False),
    Column("ended_at", UtcTime),
    Column("mail", String(254), nullable=False, default=""),
    sqlite_autoincrement=True,
)
"""Who signs in. The password is a hash with its own salt; empty until one was chosen.

``mail`` is where a link goes to who forgot it; empty for who gave no address.

``last_code`` is the step of time whose code of the second factor was used last: none counts twice.
"""

wards = Table(
    "wards",
    metadata,
    Column("account_id", ForeignKey("accounts.id", ondelete="CASCADE"), primary_key=True),
    Column(
        "student_id", ForeignKey("students.id", ondelete="CASCADE"), primary_key=True, index=True
    ),
)
"""Whose guardian somebody is."""

class_teachers = Table(
    "class_teachers",
    metadata,
    Column("class_id", ForeignKey("classes.id", ondelete="CASCADE"), primary_key=True),
    Column(
        "account_id", ForeignKey("accounts.id", ondelete="CASCADE"), primary_key=True, index=True
    ),
)
"""Who teaches which class."""


def _accounts_own() -> Column[int]:
    return Column(
        "account_id", ForeignKey("accounts.id", ondelete="CASCADE"), nullable=False, index=True
    )


account_links = Table(
    "account_links",
    metadata,
    Column("id", Integer, primary_key=True),
    _accounts_own(),
    Column("digest", String(64), nullable=False, unique=True),
    Column("expires_at", UtcTime, nullable=False),
    Column("used_at", UtcTime),
)
"""Links by which somebody chooses a password, once; the word in the link is not kept."""

sessions = Table(
    "sessions",
    metadata,
    Column("id", Integer, primary_key=True),
    _accounts_own(),
    Column("digest", String(64), nullable=False, unique=True),
    Column("device", String(80), nullable=False),
    Column("begun_at", UtcTime, nullable=False),
    Column("seen_at", UtcTime, nullable=False),
    Column("ended_at", UtcTime),
)
"""Where somebody is signed in; the word in the browser is not kept."""

devices = Table(
    "devices",
    metadata,
    Column("id", Integer, primary_key=True),
    _students_own(),
    Column("digest", String(64), nullable=False, unique=True),
    Column("device", String(80), nullable=False),
    Column("begun_at", UtcTime, nullable=False),
    Column("seen_at", UtcTime, nullable=False),
    Column("ended_at", UtcTime),
)
"""On which devices a player came in by a link; the word in the browser is not kept."""

attempts = Table(
    "attempts",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("subject", String(64), nullable=False, index=True),
    Column("at", UtcTime, nullable=False),
)
"""Failed tries to sign in, by a digest of the name or of the address they came from."""

audit = Table(
    "audit",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", UtcTime, nullable=False, index=True),
    Column("account", Integer),
    Column("deed", String(80), nullable=False),
    Column("whose", Integer),
    Column("student", Integer),
    Column("detail", String(80)),
)
"""What was done, by the numbers of accounts and students: a name that is erased is not in it."""

settings = Table(
    "settings",
    metadata,
    Column("name", String(40), primary_key=True),
    Column("value", String(80), nullable=False),
)
"""What a school has chosen, and when something was done last; what is not in it is as usual."""

erasures = Table("erasures", metadata, Column("mark", String(32), primary_key=True))
"""Who was erased, by marks that say nothing (`erasures`)."""

copy_places = Table("copy_places", metadata, Column("path", Text, primary_key=True))
"""The folders of copies, which get the marks as well."""

under_age = Table(
    "under_age",
    metadata,
    Column("student_id", ForeignKey("students.id", ondelete="CASCADE"), primary_key=True),
)
"""For whom a guardian decides; no date of birth is kept."""

consents = Table(
    "consents",
    metadata,
    Column("id", Integer, primary_key=True),
    _students_own(),
    Column("purpose", String(20), nullable=False),
    Column("is_given", Boolean, nullable=False),
    Column("giver", String(20), nullable=False),
    Column("account", Integer),
    Column("at", UtcTime, nullable=False),
)
"""Each time that something was allowed or taken back; the last one of a purpose counts.

``account`` is the number of who said it, where somebody had signed in.
"""

leavers = Table(
    "leavers",
    metadata,
    Column("student_id", ForeignKey("students.id", ondelete="CASCADE"), primary_key=True),
    Column("left_at", UtcTime, nullable=False),
)
"""Who was in a class and is in none any more."""

shared_takes = Table(
    "shared_takes",
    metadata,
    Column("take_id", ForeignKey("sent_takes.id", ondelete="CASCADE"), primary_key=True),
    Column("class_id", ForeignKey("classes.id", ondelete="CASCADE"), primary_key=True, index=True),
    Column("shared_at", UtcTime, nullable=False),
)
"""Which takes a class hears."""
