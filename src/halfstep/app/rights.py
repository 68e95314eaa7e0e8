"""Who may see or do what? The one place where that stands.

Three kinds of people come: the teacher, whose desk it is; a student, who came by a link; and a
stranger. A student sees and does what is the student's own; what is somebody else's answers as if
it did not exist. Each address says beside its path which right it needs (`app/web/routes.py`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from halfstep.errors import NotAllowed
from halfstep.school.belonging import Thing, no_such, student_owning
from halfstep.school.database import SchoolConnection
from halfstep.school.students import Student


class VisitorRole(StrEnum):
    """Who somebody is."""

    TEACHER = "teacher"
    STUDENT = "student"
    STRANGER = "stranger"


class Deed(StrEnum):
    """What is seen or done."""

    KEEP_DESK = "keep charts, lines, classes, links and what is handed out"
    ANSWER_TAKE = "answer a take"
    SEE_WORK = "see a student's sheets, sounds, takes and the words about them"
    SEND_TAKE = "send a take"
    PRACTISE = "practise in the room"
    COME_IN = "come to the door"


WHO_MAY: dict[Deed, frozenset[VisitorRole]] = {
    Deed.KEEP_DESK: frozenset({VisitorRole.TEACHER}),
    Deed.ANSWER_TAKE: frozenset({VisitorRole.TEACHER}),
    Deed.SEE_WORK: frozenset({VisitorRole.TEACHER, VisitorRole.STUDENT}),
    Deed.SEND_TAKE: frozenset({VisitorRole.STUDENT}),
    Deed.PRACTISE: frozenset({VisitorRole.STUDENT}),
    Deed.COME_IN: frozenset(VisitorRole),
}
"""A student may do these with the student's own things alone."""


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who comes.

    Attributes
    ----------
    is_teacher : bool
    student : Student or None
        Who it is, of those who came by a link.
    class_number : int or None
        Of a class whose link was followed by somebody who has not said yet who it is.
    """

    is_teacher: bool = False
    student: Student | None = None
    class_number: int | None = None

    @property
    def role(self) -> VisitorRole:
        """Who the visitor is."""
        if self.is_teacher:
            return VisitorRole.TEACHER
        return VisitorRole.STRANGER if self.student is None else VisitorRole.STUDENT


STRANGER = Visitor()


@dataclass(frozen=True, slots=True)
class Right:
    """What an address needs.

    Attributes
    ----------
    deed : Deed
    thing : Thing or None
        What the address names; None where it names none that is anybody's.
    name : str
        Of the number in the address.
    """

    deed: Deed
    thing: Thing | None = None
    name: str = "number"


ANYBODY = Right(Deed.COME_IN)
DESK = Right(Deed.KEEP_DESK)


def demand(
    connection: SchoolConnection, visitor: Visitor, right: Right, numbers: Mapping[str, Any]
) -> None:
    """Refuse who has no right.

    Parameters
    ----------
    connection : SchoolConnection
    visitor : Visitor
    right : Right
    numbers : mapping of str to int
        Those in the address, by their names.

    Raises
    ------
    NotAllowed
        When it is not for people like the visitor at all.
    NoSuchThing
        When what is named is not there, or is not the visitor's: the two cannot be told apart.
    """
    if visitor.role not in WHO_MAY[right.deed]:
        raise NotAllowed(_REFUSALS[right.deed])
    if right.thing is None:
        return
    owner = student_owning(connection, right.thing, numbers[right.name])
    if visitor.role is VisitorRole.STUDENT and not (
        visitor.student and visitor.student.number == owner
    ):
        raise no_such(right.thing)


_REFUSALS = {
    Deed.KEEP_DESK: "this is the teacher's desk; open it by the address that the program printed",
    Deed.ANSWER_TAKE: "takes are answered from the teacher's desk",
    Deed.SEE_WORK: "this is a player's own page; open it by the link you were given",
    Deed.SEND_TAKE: "takes are sent from the player's own page; open it by the link you were given",
    Deed.PRACTISE: "this is a player's own room; open it by the link you were given",
}
