"""Requests as JSON, with a version: what a job stores, and a page or a script sends.

A file is written as ``{"file": NAME}``, a sheet that was read as ``{"sheet": DATA}``, what was
played as ``{"evidence": DATA}``, a plan as ``{"plan": DATA}`` and an edit of a line as
``{"edit": DATA}``; all else is text, numbers, truth values and lists of them.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import MISSING, Field, fields
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from halfstep.data.chart_json import chart_data, sheet_of_data
from halfstep.data.documents import JsonForm, json_text, read_document
from halfstep.data.evidence_json import evidence_data, read_evidence
from halfstep.data.line_json import edit_data, read_edit
from halfstep.data.plan_json import plan_data, plan_from
from halfstep.errors import ReadError
from halfstep.etude.line_edit import LineEdit, LineRewriting
from halfstep.practice.evidence import Evidence
from halfstep.practice.practice_plan import PracticePlan
from halfstep.progression.sheet import LeadSheet
from halfstep.services.check_course import CheckCourse
from halfstep.services.edit_line import EditLine
from halfstep.services.explain_chart import ExplainChart
from halfstep.services.give_feedback import GiveFeedback
from halfstep.services.hear_take import HearTake
from halfstep.services.line_versions import LineVersions
from halfstep.services.list_sounds import ListSounds
from halfstep.services.make_backing import MakeBacking
from halfstep.services.make_film import MakeFilm
from halfstep.services.make_lesson import MakeLesson
from halfstep.services.make_plan import MakePlan
from halfstep.services.make_running_order import MakeRunningOrder
from halfstep.services.outline_line import OutlineLine
from halfstep.services.read_chart import ReadChart
from halfstep.services.show_course import ShowCourse
from halfstep.services.show_progress import ShowProgress
from halfstep.services.write_etude import WriteEtude

Value = TypeVar("Value")

REQUEST_FORM = JsonForm("halfstep-request", "a request")

Request = (
    ReadChart
    | ExplainChart
    | WriteEtude
    | EditLine
    | LineVersions
    | MakeLesson
    | MakeBacking
    | MakeFilm
    | MakeRunningOrder
    | HearTake
    | GiveFeedback
    | OutlineLine
    | ListSounds
    | ShowCourse
    | CheckCourse
    | MakePlan
    | ShowProgress
)

REQUESTS: dict[str, type[Request]] = {
    "read-chart": ReadChart,
    "explain-chart": ExplainChart,
    "write-etude": WriteEtude,
    "edit-line": EditLine,
    "line-versions": LineVersions,
    "make-lesson": MakeLesson,
    "make-backing": MakeBacking,
    "make-film": MakeFilm,
    "make-running-order": MakeRunningOrder,
    "hear-take": HearTake,
    "give-feedback": GiveFeedback,
    "outline-line": OutlineLine,
    "list-sounds": ListSounds,
    "show-course": ShowCourse,
    "check-course": CheckCourse,
    "make-plan": MakePlan,
    "show-progress": ShowProgress,
}
"""All requests, by the names that they are stored under."""

_FIELD_TYPES = {"Path": Path, "LeadSheet": LeadSheet}
"""What the types of fields name that is loaded no sooner than a request needs it."""


def request_text(request: Request) -> str:
    """A request as JSON."""
    name = next(name for name, kind in REQUESTS.items() if isinstance(request, kind))
    stored = {field.name: _stored(getattr(request, field.name)) for field in fields(request)}
    return json_text({**REQUEST_FORM.head, "request": name, "fields": stored})


def _stored(value: object) -> Any:
    if isinstance(value, Path):
        return {"file": str(value)}
    if isinstance(value, LeadSheet):
        return {"sheet": chart_data(value)}
    if isinstance(value, Evidence):
        return {"evidence": evidence_data(value)}
    if isinstance(value, LineEdit | LineRewriting):
        return {"edit": edit_data(value)}
    if isinstance(value, PracticePlan):
        return {"plan": plan_data(value)}
    return [_stored(item) for item in value] if isinstance(value, tuple) else value


def read_request(source: str | Path) -> Request:
    """The request in a text or a file.

    Raises
    ------
    ReadError
        When it is no request of this program, or a field is missing, unknown or of another
        kind.
    """
    data = read_document(source, REQUEST_FORM)
    name, stored = data.get("request"), data.get("fields")
    if not isinstance(name, str) or name not in REQUESTS or not isinstance(stored, dict):
        raise ReadError(f"no request is called {name!r}; there are {', '.join(REQUESTS)}")
    return read_fields(REQUESTS[name], stored, called=f"a request {name}")


def read_fields(kind: type[Value], stored: dict[str, Any], *, called: str) -> Value:
    """A value of a frozen class from its fields, as they are stored.

    Parameters
    ----------
    kind : type
        A dataclass.
    stored : dict
    called : str
        What a message calls it.

    Raises
    ------
    ReadError
        When a field is missing, unknown or of another kind.
    """
    known = {field.name: field for field in fields(kind)}  # type: ignore[arg-type]
    if unknown := stored.keys() - known.keys():
        raise ReadError(f"{called} has no field {sorted(unknown)[0]!r}")
    if missing := [field.name for field in known.values() if _is_missing(field, stored)]:
        raise ReadError(f"{called} needs its field `{missing[0]}`")
    hints = get_type_hints(kind, localns=_FIELD_TYPES)
    values = {field: _value(field, value, hints[field]) for field, value in stored.items()}
    return kind(**values)


def _is_missing(field: Field[Any], stored: dict[str, Any]) -> bool:
    return field.default is MISSING and field.name not in stored


def _value(field: str, stored: Any, hint: Any) -> Any:
    value = _plain(stored)
    if not _fits(value, hint):
        shown = json.dumps(stored, ensure_ascii=False)[:40]
        raise ReadError(f"`{field}` {shown}: the request has something of another kind there")
    return value


def _undamaged(kind: str, read: Callable[[Any], object]) -> Callable[[Any], object]:
    """What reads data of a kind, and says in a line where they are damaged."""

    def read_whole(data: dict[str, Any]) -> object:
        try:
            return read(data)
        except (KeyError, TypeError, ValueError, ZeroDivisionError) as error:
            raise ReadError(f"the {kind} is damaged: {error!r}") from None

    return read_whole


_OF_DATA: dict[str, Callable[[Any], object]] = {
    "file": Path,
    "sheet": sheet_of_data,
    "evidence": _undamaged("evidence", read_evidence),
    "plan": plan_from,
    "edit": _undamaged("edit", read_edit),
}
"""What is stored under one word, and what reads it."""


def _plain(stored: Any) -> Any:
    """What a value that was stored stands for."""
    if isinstance(stored, list):
        return tuple(map(_plain, stored))
    if isinstance(stored, dict) and len(stored) == 1:
        (word, inner) = next(iter(stored.items()))
        if word in _OF_DATA and isinstance(inner, str if word == "file" else dict):
            return _OF_DATA[word](inner)
    return stored


def _fits(value: object, hint: Any) -> bool:
    """True for a value that a field of that type may have; whole numbers are numbers too."""
    if get_origin(hint) in {Union, UnionType}:
        return any(_fits(value, kind) for kind in get_args(hint))
    if get_origin(hint) is tuple:
        return isinstance(value, tuple) and _items_fit(value, get_args(hint))
    if hint is None or hint is NoneType:
        return value is None
    if hint is float:
        return isinstance(value, int | float) and not isinstance(value, bool)
    return isinstance(value, hint) and (hint is bool or not isinstance(value, bool))


def _items_fit(items: tuple[object, ...], kinds: tuple[Any, ...]) -> bool:
    if kinds[-1] is Ellipsis:
        return all(_fits(item, kinds[0]) for item in items)
    return len(items) == len(kinds) and all(map(_fits, items, kinds))
