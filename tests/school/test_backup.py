"""Is a copy whole, though people work on meanwhile, and is what is given back the same?"""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import Connection, insert, update

from fresh_schools import fresh_school
from halfstep.errors import BriefError, ReadError, StoreError
from halfstep.instruments import find_instrument
from halfstep.level import Level
from halfstep.school import backup, tables
from halfstep.school.backup import SUMS_FILE, back_up, differences, faults_of_backup, restore
from halfstep.school.data_folder import DATABASE_FILE
from halfstep.school.database import School
from halfstep.school.erasures import ERASED_FILE
from halfstep.school.leaving import erase_student
from halfstep.school.students import (
    add_student,
    every_student,
    find_student,
    new_student,
    student_id,
)


def told(_share: float, _work: str) -> None:
    """Nobody looks."""


@pytest.fixture
def school(tmp_path: Path) -> Iterator[School]:
    """Two students, each with a take on the disk, and a secret."""
    with fresh_school(tmp_path / "data") as made:
        for name in ("Odile", "Bram"):
            with made.writing() as connection:
                number = add_flute(connection, name)
            add_take(made, number, name)
        made.folder.joinpath("door.secret").write_bytes(b"secret")
        yield made


def add_flute(connection: Connection, name: str) -> int:
    add_student(connection, new_student(name, find_instrument("flute"), Level.BEGINNER))
    return student_id(connection, name)


def add_take(school: School, student: int, name: str) -> None:
    file = school.folder / "takes" / str(student) / f"{name}.wav"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(name.encode() * 1000)
    row = {"student_id": student, "source": name, "file": f"{student}/{name}.wav", "name": name}
    with school.writing() as connection:
        connection.execute(insert(tables.sent_takes), row | {"sent_at": datetime.now(UTC)})


@pytest.mark.slow
def test_what_is_given_back_is_the_same_row_by_row_and_file_by_file(
    school: School, tmp_path: Path
) -> None:
    copy = back_up(school, tmp_path / "copies", told)
    assert faults_of_backup(copy.folder, told) == ()
    assert restore(copy.folder, tmp_path / "again", told) == ()
    with School(tmp_path / "again") as again, again.reading() as connection:
        assert [one.name for one in every_student(connection)] == ["Bram", "Odile"]
    for path in ("takes/1/Odile.wav", "door.secret"):
        assert (tmp_path / "again" / path).read_bytes() == (school.folder / path).read_bytes()
    assert (tmp_path / "again").stat().st_mode & 0o77 == 0
    assert copy.folder.stat().st_mode & 0o77 == 0


def raw(folder: Path) -> bytes:
    """All bytes of all files below a folder."""
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


@pytest.mark.slow
def test_who_was_erased_since_does_not_come_back(school: School, tmp_path: Path) -> None:
    """Looked for in the raw bytes of what was given back; who came since under the number stays."""
    copies = tmp_path / "copies"
    old = back_up(school, copies, told).folder
    assert b"Odile" in raw(old)
    with school.reading() as connection:
        number = find_student(connection, "Odile").number
    erase_student(school, "Odile")
    marks = (copies / ERASED_FILE).read_text().split()
    assert [len(mark) for mark in marks] == [32]
    assert restore(old, tmp_path / "again", told) == ()
    assert b"Odile" not in raw(tmp_path / "again")
    with School(tmp_path / "again") as again, again.reading() as connection:
        assert [one.name for one in every_student(connection)] == ["Bram"]
    with school.writing() as connection:
        add_flute(connection, "Wanda")
        later = {"id": number, "added_at": datetime.now(UTC) + timedelta(days=1)}
        of_wanda = tables.students.c.name == "Wanda"
        connection.execute(update(tables.students).where(of_wanda).values(later))
    shutil.rmtree(tmp_path / "again")
    (copies / ERASED_FILE).unlink()
    assert restore(old, tmp_path / "unmarked", told) == ()
    assert b"Odile" in raw(tmp_path / "unmarked")  # where nothing stands beside the copy
    shutil.rmtree(old)
    new = back_up(school, copies, told).folder
    assert (copies / ERASED_FILE).read_text().split() == marks
    assert restore(new, tmp_path / "again", told) == ()
    with School(tmp_path / "again") as again, again.reading() as connection:
        assert [one.name for one in every_student(connection)] == ["Bram", "Wanda"]


@pytest.mark.slow
def test_its_list_of_digests_is_read_by_another_program(school: School, tmp_path: Path) -> None:
    """GNU coreutils, `sha256sum --check`."""
    if shutil.which("sha256sum") is None:
        pytest.skip("sha256sum is not installed")
    copy = back_up(school, tmp_path / "copies", told)
    check = ["sha256sum", "--check", "--strict", "--quiet", SUMS_FILE]
    assert subprocess.run(check, cwd=copy.folder, check=False).returncode == 0


