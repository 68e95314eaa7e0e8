"""Signing in and out, and letting people in: for every face."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from halfstep.app.tasks.consent_tasks import note_age
from halfstep.errors import BriefError, NotAllowed
from halfstep.school.accounts import (
    Account,
    AccountRole,
    account_named,
    add_account,
    end_account,
    find_account,
    is_school,
    keep_password,
    keep_second_factor,
    keep_wards,
    note_code,
)
from halfstep.school.attempts import (
    MOST_OF_ADDRESS,
    MOST_OF_NAME,
    demand_few,
    forget_attempts,
    note_attempt,
    subject_of,
)
from halfstep.school.audit import Audited, write_down
from halfstep.school.database import School, SchoolConnection
from halfstep.school.passwords import demand_good, is_right, password_hash
from halfstep.school.second_factor import step_of_code
from halfstep.school.sessions import (
    account_of_link,
    begin_session,
    end_account_links,
    end_session,
    end_sessions,
    make_account_link,
    use_link,
)
from halfstep.school.students import student_of_number

THE_MACHINE = Account(0, "the machine", AccountRole.OWNER)
"""Who types at the machine on which everything lies: may do all, and has no row."""
_WRONG = "this is not the name, the password and the code of anybody here"


@dataclass(frozen=True, slots=True)
class SignIn:
    """Somebody who signs in.

    Attributes
    ----------
    name, password : str
    code : str
        Of the second factor; empty where none is asked for.
    address : str
        From where on the net.
    device : str
        What the browser says of itself.
    """

    name: str
    password: str
    code: str = ""
    address: str = ""
    device: str = ""


def sign_in(school: School, secret: bytes, asked: SignIn) -> str:
    """Sign somebody in; the word that the browser is to keep.

    A wrong name, a wrong password and a wrong code are refused alike, and after as long.

    Raises
    ------
    NotAllowed
    TooManyTries
    """
    folded = " ".join(asked.name.split()).casefold()
    name, address = (
        subject_of(secret, kind, text) for kind, text in (("name", folded), ("from", asked.address))
    )
    with school.reading() as connection:
        demand_few(connection, name, MOST_OF_NAME)
        demand_few(connection, address, MOST_OF_ADDRESS)
        account = account_named(connection, asked.name)
    is_password = is_right(account.password if account else "", asked.password)
    with school.writing() as connection:
        if account and is_password and _is_code(connection, account, asked.code):
            forget_attempts(connection, name)
            write_down(connection, Audited.SIGNED_IN, by=account.number)
            return begin_session(connection, account, asked.device)
        note_attempt(connection, name, address)
        write_down(connection, Audited.REFUSED, whose=account.number if account else None)
    raise NotAllowed(_WRONG)


def _is_code(connection: SchoolConnection, account: Account, code: str) -> bool:
    if not account.second_factor:
        return True
    step = step_of_code(account.second_factor, code, datetime.now(UTC), after=account.last_code)
    return step is not None and note_code(connection, account, step)


def sign_out(school: School, account: Account, session: int, *, elsewhere: bool = False) -> None:
    """Sign somebody out where that session is.

    Raises
    ------
    NoSuchThing
    """
    deed = Audited.ENDED_SESSION if elsewhere else Audited.SIGNED_OUT
    with school.writing() as connection:
        end_session(connection, account, session)
        write_down(connection, deed, by=account.number)


@dataclass(frozen=True, slots=True)
class JoinByLink:
    """Somebody who chooses a password by a link.

    Attributes
    ----------
    word : str
        Of the link.
    password, code : str
        The code of the second factor, of who is asked for one.
    device : str
        What the browser says of itself.
    """

    word: str
    password: str
    device: str = ""
    code: str = ""


def join_by_link(school: School, secret: bytes, asked: JoinByLink) -> str:
    """Choose the first password, or a new one, by a link; whoever was signed in is out.

    A link that came by mail does not stand for the second factor: codes are asked for as ever.

    Raises
    ------
    NoSuchThing
        When the link is none, was used, or is too old.
    BriefError
        When the password is soon guessed, or the code is wrong; the link can be used again.
    TooManyTries
    """
    with school.reading() as connection:
        account = account_of_link(connection, asked.word)
        subject = subject_of(secret, "name", account.name.casefold())
        demand_few(connection, subject, MOST_OF_NAME)
    demand_good(asked.password, of=(account.name,))
    hashed = password_hash(asked.password)
    with school.writing() as connection:
        if _is_code(connection, account, asked.code):
            use_link(connection, asked.word)
            _keep(connection, account, hashed)
            return begin_session(connection, account, asked.device)
        note_attempt(connection, subject)
    raise BriefError("`code`: this is not the code of just now")


def change_password(school: School, account: Account, session: int, *, old: str, new: str) -> None:
    """Choose another password; where else one is signed in, one is out.

    Raises
    ------
    BriefError
    """
    if not is_right(account.password, old):
        raise BriefError("`old`: this is not your password")
    demand_good(new, of=(account.name,))
    hashed = password_hash(new)
    with school.writing() as connection:
        _keep(connection, account, hashed, but=session)


def _keep(
    connection: SchoolConnection, account: Account, hashed: str, *, but: int | None = None
) -> None:
    keep_password(connection, account, hashed)
    end_sessions(connection, account, but=but)
    end_account_links(connection, account)
    write_down(connection, Audited.CHOSE_PASSWORD, by=account.number)


def begin_codes(school: School, account: Account, secret: str, code: str, password: str) -> None:
    """Ask for codes from now on, once it is seen that they are right.

    Raises
    ------
    BriefError
    """
    demand_own_password(account, password)
    step = step_of_code(secret, code, datetime.now(UTC), after=0)
    if step is None:
        raise BriefError("`code`: this is not the code of just now; is the phone's clock right?")
    with school.writing() as connection:
        keep_second_factor(connection, account, secret)
        note_code(connection, account, step)
        write_down(connection, Audited.ASKED_FOR_CODES, by=account.number)


def end_codes(school: School, account: Account, password: str) -> None:
    """Ask for codes no more.

    Raises
    ------
    BriefError
    """
    demand_own_password(account, password)
    with school.writing() as connection:
        keep_second_factor(connection, account, "")
        write_down(connection, Audited.LEFT_CODES, by=account.number)


def demand_own_password(account: Account, password: str) -> None:
    """Have who changes how one signs in say the password once more: a browser may stand open."""
    if not is_right(account.password, password):
        raise BriefError("`password`: this is not your password")


# Letting people in and out


def roles_let_in_by(
    connection: SchoolConnection, account: Account | None
) -> frozenset[AccountRole]:
    """Whom somebody may let in and out.

    An owner, and whoever sits at the machine itself, anybody; a teacher guardians and players; the
    one teacher of a desk the first owner.
    """
    if account is None:
        return frozenset() if is_school(connection) else frozenset({AccountRole.OWNER})
    if account is THE_MACHINE or account.role is AccountRole.OWNER:
        return frozenset(AccountRole)
    return frozenset({AccountRole.GUARDIAN, AccountRole.STUDENT})


def _demand_role(connection: SchoolConnection, by: Account | None, role: AccountRole) -> None:
    if role not in roles_let_in_by(connection, by):
        raise NotAllowed(f"to let in and out who comes as {role} is for the owner of the school")


def _number(by: Account | None) -> int | None:
    """Under which number it is written down who did something; None for who has no row."""
    return None if by is None or by is THE_MACHINE else by.number


def invite(
    school: School,
    name: str,
    role: AccountRole,
    *,
    player: int | None = None,
    by: Account | None = None,
) -> str:
    """Let somebody in; the word of the link by which a password is chosen.

    For who has a guardian here, the guardian decides from now on, until a teacher says otherwise.

    Parameters
    ----------
    player : int or None
        The number of the student: who it is, or whose guardian.
    by : Account or None
        Who invites; None for who has not signed in.

    Raises
    ------
    BriefError, NoSuchThing, NotAllowed
    """
    if (role in {AccountRole.STUDENT, AccountRole.GUARDIAN}) != (player is not None):
        raise BriefError("`player`: say which player a guardian or a player is of; for no one else")
    is_player = role is AccountRole.STUDENT
    with school.writing() as connection:
        _demand_role(connection, by, role)
        if player is not None:
            student_of_number(connection, player)
        account = add_account(connection, name, role, student=player if is_player else None)
        if role is AccountRole.GUARDIAN and player is not None:
            keep_wards(connection, account, {player})
            note_age(connection, player, is_under=True, by=_number(by))
        write_down(connection, Audited.INVITED, by=_number(by), whose=account.number)
        return make_account_link(connection, account)


def new_link(school: School, number: int, *, by: Account | None) -> str:
    """Another link for who has lost a password, or the phone with the codes: without mail.

    Whoever was signed in is out: the phone may be in other hands.

    Raises
    ------
    NoSuchThing
    """
    with school.writing() as connection:
        account = find_account(connection, number)
        _demand_role(connection, by, account.role)
        keep_second_factor(connection, account, "")
        end_sessions(connection, account)
        end_account_links(connection, account)
        write_down(connection, Audited.MADE_LINK, by=_number(by), whose=number)
        return make_account_link(connection, account)


def let_out(school: School, number: int, *, by: Account | None) -> None:
    """Let somebody sign in no more.

    Raises
    ------
    NoSuchThing, BriefError
    """
    with school.writing() as connection:
        account = find_account(connection, number)
        _demand_role(connection, by, account.role)
        end_account(connection, number)
        end_sessions(connection, account)
        write_down(connection, Audited.ENDED_ACCOUNT, by=_number(by), whose=number)
