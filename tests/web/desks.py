"""A desk for tests: a data folder, its site, and browsers without a browser."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from starlette.testclient import TestClient

from halfstep.app.tasks.student_tasks import AddStudent, keep_student
from halfstep.app.web.site import desk_site
from halfstep.app.web.visit import COOKIE
from halfstep.school.classes import add_class, join_class
from halfstep.school.database import School
from halfstep.school.invitations import desk_word, door_secret, invite_student, link_word

ADDRESS = "http://localhost:8765"
PLAYERS = (("Ansel", "alto-sax"), ("Corin", "tenor-sax"), ("Dilys", "flute"))


@dataclass(frozen=True, slots=True)
class Desk:
    """A site with what it keeps."""

    school: School

    @property
    def secret(self) -> bytes:
        return door_secret(self.school.folder)

    def visitor(self, word: str = "") -> TestClient:
        """A browser of somebody; of a stranger without a word."""
        cookies = {COOKIE: word} if word else {}
        return TestClient(desk_site(self.school), ADDRESS, cookies=cookies, follow_redirects=False)

    def teacher(self) -> TestClient:
        return self.visitor(desk_word(self.secret))

    def student(self, name: str) -> TestClient:
        with self.school.writing() as connection:
            number = invite_student(connection, name)
        return self.visitor(link_word(self.secret, number))


@contextmanager
def new_desk(folder: Path) -> Iterator[Desk]:
    """A desk with a class of three players in an empty folder."""
    with School(folder) as school:
        for name, instrument in PLAYERS:
            keep_student(school, AddStudent(name, instrument, "intermediate"))
        with school.writing() as connection:
            room = add_class(connection, "Room Twelve")
            for name, _ in PLAYERS:
                join_class(connection, room.number, name)
        yield Desk(school)
