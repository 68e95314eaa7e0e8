"""The door: who comes, and where it leads."""

from __future__ import annotations

from starlette.responses import Response

from halfstep.app.rights import Visitor
from halfstep.app.tasks.account_tasks import sign_out
from halfstep.app.web.page import leads_to, page
from halfstep.app.web.visit import Visit, cookie_name, device_words, keep_word
from halfstep.errors import NotAllowed
from halfstep.school.accounts import is_school
from halfstep.school.classes import find_class, students_of
from halfstep.school.database import SchoolConnection
from halfstep.school.devices import begin_device, end_device
from halfstep.school.invitations import (
    Invitation,
    free_names,
    invitation_of,
    invite_student,
    is_desk_word,
    standing_invitation,
    use_invitation,
)


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
    """Where a link leads: it is asked first who comes, so that to look at a link uses nothing up.

    Programs that show what is behind a link, before somebody follows it, do no more than look.

    Raises
    ------
    NotAllowed
        When the link is none, was withdrawn, or opens no more.
    """
    word = visit.word("word")
    with visit.school.reading() as connection:
        if is_desk_word(visit.site.secret, word) and not is_school(connection):
            return let_in(visit, word, "/desk")
        invitation = invitation_of(connection, visit.site.secret, word)
        if invitation and invitation.student and invitation.student == visit.visitor.student:
            return leads_to("/room")
        if invitation is None or not invitation.is_open:
            raise NotAllowed(_LEADS_NOWHERE)
        if invitation.student:
            return page(visit, "welcome.html", student=invitation.student, word=word)
        assert invitation.class_number is not None
        school_class = find_class(connection, invitation.class_number)
        names = free_names(connection, students_of(connection, invitation.class_number))
    return page(visit, "who.html", school_class=school_class, names=names, word=word)


def come_in(visit: Visit) -> Response:
    """Come in by a link, and be known on this device from then on.

    By a class's link one comes in as one of the class: once for each name, so that nobody comes as
    somebody else.

    Raises
    ------
    NotAllowed
        When the link is none, opens no more, or the name is taken.
    NoSuchThing
        When another device was faster.
    """
    with visit.school.writing() as connection:
        invitation = invitation_of(connection, visit.site.secret, visit.word("word"))
        if invitation is None or not invitation.is_open:
            raise NotAllowed(_LEADS_NOWHERE)
        if invitation.class_number is not None:
            invitation = _chosen(connection, invitation.class_number, visit.text("name"))
        use_invitation(connection, invitation)
        assert invitation.student is not None
        assert invitation.student.number is not None
        device = device_words(visit.request)
        word = begin_device(connection, invitation.student.number, device)
    return let_in(visit, word, "/room")


_LEADS_NOWHERE = "this link leads nowhere any more; ask your teacher for a new one"


def _chosen(connection: SchoolConnection, class_number: int, name: str) -> Invitation:
    """The invitation of one of a class who has not come yet."""
    if name not in free_names(connection, students_of(connection, class_number)):
        raise NotAllowed(f"{name or 'nobody'} is not free to come in; ask your teacher")
    return standing_invitation(connection, invite_student(connection, name))


def go_out(visit: Visit) -> Response:
    """Be a stranger again, on a device that others use."""
    if visit.visitor.account:
        sign_out(visit.school, visit.visitor.account, visit.visitor.session)
    elif visit.visitor.device and visit.visitor.student:
        with visit.school.writing() as connection:
            end_device(connection, visit.visitor.student.number or 0, visit.visitor.device)
    response = leads_to("/")
    response.delete_cookie(cookie_name(visit.request), secure=visit.is_secure)
    # pages go from the browser; what it keeps of takes that were not sent yet stays the player's
    response.headers["clear-site-data"] = '"cache"'
    return response


def let_in(visit: Visit, word: str, path: str) -> Response:
    """Have the browser keep the word by which it is known, and go on."""
    response = leads_to(path)
    keep_word(visit, response, word)
    return response
