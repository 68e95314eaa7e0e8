"""A desk for tests: a data folder, its site, and browsers without a browser."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import product
from pathlib import Path

from starlette.testclient import TestClient

from fresh_schools import fresh_school
from halfstep.app.tasks.student_tasks import AddStudent, keep_student
from halfstep.app.web.site import desk_site
from halfstep.app.web.visit import COOKIE
from halfstep.school.classes import add_class, join_class
from halfstep.school.database import School
from halfstep.school.devices import begin_device
from halfstep.school.invitations import desk_word, door_secret, invite_student
from halfstep.school.students import student_id

ADDRESS = "http://localhost:8765"
PLAYERS = (("Ansel", "alto-sax"), ("Corin", "tenor-sax"), ("Dilys", "flute"))
_BEGINNINGS, _ENDS = ("An", "Bel", "Cor", "Dor", "El", "Far"), ("ina", "rik", "son", "tia", "vo")
_INSTRUMENTS = ("alto-sax", "baritone-sax", "flute", "trumpet", "piano", "guitar", "clarinet")
THIRTY = tuple(
    (f"{beginning}{end}", _INSTRUMENTS[number % len(_INSTRUMENTS)])
    for number, (beginning, end) in enumerate(product(_BEGINNINGS, _ENDS))
)


@dataclass(frozen=True, slots=True)
class Desk:
    """A site with what it keeps."""

    school: School

    @property
    def secret(self) -> bytes:
        return door_secret(self.school.files)

    def visitor(self, word: str = "") -> TestClient:
        """A browser of somebody; of a stranger without a word."""
        cookies = {COOKIE: word} if word else {}
        return TestClient(desk_site(self.school), ADDRESS, cookies=cookies, follow_redirects=False)

    def teacher(self) -> TestClient:
        return self.visitor(desk_word(self.secret))

    def student(self, name: str) -> TestClient:
        return self.visitor(self.players_word(name))

    def players_word(self, name: str) -> str:
        """The word of a device on which a player has come in, by a link that stands."""
        with self.school.writing() as connection:
            invite_student(connection, name)
            return begin_device(connection, student_id(connection, name), "a test")


@contextmanager
def empty_desk(folder: Path) -> Iterator[Desk]:
    """A desk where nobody is yet."""
    with fresh_school(folder) as school:
        yield Desk(school)


def fill_class(desk: Desk, players: Iterable[tuple[str, str]], name: str = "Room Twelve") -> None:
    """Keep some players, by name and instrument, as a class."""
    with desk.school.writing() as connection:
        room = add_class(connection, name)
    for player, instrument in players:
        keep_student(desk.school, AddStudent(player, instrument, "intermediate"))
        with desk.school.writing() as connection:
            join_class(connection, room.number, player)


def _fill_with_three(school: School) -> None:
    fill_class(Desk(school), PLAYERS)


@contextmanager
def new_desk(folder: Path) -> Iterator[Desk]:
    """A desk with a class of three players in an empty folder."""
    with fresh_school(folder, _fill_with_three) as school:
        yield Desk(school)
