"""A password that was forgotten: a link by mail, and an own address that it goes to.

What is answered, and when, is the same whether somebody of the name is here or has an address: all
that depends on it is done after the answer, in a thread.
"""

from __future__ import annotations

import sys
from datetime import timedelta
from threading import Thread

from halfstep.app.mail import LONGEST_MAIL, MailServer, is_mail_address, send_mail
from halfstep.app.tasks.account_tasks import demand_own_password
from halfstep.errors import BriefError, HalfstepError, TooManyTries
from halfstep.school.accounts import Account, AccountRole, account_named, keep_mail
from halfstep.school.attempts import demand_few, note_attempt, subject_of
from halfstep.school.audit import Audited, write_down
from halfstep.school.database import School
from halfstep.school.sessions import make_account_link

MAILED_LINK_LASTS = timedelta(hours=1)
MOST_MAILS_OF_NAME = 3
"""In a quarter of an hour; what is asked for beyond that is answered alike, and not sent."""
MOST_MAILS_OF_ADDRESS = 20


def choose_mail(school: School, account: Account, mail: str, password: str) -> None:
    """Have another address, or none.

    Raises
    ------
    BriefError
        When it is none, the password is wrong, or it is a player's account.
    """
    mail = mail.strip()
    if account.role is AccountRole.STUDENT:
        raise BriefError("`mail`: of players no address is kept; their teacher gives a new link")
    if mail and not is_mail_address(mail):
        raise BriefError(
            f"`mail`: give an address such as name@school.example, {LONGEST_MAIL} letters at most"
        )
    demand_own_password(account, password)
    with school.writing() as connection:
        keep_mail(connection, account, mail)
        write_down(connection, Audited.CHOSE_MAIL, by=account.number)


def ask_for_link(
    school: School, secret: bytes, server: MailServer, *, name: str, address: str
) -> Thread:
    """Have a link sent to who has a name, if anybody has, with an address; the thread that does it.

    Parameters
    ----------
    school : School
    secret : bytes
    server : MailServer
    name : str
        As typed.
    address : str
        From where on the net it is asked.

    Raises
    ------
    TooManyTries
        When it was asked too often from there.
    """
    folded = " ".join(name.split()).casefold()
    of_name, of_address = (
        subject_of(secret, kind, text) for kind, text in (("mail", folded), ("mail from", address))
    )
    with school.writing() as connection:
        demand_few(connection, of_address, MOST_MAILS_OF_ADDRESS)
        is_too_often = False
        try:
            demand_few(connection, of_name, MOST_MAILS_OF_NAME)
        except TooManyTries:
            is_too_often = True
        note_attempt(connection, of_name, of_address)
    thread = Thread(target=_send_link, args=(school, server, name, is_too_often), daemon=True)
    thread.start()
    return thread


def _send_link(school: School, server: MailServer, name: str, is_too_often: bool) -> None:
    try:
        with school.reading() as connection:
            account = account_named(connection, name)
        if account is None or not account.mail or is_too_often:
            return
        with school.writing() as connection:
            word = make_account_link(connection, account, lasts=MAILED_LINK_LASTS)
            write_down(connection, Audited.ASKED_FOR_LINK, whose=account.number)
        text = _TEXT.format(name=account.name, link=f"{server.pages}/join/{word}")
        send_mail(server, account.mail, "A new password", text)
    except (HalfstepError, OSError) as error:  # smtplib's errors are OSErrors
        print(f"a link could not be sent by mail: {type(error).__name__}", file=sys.stderr)


_TEXT = """\
Somebody, you perhaps, has asked for a new password for {name}.

Choose one here, within an hour; the link works once:

{link}

If it was not you, leave it: nothing has changed.
"""
