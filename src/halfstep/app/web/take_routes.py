"""Takes: the teacher's queue, one take with the words about it, and a player's own."""

from __future__ import annotations

import json
from typing import Any

from starlette.responses import Response

from halfstep.app.tasks.heard_take_tasks import (
    TEACHERS_LINES,
    answer_take,
    awaited_hearing,
    hear_again,
    hearing_of,
)
from halfstep.app.web.consent_view import consent_view
from halfstep.app.web.kept_answers import kept_answer
from halfstep.app.web.page import form_fault, leads_to, page
from halfstep.app.web.practised_words import about_words
from halfstep.app.web.take_view import (
    LessonBacking,
    bare_name,
    lesson_backing,
    level_word,
    shown_take,
)
from halfstep.app.web.visit import Visit
from halfstep.data.about_json import read_about
from halfstep.errors import BriefError, NoSuchThing, NotAllowed
from halfstep.lesson.feedback_pages import LEVELS
from halfstep.school.belonging import Reach
from halfstep.school.classes import classes_of
from halfstep.school.kept_takes import take_name
from halfstep.school.sent_takes import (
    SentTake,
    every_sent_take,
    find_sent_take,
    sent_takes_of,
)
from halfstep.school.shared_takes import classes_hearing
from halfstep.school.students import every_student, student_of_number

FIELDS = {"words": "Your words"} | {line: line.title() for line in TEACHERS_LINES}
_LONG_ANSWERED = 40
"""Answered takes that the list shows."""


def show_takes(visit: Visit) -> Response:
    """What waits for words, and what has them."""
    with visit.school.reading() as connection:
        reach = visit.reach(connection)
        takes = [one for one in every_sent_take(connection) if one.student in reach.senders]
        names = {student.number: student.name for student in every_student(connection)}
    waiting = [take for take in takes if take.answered_at is None]
    answered = [take for take in takes if take.answered_at is not None][:_LONG_ANSWERED]
    return page(visit, "takes.html", waiting=waiting[::-1], answered=answered, names=names)


def show_take(visit: Visit) -> Response:
    """One take: what was heard, its sound, and the teacher's words."""
    return _teachers_page(visit, _take(visit))


def _teachers_page(visit: Visit, take: SentTake, *, status: int = 200, **shown: Any) -> Response:
    with visit.school.reading() as connection:
        student = student_of_number(connection, take.student)
        following = _following(connection, take, visit.reach(connection))
        consents = consent_view(connection, take.student, visit.visitor)
        reach = visit.reach(connection)
        hearing = classes_hearing(connection, take.number)
        classes = [
            one for one in classes_of(connection, student.name) if one.number in reach.classes
        ]
    fields = {"words": take.words, "levels": take.levels} | shown
    return page(
        visit,
        "take.html",
        status=status,
        take=take,
        student=student,
        about=about_words(read_about(take.about)) if take.about else "",
        job=awaited_hearing(visit.school, take),
        heard=shown_take(visit.school, take),
        backing=_backing(visit, take),
        lines=TEACHERS_LINES,
        level_words=LEVELS,
        following=following,
        consents=consents,
        classes=classes,
        hearing=hearing,
        **fields,
    )


def _following(connection: Any, take: SentTake, reach: Reach) -> SentTake | None:
    """The oldest other take that waits."""
    waiting = [
        each
        for each in every_sent_take(connection)
        if each.answered_at is None and each.student in reach.senders
    ]
    return next((each for each in reversed(waiting) if each.number != take.number), None)


def answer(visit: Visit) -> Response:
    """Send the teacher's words."""
    take = _take(visit)
    words, marks = visit.text("words"), _marks(visit)
    try:
        answer_take(visit.school, take.number, words=words, marks=marks)
    except BriefError as error:
        fault = form_fault(error, FIELDS)
        return _teachers_page(visit, take, status=422, fault=fault, words=words, levels=marks)
    return leads_to(f"/takes/{take.number}")


def _marks(visit: Visit) -> dict[str, int]:
    texts = {line: visit.text(line) for line in TEACHERS_LINES}
    numbers = {str(level) for level in range(1, len(LEVELS) + 1)}
    return {line: int(text) for line, text in texts.items() if text in numbers}


def hear_once_more(visit: Visit) -> Response:
    """Have a take heard again."""
    take = _take(visit)
    hear_again(visit.school, take.number)
    visit.site.wake()
    return leads_to(f"/takes/{take.number}")


def show_my_takes(visit: Visit) -> Response:
    """What a player sent, the newest first.

    Raises
    ------
    NotAllowed
    """
    student = visit.visitor.student
    if student is None or student.number is None:
        raise NotAllowed("these are a player's own takes; open them by the player's link")
    with visit.school.reading() as connection:
        takes = sent_takes_of(connection, student.number)
        consents = consent_view(connection, student.number, visit.visitor)
    return page(visit, "my_takes.html", takes=takes, consents=consents)


def show_my_take(visit: Visit) -> Response:
    """What was said of one of a player's own takes."""
    take = _take(visit)
    with visit.school.reading() as connection:
        consents = consent_view(connection, take.student, visit.visitor)
    return page(
        visit,
        "my_take.html",
        take=take,
        consents=consents,
        job=awaited_hearing(visit.school, take),
        heard=shown_take(visit.school, take),
        backing=_backing(visit, take),
        lines=[(line, level_word(take.levels[line])) for line in take.levels],
    )


def take_recording(visit: Visit) -> Response:
    """The recording itself."""
    return recording_answer(visit, _take(visit))


def recording_answer(visit: Visit, take: SentTake) -> Response:
    """What was recorded.

    Raises
    ------
    NoSuchThing
    """
    if not take.has_recording:
        raise NoSuchThing("the recording was kept as long as it may be, and has gone")
    return kept_answer(visit.school.files, take_name(take.file))


def take_backing(visit: Visit) -> Response:
    """The backing to which it was played.

    Raises
    ------
    NoSuchThing
    """
    take = _take(visit)
    backing = _backing(visit, take)
    if backing is None:
        raise NoSuchThing("this take has no backing")
    return kept_answer(visit.school.files, backing.name)


def take_file(visit: Visit) -> Response:
    """A file of the feedback: the engraved take, its pages, what is to be played next."""
    take = _take(visit)
    if not take.folder:
        raise NoSuchThing("this take was not heard yet")
    return kept_answer(visit.school.files, f"{take.folder}/{bare_name(visit.word('name'))}")


def _take(visit: Visit) -> SentTake:
    with visit.school.reading() as connection:
        return find_sent_take(connection, visit.number("take"))


def _backing(visit: Visit, take: SentTake) -> LessonBacking | None:
    """The backing of the lesson that the take is heard by."""
    job = hearing_of(visit.school, take)
    lesson = job and json.loads(job.request)["fields"].get("lesson")
    if not isinstance(lesson, dict):
        return None
    return lesson_backing(visit.school, str(lesson["file"]))
