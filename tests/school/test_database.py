"""Is what is kept safe? From other processes, from being killed, from full disks, over releases.

The journal and `synchronous` are what SQLite's own documentation asks for ("Write-Ahead Logging",
"PRAGMA synchronous": FULL, so that a commit outlives a loss of power).
"""

from __future__ import annotations

import multiprocessing
import os
import re
import signal
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from school_of_two import piece, school_of_two
from sqlalchemy import Engine, create_engine, create_mock_engine
from sqlalchemy.dialects import postgresql
from sqlalchemy.exc import TimeoutError as PoolTimeout
from sqlalchemy.schema import CreateTable

from fresh_schools import fresh_school
from halfstep.errors import BriefError, NoSuchThing, StoreError
from halfstep.school import migrations
from halfstep.school.consents import Purpose, allowing
from halfstep.school.data_folder import DATABASE_FILE, VARIABLE, data_folder
from halfstep.school.database import School
from halfstep.school.invitations import MOST_OPENED, standing_invitation
from halfstep.school.kept_beliefs import milestones_of
from halfstep.school.kept_evidence import evidence_of, keep_evidence
from halfstep.school.retention import LetGo, let_go
from halfstep.school.schema_version import NEWEST
from halfstep.school.students import every_student, remove_student
from halfstep.school.tables import metadata

WRITERS, EACH = 3, 20


def _write(folder: Path, writer: int) -> None:
    with School(folder) as school:
        for number in range(EACH):
            with school.writing() as connection:
                keep_evidence(connection, "Odile", [piece(writer * EACH + number)])


