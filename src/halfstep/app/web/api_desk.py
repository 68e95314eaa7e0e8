"""What other programs can ask of the desk: charts, lines, what is handed out, and takes.

All of it goes the same way as what is done on the pages.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from halfstep.app.rights import Deed, Right
from halfstep.app.tasks.chart_tasks import changed_chart, keep_chart, kept_sheet, typed_content
from halfstep.app.tasks.handing_tasks import GiveLesson, give_lesson, withdraw_hand_out
from halfstep.app.tasks.heard_take_tasks import TEACHERS_LINES, answer_take
from halfstep.app.tasks.line_tasks import BeginLine, begin_line, line_for_players, open_line
from halfstep.app.tasks.sending_tasks import send_take
from halfstep.app.web.api import ApiCall, Operation
from halfstep.app.web.api_schema import Schema, listed, object_schema
from halfstep.app.web.calendar_routes import calendar_path
from halfstep.app.web.sheet_files import sheet_files, steps_in
from halfstep.errors import BriefError, NoSuchThing, NotAllowed, TakeError
from halfstep.lesson.feedback_pages import LEVELS
from halfstep.school.belonging import Thing
from halfstep.school.classes import find_class
from halfstep.school.hand_outs import (
    HandOut,
    Sheet,
    find_hand_out,
    hand_outs_of_class,
    hand_outs_of_student,
    sheets_at_hand,
    sheets_of,
    sheets_of_student,
)
from halfstep.school.kept_charts import KeptChart, every_chart, find_chart
from halfstep.school.sent_takes import SentTake, every_sent_take, find_sent_take, sent_takes_of
from halfstep.school.students import student_of_number
from halfstep.services.make_lesson import MakeLesson
from halfstep.services.stored_requests import read_fields

Sent = TypeVar("Sent")
LARGEST_NUMBER = 2**31 - 1
"""Of anything that is kept."""
_NUMBERS = ("chart", "line", "class_number", "student")


def _as_sent(kind: type[Sent], call: ApiCall, called: str) -> Sent:
    """What was sent, as a value.

    Raises
    ------
    ReadError
    NoSuchThing
        When a number in it is nobody's.
    """
    value = read_fields(kind, call.body, called=called)
    for name in _NUMBERS:
        number = getattr(value, name, None)
        if number is not None and not 0 < number <= LARGEST_NUMBER:
            raise NoSuchThing(f"`{name}`: there is none of this number")
    return value


# Charts and lines


@dataclass(frozen=True, slots=True)
class ChartAsSent:
    """A chart as another program sends it.

    Attributes
    ----------
    text : str
        As it is typed.
    title : str
    """

    text: str
    title: str = ""


def list_charts(call: ApiCall) -> Any:
    """All charts."""
    with call.school.reading() as connection:
        reach = call.visitor.reach(connection)
        entries = [one for one in every_chart(connection) if one.number in reach.charts]
    return {"charts": [{"number": one.number, "title": one.title} for one in entries]}


def api_keep_chart(call: ApiCall) -> Any:
    """Keep a chart."""
    sent = _as_sent(ChartAsSent, call, "a chart")
    content = typed_content(sent.text, sent.title)
    number = keep_chart(call.school, content, of=call.visitor.teaches_as)
    with call.school.reading() as connection:
        return _chart_data(find_chart(connection, number))


def show_one_chart(call: ApiCall) -> Any:
    """A chart as it is kept."""
    with call.school.reading() as connection:
        return _chart_data(find_chart(connection, call.numbers["chart"]))


def api_change_chart(call: ApiCall) -> Any:
    """Keep a chart with another text or title."""
    sent = _as_sent(ChartAsSent, call, "a chart")
    number = call.numbers["chart"]
    return _chart_data(changed_chart(call.school, number, title=sent.title, text=sent.text))


def _chart_data(kept: KeptChart) -> dict[str, Any]:
    return {"number": kept.number, "title": kept.title, "text": kept.text, "scales": kept.scales}


def api_begin_line(call: ApiCall) -> Any:
    """Write a line over a chart, and keep it."""
    sent = _as_sent(BeginLine, call, "a line")
    with call.school.reading() as connection:
        call.demand(connection, Thing.CHART, sent.chart)
    return {"number": begin_line(call.school, sent)}


def show_one_line(call: ApiCall) -> Any:
    """A line as it was written, with what was done to it since."""
    kept = open_line(call.school, call.numbers["line"]).kept
    return {
        "number": kept.number,
        "chart": kept.chart,
        "etude": json.loads(kept.etude),
        "edits": json.loads(kept.edits or "[]"),
        "locked": kept.locked,
    }


# What is handed out


@dataclass(frozen=True, slots=True)
class HandOutAsSent:
    """What another program hands out.

    Attributes
    ----------
    chart : int
    class_number, student : int or None
        Whom it is for: one of the two.
    steps : str
        As a lesson takes them; may be empty where there is a line.
    line : int or None
    key : str
        In concert pitch; empty leaves the chart where it is.
    tempo_bpm : float or None
    style : str
    note : str
        The teacher's words to it.
    due_on : str
        A day such as 2026-03-09; empty for none.
    """

    chart: int
    class_number: int | None = None
    student: int | None = None
    steps: str = "1-6"
    line: int | None = None
    key: str = ""
    tempo_bpm: float | None = None
    style: str = ""
    note: str = ""
    due_on: str = ""


def api_hand_out(call: ApiCall) -> Any:
    """Hand something out; each player's sheet is made beside this answer."""
    sent = _as_sent(HandOutAsSent, call, "a hand-out")
    number = give_lesson(call.school, _lesson_of(call, sent))
    call.site.wake()
    return _one_hand_out(call, number)


