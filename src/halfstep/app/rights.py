"""Who may see or do what? The one place where that stands.

At a desk of one teacher three kinds of people come: the teacher; a student, who came by a link; and
a stranger. In a school people sign in, an owner lets them in, a teacher works with the own classes
and charts, and a guardian sees what is a ward's.
A student sees and does what is the student's own; what is somebody else's answers as if it did not
exist. Each address says beside its path which right it needs (`app/web/routes.py`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from halfstep.errors import NotAllowed
from halfstep.school.accounts import Account, AccountRole
from halfstep.school.belonging import Reach, Thing, belonging_of, no_such, reach_of
from halfstep.school.database import SchoolConnection
from halfstep.school.students import Student


class VisitorRole(StrEnum):
    """Who somebody is."""

    OWNER = "owner"
    DESK = "teacher of a desk"
    TEACHER = "teacher"
    GUARDIAN = "guardian"
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
    OWN_ACCOUNT = "choose a password, and see where one is signed in"
    SEE_WARDS = "see whose guardian one is"
    READ_LOG = "read what was done to accounts"
    KEEP_HOUSE = "open the doors of this machine, and say who teaches what"


_ALL = frozenset({VisitorRole.OWNER, VisitorRole.DESK})
_STAFF = _ALL | {VisitorRole.TEACHER}
_PLAYER = frozenset({VisitorRole.STUDENT})
WHO_MAY: dict[Deed, frozenset[VisitorRole]] = {
    Deed.KEEP_DESK: _STAFF,
    Deed.ANSWER_TAKE: _STAFF,
    Deed.SEE_WORK: _STAFF | _PLAYER | {VisitorRole.GUARDIAN},
    Deed.SEND_TAKE: _PLAYER,
    Deed.PRACTISE: _PLAYER,
    Deed.COME_IN: frozenset(VisitorRole),
    Deed.OWN_ACCOUNT: _STAFF | _PLAYER | {VisitorRole.GUARDIAN},
    Deed.SEE_WARDS: frozenset({VisitorRole.GUARDIAN}),
    Deed.READ_LOG: frozenset({VisitorRole.OWNER}),
    Deed.KEEP_HOUSE: _ALL,
}
"""A student and a guardian may do these with the student's own things alone."""


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who comes.

    Attributes
    ----------
    is_teacher : bool
        Of this desk, or of the school.
    student : Student or None
        Who it is, of those who play.
    account : Account or None
        Of who has signed in.
    session : int
        The number of where; 0 for who has not signed in.
    wards : frozenset of int
        The numbers of the students whose guardian it is.
    device : int
        The number of the device on which a player is known by a link; 0 for who is not.
    is_of_before : bool
        Known by the word of a link, as there were no devices.
    """

    is_teacher: bool = False
    student: Student | None = None
    account: Account | None = None
    session: int = 0
    wards: frozenset[int] = frozenset()
    device: int = 0
    is_of_before: bool = False

    @property
    def role(self) -> VisitorRole:
        """Who the visitor is."""
        if self.account:
            return VisitorRole(self.account.role)
        if self.is_teacher:
            return VisitorRole.DESK
        return VisitorRole.STRANGER if self.student is None else VisitorRole.STUDENT

    @property
    def account_number(self) -> int | None:
        """Under which number it is written down who did something; None without an account."""
        return self.account.number if self.account else None

    @property
    def teaches_as(self) -> int | None:
        """The number of the account of who teaches among others; None for who works with all."""
        account = self.account
        return account.number if account and account.role is AccountRole.TEACHER else None

    def reach(self, connection: SchoolConnection) -> Reach:
        """With what the visitor has to do; all else is hidden."""
        if self.is_teacher:
            return reach_of(connection, self.teaches_as)
        own = {self.student.number} if self.student else self.wards
        return Reach((), (), frozenset(own), frozenset(own))


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
    if visitor.role not in WHO_MAY[right.deed] or (
        right.deed is Deed.OWN_ACCOUNT and visitor.account is None
    ):
        raise NotAllowed(_REFUSALS[right.deed])
    if right.thing is not None:
        demand_thing(connection, visitor, right.thing, numbers[right.name])


def demand_thing(connection: SchoolConnection, visitor: Visitor, thing: Thing, number: int) -> None:
    """Refuse what is not there, or is not for the visitor.

    Raises
    ------
    NoSuchThing
    """
    if not visitor.reach(connection).has(belonging_of(connection, thing, number)):
        raise no_such(thing)


_REFUSALS = {
    Deed.KEEP_DESK: "this is the teacher's desk; sign in, or open it by the printed address",
    Deed.OWN_ACCOUNT: "this is for who has signed in; sign in first",
    Deed.SEE_WARDS: "this is a guardian's page; sign in first",
    Deed.KEEP_HOUSE: "this is for the owner of the school to do",
    Deed.READ_LOG: "this is for the owner of the school to read",
    Deed.ANSWER_TAKE: "takes are answered from the teacher's desk",
    Deed.SEE_WORK: "this is a player's own page; open it by the link you were given",
    Deed.SEND_TAKE: "takes are sent from the player's own page; open it by the link you were given",
    Deed.PRACTISE: "this is a player's own room; open it by the link you were given",
}
