"""One student at the teacher's desk: who it is, the way in, all that is kept, and the way out."""

from __future__ import annotations

import tempfile
from collections.abc import Container, Iterator
from datetime import date, timedelta
from pathlib import Path

from starlette.responses import Response

from halfstep.app.tasks.class_tasks import change_player
from halfstep.app.tasks.student_tasks import kept_of
from halfstep.app.web.class_routes import shown_link
from halfstep.app.web.consent_view import consent_view
from halfstep.app.web.page import NO_FAULT, FormFault, form_fault, leads_to, page
from halfstep.app.web.player_form import PLAYER_FIELDS, PlayerForm, form_of, typed_player
from halfstep.app.web.practised_words import practised_days
from halfstep.app.web.visit import Visit
from halfstep.app.web.zip_stream import ZipMember, file_words, zip_response
from halfstep.errors import HalfstepError
from halfstep.school.audit import Audited, write_down
from halfstep.school.classes import classes_of, every_class
from halfstep.school.database import School
from halfstep.school.devices import devices_of, end_device
from halfstep.school.doublings import instruments_of
from halfstep.school.hand_outs import hand_outs_of_student
from halfstep.school.invitations import invite_student, links_of
from halfstep.school.kept_files import FolderFiles
from halfstep.school.leaving import erase_student, export_student
from halfstep.school.practised import practised_since
from halfstep.school.sent_takes import sent_takes_of
from halfstep.school.students import Student, student_of_number

PRACTISED_SHOWN = timedelta(days=14)
"""So far back what was practised stands on a student's page."""


def show_student(visit: Visit) -> Response:
    """One student."""
    return student_page(visit)


def student_page(
    visit: Visit,
    form: PlayerForm | None = None,
    fault: FormFault = NO_FAULT,
    other_fault: FormFault = NO_FAULT,
) -> Response:
    """The page of the student in the address, with what could not be taken.

    Parameters
    ----------
    visit : Visit
    form : PlayerForm, optional
        What was typed of who it is; None for what is kept.
    fault, other_fault : FormFault
        Of that, and of another instrument.
    """
    number = visit.number("number")
    with visit.school.reading() as connection:
        student = student_of_number(connection, number)
        link = links_of(connection, [student]).get(number)
        played = instruments_of(connection, student)
        inside = {one.number for one in classes_of(connection, student.name)}
        reach = visit.reach(connection)
        classes = [one for one in every_class(connection) if one.number in reach.classes]
        given = hand_outs_of_student(connection, number)
        sent = sent_takes_of(connection, number) if number in reach.senders else ()
        consents = consent_view(connection, number, visit.visitor)
        devices = devices_of(connection, number)
        practised = practised_since(connection, number, date.today() - PRACTISED_SHOWN)
    return page(
        visit,
        "student.html",
        status=422 if fault.line or other_fault.line else 200,
        student=student,
        played=played,
        other_fault=other_fault,
        link=None if link is None else shown_link(visit, link),
        classes=classes,
        inside=inside,
        given=given,
        sent=sent,
        consents=consents,
        devices=devices,
        practised=tuple(practised_days(practised)),
        form=form or form_of(student),
        fault=fault,
    )


def change_facts(visit: Visit) -> Response:
    """Keep other facts of a student, and other classes."""
    number, typed = visit.number("number"), typed_player(visit)
    classes = {int(text) for text in visit.texts("classes") if text.isdecimal()}
    try:
        change_player(visit.school, number, typed, classes, within=_own_classes(visit))
    except HalfstepError as error:
        return student_page(visit, PlayerForm(typed), form_fault(error, PLAYER_FIELDS))
    return leads_to(f"/students/{number}")


def _own_classes(visit: Visit) -> Container[int | None]:
    with visit.school.reading() as connection:
        return visit.reach(connection).classes


def end_one_device(visit: Visit) -> Response:
    """Know a student on a device no more: it was lost, or is somebody else's by now."""
    number = visit.number("number")
    with visit.school.writing() as connection:
        end_device(connection, number, visit.number("device"))
        by = visit.visitor.account_number
        write_down(connection, Audited.ENDED_DEVICE, by=by, student=number)
    return leads_to(f"/students/{number}#door")


def open_door(visit: Visit) -> Response:
    """Make a student's own link."""
    with visit.school.writing() as connection:
        student = student_of_number(connection, visit.number("number"))
        invite_student(connection, student.name)
    return leads_to(f"/students/{student.number}")


def save_student(visit: Visit) -> Response:
    """All that is kept of a student, in open formats, as one file."""
    student = _of_address(visit)
    name = file_words(student.name)
    with visit.school.reading() as connection:
        is_heard = student.number in visit.reach(connection).senders
    return zip_response(f"{name}.zip", _members(visit.school, student, name, is_heard))


def _members(school: School, student: Student, name: str, is_heard: bool) -> Iterator[ZipMember]:
    """The files, which are gone when they have been sent; takes for who may hear them."""
    with tempfile.TemporaryDirectory(prefix="halfstep-") as folder:
        files = Path(folder) / "files"
        for file in export_student(school, student.name, files, with_takes=is_heard):
            yield f"{name}/{file.name}", FolderFiles(files).blocks(file.name)


def ask_to_erase(visit: Visit) -> Response:
    """What goes when a student is erased: seen before it is done."""
    student = _of_address(visit)
    with visit.school.reading() as connection:
        given = hand_outs_of_student(connection, student.number or 0)
        sent = sent_takes_of(connection, student.number or 0)
    kept = kept_of(visit.school, student.name)
    return page(visit, "erase.html", student=student, kept=kept, given=given, sent=sent)


def erase(visit: Visit) -> Response:
    """Erase a student, once it was seen what goes."""
    student = _of_address(visit)
    erase_student(visit.school, student.name)
    return leads_to("/classes")


def _of_address(visit: Visit) -> Student:
    with visit.school.reading() as connection:
        return student_of_number(connection, visit.number("number"))