def _lesson_of(call: ApiCall, sent: HandOutAsSent) -> GiveLesson:
    with call.school.reading() as connection:
        call.demand(connection, Thing.CHART, sent.chart)
        call.demand(connection, Thing.LINE, sent.line)
        call.demand(connection, Thing.CLASS, sent.class_number)
        call.demand(connection, Thing.STUDENT, sent.student)
        chart = find_chart(connection, sent.chart)
        if (sent.class_number is None) == (sent.student is None):
            raise BriefError("`class_number`: say a class or a `student`, one of the two")
    line = None if sent.line is None else line_for_players(call.school, sent.line)
    lesson = MakeLesson(
        chart=kept_sheet(chart),
        folder=Path("made"),
        instruments=(),
        steps=sent.steps,
        key=sent.key or (line.key if line else None),
        tempo_bpm=sent.tempo_bpm,
        style=sent.style or None,
        line=line.path if line else None,
    )
    return GiveLesson(
        lesson=lesson,
        title=chart.title,
        class_number=sent.class_number,
        student=sent.student,
        chart=chart.number,
        line=sent.line,
        note=sent.note.strip(),
        due_on=_day(sent.due_on),
    )


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise BriefError(f"`due_on` {text!r} is no day; write it like 2026-03-09") from None


def show_one_hand_out(call: ApiCall) -> Any:
    """What was handed out, with each player's sheet."""
    return _one_hand_out(call, call.numbers["hand_out"])


def _one_hand_out(call: ApiCall, number: int) -> dict[str, Any]:
    with call.school.reading() as connection:
        given = find_hand_out(connection, number)
        sheets = sheets_of(connection, number)
    return _hand_out_data(given) | {"sheets": [_sheet_data(call, sheet) for sheet in sheets]}


def api_withdraw_hand_out(call: ApiCall) -> Any:
    """Withdraw what was handed out; takes that were sent stay."""
    withdraw_hand_out(call.school, call.numbers["hand_out"])
    return {"withdrawn": call.numbers["hand_out"]}


def list_hand_outs_of_class(call: ApiCall) -> Any:
    """What was handed out to a class."""
    number = call.numbers["class"]
    with call.school.reading() as connection:
        find_class(connection, number)
        given = hand_outs_of_class(connection, number)
    return {"hand_outs": [_hand_out_data(one) for one in given]}


def list_sheets_of_student(call: ApiCall) -> Any:
    """What a player was given, each with the files of the own sheet."""
    number = call.numbers["student"]
    with call.school.reading() as connection:
        student_of_number(connection, number)
        given = {one.number: one for one in hand_outs_of_student(connection, number)}
        sheets = sheets_of_student(connection, number)
    return {
        "sheets": [
            _hand_out_data(given[sheet.hand_out]) | _sheet_data(call, sheet) for sheet in sheets
        ]
    }


def _hand_out_data(given: HandOut) -> dict[str, Any]:
    return {
        "hand_out": given.number,
        "title": given.title,
        "note": given.note,
        "due_on": given.due_on.isoformat() if given.due_on else "",
    }


