"""Who is let in? A link that nobody can guess, which its teacher can withdraw or make anew.

The word in a link is its row's number and a seal: 128 bits of HMAC-SHA-256 (RFC 2104) over the
number, by a secret that lies among the files and nowhere else. So a link can be shown again as
often as it is wanted, while the database holds nothing that opens a door. The teacher's own word
is the seal of the desk.

A link opens for `OPENS_FOR`, a player's own on `MOST_OPENED` devices, where the player is known
from then on. One would be too few: a ten-year-old has a phone, a tablet at home and the slip in the
case of the instrument, and some phones follow a square in another browser than a link.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, insert, select, update

from halfstep.errors import NoSuchThing
from halfstep.school.devices import end_devices
from halfstep.school.kept_files import KeptFiles
from halfstep.school.students import Student, student_id, student_of_number
from halfstep.school.tables import invitations

SECRET_FILE = "door.secret"  # noqa: S105 (the name of its file)
OPENS_FOR = timedelta(days=30)
"""A link, from when it was made."""
MOST_OPENED = 3
"""Devices on which a player's own link opens."""
_SEAL_BYTES = 16
_DESK = "desk"


@dataclass(frozen=True, slots=True)
class Invitation:
    """A link that stands.

    Attributes
    ----------
    number : int
    student : Student or None
        Who comes in by it.
    class_number : int or None
        Of the class whose students come in by it, each saying who it is.
    round : int
        How often it was made anew.
    opens_until : datetime or None
    opened : int
        On how many devices it was followed since.
    known_until : datetime or None
        Until when a browser is known by its word alone.
    """

    number: int
    student: Student | None
    class_number: int | None
    round: int = 0
    opens_until: datetime | None = None
    opened: int = 0
    known_until: datetime | None = None

    @property
    def left(self) -> int:
        """On how many devices it opens yet; a class's link on any number."""
        return 1 if self.student is None else max(MOST_OPENED - self.opened, 0)

    @property
    def is_open(self) -> bool:
        """True while it lets somebody in."""
        return self.left > 0 and _is_ahead(self.opens_until)

    @property
    def is_known(self) -> bool:
        """True while a browser is known by its word."""
        return self.student is not None and _is_ahead(self.known_until)


def _is_ahead(moment: datetime | None) -> bool:
    return moment is not None and moment > datetime.now(UTC)


def door_secret(files: KeptFiles) -> bytes:
    """The secret of a school; made the first time, and the same for all who have its files.

    Raises
    ------
    StoreError
        When it can neither be read nor be made.
    """
    if not files.exists(SECRET_FILE):
        files.put_new(SECRET_FILE, secrets.token_bytes(32))
    return files.content(SECRET_FILE)


def desk_word(secret: bytes) -> str:
    """The word that opens the desk."""
    return f"{_DESK}-{_seal(secret, _DESK)}"


def is_desk_word(secret: bytes, word: str) -> bool:
    """True for the teacher's own word."""
    return hmac.compare_digest(word.encode(), desk_word(secret).encode())


def link_word(secret: bytes, number: int, round_: int = 0) -> str:
    """The word in the link of an invitation, as it was made first or made anew."""
    return f"{number}-{_seal(secret, f'{number} {round_}' if round_ else str(number))}"


def calendar_word(secret: bytes, number: int | None) -> str:
    """The word that shows a calendar and opens nothing else.

    Parameters
    ----------
    secret : bytes
    number : int or None
        Of the invitation of whose calendar it is; None for the teacher's.
    """
    whose = _DESK if number is None else str(number)
    return f"{whose}-{_seal(secret, f'calendar of {whose}')}"


def calendar_number(secret: bytes, word: str) -> int | None:
    """The number of the invitation whose calendar a word shows; None for the teacher's.

    Raises
    ------
    NoSuchThing
        When the word is none.
    """
    digits = word.partition("-")[0]
    is_number = digits.isascii() and digits.isdecimal() and len(digits) < 10
    number = int(digits) if is_number else None
    if not hmac.compare_digest(word.encode(), calendar_word(secret, number).encode()):
        raise NoSuchThing("there is no such calendar; take its link from your page once more")
    return number


def standing_invitation(connection: Connection, number: int) -> Invitation:
    """The invitation of a number, that stands.

    Raises
    ------
    NoSuchThing
    """
    row = _row(connection, number)
    if row is None:
        raise NoSuchThing("there is no such link; it may have been withdrawn")
    return _invitation_kept(connection, row)


def _row(connection: Connection, number: int) -> Row[Any] | None:
    query = select(invitations).where(invitations.c.id == number, _stands())
    return connection.execute(query).first()


def _invitation_kept(connection: Connection, row: Row[Any]) -> Invitation:
    student = None if row.student_id is None else student_of_number(connection, row.student_id)
    return _invitation(row, student)


