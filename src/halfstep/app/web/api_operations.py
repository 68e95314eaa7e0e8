"""All that other programs can ask for: the requests of the program, and what the school keeps."""

from __future__ import annotations

import json
from dataclasses import MISSING, asdict
from dataclasses import fields as dataclass_fields
from typing import Any

from starlette.routing import BaseRoute

from halfstep.app.rights import ANYBODY, Deed, Right
from halfstep.app.tasks.student_tasks import AddStudent, keep_student
from halfstep.app.web.api import ApiCall, Operation, api_route, description
from halfstep.app.web.api_desk import DESK_OPERATIONS
from halfstep.app.web.api_schema import ANY_OBJECT, Schema, listed, object_schema, sendable_fields
from halfstep.app.web.kept_answers import kept_answer
from halfstep.errors import BriefError, NoSuchThing, ReadError
from halfstep.school.belonging import Thing, teach_class
from halfstep.school.classes import (
    SchoolClass,
    add_class,
    every_class,
    find_class,
    join_class,
    students_of,
)
from halfstep.school.jobs import Job, JobState, add_job, find_job
from halfstep.school.leaving import student_data
from halfstep.school.made_files import made_files
from halfstep.school.students import every_student, student_id, student_of_number
from halfstep.services.explain_chart import ExplainChart, explain_chart
from halfstep.services.read_chart import ReadChart, read_chart
from halfstep.services.show_course import ShowCourse, show_course
from halfstep.services.stored_requests import REQUESTS, Request, read_fields, request_text
from halfstep.services.write_etude import WriteEtude, write_one_etude
from halfstep.version import VERSION

AS_JOBS = ("make-lesson", "make-backing", "write-etude", "explain-chart", "read-chart")
"""What can be asked for without waiting; each of them makes files."""


def _body_of(name: str) -> Schema:
    kind = REQUESTS[name]
    return object_schema(kind, without=_unsendable(kind))


def _unsendable(kind: type) -> frozenset[str]:
    return frozenset(field.name for field in dataclass_fields(kind)) - sendable_fields(kind)


def _request(name: str, fields: dict[str, Any]) -> Request:
    """A request from what was sent; no file of this machine can be named in it.

    Raises
    ------
    ReadError
    """
    kind = REQUESTS[name]
    called = f"a request {name}"
    if closed := sorted(fields.keys() & _unsendable(kind)):
        raise ReadError(f"{called}: `{closed[0]}` cannot be sent")
    if any(isinstance(value, dict) for value in fields.values()):
        raise ReadError(f"{called}: its fields are text, numbers, truth values and lists of text")
    place = {name: {"file": "."} for name in ("folder",) if _is_needed(kind, name)}
    request: Request = read_fields(kind, fields | place, called=called)
    return request


def _is_needed(kind: type, name: str) -> bool:
    """True for a field that cannot be left out; a job's own folder takes its place."""
    return any(field.name == name and field.default is MISSING for field in dataclass_fields(kind))


def show_description(call: ApiCall) -> Any:
    """What can be asked for, as this document."""
    del call
    return description(OPERATIONS, VERSION)


def api_read_chart(call: ApiCall) -> Any:
    """A chart read, as data."""
    from halfstep.data.chart_json import chart_data

    request = _request("read-chart", call.body)
    assert isinstance(request, ReadChart)
    reply = read_chart(request)
    return {"chart": chart_data(reply.sheet), "notices": reply.notices}


def api_explain_chart(call: ApiCall) -> Any:
    """A chart explained: keys, functions, scales with their reasons, what changes."""
    request = _request("explain-chart", call.body)
    assert isinstance(request, ExplainChart)
    return explain_chart(request).data()


def api_write_etude(call: ApiCall) -> Any:
    """One etude over a chart, as data."""
    request = _request("write-etude", call.body)
    assert isinstance(request, WriteEtude)
    return json.loads(write_one_etude(request).file(".json").data)


