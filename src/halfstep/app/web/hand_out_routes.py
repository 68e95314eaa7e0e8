"""Something is handed out, seen on its way to each player, printed, saved, taken back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from starlette.responses import Response

from halfstep.app.tasks.handing_tasks import (
    give_again,
    give_lesson,
    has_failed,
    lesson_of,
    withdraw_hand_out,
    without_sheet,
)
from halfstep.app.tasks.line_tasks import line_for_players
from halfstep.app.web.hand_out_form import (
    HAND_OUT_FIELDS,
    HandOutForm,
    lesson_asked_for,
    new_form,
    typed_form,
)
from halfstep.app.web.page import NO_FAULT, FormFault, form_fault, leads_to, page
from halfstep.app.web.sheet_files import HANDOUT, file_named, sheet_files
from halfstep.app.web.visit import Visit
from halfstep.app.web.zip_stream import ZipMember, attachment, file_words, zip_response
from halfstep.errors import HalfstepError, NoSuchThing, worded
from halfstep.school.classes import find_class
from halfstep.school.database import School, SchoolConnection
from halfstep.school.hand_outs import HandOut, Sheet, find_hand_out, sheets_of
from halfstep.school.jobs import Job, JobState
from halfstep.school.made_files import made_files
from halfstep.school.sent_takes import SentTake, sent_for
from halfstep.school.students import student_of_number
from halfstep.services.make_lesson import MakeLesson
from halfstep.services.unknown_keys import unknown_key

TROUBLE_FIELDS = {"known_notes": "known notes", "level": "level", "instruments": "instrument"}


def ask_to_hand_out(visit: Visit) -> Response:
    """The form for a chart."""
    return _form(visit, _new_form(visit))


def _new_form(visit: Visit) -> HandOutForm:
    with visit.school.reading() as connection:
        return new_form(visit, connection, date.today())


def _form(visit: Visit, form: HandOutForm, fault: FormFault = NO_FAULT) -> Response:
    status = 422 if fault.line else 200
    today = date.today()
    return page(visit, "hand_out_form.html", status=status, form=form, today=today, fault=fault)


def hand_out(visit: Visit) -> Response:
    """Hand out what was asked for."""
    form = typed_form(visit, _new_form(visit))
    try:
        line = None if form.line is None else line_for_players(visit.school, form.line)
        number = give_lesson(visit.school, lesson_asked_for(form, line))
    except NoSuchThing:
        raise
    except HalfstepError as error:
        return _form(visit, form, form_fault(error, HAND_OUT_FIELDS))
    visit.site.wake()
    return leads_to(f"/hand-outs/{number}")


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A player's line in the list of a hand-out.

    Attributes
    ----------
    sheet : Sheet
    handout : str
        The name of the file to read; empty before it is made.
    trouble : str
        Why there is none, and what would be right.
    notices : tuple of str
        What was not certain, or not as asked, of this player alone.
    unknown_key : str
        The key that it is read in, where the player does not know that one.
    sent : tuple of SentTake
    """

    sheet: Sheet
    handout: str
    trouble: str
    notices: tuple[str, ...]
    unknown_key: str
    sent: tuple[SentTake, ...]

    @property
    def job(self) -> Job | None:
        """What makes it."""
        return self.sheet.job

    @property
    def is_on_its_way(self) -> bool:
        """True while it is made, or waits to be."""
        return not self.handout and not self.trouble


def show_hand_out(visit: Visit) -> Response:
    """Who has it, and how far the others' sheets are."""
    with visit.school.reading() as connection:
        given = find_hand_out(connection, visit.number("number"))
        sheets = sheets_of(connection, given.number)
        senders = visit.reach(connection).senders
        sent = tuple(one for one in sent_for(connection, given.number) if one.student in senders)
        whom = _whom(connection, given)
        missing = without_sheet(connection, given)
    lesson = lesson_of(given)
    notices = _notices(sheets)
    lines = [_line(visit.school, sheet, lesson, notices, sent) for sheet in sheets]
    return page(
        visit,
        "hand_out.html",
        given=given,
        whom=whom,
        lines=lines,
        missing=missing,
        notices=notices,
        made=sum(bool(line.handout) for line in lines),
        failed=any(line.trouble for line in lines),
        is_on_its_way=any(line.is_on_its_way for line in lines),
    )


