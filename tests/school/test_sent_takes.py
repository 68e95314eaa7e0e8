"""Is what a student sends kept once, for good, and found again?"""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from school_of_two import school_of_two
from sqlalchemy import update

from halfstep.errors import BriefError, NoSuchThing, StoreError
from halfstep.school import sent_takes, tables
from halfstep.school.database import School
from halfstep.school.kept_takes import sweep
from halfstep.school.sent_takes import (
    SentTake,
    find_sent_take,
    keep_sent_take,
    sent_takes_of,
    store_recording,
    unanswered,
)

SOUND = b"RIFF of a take"


def sent(school: School, recording: Path, *, hand_out: int | None = None) -> SentTake:
    """A recording that the first student sent."""
    stored = store_recording(school, 1, recording)
    with school.writing() as connection:
        return keep_sent_take(connection, stored, hand_out=hand_out, name=recording.name)


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    path = tmp_path / "At Home.WAV"
    path.write_bytes(SOUND)
    return path


def test_what_is_sent_twice_is_one_take(tmp_path: Path, recording: Path) -> None:
    with school_of_two(tmp_path / "school") as school:
        first = sent(school, recording)
        assert sent(school, recording) == first
        assert (first.name, first.student, first.hand_out) == ("At Home.WAV", 1, None)
        with school.reading() as connection:
            assert sent_takes_of(connection, 1) == unanswered(connection) == (first,)
            assert sent_takes_of(connection, 2) == ()
            assert find_sent_take(connection, first.number) == first
            with pytest.raises(NoSuchThing, match="no such take"):
                find_sent_take(connection, 99)
        (path,) = (school.folder / "takes").rglob("*.wav")
        assert path == school.folder / "takes" / first.file
        assert path.read_bytes() == SOUND


def test_nobody_fills_the_disk_with_takes(
    tmp_path: Path, recording: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a day so many are taken, and the same again and another student's as ever."""
    monkeypatch.setattr(sent_takes, "MOST_A_DAY", 2)
    with school_of_two(tmp_path / "school") as school:
        sent(school, recording)
        for number in range(2):
            recording.write_bytes(SOUND + bytes([number]))
            if number == 0:
                second = sent(school, recording)
        with pytest.raises(BriefError, match="2 takes came within a day; this one can be sent"):
            sent(school, recording)
        recording.write_bytes(SOUND + b"\0")
        assert sent(school, recording) == second
        stored = store_recording(school, 2, recording)
        with school.writing() as connection:
            assert keep_sent_take(connection, stored, hand_out=None, name="take").student == 2
            old = datetime.now(UTC) - timedelta(days=2)
            connection.execute(update(tables.sent_takes).values(sent_at=old))
        recording.write_bytes(SOUND + b"\1")
        sent(school, recording)


def test_a_kept_take_is_not_swept_away(tmp_path: Path, recording: Path) -> None:
    with school_of_two(tmp_path / "school") as school:
        take = sent(school, recording)
        left = school.folder / "takes" / "1" / "left.wav"
        left.write_bytes(SOUND)
        for path in (left, school.folder / "takes" / take.file):
            os.utime(path, (0, 0))
        with school.reading() as connection:
            sweep(school, connection)
        assert [path.name for path in (school.folder / "takes").rglob("*.wav")] == [take.file.name]


def test_a_full_disk_keeps_nothing_and_says_so(
    tmp_path: Path, recording: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with school_of_two(tmp_path / "school") as school:
        monkeypatch.setattr("halfstep.school.kept_files.os.fsync", full)
        with pytest.raises(StoreError, match="cannot keep At Home"):
            sent(school, recording)
        assert [path for path in (school.folder / "takes").rglob("*") if path.is_file()] == []
