"""A school of thirty in the midst of its term: what they were given, what they sent and were told.

Some of it is as long as it may be: names without a place to break, titles, words, a chart of
32 bars.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from unittest.mock import patch

from desks import THIRTY, Desk, fill_class
from handed_out import CHART, made, small_lesson
from sqlalchemy import update

from halfstep.app.tasks.chart_tasks import keep_chart, typed_content
from halfstep.app.tasks.handing_tasks import GiveLesson, give_lesson
from halfstep.app.tasks.heard_take_tasks import answer_take
from halfstep.app.tasks.line_tasks import BeginLine, begin_line
from halfstep.course.skill import Skill
from halfstep.data.documents import json_text
from halfstep.data.feedback_json import feedback_data
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.progression.load import typed_sheet
from halfstep.school.hand_outs import sheets_of
from halfstep.school.invitations import invite_student
from halfstep.school.kept_evidence import keep_evidence
from halfstep.school.sent_takes import keep_heard, keep_sent_take, store_recording
from halfstep.school.tables import sent_takes
from halfstep.services.make_lesson import MakeLesson
from made_feedback import made_feedback

ENDLESS = "W" * 60
"""The longest name, with no place to break."""
LONG_TITLE = " ".join(["Seventeen ways round the corner"] * 6)[:190]
LONG_CHART = "key: Eb\n" + "\n".join(
    ["| Ebmaj7 Cm7 | Fm7b5 Bb7#9b13 | Gm7 C7alt | Fm9 Bb13sus |"] * 16
)
LONG_WORDS = f"{ENDLESS * 4}\n\n" + "Slowly first, then once more without looking. " * 30
PLAYED = "busy"
"""The name of what is made of a take."""


def fill_school(desk: Desk, *, weeks: int) -> None:
    """Fill an empty desk with a term of so many weeks; the first player has the longest name."""
    players = ((ENDLESS, "alto-sax"), *THIRTY[1:])
    fill_class(desk, players, name="R" * 60)
    _give_links(desk, len(players))
    charts = [_chart(desk, CHART, "Two Roads"), _chart(desk, LONG_CHART, LONG_TITLE)]
    begin_line(desk.school, BeginLine(chart=charts[0], step="scale", instrument="alto-sax"))
    for week in range(weeks):
        due = date.today() + timedelta(days=5 - 7 * week)
        _handed_out_and_played(desk, charts[week % 2], due)
    with desk.school.writing() as connection:
        for name, _ in players:
            keep_evidence(connection, name, list(_evidence(weeks)))


def _give_links(desk: Desk, count: int) -> None:
    with desk.school.writing() as connection:
        for number in range(count):
            invite_student(connection, ENDLESS if number == 0 else THIRTY[number][0])


def _chart(desk: Desk, text: str, title: str) -> int:
    return keep_chart(desk.school, typed_content(text, title), of=None)


def _handed_out_and_played(desk: Desk, chart: int, due: date) -> None:
    lesson = MakeLesson(chart=typed_sheet(CHART), folder=desk.school.folder, instruments=())
    title, note = ("Two Roads", "Slowly first.") if chart == 1 else (LONG_TITLE, LONG_WORDS[:4000])
    request = GiveLesson(
        lesson=lesson, title=title, class_number=1, chart=chart, note=note, due_on=due
    )
    number = give_lesson(desk.school, request)
    with patch("halfstep.app.tasks.job_work.make_files", small_lesson):
        made(desk)
    with desk.school.reading() as connection:
        numbers = sorted(sheet.student.number or 0 for sheet in sheets_of(connection, number))
    for student in numbers:
        _played(desk, number, student, due)


def _played(desk: Desk, hand_out: int, student: int, due: date) -> None:
    """A take that was heard; those of the first half are answered."""
    file = desk.school.folder / "evening.wav"
    file.write_bytes(b"RIFF" + f"{student} {hand_out}".encode())
    stored = store_recording(desk.school, student, file)
    name = f"{ENDLESS * 3}.wav" if student == 1 else "evening.wav"
    with desk.school.writing() as connection:
        take = keep_sent_take(connection, stored, hand_out=hand_out, name=name)
        keep_heard(connection, take.number, feedback=_feedback(), folder=_pictures(desk))
        sent_at = datetime(due.year, due.month, due.day, 18, tzinfo=UTC) - timedelta(days=2)
        row = sent_takes.c.id == take.number
        connection.execute(update(sent_takes).where(row).values(sent_at=sent_at))
    if due < date.today() or student > len(THIRTY) // 2:
        answer_take(desk.school, take.number, words=LONG_WORDS[:900], marks={"tone": 3})


def _feedback() -> str:
    feedback, written = made_feedback()
    return json_text(feedback_data(feedback, written, ()))


def _pictures(desk: Desk) -> str:
    folder = desk.school.folder / "made" / PLAYED
    folder.mkdir(exist_ok=True)
    (folder / "feedback.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    return f"made/{PLAYED}"


def _evidence(weeks: int) -> list[Evidence]:
    """Five things on each of five days of a week."""
    now = datetime.now(UTC)
    units = ("one-chord", "back-door")
    return [
        Evidence(
            source=f"{day}",
            at=now - timedelta(days=day),
            skill=Skill(units[number % 2], "rhythm", number % 12),
            tempo_bpm=80.0,
            verdict=Verdict.CLEAN,
            weight=1.0,
            minutes=5.0,
        )
        for day in range(0, 7 * weeks)
        if day % 7 < 5
        for number in range(day, day + 5)
    ]