def api_show_course(call: ApiCall) -> Any:
    """The course: its units in order."""
    request = _request("show-course", call.body)
    assert isinstance(request, ShowCourse)
    return show_course(request).data()


def list_students(call: ApiCall) -> Any:
    """Who studies, by name."""
    with call.school.reading() as connection:
        reach = call.visitor.reach(connection)
        students = [one for one in every_student(connection) if one.number in reach.students]
    return {"students": [{"number": each.number, **student_data(each)} for each in students]}


def api_add_student(call: ApiCall) -> Any:
    """Keep a student: a nickname, and what is played."""
    request = read_fields(AddStudent, call.body, called="a student")
    student = keep_student(call.school, request)
    return student_data(student)


def show_one_student(call: ApiCall) -> Any:
    """One who studies; players see themselves."""
    number = call.numbers["student"]
    with call.school.reading() as connection:
        student = student_of_number(connection, number)
    return {"number": number, **student_data(student)}


def list_classes(call: ApiCall) -> Any:
    """All classes, by name."""
    with call.school.reading() as connection:
        reach = call.visitor.reach(connection)
        classes = [one for one in every_class(connection) if one.number in reach.classes]
    return {"classes": [asdict(each) for each in classes]}


def api_add_class(call: ApiCall) -> Any:
    """A new class."""
    name = _only_text(call.body, "name")
    with call.school.writing() as connection:
        made, teacher = add_class(connection, name), call.visitor.teaches_as
        if teacher is not None:
            teach_class(connection, teacher, made.number)
    return asdict(made)


def show_one_class(call: ApiCall) -> Any:
    """A class and who is in it."""
    number = call.numbers["class"]
    with call.school.reading() as connection:
        found: SchoolClass = find_class(connection, number)
        students = students_of(connection, number)
    return {**asdict(found), "students": [each.name for each in students]}


def api_join_class(call: ApiCall) -> Any:
    """Put a student into a class."""
    number, name = call.numbers["class"], _only_text(call.body, "name")
    with call.school.writing() as connection:
        if call.visitor.teaches_as is not None:
            call.demand(connection, Thing.STUDENT, student_id(connection, name))
        join_class(connection, number, name)
    return show_one_class(call)


def _only_text(body: dict[str, Any], field: str) -> str:
    """The one field of a body.

    Raises
    ------
    BriefError
    """
    value = body.get(field)
    if not isinstance(value, str) or len(body) > 1:
        raise BriefError(f"`{field}`: send this text, and nothing else")
    return value


def api_add_job(call: ApiCall) -> Any:
    """Have files made: a lesson, a backing, an etude; the job says when they are there."""
    name, fields = call.body.get("request"), call.body.get("fields")
    if name not in AS_JOBS or not isinstance(fields, dict) or len(call.body) > 2:
        raise BriefError(f"`request`: send one of {', '.join(AS_JOBS)}, and its `fields`")
    text = request_text(_request(str(name), fields))
    with call.school.writing() as connection:
        job = add_job(connection, _belonging(call), text)
    call.site.wake()
    return job_data(job)


def api_show_job(call: ApiCall) -> Any:
    """How far a job is, and what it has made."""
    with call.school.reading() as connection:
        return job_data(_api_job(call, find_job(connection, call.numbers["job"])))


def api_job_file(call: ApiCall) -> Any:
    """One of the files that a job has made, by its place from 1."""
    with call.school.reading() as connection:
        job = _api_job(call, find_job(connection, call.numbers["job"]))
    names = made_files(job).kept_names if job.state is JobState.DONE else ()
    place = call.numbers["file"]
    if not 1 <= place <= len(names):
        raise NoSuchThing(f"the job has made {len(names)} files")
    return kept_answer(call.school.files, names[place - 1], is_saved=True)


def _belonging(call: ApiCall) -> str:
    """To what a job belongs that is asked for here: to who asks, where several teach."""
    account = call.visitor.account
    return "api" if account is None else f"api {account.number}"


