"""Does everything go when its time is over, from the disk as well, and nothing before?"""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from school_of_two import school_of_two
from sqlalchemy import func, select, update

from halfstep.school import backup, retention
from halfstep.school.accounts import AccountRole, add_account
from halfstep.school.audit import latest_lines
from halfstep.school.backup import back_up
from halfstep.school.classes import add_class, join_class, leave_class, remove_class
from halfstep.school.consents import Giver, Purpose, keep_consent, said_now
from halfstep.school.database import School
from halfstep.school.jobs import add_job, jobs_of
from halfstep.school.kept_takes import keep_take, takes_of
from halfstep.school.leavers import left_at
from halfstep.school.made_files import MADE_FOLDER
from halfstep.school.retention import LetGo, kept_terms, let_go, let_go_in_time
from halfstep.school.sent_takes import (
    SentTake,
    find_sent_take,
    keep_answer,
    keep_heard,
    keep_sent_take,
    sent_takes_of,
    store_recording,
)
from halfstep.school.sessions import (
    account_of_link,
    begin_session,
    end_account_links,
    end_session,
    make_account_link,
    session_of,
)
from halfstep.school.settings import choose, keep_text
from halfstep.school.students import every_student
from halfstep.school.tables import account_links, sent_takes, sessions

NOW = datetime.now(UTC)
SOUND, SAID = b"RIFF a take that nobody else has", "words that nobody else was told"


@pytest.fixture
def school(tmp_path: Path) -> Iterator[School]:
    with school_of_two(tmp_path / "data") as made:
        yield made


def sent(school: School, tmp_path: Path, student: int = 1, more: bytes = b"") -> SentTake:
    """A take that was sent, heard and answered, its files old enough to be swept away."""
    recording = tmp_path / "take.wav"
    recording.write_bytes(SOUND + more)
    stored = store_recording(school, student, recording)
    os.utime(school.folder / "takes" / stored.file, (0, 0))
    with school.writing() as connection:
        take = keep_sent_take(connection, stored, hand_out=None, name="take")
        add_job(connection, f"sent-take {take.number}", "{}")
        keep_heard(connection, take.number, feedback=f'{{"told": "{SAID}"}}', folder="")
        keep_answer(connection, take.number, words=SAID, marks={})
    made = school.folder / MADE_FOLDER / "1-draft" / "files"
    made.mkdir(parents=True, exist_ok=True)
    made.joinpath("feedback.pdf").write_text(SAID)
    return take


def raw(folder: Path) -> bytes:
    """All bytes below a folder."""
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def after(days: int) -> datetime:
    return NOW + timedelta(days=days, hours=1)


def test_a_recording_goes_first_and_what_was_said_of_it_later(
    school: School, tmp_path: Path
) -> None:
    take = sent(school, tmp_path)
    assert let_go(school, after(179)) == LetGo()
    assert SOUND in raw(school.folder)
    assert let_go(school, after(180)) == LetGo(recordings=1)
    assert SOUND not in raw(school.folder)
    with school.reading() as connection:
        kept = find_sent_take(connection, take.number)
        end = kept_terms(connection).feedback_end(take.sent_at)
    assert end == take.sent_at + timedelta(days=1096)
    assert (kept.has_recording, kept.words) == (False, SAID)
    assert let_go(school, after(180)) == LetGo()
    assert let_go(school, after(1096)) == LetGo(takes=1)
    assert SAID.encode() not in raw(school.folder)
    with school.reading() as connection:
        assert sent_takes_of(connection, 1) == ()
        assert jobs_of(connection, f"sent-take {take.number}") == ()
        assert [(line.deed, line.detail) for line in latest_lines(connection)] == [
            ("let go what was past its time", "0 recordings, 1 takes, 0 players"),
            ("let go what was past its time", "1 recordings, 0 takes, 0 players"),
        ]


def test_keeping_longer_is_allowed_has_an_end_and_ends_when_it_is_taken_back(
    school: School, tmp_path: Path
) -> None:
    sent(school, tmp_path)
    for is_given, went in ((True, 0), (False, 1)):
        with school.writing() as connection:
            said = said_now(Purpose.KEEPING, Giver.PLAYER, is_given=is_given)
            keep_consent(connection, 1, said)
        assert let_go(school, after(200)).recordings == went


def test_what_is_kept_longer_goes_in_its_own_time(school: School, tmp_path: Path) -> None:
    take = sent(school, tmp_path)
    with school.writing() as connection:
        keep_consent(connection, 1, said_now(Purpose.KEEPING, Giver.PLAYER, is_given=True))
    with school.reading() as connection:
        end = kept_terms(connection).recording_end(take.sent_at, is_longer=True)
    assert let_go(school, end - timedelta(days=1)).recordings == 0
    assert let_go(school, end + timedelta(hours=1)).recordings == 1


def test_a_school_chooses_how_long(school: School, tmp_path: Path) -> None:
    sent(school, tmp_path)
    with school.writing() as connection:
        choose(connection, "recording-days", "7")
    assert let_go(school, after(6)).recordings == 0
    assert let_go(school, after(7)).recordings == 1


def test_what_was_there_before_the_program_had_terms_is_spared_for_a_while(
    school: School, tmp_path: Path
) -> None:
    take = sent(school, tmp_path)
    with school.writing() as connection:
        keep_text(connection, "spared-until", after(400).isoformat())
    assert let_go(school, after(399)) == LetGo()
    with school.reading() as connection:
        terms = kept_terms(connection)
    assert terms.recording_end(take.sent_at, is_longer=False) == after(400)
    assert let_go(school, after(401)).recordings == 1