@pytest.mark.slow
def test_processes_that_write_at_once_lose_nothing(tmp_path: Path) -> None:
    school_of_two(tmp_path)
    spawn = multiprocessing.get_context("spawn")
    writers = [spawn.Process(target=_write, args=(tmp_path, n)) for n in range(WRITERS)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert [writer.exitcode for writer in writers] == [0] * WRITERS
    with School(tmp_path) as school, school.reading() as connection:
        assert len(evidence_of(connection, "Odile")) == WRITERS * EACH


def _described(folder: Path) -> list[list[str]]:
    """What makes a database, statement by statement; the order of constraints is open."""
    with closing(sqlite3.connect(folder / DATABASE_FILE)) as connection:
        statements = sorted(connection.iterdump())
    return [sorted(re.split(r",?\s+", statement)) for statement in statements]


@pytest.mark.slow
def test_a_school_that_tests_are_given_is_as_one_is_made(tmp_path: Path) -> None:
    with School(tmp_path / "made"), fresh_school(tmp_path / "copied"):
        pass
    assert _described(tmp_path / "made") == _described(tmp_path / "copied")


def _open(folder: Path) -> None:
    School(folder)


def _opened_by_three_at_once(folder: Path) -> list[int | None]:
    """How three processes end that open a folder at the same time."""
    spawn = multiprocessing.get_context("spawn")
    openers = [spawn.Process(target=_open, args=(folder,)) for _ in range(3)]
    for opener in openers:
        opener.start()
    for opener in openers:
        opener.join()
    return [opener.exitcode for opener in openers]


@pytest.mark.slow
def test_processes_that_open_a_new_folder_at_once_make_it_once(tmp_path: Path) -> None:
    assert _opened_by_three_at_once(tmp_path / "new") == [0, 0, 0]


def _be_killed(folder: Path) -> None:
    with School(folder) as school, school.writing() as connection:
        remove_student(connection, "Bram")
        keep_evidence(connection, "Odile", [piece(n) for n in range(200)])
        os.kill(os.getpid(), signal.SIGKILL)


@pytest.mark.slow
def test_a_killed_write_leaves_the_old_state(tmp_path: Path) -> None:
    school_of_two(tmp_path)
    writer = multiprocessing.get_context("spawn").Process(target=_be_killed, args=(tmp_path,))
    writer.start()
    writer.join()
    assert writer.exitcode == -signal.SIGKILL
    with School(tmp_path) as school, school.reading() as connection:
        assert [student.name for student in every_student(connection)] == ["Bram", "Odile"]
        assert evidence_of(connection, "Odile") == ()


@pytest.mark.slow
def test_a_full_disk_is_one_line_and_changes_nothing(tmp_path: Path) -> None:
    school = school_of_two(tmp_path)

    def write_much() -> None:
        with school.writing() as connection:
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
            connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
            keep_evidence(connection, "Odile", [piece(n) for n in range(2000)])

    with pytest.raises(StoreError, match="the disk is full; nothing was changed"):
        write_much()
    with School(tmp_path) as again, again.reading() as connection:
        assert evidence_of(connection, "Odile") == ()


def test_more_readers_than_can_be_are_told_so_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none_free(_: Engine) -> None:
        raise PoolTimeout("QueuePool limit of size 5 overflow 10 reached")

    with school_of_two(tmp_path) as school:
        monkeypatch.setattr(Engine, "connect", none_free)
        with pytest.raises(StoreError, match="more is asked of it than"), school.reading():
            pass


def test_a_folder_of_a_newer_release_is_refused_and_left_alone(tmp_path: Path) -> None:
    school_of_two(tmp_path)
    path = tmp_path / DATABASE_FILE
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE alembic_version SET version_num = 'later'")
    with pytest.raises(StoreError, match="made by a newer release of the program"):
        School(tmp_path)
    assert sqlite3.connect(path).execute("SELECT count(*) FROM students").fetchone() == (2,)


def test_what_is_no_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / DATABASE_FILE
    path.write_text("no database " * 1000)
    with pytest.raises(StoreError, match="is no database of this program"):
        School(tmp_path)
    assert path.read_text().startswith("no database")


@pytest.mark.slow
def test_changes_of_the_schema_lead_to_the_tables_of_today(tmp_path: Path) -> None:
    """Compared by Alembic's own autogeneration."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    with School(tmp_path) as school, school.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []
        assert context.get_current_revision() == NEWEST


MIGRATIONS = str(Path(migrations.__file__).parent)
EARLIER = [
    script.revision
    for script in ScriptDirectory(MIGRATIONS).walk_revisions()
    if script.revision != NEWEST
]


def _left_by_a_version(folder: Path, version: str) -> None:
    """A data folder as an earlier version left it, with Odile and a take in it."""
    config = Config()
    config.set_main_option("script_location", MIGRATIONS)
    with create_engine(f"sqlite:///{folder / DATABASE_FILE}").begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, version)
        connection.exec_driver_sql(
            "INSERT INTO students (id, name, folded_name, instrument, level, known_notes, keys, "
            "minutes, added_at) VALUES (7, 'Odile', 'odile', 'alto-sax', 'beginner', '', 'C G', "
            "30.0, '2026-03-01 17:00:00.000000')"
        )
        connection.exec_driver_sql(
            "INSERT INTO evidence (id, student_id, source, at, unit, step, key, tempo_bpm, "
            "verdict, weight, minutes, trouble, trouble_bar, progression) VALUES (1, 7, 'word-1', "
            "'2026-03-03 18:30:00.000000', 'one-chord', 'arpeggio', 0, 80.0, 'clean', 0.75, 6.0, "
            "'the change to F7 was late twice', 5, 1)"
        )


@pytest.mark.slow
@pytest.mark.parametrize("version", EARLIER)
def test_a_folder_of_a_version_before_opens_and_is_brought_up_to_date(
    tmp_path: Path, version: str
) -> None:
    _left_by_a_version(tmp_path, version)
    with School(tmp_path) as school, school.reading() as connection:
        (student,) = every_student(connection)
        assert (student.name, student.keys) == ("Odile", "C G")
        assert evidence_of(connection, "Odile") == (piece(1),)
        assert milestones_of(connection, "Odile") == ()
        newest = connection.exec_driver_sql("SELECT version_num FROM alembic_version")
        assert newest.scalars().all() == [NEWEST]


@pytest.mark.slow
def test_players_who_came_by_a_link_before_there_were_devices_are_known_for_a_while(
    tmp_path: Path,
) -> None:
    _left_by_a_version(tmp_path, "turns")
    with closing(sqlite3.connect(tmp_path / DATABASE_FILE)) as connection:
        for withdrawn in ("NULL", "'2026-03-02 17:00:00.000000'"):
            connection.execute(
                "INSERT INTO invitations (student_id, made_at, withdrawn_at) VALUES (7, "
                f"'2026-03-01 17:00:00.000000', {withdrawn})"
            )
        connection.commit()
    now = datetime.now(UTC)
    with School(tmp_path) as school, school.reading() as connection:
        link = standing_invitation(connection, 1)
        assert (link.is_open, link.is_known, link.left) == (True, True, MOST_OPENED)
        assert link.opens_until is not None
        assert link.known_until is not None
        assert timedelta(days=29) < link.opens_until - now < timedelta(days=31)
        assert timedelta(days=89) < link.known_until - now < timedelta(days=91)
        with pytest.raises(NoSuchThing):
            standing_invitation(connection, 2)


@pytest.mark.slow
def test_recordings_of_before_there_was_an_end_stay_thirty_days_and_nobody_is_marked(
    tmp_path: Path,
) -> None:
    _left_by_a_version(tmp_path, "taught")
    with closing(sqlite3.connect(tmp_path / DATABASE_FILE)) as connection:
        connection.execute(
            "INSERT INTO sent_takes (student_id, source, file, name, about, sent_at, feedback, "
            "folder, trouble, words, marks) VALUES (7, 'x', '7/x.wav', 'x', '', "
            "'2020-03-01 17:00:00.000000', '', '', '', '', '')"
        )
        connection.commit()
    now = datetime.now(UTC)
    with School(tmp_path) as school:
        with school.reading() as connection:
            assert allowing(connection, Purpose.HEARING) == {7}
        assert let_go(school, now + timedelta(days=29)) == LetGo()
        assert let_go(school, now + timedelta(days=31)) == LetGo(takes=1)


@pytest.mark.slow
def test_processes_that_bring_a_folder_up_to_date_at_once_do_it_once(tmp_path: Path) -> None:
    _left_by_a_version(tmp_path, EARLIER[-1])
    assert _opened_by_three_at_once(tmp_path) == [0, 0, 0]
    with School(tmp_path) as school, school.reading() as connection:
        assert evidence_of(connection, "Odile") == (piece(1),)


def test_the_tables_can_be_made_in_postgresql() -> None:
    statements: list[str] = []
    dialect = postgresql.dialect()
    engine = create_mock_engine("postgresql://", lambda sql, *_: statements.append(str(sql)))
    metadata.create_all(engine, checkfirst=False)
    tables = [str(CreateTable(table).compile(dialect=dialect)) for table in metadata.sorted_tables]
    assert len(statements) > len(tables) == len(metadata.tables)
    assert "TIMESTAMP WITH TIME ZONE" in tables[0]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("pragma", "value"),
    [("journal_mode", "wal"), ("synchronous", 2), ("foreign_keys", 1), ("secure_delete", 1)],
)
def test_each_connection_is_made_safe(tmp_path: Path, pragma: str, value: object) -> None:
    with School(tmp_path) as school, school.reading() as connection:
        assert connection.exec_driver_sql(f"PRAGMA {pragma}").scalar() == value


def test_the_folder_is_said_or_named_by_the_environment_or_the_users_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "named"))
    assert data_folder(str(tmp_path / "said")) == tmp_path / "said"
    assert data_folder() == tmp_path / "named"
    monkeypatch.delenv(VARIABLE)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert data_folder().name == "halfstep"
    (tmp_path / "file").touch()
    with pytest.raises(BriefError, match="is a file; give the name of a folder"):
        data_folder(str(tmp_path / "file"))


def test_a_folder_that_may_not_be_looked_at_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(_: Path) -> bool:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "exists", refused)
    with pytest.raises(BriefError, match="data secret: Permission denied"):
        data_folder("secret")
