"""Who comes in here: let in, given a new link, let out, and what was done."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.responses import Response

from halfstep.app.tasks.account_tasks import invite, let_out, new_link, roles_let_in_by
from halfstep.app.web.invitation_routes import picture_address, squares
from halfstep.app.web.page import NO_FAULT, FormFault, form_fault, leads_to, page
from halfstep.app.web.page_words import gettext, noted
from halfstep.app.web.visit import Visit
from halfstep.errors import BriefError, HalfstepError
from halfstep.school.accounts import (
    Account,
    AccountRole,
    every_account,
    every_ward,
    find_account,
    no_such_account,
)
from halfstep.school.audit import latest_lines
from halfstep.school.belonging import Reach, Thing
from halfstep.school.students import every_student

_FIELDS = {"name": "Name", "role": "Comes as", "player": "Player"}
_AS = {
    AccountRole.TEACHER: noted("teacher"),
    AccountRole.GUARDIAN: noted("guardian of a player"),
    AccountRole.STUDENT: noted("player, with a password"),
    AccountRole.OWNER: noted("owner: keeps the school, and lets people in and out"),
}


def show_people(visit: Visit) -> Response:
    """Who comes in here."""
    return _people(visit)


def _people(visit: Visit, fault: FormFault = NO_FAULT) -> Response:
    with visit.school.reading() as connection:
        reach = visit.reach(connection)
        wards = every_ward(connection)
        accounts = [one for one in every_account(connection) if _is_known(one, reach, wards)]
        students = [one for one in every_student(connection) if one.number in reach.students]
        roles = roles_let_in_by(connection, visit.visitor.account)
    return page(
        visit,
        "people.html",
        status=422 if fault.line else 200,
        accounts=accounts,
        names={one.number: one.name for one in students},
        roles=[(str(role), gettext(words)) for role, words in _AS.items() if role in roles],
        changeable=roles,
        players=[("", gettext("nobody"))] + [(str(one.number), one.name) for one in students],
        typed={name: visit.text(name) if fault.line else "" for name in _FIELDS},
        fault=fault,
    )


def let_somebody_in(visit: Visit) -> Response:
    """Let somebody in: the link by which a password is chosen is shown this once."""
    player, by = visit.text("player"), visit.visitor.account
    number = int(player) if player.isdecimal() and len(player) < 10 else None
    with visit.school.reading() as connection:
        visit.demand(connection, Thing.STUDENT, number)
    try:
        role = _role(visit.text("role"))
        word = invite(
            visit.school,
            visit.text("name"),
            role,
            player=number,
            by=by,
        )
    except HalfstepError as error:
        return _people(visit, form_fault(error, _FIELDS))
    return _link(visit, visit.text("name"), word)


def _role(text: str) -> AccountRole:
    try:
        return AccountRole(text)
    except ValueError:
        raise BriefError("`role`: choose one of the list") from None


def give_new_link(visit: Visit) -> Response:
    """Another link for who has lost a password."""
    account = _account(visit)
    word = new_link(visit.school, account.number, by=visit.visitor.account)
    return _link(visit, account.name, word)


def _account(visit: Visit) -> Account:
    with visit.school.reading() as connection:
        account = find_account(connection, visit.number("account"))
        if not _is_known(account, visit.reach(connection), every_ward(connection)):
            raise no_such_account()
    return account


def _is_known(account: Account, reach: Reach, wards: Mapping[int, frozenset[int]]) -> bool:
    """True for who teaches, and for the guardians and players of who works with these."""
    if account.is_staff:
        return True
    players = {account.student, *wards.get(account.number, ())}
    return any(number in reach.students for number in players)


def _link(visit: Visit, name: str, word: str) -> Response:
    address = visit.link(f"/join/{word}")
    picture = picture_address(squares(address))
    return page(visit, "people_link.html", name=name, address=address, picture=picture)


def let_somebody_out(visit: Visit) -> Response:
    """Let somebody sign in no more."""
    let_out(visit.school, _account(visit).number, by=visit.visitor.account)
    return leads_to("/people")


def show_log(visit: Visit) -> Response:
    """What was done, the last first."""
    with visit.school.reading() as connection:
        lines = latest_lines(connection)
        names = {one.number: one.name for one in every_account(connection)}
        players = {one.number: one.name for one in every_student(connection)}
    return page(visit, "people_log.html", lines=lines, names=names, players=players)