def test_a_recording_that_another_take_has_too_stays(school: School, tmp_path: Path) -> None:
    first = sent(school, tmp_path)
    with school.writing() as connection:
        old = update(sent_takes).values(sent_at=NOW - timedelta(days=200), source="other")
        connection.execute(old.where(sent_takes.c.id == first.number))
    second = sent(school, tmp_path)
    assert let_go(school, NOW).recordings == 1
    assert (school.folder / "takes" / second.file).read_bytes() == SOUND


@pytest.mark.slow
def test_what_is_sent_anew_after_it_went_is_kept_anew(school: School, tmp_path: Path) -> None:
    first = sent(school, tmp_path)
    let_go(school, after(180))
    again = sent(school, tmp_path)
    assert again.number == first.number
    assert again.has_recording
    assert again.sent_at > first.sent_at
    assert (school.folder / "takes" / again.file).read_bytes() == SOUND


def test_recordings_that_were_kept_at_the_machine_go_by_the_day_they_were_kept(
    school: School, tmp_path: Path
) -> None:
    recording = tmp_path / "old.wav"
    recording.write_bytes(SOUND)
    with school.writing() as connection:
        long_ago = NOW - timedelta(days=900)
        take = keep_take(
            school, connection, "Odile", recording=recording, recorded_at=long_ago, feedback="{}"
        )
    os.utime(school.folder / "takes" / take.file, (0, 0))
    assert let_go(school, after(1)) == LetGo()
    assert let_go(school, after(180)) == LetGo(recordings=1)
    assert SOUND not in raw(school.folder)
    with school.reading() as connection:
        assert not takes_of(connection, "Odile")[0].has_recording
    assert let_go(school, after(1096)) == LetGo(takes=1)


def test_who_is_in_no_class_any_more_is_erased_in_time(school: School) -> None:
    with school.writing() as connection:
        first, second = (add_class(connection, name).number for name in ("Noon", "Night"))
        for name in ("Odile", "Bram"):
            join_class(connection, first, name)
        join_class(connection, second, "Odile")
        join_class(connection, second, "Odile")
        leave_class(connection, first, "Odile")
        numbers = {one.name: one.number or 0 for one in every_student(connection)}
        assert left_at(connection, numbers["Odile"]) is None
        remove_class(connection, first)
        assert left_at(connection, numbers["Bram"])
        leave_class(connection, second, "Odile")
        assert left_at(connection, numbers["Odile"])
        join_class(connection, second, "Odile")
        assert left_at(connection, numbers["Odile"]) is None
    assert let_go(school, after(364)) == LetGo()
    assert let_go(school, after(365)) == LetGo(students=1)
    with school.reading() as connection:
        assert [one.name for one in every_student(connection)] == ["Odile"]
    assert b"Bram" not in raw(school.folder)


def test_who_never_was_in_a_class_has_not_left_one(school: School) -> None:
    assert let_go(school, after(4000)) == LetGo()


def test_it_is_looked_for_now_and_then_by_however_many(school: School) -> None:
    assert let_go_in_time(school) == LetGo()
    assert let_go_in_time(school) is None
    with school.writing() as connection:
        keep_text(connection, "let-go-at", (NOW - timedelta(hours=7)).isoformat())
    assert let_go_in_time(school) == LetGo()


def test_sessions_and_links_that_let_nobody_in_go_and_others_stay(school: School) -> None:
    with school.writing() as connection:
        account = add_account(connection, "Wilma", AccountRole.OWNER)
        ended, standing = (begin_session(connection, account, "test") for _ in range(2))
        first = session_of(connection, ended)
        assert first
        end_session(connection, account, first.number)
        make_account_link(connection, account)
        end_account_links(connection, account)
        link = make_account_link(connection, account)
    let_go(school)
    with school.reading() as connection:
        assert session_of(connection, standing)
        assert account_of_link(connection, link) == account
        for table in (sessions, account_links):
            assert connection.scalar(select(func.count()).select_from(table)) == 1


@pytest.mark.slow
def test_more_goes_than_is_taken_at_once(
    school: School, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(retention, "MOST_AT_ONCE", 2)
    for number in range(5):
        sent(school, tmp_path, more=bytes([number]))
    assert let_go(school, after(180)) == LetGo(recordings=5)
    assert SOUND not in raw(school.folder)


@pytest.mark.slow
def test_what_went_leaves_the_copies_as_they_are_made_anew(
    school: School, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Clock(datetime):
        seconds = iter(range(60))

        @classmethod
        def now(cls, tz=None):  # type: ignore[no-untyped-def,override]
            return datetime(2026, 3, 2, 12, 0, next(cls.seconds), tzinfo=tz)

    monkeypatch.setattr(backup, "datetime", Clock)
    sent(school, tmp_path)
    copies = tmp_path / "copies"
    back_up(school, copies, lambda *_: None, keep=1)
    assert SOUND in raw(copies)
    let_go(school, after(180))
    back_up(school, copies, lambda *_: None, keep=1)
    assert SOUND not in raw(copies)
    assert SAID.encode() in raw(copies)


def test_a_row_names_no_recording_that_is_gone(school: School, tmp_path: Path) -> None:
    sent(school, tmp_path)
    let_go(school, after(180))
    with school.reading() as connection:
        assert connection.scalars(select(sent_takes.c.file)).all() == [""]
