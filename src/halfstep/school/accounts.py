"""Who signs in, and as what? An owner, teachers, guardians, and players with a password.

A folder without an owner is one teacher's desk, which opens by the printed address. With the first
owner it is a school, whose people sign in.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from halfstep.errors import BriefError, NoSuchThing
from halfstep.school.students import nickname
from halfstep.school.tables import accounts, wards


class AccountRole(StrEnum):
    """As what somebody signs in."""

    OWNER = "owner"
    TEACHER = "teacher"
    GUARDIAN = "guardian"
    STUDENT = "student"


STAFF = frozenset({AccountRole.OWNER, AccountRole.TEACHER})


@dataclass(frozen=True, slots=True)
class Account:
    """One who signs in.

    Attributes
    ----------
    number : int
    name : str
    role : AccountRole
    student : int or None
        The number of the student who it is.
    password : str
        Its hash; empty until one was chosen.
    second_factor : str
        The secret of the codes; empty where none are asked for.
    last_code : int
        The step of time whose code was used last.
    mail : str
        Where a link goes to who forgot the password; empty where nowhere.
    """

    number: int
    name: str
    role: AccountRole
    student: int | None = None
    password: str = ""
    second_factor: str = ""
    last_code: int = 0
    mail: str = ""

    @property
    def is_staff(self) -> bool:
        """True for an owner and a teacher."""
        return self.role in STAFF


def is_school(connection: Connection) -> bool:
    """True once there is an owner."""
    query = select(accounts.c.id).where(accounts.c.role == AccountRole.OWNER, _stands())
    return connection.scalar(query.limit(1)) is not None


def add_account(
    connection: Connection, name: str, role: AccountRole, *, student: int | None = None
) -> Account:
    """Somebody who is to choose a password.

    Raises
    ------
    BriefError
        When the name is none, or is somebody's.
    """
    line = nickname(name)
    row = {
        "name": line,
        "folded_name": line.casefold(),
        "role": role,
        "student_id": student,
        "made_at": datetime.now(UTC),
    }
    try:
        number = connection.execute(insert(accounts).returning(accounts.c.id), row).scalar_one()
    except IntegrityError:
        raise BriefError(f"`name`: {line} signs in already; give another name") from None
    return Account(number, line, role, student)


def find_account(connection: Connection, number: int) -> Account:
    """The account of a number.

    Raises
    ------
    NoSuchThing
        When there is none, or it has ended.
    """
    row = connection.execute(select(accounts).where(accounts.c.id == number, _stands())).first()
    if row is None:
        raise no_such_account()
    return _account(row)


def no_such_account() -> NoSuchThing:
    """What is said where nobody has a number, and where it is nobody of who asks."""
    return NoSuchThing("nobody of this number signs in here; it may have ended")


def account_named(connection: Connection, name: str) -> Account | None:
    """Whose name it is; None where nobody's."""
    folded = " ".join(name.split()).casefold()
    query = select(accounts).where(accounts.c.folded_name == folded, _stands())
    row = connection.execute(query).first()
    return None if row is None else _account(row)


def every_account(connection: Connection) -> tuple[Account, ...]:
    """All who sign in, by name."""
    query = select(accounts).where(_stands()).order_by(accounts.c.folded_name)
    return tuple(map(_account, connection.execute(query)))


def keep_password(connection: Connection, account: Account, hashed: str) -> None:
    """Have another password."""
    _change(connection, account, password=hashed)


def keep_second_factor(connection: Connection, account: Account, secret: str) -> None:
    """Ask for codes of a secret from now on; for none where it is empty."""
    _change(connection, account, second_factor=secret, last_code=0)


def keep_mail(connection: Connection, account: Account, mail: str) -> None:
    """Have links go to an address; nowhere where it is empty."""
    _change(connection, account, mail=mail)


def note_code(connection: Connection, account: Account, step: int) -> bool:
    """Take a code; False where another process took it, or a later one, a moment before."""
    at_it = (accounts.c.id == account.number, accounts.c.last_code < step)
    return bool(connection.execute(update(accounts).where(*at_it).values(last_code=step)).rowcount)


def end_account(connection: Connection, number: int) -> None:
    """Let somebody sign in no more; the name is free again, and whose it was is forgotten.

    Raises
    ------
    NoSuchThing
    BriefError
        When it is the last owner, without whom nobody could let anyone in.
    """
    account = find_account(connection, number)
    if account.role is AccountRole.OWNER:
        query = select(func.count()).where(accounts.c.role == AccountRole.OWNER, _stands())
        if connection.scalar(query) == 1:
            raise BriefError(f"{account.name} is the only owner; make another owner first")
    connection.execute(delete(wards).where(wards.c.account_id == number))
    # no name begins with a blank
    free = {"name": "", "folded_name": f" ended {number}", "student_id": None}
    now = datetime.now(UTC)
    _change(connection, account, ended_at=now, password="", second_factor="", mail="", **free)


def keep_wards(connection: Connection, guardian: Account, students: set[int]) -> None:
    """Whose guardian somebody is: these, and no others."""
    connection.execute(delete(wards).where(wards.c.account_id == guardian.number))
    rows = [{"account_id": guardian.number, "student_id": number} for number in sorted(students)]
    if rows:
        connection.execute(insert(wards), rows)


def wards_of(connection: Connection, account: Account) -> frozenset[int]:
    """The numbers of the students whose guardian somebody is."""
    query = select(wards.c.student_id).where(wards.c.account_id == account.number)
    return frozenset(connection.scalars(query))


def every_ward(connection: Connection) -> dict[int, frozenset[int]]:
    """The numbers of the students of each guardian, by the number of the account."""
    numbers: dict[int, set[int]] = {}
    for row in connection.execute(select(wards)):
        numbers.setdefault(row.account_id, set()).add(row.student_id)
    return {account: frozenset(students) for account, students in numbers.items()}


def has_guardian(connection: Connection, student: int) -> bool:
    """True where a guardian of a student signs in here."""
    query = select(wards.c.account_id).join(accounts, accounts.c.id == wards.c.account_id)
    here = query.where(wards.c.student_id == student, _stands()).limit(1)
    return connection.scalar(here) is not None


def remove_idle_guardians(connection: Connection) -> None:
    """Forget who is a guardian of nobody any more."""
    is_idle = accounts.c.id.not_in(select(wards.c.account_id))
    change = delete(accounts).where(accounts.c.role == AccountRole.GUARDIAN, is_idle)
    connection.execute(change)


def _stands() -> ColumnElement[bool]:
    return accounts.c.ended_at.is_(None)


def _change(connection: Connection, account: Account, **values: object) -> None:
    connection.execute(update(accounts).where(accounts.c.id == account.number).values(**values))


def _account(row: Row[Any]) -> Account:
    role = AccountRole(row.role)
    return Account(
        row.id,
        row.name,
        role,
        row.student_id,
        row.password,
        row.second_factor,
        row.last_code,
        row.mail,
    )
