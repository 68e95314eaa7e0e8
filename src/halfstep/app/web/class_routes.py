"""Classes and who is in them: added, pasted as a list, let in by links, shown on one page."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import Response

from halfstep.app.rights import VisitorRole
from halfstep.app.tasks.class_tasks import EXAMPLE_LINE, add_player, add_players
from halfstep.app.tasks.handing_tasks import end_class
from halfstep.app.tasks.term_tasks import begin_term_again, end_term
from halfstep.app.web.page import NO_FAULT, FormFault, form_fault, leads_to, page
from halfstep.app.web.player_form import EMPTY, PLAYER_FIELDS, PlayerForm, typed_player
from halfstep.app.web.visit import Visit
from halfstep.errors import BriefError, HalfstepError
from halfstep.school.accounts import AccountRole, every_account
from halfstep.school.belonging import leave_teaching, teach_class, teachers_of
from halfstep.school.classes import (
    add_class,
    archived_classes,
    class_sizes,
    every_class,
    find_class,
    students_of,
    students_of_none,
)
from halfstep.school.consents import Purpose, allowing
from halfstep.school.hand_outs import hand_outs_of_class
from halfstep.school.invitations import (
    Invitation,
    invite_class,
    invite_student,
    link_of_class,
    link_word,
    links_of,
    standing_invitation,
)
from halfstep.school.students import Student


@dataclass(frozen=True, slots=True)
class ShownLink:
    """A link that lets somebody in.

    Attributes
    ----------
    number : int
        Of its invitation.
    address : str
    invitation : Invitation
        How long and on how many devices it opens.
    """

    number: int
    address: str
    invitation: Invitation


def shown_link(visit: Visit, invitation: Invitation) -> ShownLink:
    """The link of an invitation."""
    word = link_word(visit.site.secret, invitation.number, invitation.round)
    return ShownLink(invitation.number, visit.link(f"/in/{word}"), invitation)


def show_classes(visit: Visit) -> Response:
    """All classes."""
    return _classes(visit)


def _classes(visit: Visit, fault: FormFault = NO_FAULT) -> Response:
    with visit.school.reading() as connection:
        reach = visit.reach(connection)
        classes = [one for one in every_class(connection) if one.number in reach.classes]
        sizes = class_sizes(connection)
        archived = [one for one in archived_classes(connection) if one.number in reach.classes]
        outside = [one for one in students_of_none(connection) if one.number in reach.students]
    return page(
        visit,
        "classes.html",
        status=422 if fault.line else 200,
        classes=classes,
        archived=archived,
        sizes=sizes,
        outside=outside,
        typed=visit.text("name") if fault.line else "",
        fault=fault,
    )


def make_class(visit: Visit) -> Response:
    """Make a class."""
    try:
        with visit.school.writing() as connection:
            school_class = add_class(connection, visit.text("name"))
            if visit.visitor.teaches_as is not None:
                teach_class(connection, visit.visitor.teaches_as, school_class.number)
    except HalfstepError as error:
        return _classes(visit, form_fault(error, {"name": "Name"}))
    return leads_to(f"/classes/{school_class.number}")


def show_class(visit: Visit) -> Response:
    """One class: who is in it, how they come in, what they were given."""
    return class_page(visit)


def class_page(
    visit: Visit,
    form: PlayerForm = EMPTY,
    players: str = "",
    fault: FormFault = NO_FAULT,
    roster_faults: tuple[str, ...] = (),
) -> Response:
    """The page of the class in the address, with what could not be taken."""
    number = visit.number("number")
    with visit.school.reading() as connection:
        school_class = find_class(connection, number)
        students = students_of(connection, number)
        links = links_of(connection, students)
        recorded, heard = (
            allowing(connection, purpose) for purpose in (Purpose.RECORDING, Purpose.HEARING)
        )
        open_by = link_of_class(connection, number)
        door = None if open_by is None else standing_invitation(connection, open_by)
        given = hand_outs_of_class(connection, number)
        staff = [one for one in every_account(connection) if one.role is AccountRole.TEACHER]
        teaching = teachers_of(connection, number)
    return page(
        visit,
        "class.html",
        staff=staff if visit.visitor.role is VisitorRole.OWNER else (),
        teaching=teaching,
        status=422 if fault.line or roster_faults else 200,
        roster_faults=roster_faults,
        school_class=school_class,
        students=students,
        links=links,
        recorded=recorded,
        heard=heard,
        door=None if door is None else shown_link(visit, door),
        given=given,
        form=form,
        players=players,
        example=EXAMPLE_LINE,
        fault=fault,
    )


def make_player(visit: Visit) -> Response:
    """Add a player to a class."""
    typed = typed_player(visit)
    try:
        add_player(visit.school, visit.number("number"), typed)
    except HalfstepError as error:
        return class_page(visit, PlayerForm(typed), fault=form_fault(error, PLAYER_FIELDS))
    return _to_class(visit)


def make_players(visit: Visit) -> Response:
    """Add a list of players to a class."""
    text = visit.text("players")
    try:
        add_players(visit.school, visit.number("number"), text)
    except HalfstepError as error:
        return class_page(visit, players=text, fault=form_fault(error, PLAYER_FIELDS))
    return _to_class(visit)


def do_end_class(visit: Visit) -> Response:
    """Remove a class; its players stay."""
    end_class(visit.school, visit.number("number"))
    return leads_to("/classes")


def put_away(visit: Visit) -> Response:
    """Put a class away when its term is over; by a name, its players go on as another class."""
    number, name = visit.number("number"), visit.text("name")
    try:
        following = end_term(visit.school, number, next_name=name)
    except BriefError as error:
        return class_page(visit, fault=form_fault(error, {"name": "Next term"}))
    return leads_to(f"/classes/{following.number}")


def take_out(visit: Visit) -> Response:
    """Take a class out again."""
    begin_term_again(visit.school, visit.number("number"))
    return _to_class(visit)


def choose_teachers(visit: Visit) -> Response:
    """Say who teaches a class."""
    number = visit.number("number")
    chosen = {int(text) for text in visit.texts("teachers") if text.isdecimal()}
    with visit.school.writing() as connection:
        for account in every_account(connection):
            if account.role is AccountRole.TEACHER:
                put = teach_class if account.number in chosen else leave_teaching
                put(connection, account.number, number)
    return _to_class(visit)


def open_class(visit: Visit) -> Response:
    """Make the link of a class."""
    number = visit.number("number")
    with visit.school.writing() as connection:
        find_class(connection, number)
        invite_class(connection, number)
    return _to_class(visit)


def invite_everybody(visit: Visit) -> Response:
    """Make a link for each of a class who has none that opens; they are shown to be printed."""
    number = visit.number("number")
    with visit.school.writing() as connection:
        for student in students_of(connection, number):
            invite_student(connection, student.name)
    return leads_to(f"/classes/{number}/links")


@dataclass(frozen=True, slots=True)
class PersonalLink:
    """A student with the link that lets this one in; None without any."""

    student: Student
    link: ShownLink | None


def show_links(visit: Visit) -> Response:
    """The links of a class, to be printed and cut."""
    number = visit.number("number")
    with visit.school.reading() as connection:
        school_class = find_class(connection, number)
        students = students_of(connection, number)
        links = links_of(connection, students)
    personal = [_personal(visit, student, links) for student in students]
    return page(
        visit,
        "class_links.html",
        school_class=school_class,
        personal=personal,
    )


def _personal(visit: Visit, student: Student, links: dict[int, Invitation]) -> PersonalLink:
    link = links.get(student.number or 0)
    return PersonalLink(student, None if link is None else shown_link(visit, link))


def _to_class(visit: Visit) -> Response:
    return leads_to(f"/classes/{visit.number('number')}")
