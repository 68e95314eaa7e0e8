"""A unit's file -> a unit, or all that is wrong with it.

The file is ``NAME.toml``, named after the unit, with the fields of `UNIT_FIELDS`. A chart that
states no key is in C, or C minor where the unit is minor.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from halfstep.course.course_fault import CourseFault
from halfstep.course.unit import (
    MARKED_STEPS,
    CourseUnit,
    Facet,
    Measure,
    PassMark,
    Progression,
)
from halfstep.course.unit_fields import (
    MARK_FIELDS,
    UNIT_FIELDS,
    Row,
    mark_faults,
    row_faults,
    row_values,
)
from halfstep.errors import ReadError
from halfstep.level import Level
from halfstep.pitch import Name
from halfstep.progression.chart import spans
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text

UNIT_SUFFIX = ".toml"
_MOST_BYTES = 100_000
_NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_HEADER = re.compile(r"^\s*(key|title|style)\s*:", re.MULTILINE | re.IGNORECASE)
_SENTENCE_END = re.compile(r"[.!?](\s|$)")


def table_of(path: Path) -> dict[str, Any]:
    """What stands in a file.

    Raises
    ------
    ReadError
        When it cannot be read, or is no TOML: with line and column.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise ReadError(f"is longer than {_MOST_BYTES // 1000} kB", source=path.name)
        return tomllib.loads(path.read_text("utf-8"))
    except OSError as error:
        message = f"cannot read it: {error.strerror or error}"
        raise ReadError(message, source=path.name) from None
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise ReadError(f"is no TOML: {_lowered(str(error))}", source=path.name) from None


def _lowered(message: str) -> str:
    return message[:1].lower() + message[1:]


def unit_faults(data: Row, path: Path) -> Iterator[CourseFault]:
    """All that is wrong with a unit by itself."""
    texts = list(row_faults(data, UNIT_FIELDS))
    if not _NAME.fullmatch(path.stem):
        texts.append("name the file with small letters, digits and hyphens")
    if not texts:
        texts = [*_sense_faults(data), *_chart_faults(data)]
    return (CourseFault(path.name, text) for text in texts)


def _sense_faults(data: Row) -> Iterator[str]:
    """What does not fit together in fields that are right by themselves."""
    if data["goal_bpm"] < data["start_bpm"]:
        yield f"`goal_bpm` {data['goal_bpm']:g} is below `start_bpm` {data['start_bpm']:g}"
    if len(_SENTENCE_END.findall(data["goal"])) != 1:
        yield "`goal` is not one sentence; end it with a full stop"
    for number, mark in enumerate(data["marks"], 1):
        yield from (f"`marks` number {number}: {fault}" for fault in mark_faults(mark))
        step = MARKED_STEPS.get(Measure(mark["measure"]))
        if step and step not in data["steps"]:
            yield f"`marks` number {number}: {mark['measure']} needs {step!r} among `steps`"
    measures = [mark["measure"] for mark in data["marks"]]
    for measure in dict.fromkeys(word for word in measures if measures.count(word) > 1):
        yield f"`marks`: {measure} stands there twice"
    titles = [row["title"] for row in data["progressions"]]
    for title in dict.fromkeys(word for word in titles if titles.count(word) > 1):
        yield f"`progressions`: {title!r} stands there twice"


def _chart_faults(data: Row) -> Iterator[str]:
    for number, progression in enumerate(_progressions(data), 1):
        if fault := chart_fault(progression, data.get("minor", False)):
            yield f"`progressions` number {number}: {fault}"


def chart_fault(progression: Progression, is_minor: bool) -> str:
    """What is wrong with a chart; empty for nothing."""
    try:
        chart = played(read_sheet_text(progression.chart))
    except ReadError as error:
        return f"`chart`: {error}"
    if all(span.symbol.silent for span in spans(chart)):
        return "`chart` has no chord to play over"
    key = chart.key
    if key is None or key.tonic != Name(0):
        return f"`chart` is in {key}; write it in C, all other keys are made from it"
    if key.minor is not is_minor:
        word = "major" if is_minor else "minor"
        return f"`chart` is in {key}, a {word} key, and `minor` says otherwise"
    return ""


def unit_of(data: Row, name: str) -> CourseUnit:
    """The unit in data that is right."""
    values = row_values(data, UNIT_FIELDS)
    is_minor = values.pop("minor")
    return CourseUnit(
        **values
        | {
            "name": name,
            "needs": tuple(data["needs"]),
            "level": Level(data["level"]),
            "is_minor": is_minor,
            "steps": tuple(data["steps"]),
            "start_bpm": float(data["start_bpm"]),
            "goal_bpm": float(data["goal_bpm"]),
            "facets": tuple(map(Facet, data["facets"])),
            "advice": " ".join(data["advice"].split()),
            "progressions": _progressions(data),
            "marks": tuple(map(_mark, data["marks"])),
        }
    )


def _progressions(data: Row) -> tuple[Progression, ...]:
    return tuple(Progression(row["title"], _stated(row, data)) for row in data["progressions"])


def _stated(row: Row, data: Row) -> str:
    """The chart as text that states its title, its key and its style."""
    key = "Cm" if data.get("minor", False) else "C"
    headers = {"title": row["title"], "key": key, "style": data["style"]}
    stated = {header.lower() for header in _HEADER.findall(row["chart"])}
    lines = [f"{name}: {value}" for name, value in headers.items() if name not in stated]
    return "\n".join([*lines, row["chart"].strip()])


def _mark(row: Row) -> PassMark:
    values = row_values(row, MARK_FIELDS)
    return PassMark(Measure(values["measure"]), values["at_least"], values["at_most"])
