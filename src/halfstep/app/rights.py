"""Who may see or do what? The one place where that stands.

Three kinds of people come: the teacher, whose desk it is; a student, who came by a link; and a
stranger. A student sees and does what is the student's own and nothing of anyone else.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from halfstep.errors import NotAllowed
from halfstep.school.students import Student


class Relation(StrEnum):
    """Who somebody is to a thing."""

    TEACHER = "teacher"
    OWNER = "owner"
    OTHER = "other"


class Deed(StrEnum):
    """What is seen or done."""

    KEEP_DESK = "keep charts, lines, classes, links and what is handed out"
    ANSWER_TAKE = "answer a take"
    SEE_WORK = "see a student's sheets, sounds, takes and the words about them"
    SEND_TAKE = "send a take"
    PRACTISE = "practise in the room"


WHO_MAY: dict[Deed, frozenset[Relation]] = {
    Deed.KEEP_DESK: frozenset({Relation.TEACHER}),
    Deed.ANSWER_TAKE: frozenset({Relation.TEACHER}),
    Deed.SEE_WORK: frozenset({Relation.TEACHER, Relation.OWNER}),
    Deed.SEND_TAKE: frozenset({Relation.OWNER}),
    Deed.PRACTISE: frozenset({Relation.OWNER}),
}


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

    def relation(self, owner: int | None) -> Relation:
        """Who the visitor is to what a student of that number owns."""
        if self.is_teacher:
            return Relation.TEACHER
        is_own = self.student is not None and owner == self.student.number
        return Relation.OWNER if is_own else Relation.OTHER


STRANGER = Visitor()


def may(visitor: Visitor, deed: Deed, owner: int | None = None) -> bool:
    """True where the visitor has the right.

    Parameters
    ----------
    owner : int or None
        The number of the student whose thing it is; None where it is nobody's own.
    """
    return visitor.relation(owner) in WHO_MAY[deed]


def demand(visitor: Visitor, deed: Deed, owner: int | None = None) -> None:
    """Refuse who has no right.

    Raises
    ------
    NotAllowed
    """
    if not may(visitor, deed, owner):
        raise NotAllowed(_REFUSALS[deed])


_REFUSALS = {
    Deed.KEEP_DESK: "this is the teacher's desk; open it by the address that the program printed",
    Deed.ANSWER_TAKE: "takes are answered from the teacher's desk",
    Deed.SEE_WORK: "this is another player's; open your own page by the link you were given",
    Deed.SEND_TAKE: "takes are sent from the player's own page; open it by the link you were given",
    Deed.PRACTISE: "this is a player's own room; open yours by the link you were given",
}
