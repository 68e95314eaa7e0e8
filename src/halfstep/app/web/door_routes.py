"""The door: who comes, and where it leads."""

from __future__ import annotations

from starlette.responses import Response

from halfstep.app.rights import STRANGER, Visitor
from halfstep.app.tasks.account_tasks import sign_out
from halfstep.app.web.page import leads_to, page
from halfstep.app.web.visit import Visit, cookie_name, visitor_of
from halfstep.errors import NotAllowed
from halfstep.school.classes import find_class, students_of
from halfstep.school.invitations import free_names, invite_student, link_word

_LASTS_S = 400 * 24 * 3600
"""A visitor is known that long without coming again; browsers keep no cookie longer."""


def show_door(visit: Visit) -> Response:
    """Where who is known goes on, and what a stranger should do."""
    home = home_of(visit.visitor)
    return leads_to(home) if home else page(visit, "door.html")


def home_of(visitor: Visitor) -> str:
    """Where somebody goes on; empty for who is not known."""
    if visitor.is_teacher:
        return "/desk"
    if visitor.student:
        return "/room"
    return "/wards" if visitor.account else ""


def follow_link(visit: Visit) -> Response:
    """Come in by a link; by a class's link, say first who it is.

    Raises
    ------
    NotAllowed
        When the link is none, or was withdrawn.
    """
    word = visit.word("word")
    visitor = visitor_of(visit.site, word)
    if visitor == STRANGER:
        raise NotAllowed("this link leads nowhere any more; ask your teacher for a new one")
    if visitor.class_number is None:
        return let_in(visit, word, home_of(visitor))
    with visit.school.reading() as connection:
        school_class = find_class(connection, visitor.class_number)
        names = free_names(connection, students_of(connection, visitor.class_number))
    return page(visit, "who.html", school_class=school_class, names=names, word=word)


def come_in(visit: Visit) -> Response:
    """Come in as one of a class: once for each name, so that nobody comes as somebody else.

    Raises
    ------
    NotAllowed
        When the link is none, or the name is taken.
    """
    visitor = visitor_of(visit.site, visit.word("word"))
    name = visit.text("name")
    if visitor.class_number is None:
        raise NotAllowed("this link leads nowhere any more; ask your teacher for a new one")
    with visit.school.writing() as connection:
        names = free_names(connection, students_of(connection, visitor.class_number))
        if name not in names:
            raise NotAllowed(f"{name or 'nobody'} is not free to come in; ask your teacher")
        number = invite_student(connection, name)
    return let_in(visit, link_word(visit.site.secret, number), "/room")


def go_out(visit: Visit) -> Response:
    """Be a stranger again, on a device that others use."""
    if visit.visitor.account:
        sign_out(visit.school, visit.visitor.account, visit.visitor.session)
    response = leads_to("/")
    response.delete_cookie(cookie_name(visit.request), secure=visit.is_secure)
    # pages go from the browser; what it keeps of takes that were not sent yet stays the player's
    response.headers["clear-site-data"] = '"cache"'
    return response


def let_in(visit: Visit, word: str, path: str) -> Response:
    """Have the browser keep the word by which it is known from now on."""
    response = leads_to(path)
    response.set_cookie(
        cookie_name(visit.request),
        word,
        max_age=_LASTS_S,
        httponly=True,
        samesite="lax",
        secure=visit.is_secure,
    )
    return response
