"""Is a school of an older release brought to today's tables once, whoever is at it?

Two programs of today start on it at the same moment, and pages are asked for before they answer.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from pathlib import Path
from time import monotonic, sleep

import httpx2
import pytest
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine

from free_ports import free_port
from halfstep.school import migrations
from halfstep.school.data_folder import DATABASE_VARIABLE
from halfstep.school.database import School
from halfstep.school.file_database import FileDatabase
from halfstep.school.invitations import desk_word, door_secret
from halfstep.school.kept_files import FolderFiles
from halfstep.school.schema_version import NEWEST
from halfstep.school.server_database import ServerDatabase
from postgres_server import postgres_programs, postgres_server

MIGRATIONS = str(Path(migrations.__file__).parent)
VERSIONS = [one.revision for one in ScriptDirectory(MIGRATIONS).walk_revisions()]
"""The newest first."""
STUDENTS = 300
PATIENCE_S = 60.0
ANSWERS = 5
"""Of each program, after its first."""
COUNTED = {
    "sqlite": (
        "CREATE TRIGGER counted AFTER UPDATE ON alembic_version "
        "BEGIN INSERT INTO moves VALUES (new.version_num); END"
    ),
    "postgresql": (
        "CREATE RULE counted AS ON UPDATE TO alembic_version "
        "DO ALSO INSERT INTO moves VALUES (NEW.version_num)"
    ),
}
ROWS = (
    "SELECT id, name, level, added_at FROM students ORDER BY id",
    "SELECT id, belongs_to, request, state, added_at FROM jobs ORDER BY id",
    "SELECT class_id, student_id FROM members ORDER BY student_id",
)


@pytest.fixture(params=["file", "server"])
def address(request: pytest.FixtureRequest) -> Iterator[str]:
    if request.param == "file":
        yield ""
        return
    programs = postgres_programs()
    if programs is None:
        pytest.skip("PostgreSQL is not installed (Debian: postgresql)")
    with postgres_server(programs) as server:
        yield server.new_database("school")


def leave(engine: Engine, version: str) -> None:
    """Leave a school as an earlier version had it, which counts the changes that are to come."""
    config = Config()
    config.set_main_option("script_location", MIGRATIONS)
    with engine.connect().execution_options(is_writing=True) as connection, connection.begin():
        config.attributes["connection"] = connection
        command.upgrade(config, version)
        at = (
            "'2026-03-01 17:00:00+00:00'"
            if engine.name == "postgresql"
            else "'2026-03-01 17:00:00'"
        )
        connection.exec_driver_sql(
            f"INSERT INTO classes (id, name, folded_name, made_at) VALUES (1, 'Six', 'six', {at})"
        )
        for number in range(1, STUDENTS + 1):
            connection.exec_driver_sql(
                "INSERT INTO students (id, name, folded_name, instrument, level, known_notes, "
                f"keys, print_setting, minutes, added_at) VALUES ({number}, 'Player {number}', "
                f"'player {number}', 'flute', 'beginner', '', '', '', 30.0, {at})"
            )
            connection.exec_driver_sql(f"INSERT INTO members VALUES (1, {number})")
            connection.exec_driver_sql(
                "INSERT INTO jobs (id, belongs_to, digest, request, student_id, state, progress, "
                "phrase, worker, attempts, trouble, result, added_at) VALUES "
                f"({number}, 'tally {number}', 'x', '{{}}', {number}, 'waiting', 0.0, '', '', 0, "
                f"'', '', {at})"
            )
        connection.exec_driver_sql("CREATE TABLE moves (version TEXT)")
        connection.exec_driver_sql(COUNTED[engine.name])


def rows(connection: Connection) -> list[list[tuple[object, ...]]]:
    """What stands there of players, their jobs and their class."""
    return [[tuple(row) for row in connection.exec_driver_sql(query)] for query in ROWS]


@contextmanager
def serving(folder: Path, address: str) -> Iterator[str]:
    """A program that serves; where it answers."""
    port = free_port()
    pages = ("serve", "--no-browser", "--workers", "0", "--port", str(port), "--data", str(folder))
    with subprocess.Popen(
        [sys.executable, "-m", "halfstep", *pages],
        env=os.environ | {DATABASE_VARIABLE: address},
        stdout=subprocess.DEVNULL,
    ) as process:
        try:
            yield f"http://127.0.0.1:{port}"
        finally:
            process.terminate()


def asked(site: str, word: str) -> list[int]:
    """How a program answers who asks for a class again and again from its first moment on."""
    statuses: list[int] = []
    until_s = monotonic() + PATIENCE_S
    with httpx2.Client(base_url=site, follow_redirects=True) as browser:
        while len(statuses) < ANSWERS and monotonic() < until_s:
            try:
                browser.get(f"/in/{word}")
                statuses.append(browser.get("/classes/1").status_code)
            except httpx2.ConnectError:
                sleep(0.02)
    return statuses


@pytest.mark.slow
def test_two_programs_bring_an_older_school_up_to_date_once_while_pages_are_asked_for(
    address: str, tmp_path: Path
) -> None:
    back = 1 if address else 2
    database = ServerDatabase(address) if address else FileDatabase(tmp_path)
    leave(database.engine, VERSIONS[back])
    with database.engine.connect() as connection:
        before = rows(connection)
    database.engine.dispose()
    word = desk_word(door_secret(FolderFiles(tmp_path)))
    with ExitStack() as stack:
        sites = [stack.enter_context(serving(tmp_path, address)) for _ in range(2)]
        with ThreadPoolExecutor(2) as pool:
            statuses = list(pool.map(asked, sites, [word] * 2))
    assert statuses == [[200] * ANSWERS] * 2
    with School(tmp_path, address) as school, school.reading() as connection:
        assert rows(connection) == before
        moves = connection.exec_driver_sql("SELECT version FROM moves").scalars().all()
    assert moves == [*reversed(VERSIONS[:back])]
    assert moves[-1] == NEWEST
