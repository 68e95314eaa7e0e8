"""Who is let in? A link that nobody can guess, which its teacher can withdraw.

The word in a link is its row's number and a seal: 128 bits of HMAC-SHA-256 (RFC 2104) over the
number, by a secret that lies among the files and nowhere else. So a link can be shown again as
often as it is wanted, while the database holds nothing that opens a door. The teacher's own word
is the seal of the desk.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import ColumnElement, Connection, insert, select, update

from halfstep.errors import NoSuchThing
from halfstep.school.kept_files import KeptFiles
from halfstep.school.students import Student, student_id, student_of_number
from halfstep.school.tables import invitations

SECRET_FILE = "door.secret"  # noqa: S105 (the name of its file)
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
    """

    number: int
    student: Student | None
    class_number: int | None


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


def link_word(secret: bytes, number: int) -> str:
    """The word in the link of an invitation."""
    return f"{number}-{_seal(secret, str(number))}"


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


def standing_invitation(connection: Connection, secret: bytes, number: int) -> Invitation:
    """The invitation of a number, that stands.

    Raises
    ------
    NoSuchThing
    """
    invitation = invitation_of(connection, secret, link_word(secret, number))
    if invitation is None:
        raise NoSuchThing("there is no such link; it may have been withdrawn")
    return invitation


def _seal(secret: bytes, text: str) -> str:
    digest = hmac.new(secret, text.encode(), hashlib.sha256).digest()
    return base64.b32encode(digest[:_SEAL_BYTES]).decode().rstrip("=").lower()


def invitation_of(connection: Connection, secret: bytes, word: str) -> Invitation | None:
    """What a word lets in; None for a word that is none, or is withdrawn."""
    digits = word.partition("-")[0]
    if not (digits.isascii() and digits.isdecimal() and len(digits) < 10):
        return None
    number = int(digits)
    if not hmac.compare_digest(word.encode(), link_word(secret, number).encode()):
        return None
    row = connection.execute(
        select(invitations).where(invitations.c.id == number, _stands())
    ).first()
    if row is None:
        return None
    student = None if row.student_id is None else student_of_number(connection, row.student_id)
    return Invitation(number, student, row.class_id)


def invite_student(connection: Connection, name: str) -> int:
    """The number of the invitation of a student; the one that stands, or a new one.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    number = student_id(connection, name)
    return _standing(connection, invitations.c.student_id == number) or _made(
        connection, student_id=number
    )


def free_names(connection: Connection, students: tuple[Student, ...]) -> tuple[str, ...]:
    """The names of students who have no link of their own yet."""
    query = select(invitations.c.student_id).where(_stands())
    taken = set(connection.scalars(query))
    return tuple(student.name for student in students if student.number not in taken)


def links_of(connection: Connection, students: Iterable[Student]) -> dict[int, int]:
    """The numbers of the invitations that stand, by those of the students."""
    numbers = [student.number for student in students]
    query = select(invitations.c.student_id, invitations.c.id).where(
        invitations.c.student_id.in_(numbers), _stands()
    )
    return {row.student_id: row.id for row in connection.execute(query)}


def link_of_class(connection: Connection, number: int) -> int | None:
    """The number of the invitation of a class that stands; None where none does."""
    return _standing(connection, invitations.c.class_id == number)


def invite_class(connection: Connection, number: int) -> int:
    """The number of the invitation of a class; the one that stands, or a new one."""
    return _standing(connection, invitations.c.class_id == number) or _made(
        connection, class_id=number
    )


def withdraw(connection: Connection, number: int) -> None:
    """Let nobody in by an invitation any more; who came in by it is out.

    Raises
    ------
    NoSuchThing
        When none of that number stands.
    """
    done = connection.execute(
        update(invitations)
        .where(invitations.c.id == number, _stands())
        .values(withdrawn_at=datetime.now(UTC))
    )
    if not done.rowcount:
        raise NoSuchThing("there is no such link; it may have been withdrawn already")


def _stands() -> ColumnElement[bool]:
    return invitations.c.withdrawn_at.is_(None)


def _standing(connection: Connection, whose: ColumnElement[bool]) -> int | None:
    query = select(invitations.c.id).where(whose, _stands())
    number: int | None = connection.scalars(query).first()
    return number


def _made(connection: Connection, **whose: int) -> int:
    row = {**whose, "made_at": datetime.now(UTC)}
    number: int = connection.execute(
        insert(invitations).returning(invitations.c.id), row
    ).scalar_one()
    return number
