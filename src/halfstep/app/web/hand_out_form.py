"""What is asked when something is handed out? The fields, what they offer, what was typed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

from halfstep.app.tasks.chart_tasks import kept_sheet
from halfstep.app.tasks.handing_tasks import USUAL_STEPS, GiveLesson
from halfstep.app.tasks.line_tasks import HandedLine
from halfstep.app.web.line_form import Choices, line_choices
from halfstep.app.web.page_words import gettext, noted
from halfstep.app.web.visit import Visit
from halfstep.errors import BriefError
from halfstep.etude.steps import STEPS_AND_VOCABULARY, parse_steps
from halfstep.lesson.manner import TEMPO_BPM
from halfstep.level import Level
from halfstep.progression.sheet import LeadSheet
from halfstep.school.belonging import Reach, Thing
from halfstep.school.classes import every_class
from halfstep.school.database import SchoolConnection
from halfstep.school.hand_outs import latest_hand_out
from halfstep.school.kept_charts import KeptChart, find_chart
from halfstep.school.students import every_student
from halfstep.services.make_lesson import MakeLesson

HAND_OUT_FIELDS = {
    "whom": "For",
    "class_number": "For",
    "steps": "Steps",
    "key": "Key",
    "tempo_bpm": "Tempo",
    "style": "Feel",
    "due_on": "For the day",
    "note": "Your words",
    "chart": "The chart",
    "line": "The line",
}
DAYS_TO_PLAY = 7
"""Until it is due, unless another day is said."""
CYCLE = ("cycle", noted("as it stands, and a backing in every key"))


@dataclass(frozen=True, slots=True, kw_only=True)
class HandOutForm:
    """The form as it is shown.

    Attributes
    ----------
    chart : KeptChart
    line : int or None
        The number of the teacher's own line that goes before the steps.
    people, keys, styles : tuple of pairs
        What can be chosen, and how it is shown.
    steps, vocabulary : tuple of (str, str)
    whom, key, tempo_bpm, style, due_on, note : str
        What stands in the fields.
    chosen : tuple of str
        The steps.
    """

    chart: KeptChart
    line: int | None
    people: Choices
    keys: Choices
    styles: Choices
    steps: Choices
    vocabulary: Choices
    whom: str
    key: str
    tempo_bpm: str
    style: str
    due_on: str
    note: str
    chosen: tuple[str, ...]

    @property
    def asks_vocabulary(self) -> bool:
        """True where something of the vocabulary is chosen, so that it is shown."""
        return not set(dict(self.vocabulary)).isdisjoint(self.chosen)


def new_form(visit: Visit, connection: SchoolConnection, today: date) -> HandOutForm:
    """The form for a chart that is named in the address, with what is usual."""
    number, line = _number(visit.text("chart")) or 0, _number(visit.text("line"))
    visit.demand(connection, Thing.CHART, number)
    visit.demand(connection, Thing.LINE, line)
    chart = find_chart(connection, number)
    sheet = kept_sheet(chart)
    people = people_offered(connection, visit.reach(connection))
    return HandOutForm(
        chart=chart,
        line=line,
        people=people,
        keys=_keys(sheet),
        styles=line_choices().styles,
        steps=line_choices().steps,
        vocabulary=line_choices().vocabulary,
        whom=_usual(visit, connection, people),
        key="",
        tempo_bpm=f"{sheet.tempo_bpm or TEMPO_BPM[Level.BEGINNER]:g}",
        style="",
        due_on=(today + timedelta(days=DAYS_TO_PLAY)).isoformat(),
        note="",
        chosen=() if line else tuple(step.name for step in parse_steps(USUAL_STEPS)),
    )


def people_offered(connection: SchoolConnection, reach: Reach) -> Choices:
    """Whom something can be handed out to: classes first, then single students."""
    classes = (
        (f"class-{one.number}", one.name)
        for one in every_class(connection)
        if one.number in reach.classes
    )
    students = (
        (f"student-{one.number}", gettext("%(name)s alone", name=one.name))
        for one in every_student(connection)
        if one.number in reach.students
    )
    return (*classes, *students)


def _usual(visit: Visit, connection: SchoolConnection, people: Choices) -> str:
    """Who is named in the address, or had the last one, or comes first."""
    named = visit.text("whom")
    latest = latest_hand_out(connection)
    if not named and latest and latest.class_number:
        named = f"class-{latest.class_number}"
    offered = [key for key, _ in people]
    return named if named in offered else next(iter(offered), "")


def _keys(sheet: LeadSheet) -> Choices:
    is_minor = sheet.key is not None and sheet.key.minor
    keys = line_choices().minor_keys if is_minor else line_choices().major_keys
    name, words = CYCLE
    return (*keys, (name, gettext(words)))


def typed_form(visit: Visit, form: HandOutForm) -> HandOutForm:
    """The form with what was typed."""
    return replace(
        form,
        whom=visit.text("whom"),
        key=visit.text("key"),
        tempo_bpm=visit.text("tempo_bpm"),
        style=visit.text("style"),
        due_on=visit.text("due_on"),
        note=visit.text("note"),
        chosen=visit.texts("steps"),
    )


def lesson_asked_for(form: HandOutForm, line: HandedLine | None = None) -> GiveLesson:
    """What the form asks for; in the key of the line where no other is said.

    Raises
    ------
    BriefError, ReadError
        With the field.
    """
    kind, _, number = form.whom.partition("-")
    if form.whom not in dict(form.people):
        raise BriefError("`whom`: choose a class or a student; add one first where there is none")
    lesson = MakeLesson(
        chart=kept_sheet(form.chart),
        folder=Path("made"),
        instruments=(),
        steps=_steps(form),
        key=form.key or (line.key if line else None),
        tempo_bpm=_tempo(form.tempo_bpm),
        style=form.style or None,
        line=line.path if line else None,
    )
    return GiveLesson(
        lesson=lesson,
        title=form.chart.title,
        class_number=int(number) if kind == "class" else None,
        student=int(number) if kind == "student" else None,
        chart=form.chart.number,
        line=form.line,
        note=form.note.strip(),
        due_on=_day(form.due_on),
    )


def _steps(form: HandOutForm) -> str:
    known = {step.name for step in STEPS_AND_VOCABULARY}
    chosen = [name for name in form.chosen if name in known]
    if not chosen and form.line is None:
        raise BriefError("`steps`: choose one at least")
    return ",".join(chosen)


def _tempo(text: str) -> float | None:
    if not text.strip():
        return None
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise BriefError(
            f"`tempo_bpm` {text!r} is no number; give pulses a minute, such as 96"
        ) from None


def _day(text: str) -> date | None:
    if not text.strip():
        return None
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise BriefError(f"`due_on` {text!r} is no day; write it like 2026-03-09") from None


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else None
