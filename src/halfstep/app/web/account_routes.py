"""Signing in and out, and one's own account: password, codes, where one is signed in."""

from __future__ import annotations

import re
from dataclasses import replace

from starlette.responses import Response

from halfstep.app.tasks.account_tasks import (
    JoinByLink,
    SignIn,
    begin_codes,
    change_password,
    end_codes,
    join_by_link,
    sign_in,
    sign_out,
)
from halfstep.app.tasks.mail_tasks import choose_mail
from halfstep.app.web.door_routes import home_of, let_in
from halfstep.app.web.invitation_routes import picture_address, squares
from halfstep.app.web.page import NO_FAULT, FormFault, form_fault, leads_to, page
from halfstep.app.web.visit import Visit, device_words, visitor_of
from halfstep.errors import BriefError, NotAllowed
from halfstep.school.accounts import Account
from halfstep.school.second_factor import new_secret, secret_address
from halfstep.school.sessions import account_of_link, sessions_of

_FIELDS = {"password": "Password", "old": "Password of now", "code": "Code", "mail": "Mail address"}


def show_sign_in(visit: Visit) -> Response:
    """The form to sign in."""
    return _sign_in(visit, NO_FAULT)


def _sign_in(visit: Visit, fault: FormFault, status: int = 200) -> Response:
    name = visit.text("name") if fault.line else ""
    return page(visit, "sign_in.html", status=status, name=name, fault=fault)


def do_sign_in(visit: Visit) -> Response:
    """Sign in; what was the browser's before is no more."""
    client = visit.request.client
    asked = SignIn(
        visit.text("name"),
        visit.text("password"),
        visit.text("code"),
        address=client.host if client else "",
        device=device_words(visit.request),
    )
    try:
        word = sign_in(visit.school, visit.site.secret, asked)
    except NotAllowed as error:
        status = 403 if type(error) is NotAllowed else 429
        return _sign_in(visit, form_fault(error, {}), status)
    return let_in(visit, word, home_of(visitor_of(visit.site, word)))


def show_join(visit: Visit) -> Response:
    """The form to choose a password by a link.

    Raises
    ------
    NoSuchThing
    """
    return _join(visit, NO_FAULT)


def _join(visit: Visit, fault: FormFault) -> Response:
    with visit.school.reading() as connection:
        account = account_of_link(connection, visit.word("word"))
    status = 422 if fault.line else 200
    word = visit.word("word")
    return page(visit, "join.html", status=status, account=account, word=word, fault=fault)


def join(visit: Visit) -> Response:
    """Choose a password by a link, which works no more."""
    try:
        device = device_words(visit.request)
        asked = JoinByLink(visit.word("word"), visit.text("password"), device, visit.text("code"))
        word = join_by_link(visit.school, visit.site.secret, asked)
    except BriefError as error:
        return _join(visit, form_fault(error, _FIELDS))
    return let_in(visit, word, home_of(visitor_of(visit.site, word)))


def show_account(visit: Visit) -> Response:
    """One's own account."""
    return _account(visit)


def _own(visit: Visit) -> Account:
    account = visit.visitor.account
    assert account is not None  # the address needs one
    return account


def _account(visit: Visit, fault: FormFault = NO_FAULT) -> Response:
    account = _own(visit)
    with visit.school.reading() as connection:
        sessions = sessions_of(connection, account)
    return page(
        visit,
        "account.html",
        status=422 if fault.line else 200,
        account=account,
        sessions=sessions,
        fault=fault,
    )


def _in_form(form: str, fault: FormFault) -> FormFault:
    """The fault of a form that asks for the password, as others of the page do."""
    return replace(fault, field=f"{form}-password") if fault.field == "password" else fault


def choose_password(visit: Visit) -> Response:
    """Choose another password."""
    old, new = visit.text("old"), visit.text("password")
    try:
        change_password(visit.school, _own(visit), visit.visitor.session, old=old, new=new)
    except BriefError as error:
        return _account(visit, form_fault(error, _FIELDS))
    return leads_to("/account")


def choose_mail_address(visit: Visit) -> Response:
    """Have links for a lost password go to an address."""
    try:
        choose_mail(visit.school, _own(visit), visit.text("mail"), visit.text("password"))
    except BriefError as error:
        return _account(visit, _in_form("mail", form_fault(error, _FIELDS)))
    return leads_to("/account#mail-of")


def sign_out_elsewhere(visit: Visit) -> Response:
    """Sign out on another device."""
    sign_out(visit.school, _own(visit), visit.number("session"), elsewhere=True)
    return leads_to("/account")


def ask_for_codes(visit: Visit) -> Response:
    """Show a new secret, to be tried before it counts."""
    return _codes(visit, new_secret(), NO_FAULT)


def _codes(visit: Visit, secret: str, fault: FormFault) -> Response:
    picture = picture_address(squares(secret_address(secret, _own(visit).name)))
    status = 422 if fault.line else 200
    return page(visit, "codes.html", status=status, secret=secret, picture=picture, fault=fault)


def do_begin_codes(visit: Visit) -> Response:
    """Ask for codes from now on."""
    secret = visit.text("secret")
    if not re.fullmatch(r"[A-Z2-7]{32}", secret):
        raise BriefError("`secret`: begin on your account's page once more")
    try:
        begin_codes(visit.school, _own(visit), secret, visit.text("code"), visit.text("password"))
    except BriefError as error:
        return _codes(visit, secret, form_fault(error, _FIELDS))
    return leads_to("/account")


def do_end_codes(visit: Visit) -> Response:
    """Ask for codes no more."""
    try:
        end_codes(visit.school, _own(visit), visit.text("password"))
    except BriefError as error:
        return _account(visit, _in_form("codes", form_fault(error, _FIELDS)))
    return leads_to("/account")
