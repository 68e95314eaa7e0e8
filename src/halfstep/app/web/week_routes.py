"""A student's own page: what is played this week, with its sounds, and where a take is sent."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from starlette.responses import Response

from halfstep.app.tasks.handing_tasks import has_failed
from halfstep.app.tasks.heard_take_tasks import OWN_LINE
from halfstep.app.tasks.practice_tasks import PlanDay, plan_week
from halfstep.app.tasks.sending_tasks import send_take
from halfstep.app.web.calendar_routes import calendar_link
from halfstep.app.web.consent_view import consent_view
from halfstep.app.web.kept_answers import kept_answer
from halfstep.app.web.page import NO_FAULT, FormFault, form_fault, leads_to, page
from halfstep.app.web.sheet_files import (
    HANDOUT,
    SheetStep,
    backing_named,
    file_named,
    sheet_files,
    steps_in,
)
from halfstep.app.web.visit import Visit, stored_upload
from halfstep.app.web.zip_stream import attachment, file_words
from halfstep.errors import HalfstepError, NoSuchThing, StoreError, TakeError
from halfstep.lesson.pages import CARE
from halfstep.school.database import School
from halfstep.school.doublings import instruments_of
from halfstep.school.hand_outs import (
    HandOut,
    Sheet,
    find_sheet,
    hand_outs_of_student,
    sheets_at_hand,
)
from halfstep.school.sent_takes import SentTake, sent_takes_of
from halfstep.school.shared_takes import takes_for
from halfstep.school.students import Student, student_of_number

STAYS_DAYS = 7
"""So long after its day a sheet stands among this week's."""
TAKE_FIELDS = {"take": "Your recording", "step": "What you played"}


@dataclass(frozen=True, slots=True)
class WeekSheet:
    """A sheet as its player sees it.

    Attributes
    ----------
    given : HandOut
    sheet : Sheet
    handout, backing : str
        Names of files; empty before they are made.
    steps : tuple of SheetStep
    sent : tuple of SentTake
    """

    given: HandOut
    sheet: Sheet
    handout: str
    backing: str
    steps: tuple[SheetStep, ...]
    sent: tuple[SentTake, ...]

    @property
    def is_on_its_way(self) -> bool:
        """True while it is made."""
        return not self.handout and not has_failed(self.sheet)


def show_week(visit: Visit) -> Response:
    """The sheets of this week."""
    return _week(visit)


def print_week(visit: Visit) -> Response:
    """A player's week on one page of paper, to be taken home."""
    number = visit.number("number")
    with visit.school.reading() as connection:
        student = student_of_number(connection, number)
    pdf = plan_week(visit.school, PlanDay(student.name)).pdf()
    name = attachment(f"{file_words(student.name)}-week.pdf").replace("attachment", "inline", 1)
    return Response(pdf, media_type="application/pdf", headers={"content-disposition": name})


def _week(visit: Visit, fault: FormFault = NO_FAULT, at: int = 0) -> Response:
    """The page; a fault stands at the form of the hand-out it belongs to."""
    student = visit.player()
    with visit.school.reading() as connection:
        sheets = {s.hand_out: s for s in sheets_at_hand(connection, student.number or 0)}
        given = [
            one
            for one in hand_outs_of_student(connection, student.number or 0)
            if one.number in sheets
        ]
        played = instruments_of(connection, student)
        sent = sent_takes_of(connection, student.number or 0)
        consents = consent_view(connection, student.number or 0, visit.visitor)
        shared = takes_for(connection, student.number or 0)
        names = {take.student: student_of_number(connection, take.student).name for take in shared}
    shown = [_shown(visit.school, one, sheets[one.number], sent) for one in given]
    oldest = date.today() - timedelta(days=STAYS_DAYS)
    current = [one for one in shown if (one.given.due_on or date.max) >= oldest]
    return page(
        visit,
        "week.html",
        status=422 if fault.line else 200,
        student=student,
        played=played,
        current=sorted(current, key=lambda one: (one.given.due_on or date.max, one.given.number)),
        earlier=[one for one in shown if one not in current],
        care=CARE,
        own_line=OWN_LINE,
        calendar=calendar_link(visit),
        fault=fault,
        fault_at=at,
        no_fault=NO_FAULT,
        consents=consents,
        shared=shared,
        names=names,
    )


def _shown(school: School, given: HandOut, sheet: Sheet, sent: tuple[SentTake, ...]) -> WeekSheet:
    names = sheet_files(school, sheet)
    return WeekSheet(
        given,
        sheet,
        file_named(names, HANDOUT, ".pdf"),
        backing_named(names),
        steps_in(names),
        tuple(take for take in sent if take.hand_out == given.number),
    )


def send_in(visit: Visit) -> Response:
    """Keep a take that was sent; it is acknowledged when it stands."""
    student, number = visit.player(), visit.number("hand_out")
    sheet = _own_sheet(visit, student, number)
    try:
        _sent(visit, student, sheet)
    except (TakeError, StoreError, NoSuchThing) as error:
        return _week(visit, form_fault(_at_file(error), TAKE_FIELDS), number)
    visit.site.wake()
    return leads_to(f"/week#sheet-{sheet.number}")


def _at_file(error: HalfstepError) -> HalfstepError:
    return type(error)(f"`take`: {error.marked_text}")


def _own_sheet(visit: Visit, student: Student, hand_out: int) -> Sheet:
    with visit.school.reading() as connection:
        sheets = sheets_at_hand(connection, student.number or 0)
    own = next((sheet for sheet in sheets if sheet.hand_out == hand_out), None)
    if own is None:
        raise NoSuchThing("there is no such sheet of yours; it may have been withdrawn")
    return own


def _sent(visit: Visit, student: Student, sheet: Sheet) -> SentTake:
    """The take in the form, kept."""
    upload = visit.upload("take")
    if upload is None:
        raise TakeError("choose a recording first")
    steps = {step.name for step in steps_in(sheet_files(visit.school, sheet))}
    step = visit.text("step")
    with tempfile.TemporaryDirectory(prefix="halfstep-") as folder:
        recording = stored_upload(upload, Path(folder))
        return send_take(
            visit.school,
            student,
            recording,
            name=recording.name,
            hand_out=sheet.hand_out,
            lesson=sheet.folder,
            step=step if step in steps else "",
        )


def show_sheet_file(visit: Visit) -> Response:
    """A file of a sheet: its handout, notation, sound; parts of it where a player asks for these.

    Raises
    ------
    NoSuchThing
    """
    with visit.school.reading() as connection:
        sheet = find_sheet(connection, visit.number("number"))
    name = visit.word("name")
    if name not in sheet_files(visit.school, sheet):
        raise NoSuchThing("there is no such file of this sheet; it may be made anew just now")
    lasts = {"cache-control": "private, max-age=600"}
    return kept_answer(visit.school.files, f"{sheet.folder}/{name}", headers=lasts)