def _whom(connection: SchoolConnection, given: HandOut) -> tuple[str, str]:
    """Whom it is for, with the address of that page."""
    if given.class_number is not None:
        return find_class(connection, given.class_number).name, f"/classes/{given.class_number}"
    student = student_of_number(connection, given.student or 0)
    return student.name, f"/students/{student.number}"


def _notices(sheets: Sequence[Sheet]) -> tuple[str, ...]:
    """What is said of every sheet that is made, where there are several."""
    said = [_notices_of(sheet) for sheet in sheets if sheet.folder]
    if len(said) < 2:
        return ()
    return tuple(notice for notice in said[0] if all(notice in more for more in said))


def _notices_of(sheet: Sheet) -> tuple[str, ...]:
    is_done = sheet.job is not None and sheet.job.state is JobState.DONE
    return made_files(sheet.job).notices if sheet.job and is_done else ()


def _line(
    school: School,
    sheet: Sheet,
    lesson: MakeLesson,
    notices: tuple[str, ...],
    sent: tuple[SentTake, ...],
) -> SheetLine:
    student = sheet.student
    trouble = sheet.job.trouble if sheet.job and has_failed(sheet) else ""
    return SheetLine(
        sheet,
        file_named(sheet_files(school, sheet), HANDOUT, ".pdf"),
        worded(trouble, lambda field: TROUBLE_FIELDS.get(field, field.replace("_", " "))),
        tuple(notice for notice in _notices_of(sheet) if notice not in notices),
        unknown_key(lesson, student.instrument, student.keys),
        tuple(
            take
            for take in sent
            if (take.student, take.doubling) == (student.number, student.doubling)
        ),
    )


def hand_out_again(visit: Visit) -> Response:
    """Make what could not be made, and what is missing."""
    give_again(visit.school, visit.number("number"))
    visit.site.wake()
    return leads_to(f"/hand-outs/{visit.number('number')}")


def take_back(visit: Visit) -> Response:
    """Withdraw a hand-out."""
    withdraw_hand_out(visit.school, visit.number("number"))
    return leads_to("/desk")


def print_class(visit: Visit) -> Response:
    """The sheets of all as one book, with contents, each page with its player's name."""
    from halfstep.render.bound_pages import BoundPart, bound_pdf

    given, sheets = _made(visit)
    parts = [
        BoundPart(
            sheet.student.name,
            visit.school.files.content(f"{sheet.folder}/{name}"),
            sheet.student.instrument.label,
        )
        for sheet in sheets
        if (name := file_named(sheet_files(visit.school, sheet), HANDOUT, ".pdf"))
    ]
    pdf = bound_pdf(parts, title=given.title)
    name = attachment(f"{file_words(given.title)}.pdf").replace("attachment", "inline", 1)
    return Response(pdf, media_type="application/pdf", headers={"content-disposition": name})


def save_set(visit: Visit) -> Response:
    """All files of all players in open formats, as one file."""
    given, sheets = _made(visit)
    name = file_words(given.title)
    return zip_response(f"{name}.zip", _members(visit.school, name, sheets))


def _members(school: School, name: str, sheets: tuple[Sheet, ...]) -> Iterator[ZipMember]:
    for sheet in sheets:
        player = f"{file_words(sheet.student.name)}-{sheet.student.instrument.key}"
        for file in sheet_files(school, sheet):
            kept = school.files.blocks(f"{sheet.folder}/{file}")
            yield f"{name}/{sheet.number:03d}-{player}/{file}", kept


def _made(visit: Visit) -> tuple[HandOut, tuple[Sheet, ...]]:
    """A hand-out with the sheets that are made.

    Raises
    ------
    NoSuchThing
        When none is yet.
    """
    with visit.school.reading() as connection:
        given = find_hand_out(connection, visit.number("number"))
        sheets = tuple(sheet for sheet in sheets_of(connection, given.number) if sheet.folder)
    if not sheets:
        raise NoSuchThing("no sheet of it is made yet; wait a moment")
    return given, sheets