def _sheet_data(call: ApiCall, sheet: Sheet) -> dict[str, Any]:
    names = sheet_files(call.school, sheet)
    return {
        "sheet": sheet.number,
        "student": sheet.student.number,
        "instrument": sheet.student.instrument.key,
        "files": [f"/sheets/{sheet.number}/{name}" for name in names],
    }


# Takes


def list_takes(call: ApiCall) -> Any:
    """All takes that were sent, the newest first."""
    with call.school.reading() as connection:
        reach = call.visitor.reach(connection)
        takes = [one for one in every_sent_take(connection) if one.student in reach.senders]
    return {"takes": [_take_data(take) for take in takes]}


def list_takes_of_student(call: ApiCall) -> Any:
    """What a player sent, the newest first."""
    number = call.numbers["student"]
    with call.school.reading() as connection:
        student_of_number(connection, number)
        is_heard = number in call.visitor.reach(connection).senders
        takes = sent_takes_of(connection, number) if is_heard else ()
    return {"takes": [_take_data(take) for take in takes]}


def show_one_take(call: ApiCall) -> Any:
    """A take, with what was heard in it and what the teacher said."""
    with call.school.reading() as connection:
        take = find_sent_take(connection, call.numbers["take"])
    return _take_data(take) | {"feedback": json.loads(take.feedback or "null")}


def api_send_take(call: ApiCall) -> Any:
    """Send a recording of what was handed out: its bytes, and `name` with its ending."""
    student, number = call.visitor.student, call.numbers["hand_out"]
    if student is None or student.number is None:
        raise NotAllowed("takes are sent by a player's own word")
    with call.school.reading() as connection:
        sheets = sheets_at_hand(connection, student.number)
    sheet = next((one for one in sheets if one.hand_out == number), None)
    if sheet is None:
        raise NoSuchThing("there is no such sheet of yours; it may have been withdrawn")
    steps = {step.name for step in steps_in(sheet_files(call.school, sheet))}
    name, step = call.words["name"], call.words["step"]
    with tempfile.TemporaryDirectory(prefix="halfstep-") as folder:
        take = send_take(
            call.school,
            student,
            _recording(call, Path(folder)),
            name=Path(name).name,
            hand_out=number,
            lesson=sheet.folder,
            step=step if step in steps else "",
        )
    call.site.wake()
    return _take_data(take)


def _recording(call: ApiCall, folder: Path) -> Path:
    """What was sent, in a folder."""
    suffix = Path(call.words["name"]).suffix
    if not suffix or not suffix[1:].isalnum():
        raise TakeError("`name`: say what the recording is called, with its ending: kitchen.m4a")
    path = folder / f"take{suffix[:10]}"
    assert call.file is not None
    with path.open("wb") as file:
        shutil.copyfileobj(call.file, file)
    return path


def api_answer_take(call: ApiCall) -> Any:
    """Send the teacher's words about a take, and the lines that no program hears."""
    words, marks = call.body.get("words", ""), call.body.get("marks", {})
    unknown = call.body.keys() - {"words", "marks"}
    if unknown or not isinstance(words, str) or not _are_marks(marks):
        raise BriefError(
            f"`marks`: send `words` as text, and `marks` for {', '.join(TEACHERS_LINES)} as "
            f"numbers from 1 to {len(LEVELS)}"
        )
    answer_take(call.school, call.numbers["take"], words=words, marks=marks)
    return show_one_take(call)


def _are_marks(marks: Any) -> bool:
    return isinstance(marks, dict) and all(
        line in TEACHERS_LINES and type(level) is int and 1 <= level <= len(LEVELS)
        for line, level in marks.items()
    )


def _take_data(take: SentTake) -> dict[str, Any]:
    return {
        "number": take.number,
        "student": take.student,
        "hand_out": take.hand_out,
        "name": take.name,
        "sent_at": take.sent_at.isoformat(),
        "trouble": take.trouble,
        "words": take.words,
        "marks": take.levels,
        "is_answered": take.answered_at is not None,
    }


def show_calendar_address(call: ApiCall) -> Any:
    """Where the calendar (RFC 5545) of who asks is: the teacher's, or a player's own."""
    path = calendar_path(call.site, call.visitor)
    if not path:
        raise NotAllowed("the calendar is the teacher's, or a player's own")
    return {"path": path}


_TEXT: Schema = {"type": "string"}
_NUMBER: Schema = {"type": "integer"}
_MARKS: Schema = {
    "type": "object",
    "properties": {
        line: {"type": "integer", "minimum": 1, "maximum": len(LEVELS)} for line in TEACHERS_LINES
    },
    "additionalProperties": False,
}


