"""Where is somebody signed in? A word in a browser, which can be ended from elsewhere.

A word has 256 random bits; what is kept is its digest, so that who reads the database is let in
nowhere. A link by which a password is chosen is made in the same way, and works once.
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    and_,
    delete,
    insert,
    not_,
    or_,
    select,
    update,
)

from halfstep.errors import NoSuchThing
from halfstep.school.accounts import Account, find_account
from halfstep.school.tables import account_links, accounts, sessions

MARK = "session-"
"""How the word of a session begins, which no link's does."""
IDLE = timedelta(days=30)
"""Who does not come for so long signs in anew."""
LONGEST = timedelta(days=180)
"""And who comes each day, after so long."""
LINK_LASTS = timedelta(days=7)
_SEEN_EVERY = timedelta(minutes=5)
"""How exactly it is kept when somebody came last: each look would else be a change."""
LONGEST_DEVICE = 80


@dataclass(frozen=True, slots=True)
class Session:
    """Somebody signed in somewhere.

    Attributes
    ----------
    number : int
    account : int
        The number of who it is.
    device : str
        What the browser says of itself, in few words.
    begun_at, seen_at : datetime
    """

    number: int
    account: int
    device: str
    begun_at: datetime
    seen_at: datetime


def begin_session(connection: Connection, account: Account, device: str) -> str:
    """Sign somebody in; the word that the browser is to keep."""
    word = MARK + secrets.token_urlsafe(32)
    row = {"account_id": account.number, **begun_in_browser(word, device)}
    connection.execute(insert(sessions), row)
    return word


def begun_in_browser(word: str, device: str) -> dict[str, object]:
    """What is kept of a word in a browser, which says something of itself, from now on."""
    now = datetime.now(UTC)
    shown = " ".join(device.split())[:LONGEST_DEVICE]
    return {"digest": word_digest(word), "device": shown, "begun_at": now, "seen_at": now}


def session_of(connection: Connection, word: str) -> Session | None:
    """The session of a word; None for one that is none, was ended, or is too old."""
    query = (
        select(sessions)
        .join(accounts, accounts.c.id == sessions.c.account_id)
        .where(sessions.c.digest == word_digest(word), accounts.c.ended_at.is_(None), *_lasting())
    )
    row = connection.execute(query).first()
    return None if row is None else _session(row)


def is_to_be_seen(session: Session) -> bool:
    """True where it is long enough ago that it was kept when somebody came."""
    return datetime.now(UTC) - session.seen_at > _SEEN_EVERY


def see_session(connection: Connection, session: Session) -> None:
    """Keep that somebody came."""
    now = datetime.now(UTC)
    connection.execute(update(sessions).where(sessions.c.id == session.number).values(seen_at=now))


def sessions_of(connection: Connection, account: Account) -> tuple[Session, ...]:
    """Where somebody is signed in, the last seen first."""
    query = (
        select(sessions)
        .where(sessions.c.account_id == account.number, *_lasting())
        .order_by(sessions.c.seen_at.desc(), sessions.c.id.desc())
    )
    return tuple(map(_session, connection.execute(query)))


def _lasting() -> tuple[ColumnElement[bool], ...]:
    now, table = datetime.now(UTC), sessions.c
    return table.ended_at.is_(None), table.seen_at > now - IDLE, table.begun_at > now - LONGEST


def forget_past(connection: Connection) -> None:
    """Remove sessions that have ended or are too old, and links that let nobody in any more."""
    now = datetime.now(UTC)
    connection.execute(delete(sessions).where(not_(and_(*_lasting()))))
    is_past = or_(account_links.c.used_at.is_not(None), account_links.c.expires_at < now)
    connection.execute(delete(account_links).where(is_past))


def _session(row: Row[Any]) -> Session:
    return Session(row.id, row.account_id, row.device, row.begun_at, row.seen_at)


def end_session(connection: Connection, account: Account, number: int) -> None:
    """Sign somebody out somewhere.

    Raises
    ------
    NoSuchThing
        When it is not the account's own session.
    """
    own = (sessions.c.id == number, sessions.c.account_id == account.number)
    if not _end(connection, *own):
        raise NoSuchThing("you are not signed in there; it may have been ended already")


def end_sessions(connection: Connection, account: Account, *, but: int | None = None) -> None:
    """Sign somebody out everywhere, but for one session."""
    others = () if but is None else (sessions.c.id != but,)
    _end(connection, sessions.c.account_id == account.number, *others)


def _end(connection: Connection, *which: ColumnElement[bool]) -> int:
    change = update(sessions).where(*which, sessions.c.ended_at.is_(None))
    return connection.execute(change.values(ended_at=datetime.now(UTC))).rowcount


# Links


def make_account_link(
    connection: Connection, account: Account, *, lasts: timedelta = LINK_LASTS
) -> str:
    """The word of a link by which somebody chooses a password, once.

    Earlier ones stand: who asks for one in another's name has nobody's end.
    """
    word, now = secrets.token_urlsafe(32), datetime.now(UTC)
    digest = word_digest(word)
    row = {"account_id": account.number, "digest": digest, "expires_at": now + lasts}
    connection.execute(insert(account_links), row)
    return word


def end_account_links(connection: Connection, account: Account) -> None:
    """Have no link of somebody work any more."""
    standing = (account_links.c.account_id == account.number, account_links.c.used_at.is_(None))
    change = update(account_links).where(*standing).values(used_at=datetime.now(UTC))
    connection.execute(change)


def account_of_link(connection: Connection, word: str) -> Account:
    """Who chooses a password by a link.

    Raises
    ------
    NoSuchThing
        When it is none, was used, or is too old.
    """
    query = select(account_links.c.account_id).where(*_usable(word))
    number = connection.scalar(query)
    if number is None:
        raise NoSuchThing(_NO_LINK)
    return find_account(connection, number)


def use_link(connection: Connection, word: str) -> None:
    """Have a link work no more: of two at once, one uses it.

    Raises
    ------
    NoSuchThing
    """
    change = update(account_links).where(*_usable(word)).values(used_at=datetime.now(UTC))
    if not connection.execute(change).rowcount:
        raise NoSuchThing(_NO_LINK)


_NO_LINK = "this link was used or is too old; ask who sent it for a new one"


def _usable(word: str) -> tuple[ColumnElement[bool], ...]:
    now = datetime.now(UTC)
    return (
        account_links.c.digest == word_digest(word),
        account_links.c.used_at.is_(None),
        account_links.c.expires_at > now,
    )


def word_digest(word: str) -> str:
    """What is kept of a word that lets somebody in."""
    return hashlib.sha256(word.encode()).hexdigest()