def _invitation(row: Row[Any], student: Student | None) -> Invitation:
    return Invitation(
        row.id, student, row.class_id, row.round, row.opens_until, row.opened, row.known_until
    )


def _seal(secret: bytes, text: str) -> str:
    digest = hmac.new(secret, text.encode(), hashlib.sha256).digest()
    return base64.b32encode(digest[:_SEAL_BYTES]).decode().rstrip("=").lower()


def invitation_of(connection: Connection, secret: bytes, word: str) -> Invitation | None:
    """Whose word it is, open or not; None for a word that is none, or is withdrawn."""
    digits = word.partition("-")[0]
    if not (digits.isascii() and digits.isdecimal() and len(digits) < 10):
        return None
    row = _row(connection, int(digits))
    right = link_word(secret, int(digits), row.round if row else 0)
    if not hmac.compare_digest(word.encode(), right.encode()) or row is None:
        return None
    return _invitation_kept(connection, row)


def invite_student(connection: Connection, name: str) -> int:
    """The number of the invitation of a student; the one that stands, or a new one.

    One that is not open any more is made anew.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    number = student_id(connection, name)
    standing = _standing(connection, invitations.c.student_id == number)
    return _opened(connection, standing) if standing else _made(connection, student_id=number)


def _opened(connection: Connection, number: int) -> int:
    """The number of an invitation that stands, open from now on."""
    if not standing_invitation(connection, number).is_open:
        make_anew(connection, number)
    return number


def make_anew(connection: Connection, number: int) -> None:
    """Have an invitation another link; the one before opens nothing more.

    Who came in stays in, and a calendar keeps its address.

    Raises
    ------
    NoSuchThing
    """
    invitation = standing_invitation(connection, number)
    anew = {"round": invitation.round + 1, "opened": 0, "opens_until": _until()}
    change = update(invitations).where(invitations.c.id == number)
    connection.execute(change.values(**anew))


def use_invitation(connection: Connection, invitation: Invitation) -> None:
    """Have a link followed on one more device: of two at once, each counts.

    Raises
    ------
    NoSuchThing
        When it is not open any more.
    """
    is_left = (
        invitations.c.id == invitation.number,
        invitations.c.round == invitation.round,
        invitations.c.opens_until > datetime.now(UTC),
        invitations.c.opened < MOST_OPENED,
    )
    change = update(invitations).where(*is_left).values(opened=invitations.c.opened + 1)
    if not connection.execute(change).rowcount:
        raise NoSuchThing("this link has let in its last device; ask your teacher for a new one")


def free_names(connection: Connection, students: tuple[Student, ...]) -> tuple[str, ...]:
    """The names of students who have no link of their own yet."""
    query = select(invitations.c.student_id).where(_stands())
    taken = set(connection.scalars(query))
    return tuple(student.name for student in students if student.number not in taken)


def links_of(connection: Connection, students: Iterable[Student]) -> dict[int, Invitation]:
    """The invitations that stand, by the numbers of the students."""
    asked = {student.number: student for student in students}
    query = select(invitations).where(invitations.c.student_id.in_(asked), _stands())
    rows = connection.execute(query)
    return {row.student_id: _invitation(row, asked[row.student_id]) for row in rows}


def link_of_class(connection: Connection, number: int) -> int | None:
    """The number of the invitation of a class that stands; None where none does."""
    return _standing(connection, invitations.c.class_id == number)


def invite_class(connection: Connection, number: int) -> int:
    """The number of the invitation of a class; the one that stands, or a new one, open."""
    standing = _standing(connection, invitations.c.class_id == number)
    return _opened(connection, standing) if standing else _made(connection, class_id=number)


def withdraw(connection: Connection, number: int) -> None:
    """Let nobody in by an invitation any more; the player whose own it is is out everywhere.

    Raises
    ------
    NoSuchThing
        When none of that number stands.
    """
    row = _row(connection, number)
    if row is None:
        raise NoSuchThing("there is no such link; it may have been withdrawn already")
    change = update(invitations).where(invitations.c.id == number)
    connection.execute(change.values(withdrawn_at=datetime.now(UTC)))
    if row.student_id is not None:
        end_devices(connection, row.student_id)


def _stands() -> ColumnElement[bool]:
    return invitations.c.withdrawn_at.is_(None)


def _standing(connection: Connection, whose: ColumnElement[bool]) -> int | None:
    query = select(invitations.c.id).where(whose, _stands())
    number: int | None = connection.scalars(query).first()
    return number


def _made(connection: Connection, **whose: int) -> int:
    row = {**whose, "made_at": datetime.now(UTC), "opens_until": _until()}
    number: int = connection.execute(
        insert(invitations).returning(invitations.c.id), row
    ).scalar_one()
    return number


def _until() -> datetime:
    return datetime.now(UTC) + OPENS_FOR