def _api_job(call: ApiCall, job: Job) -> Job:
    """A job that was asked for here, by the same.

    Raises
    ------
    NoSuchThing
    """
    if job.belongs_to != _belonging(call):
        raise NoSuchThing(f"there is no job {job.number}")
    return job


def job_data(job: Job) -> dict[str, Any]:
    """A job as other programs see it."""
    made = made_files(job).names if job.state is JobState.DONE else ()
    return {
        "number": job.number,
        "state": str(job.state),
        "progress": job.progress,
        "phrase": job.phrase,
        "trouble": job.trouble,
        "files": list(made),
    }


_TEXT: Schema = {"type": "string"}
_NAME: Schema = {
    "type": "object",
    "properties": {"name": {"type": "string", "minLength": 1, "maxLength": 60}},
    "required": ["name"],
    "additionalProperties": False,
}
_CLASS: Schema = {
    "type": "object",
    "properties": {
        "number": {"type": "integer"},
        "name": _TEXT,
        "is_archived": {"type": "boolean"},
    },
    "required": ["number", "name", "is_archived"],
}
_STUDENT: Schema = {
    "type": "object",
    "properties": {"name": _TEXT, "instrument": _TEXT, "level": _TEXT},
    "required": ["name", "instrument", "level"],
}
_JOB: Schema = {
    "type": "object",
    "properties": {
        "number": {"type": "integer"},
        "state": {"enum": [str(state) for state in JobState]},
        "progress": {"type": "number", "minimum": 0, "maximum": 1},
        "phrase": _TEXT,
        "trouble": _TEXT,
        "files": {"type": "array", "items": _TEXT},
    },
    "required": ["number", "state", "progress", "phrase", "trouble", "files"],
    "additionalProperties": False,
}
_ASK_JOB: Schema = {
    "type": "object",
    "properties": {"request": {"enum": list(AS_JOBS)}, "fields": ANY_OBJECT},
    "required": ["request", "fields"],
    "additionalProperties": False,
}

OPERATIONS: tuple[Operation, ...] = (
    Operation("GET", "/api/openapi.json", show_description, right=ANYBODY),
    Operation("POST", "/api/read-chart", api_read_chart, body=_body_of("read-chart")),
    Operation("POST", "/api/explain-chart", api_explain_chart, body=_body_of("explain-chart")),
    Operation("POST", "/api/write-etude", api_write_etude, body=_body_of("write-etude")),
    Operation("POST", "/api/show-course", api_show_course, body=_body_of("show-course")),
    Operation("GET", "/api/students", list_students, listed("students", _STUDENT)),
    Operation("POST", "/api/students", api_add_student, _STUDENT, object_schema(AddStudent), 201),
    Operation(
        "GET",
        "/api/students/{student}",
        show_one_student,
        _STUDENT,
        right=Right(Deed.SEE_WORK, Thing.STUDENT, "student"),
    ),
    Operation("GET", "/api/classes", list_classes, listed("classes", _CLASS)),
    Operation("POST", "/api/classes", api_add_class, _CLASS, _NAME, 201),
    Operation(
        "GET",
        "/api/classes/{class}",
        show_one_class,
        _CLASS,
        right=Right(Deed.KEEP_DESK, Thing.CLASS, "class"),
    ),
    Operation(
        "POST",
        "/api/classes/{class}/students",
        api_join_class,
        _CLASS,
        _NAME,
        right=Right(Deed.KEEP_DESK, Thing.CLASS, "class"),
    ),
    Operation("POST", "/api/jobs", api_add_job, _JOB, _ASK_JOB, 202),
    Operation("GET", "/api/jobs/{job}", api_show_job, _JOB),
    Operation("GET", "/api/jobs/{job}/files/{file}", api_job_file, is_file=True),
    *DESK_OPERATIONS,
)


def api_routes() -> list[BaseRoute]:
    """The routes of all operations."""
    paths = dict.fromkeys(operation.path for operation in OPERATIONS)
    return [
        api_route(path, tuple(each for each in OPERATIONS if each.path == path)) for path in paths
    ]