@pytest.mark.slow
def test_every_change_of_a_copy_is_found(school: School, tmp_path: Path) -> None:
    folder = back_up(school, tmp_path / "copies", told).folder
    take = folder / "takes" / "1" / "Odile.wav"
    whole = take.read_bytes()
    take.write_bytes(b"x" + whole[1:])
    assert faults_of_backup(folder, told) == ("takes/1/Odile.wav is damaged",)
    take.unlink()
    assert faults_of_backup(folder, told) == ("takes/1/Odile.wav is missing",)
    take.write_bytes(whole)
    folder.joinpath("new").touch()
    assert faults_of_backup(folder, told) == ("new was not there",)
    with pytest.raises(ReadError, match="new was not there"):
        restore(folder, tmp_path / "again", told)
    assert not (tmp_path / "again").exists()


@pytest.mark.slow
def test_rows_that_changed_are_found_though_the_digest_of_the_file_is_made_anew(
    school: School, tmp_path: Path
) -> None:
    folder = back_up(school, tmp_path / "copies", told).folder
    before = hashlib.sha256(folder.joinpath(DATABASE_FILE).read_bytes()).hexdigest()
    with School(folder) as changed, changed.writing() as connection:
        add_flute(connection, "Eve")
    for extra in folder.glob(f"{DATABASE_FILE}-*"):
        extra.unlink()
    after = hashlib.sha256(folder.joinpath(DATABASE_FILE).read_bytes()).hexdigest()
    sums = folder / SUMS_FILE
    sums.write_text(sums.read_text().replace(before, after))
    assert faults_of_backup(folder, told) == ("students has other rows",)


@pytest.mark.slow
def test_what_changed_since_is_told(school: School, tmp_path: Path) -> None:
    folder = back_up(school, tmp_path / "copies", told).folder
    assert differences(folder, school, told) == ()
    erase_student(school, "Odile")
    assert differences(folder, school, told) == (
        "takes/1/Odile.wav is not there",
        "erasures has other rows",
        "students has other rows",
        "sent_takes has other rows",
    )


@pytest.mark.slow
def test_who_is_erased_goes_from_the_copies_when_they_are_made_anew(
    school: School, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place, second = tmp_path / "copies", iter(range(60))

    class Clock(datetime):
        @classmethod
        def now(cls, tz=None):  # type: ignore[no-untyped-def,override]
            return datetime(2026, 3, 2, 12, 0, next(second), tzinfo=tz)

    monkeypatch.setattr(backup, "datetime", Clock)
    for _ in range(2):
        back_up(school, place, told, keep=2)
    erase_student(school, "Odile")
    removed = [back_up(school, place, told, keep=2).removed for _ in range(2)]
    assert [len(paths) for paths in removed] == [1, 1]
    assert sum(path.is_dir() for path in place.iterdir()) == 2
    kept = [path.read_bytes() for path in place.rglob("*") if path.is_file()]
    assert not any(b"Odile" in data for data in kept)
    assert any(b"Bram" in data for data in kept)


@pytest.mark.slow
def test_a_copy_is_whole_while_takes_come_and_students_go(school: School, tmp_path: Path) -> None:
    """Each row of a copy has its file, and what was there before the copy began is in it."""
    is_over = threading.Event()

    def work() -> None:
        number = 0
        while not is_over.is_set():
            with school.writing() as connection:
                name = f"Guest {number}"
                kept = add_flute(connection, name)
            add_take(school, kept, name)
            add_take(school, 2, f"more {number}")
            erase_student(school, name)
            number += 1

    worker = threading.Thread(target=work)
    worker.start()
    try:
        for number in range(4):
            folder = back_up(school, tmp_path / f"copies {number}", told).folder
            assert faults_of_backup(folder, told) == ()
            assert restore(folder, tmp_path / f"again {number}", told) == ()
            assert (folder / "takes/1/Odile.wav").is_file()
    finally:
        is_over.set()
        worker.join()


def test_a_copy_that_cannot_be_made_is_one_line_and_leaves_nothing(
    school: School, tmp_path: Path
) -> None:
    with pytest.raises(BriefError, match="outside"):
        back_up(school, school.folder / "copies", told)
    with pytest.raises(BriefError, match="keep"):
        back_up(school, tmp_path / "copies", told, keep=0)
    (school.folder / "takes" / "1" / "Odile.wav").unlink()
    with pytest.raises(StoreError, match=r"takes/1/Odile\.wav is kept and is not there"):
        back_up(school, tmp_path / "copies", told)
    assert not (tmp_path / "copies").exists()


def test_what_is_no_copy_is_not_given_back(school: School, tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="is no backup"):
        restore(school.folder, tmp_path / "again", told)
    folder = back_up(school, tmp_path / "copies", told).folder
    with pytest.raises(BriefError, match="not empty"):
        restore(folder, school.folder, told)