def _object_of(**fields: Schema) -> Schema:
    return {"type": "object", "properties": fields, "required": list(fields)}


_CHART = _object_of(number=_NUMBER, title=_TEXT, text=_TEXT, scales=_TEXT)
_HAND_OUT = _object_of(hand_out=_NUMBER, title=_TEXT, note=_TEXT, due_on=_TEXT)
_TAKE = _object_of(
    number=_NUMBER,
    student=_NUMBER,
    hand_out={"type": ["integer", "null"]},
    name=_TEXT,
    sent_at=_TEXT,
    trouble=_TEXT,
    words=_TEXT,
    marks=_MARKS,
    is_answered={"type": "boolean"},
)
_ANSWER: Schema = {
    "type": "object",
    "properties": {"words": _TEXT, "marks": _MARKS},
    "additionalProperties": False,
}
_CHART_SENT = object_schema(ChartAsSent)
_HAND_OUT_SENT = object_schema(HandOutAsSent)

DESK_OPERATIONS: tuple[Operation, ...] = (
    Operation(
        "GET", "/api/charts", list_charts, listed("charts", _object_of(number=_NUMBER, title=_TEXT))
    ),
    Operation("POST", "/api/charts", api_keep_chart, _CHART, _CHART_SENT, 201),
    Operation(
        "GET",
        "/api/charts/{chart}",
        show_one_chart,
        _CHART,
        right=Right(Deed.KEEP_DESK, Thing.CHART, "chart"),
    ),
    Operation(
        "POST",
        "/api/charts/{chart}",
        api_change_chart,
        _CHART,
        _CHART_SENT,
        right=Right(Deed.KEEP_DESK, Thing.CHART, "chart"),
    ),
    Operation(
        "POST",
        "/api/lines",
        api_begin_line,
        _object_of(number=_NUMBER),
        object_schema(BeginLine),
        201,
    ),
    Operation(
        "GET",
        "/api/lines/{line}",
        show_one_line,
        _object_of(number=_NUMBER, chart=_NUMBER),
        right=Right(Deed.KEEP_DESK, Thing.LINE, "line"),
    ),
    Operation("POST", "/api/hand-outs", api_hand_out, _HAND_OUT, _HAND_OUT_SENT, 201),
    Operation(
        "GET",
        "/api/hand-outs/{hand_out}",
        show_one_hand_out,
        _HAND_OUT,
        right=Right(Deed.KEEP_DESK, Thing.HAND_OUT, "hand_out"),
    ),
    Operation(
        "POST",
        "/api/hand-outs/{hand_out}/withdraw",
        api_withdraw_hand_out,
        right=Right(Deed.KEEP_DESK, Thing.HAND_OUT, "hand_out"),
    ),
    Operation(
        "GET",
        "/api/classes/{class}/hand-outs",
        list_hand_outs_of_class,
        listed("hand_outs", _HAND_OUT),
        right=Right(Deed.KEEP_DESK, Thing.CLASS, "class"),
    ),
    Operation(
        "GET",
        "/api/students/{student}/sheets",
        list_sheets_of_student,
        listed("sheets", _HAND_OUT),
        right=Right(Deed.SEE_WORK, Thing.STUDENT, "student"),
    ),
    Operation(
        "GET", "/api/takes", list_takes, listed("takes", _TAKE), right=Right(Deed.ANSWER_TAKE)
    ),
    Operation(
        "GET",
        "/api/students/{student}/takes",
        list_takes_of_student,
        listed("takes", _TAKE),
        right=Right(Deed.SEE_WORK, Thing.STUDENT, "student"),
    ),
    Operation(
        "GET",
        "/api/takes/{take}",
        show_one_take,
        _TAKE,
        right=Right(Deed.SEE_WORK, Thing.TAKE, "take"),
    ),
    Operation(
        "POST",
        "/api/takes/{take}/answer",
        api_answer_take,
        _TAKE,
        _ANSWER,
        right=Right(Deed.ANSWER_TAKE, Thing.TAKE, "take"),
    ),
    Operation(
        "POST",
        "/api/hand-outs/{hand_out}/takes",
        api_send_take,
        _TAKE,
        status=201,
        takes_file=True,
        words=("name", "step"),
        right=Right(Deed.SEND_TAKE),
    ),
    Operation(
        "GET",
        "/api/calendar",
        show_calendar_address,
        _object_of(path=_TEXT),
        right=Right(Deed.SEE_WORK),
    ),
)
