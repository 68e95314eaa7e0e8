"""How long is something kept, and what has to go now? Nothing is kept without end.

A recording goes some days after it was sent, later where that was allowed; what was heard in it and
said of it goes later, and all that is kept of a player some time after the last class. What goes is
found by time alone, so that it may be looked for as often as one likes, by several processes, and
after a pause of any length. Sessions and links that let nobody in any more go as well, and what was
heard of recordings that never became takes.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from sqlalchemy import ColumnElement, Connection, and_, delete, or_, select, update

from halfstep.errors import StoreError
from halfstep.school.audit import Audited, write_down
from halfstep.school.consents import Purpose, allowing
from halfstep.school.database import School
from halfstep.school.devices import forget_past_devices
from halfstep.school.early_folders import sweep_early
from halfstep.school.jobs import Job, jobs_of, remove_job
from halfstep.school.kept_takes import sweep
from halfstep.school.leavers import left_before
from halfstep.school.leaving import erase_student
from halfstep.school.made_files import remove_made, sweep_made
from halfstep.school.room_recordings import forget_old_recordings, sweep_orphans
from halfstep.school.sent_takes import BELONGING
from halfstep.school.sessions import forget_past
from halfstep.school.settings import (
    FEEDBACK_DAYS,
    LEAVER_DAYS,
    LONGER_DAYS,
    RECORDING_DAYS,
    Setting,
    keep_text,
    kept_time,
    value_of,
)
from halfstep.school.students import student_of_number
from halfstep.school.tables import sent_takes, takes

LOOKED_EVERY = timedelta(hours=6)
"""So often it is looked for what has to go."""
MOST_AT_ONCE = 300
"""Takes that go in one change, so that who sends one does not wait."""
_LOOKED_AT, _SPARED_UNTIL = "let-go-at", "spared-until"


@dataclass(frozen=True, slots=True)
class KeptTerms:
    """How long things are kept.

    Attributes
    ----------
    recording, longer, feedback, leaver : timedelta
        From the day that a take was sent, or somebody left the last class.
    spared_until : datetime
        Until then no recording goes: what was there when the program first had terms.
    """

    recording: timedelta
    longer: timedelta
    feedback: timedelta
    leaver: timedelta
    spared_until: datetime

    def recording_end(self, sent_at: datetime, *, is_longer: bool) -> datetime:
        """When a recording goes."""
        stays = min(self.longer if is_longer else self.recording, self.feedback)
        return max(sent_at + stays, self.spared_until)

    def feedback_end(self, sent_at: datetime) -> datetime:
        """When that goes which was heard in a take and said of it."""
        return max(sent_at + self.feedback, self.spared_until)


def kept_terms(connection: Connection) -> KeptTerms:
    """How long things are kept here."""

    def days(setting: Setting) -> timedelta:
        return timedelta(days=value_of(connection, setting))

    return KeptTerms(
        days(RECORDING_DAYS),
        days(LONGER_DAYS),
        days(FEEDBACK_DAYS),
        days(LEAVER_DAYS),
        kept_time(connection, _SPARED_UNTIL),
    )


@dataclass(frozen=True, slots=True)
class LetGo:
    """How many things went.

    Attributes
    ----------
    recordings : int
    takes : int
        What was heard in them and said of them.
    students : int
    """

    recordings: int = 0
    takes: int = 0
    students: int = 0

    @property
    def words(self) -> str:
        """In one line."""
        return f"{self.recordings} recordings, {self.takes} takes, {self.students} players"

    def __bool__(self) -> bool:
        return any((self.recordings, self.takes, self.students))


def let_go_in_time(school: School) -> LetGo | None:
    """Let go what is past its time, unless that was done a short while ago; None then.

    Raises
    ------
    StoreError
    """
    with school.reading() as connection:
        looked_at = kept_time(connection, _LOOKED_AT)
    if datetime.now(UTC) - looked_at < LOOKED_EVERY:
        return None
    return let_go(school)


def let_go(school: School, now: datetime | None = None) -> LetGo:
    """Let go what is past its time; what others let go meanwhile is not counted.

    Parameters
    ----------
    school : School
    now : datetime, optional
        The moment that is meant, where it is not this one.

    Raises
    ------
    StoreError
        When something is in the way; what is left goes the next time.
    """
    moment = now or datetime.now(UTC)
    recordings = taken = 0
    while True:
        with school.writing() as connection:
            terms = kept_terms(connection)
            gone, jobs = _drop_takes(connection, _past_feedback(terms, moment))
            silenced = _drop_recordings(connection, _past_recording(connection, terms, moment))
        for job in jobs:  # what is left of them where this ends is swept away the next time
            remove_made(school, job)
        taken, recordings = taken + gone, recordings + silenced
        if max(gone, silenced) < MOST_AT_ONCE:
            break
    with school.reading() as connection:  # looking through all files, nobody waits
        sweep(school, connection)
        sweep_orphans(school, connection)
    sweep_made(school)
    went = LetGo(recordings, taken, _erase_leavers(school, moment - terms.leaver))
    with school.writing() as connection:
        forget_old_recordings(school, connection)
        forget_past(connection)
        forget_past_devices(connection)
        keep_text(connection, _LOOKED_AT, datetime.now(UTC).isoformat(timespec="seconds"))
        if went:
            write_down(connection, Audited.LET_GO, detail=went.words)
    sweep_early(school)
    if went:
        with suppress(StoreError):  # who reads just now holds on to it
            school.forget_removed()
    return went


_Tables = dict[str, ColumnElement[bool]]
"""By the name of a table, which of its rows are past their time."""
_AT = {"sent_takes": sent_takes.c.sent_at, "takes": takes.c.kept_at}


def _past_feedback(terms: KeptTerms, moment: datetime) -> _Tables:
    if moment < terms.spared_until:
        return {}
    return {name: at < moment - terms.feedback for name, at in _AT.items()}


def _past_recording(connection: Connection, terms: KeptTerms, moment: datetime) -> _Tables:
    if moment < terms.spared_until:
        return {}
    kept_longer = allowing(connection, Purpose.KEEPING)
    past = {}
    for table in (sent_takes, takes):
        at = _AT[table.name]
        usual = and_(at < moment - terms.recording, table.c.student_id.not_in(kept_longer))
        past[table.name] = and_(table.c.file != "", or_(usual, at < moment - terms.longer))
    return past


def _drop_recordings(connection: Connection, past: _Tables) -> int:
    """Have rows name no recording any more: what no row names is swept away."""
    count = 0
    for table in (sent_takes, takes):
        if table.name in past:
            numbers = select(table.c.id).where(past[table.name]).limit(MOST_AT_ONCE)
            silence = update(table).where(table.c.id.in_(numbers)).values(file="")
            count += connection.execute(silence).rowcount
    return count


def _drop_takes(connection: Connection, past: _Tables) -> tuple[int, list[Job]]:
    """Remove takes with what was heard in them and said of them: how many, and whose files go."""
    if not past:
        return 0, []
    query = select(sent_takes.c.id).where(past["sent_takes"]).limit(MOST_AT_ONCE)
    numbers = tuple(connection.scalars(query))
    jobs = [job for number in numbers for job in jobs_of(connection, f"{BELONGING} {number}")]
    for job in jobs:
        remove_job(connection, job.number)
    connection.execute(delete(sent_takes).where(sent_takes.c.id.in_(numbers)))
    return len(numbers) + connection.execute(delete(takes).where(past["takes"])).rowcount, jobs


def _erase_leavers(school: School, moment: datetime) -> int:
    """Erase who had left by then."""
    with school.reading() as connection:
        names = [
            student_of_number(connection, number).name for number in left_before(connection, moment)
        ]
    for name in names:
        erase_student(school, name)
    return len(names)
