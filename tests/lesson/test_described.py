"""The schema describes every field, and the guide's example is what the program writes."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from halfstep.data.lesson_json import lesson_data as data_of
from halfstep.etude.steps import parse_steps
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.brief import LessonBrief
from halfstep.lesson.make import make_lesson
from lesson.lesson_files import REPOSITORY, lesson_data, schema_faults
from typed_charts import read_chart_text

SCHEMA = json.loads((REPOSITORY / "docs" / "lesson.schema.json").read_text(encoding="utf-8"))
GUIDE = (REPOSITORY / "docs" / "json.md").read_text(encoding="utf-8")


def fields(schema: dict[str, Any], place: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every property named anywhere in a schema, with what the schema says of it."""
    for name, child in schema.get("properties", {}).items():
        yield f"{place}/{name}", child
    children = [schema.get("items"), *schema.get("anyOf", ()), *schema.get("$defs", {}).values()]
    children += schema.get("properties", {}).values()
    for child in filter(None, children):
        yield from fields(child, place)


def described(field: dict[str, Any]) -> bool:
    """True where the field, or the definition it points to, has a description."""
    if "$ref" in field and "description" not in field:
        field = SCHEMA["$defs"][field["$ref"].rsplit("/", 1)[-1]]
    return len(field.get("description", "")) > 5


def test_every_field_is_described() -> None:
    found = list(fields(SCHEMA))
    assert len(found) > 80
    assert [name for name, field in found if not described(field)] == []


@pytest.mark.slow
def test_a_field_the_schema_does_not_know_is_a_fault(small_lesson: Path) -> None:
    pytest.importorskip("jsonschema")
    data = lesson_data(small_lesson)
    data["players"][0]["shoe_size"] = 42
    assert len(schema_faults(data)) == 1


@pytest.mark.sampled
@pytest.mark.parametrize(
    ("place", "value"),
    [("tempo_bpm", 0), ("version", 1), ("level", "expert"), ("files", []), ("title", "")],
)
def test_a_wrong_value_is_a_fault(place: str, value: object, small_lesson: Path) -> None:
    pytest.importorskip("jsonschema")
    faults = schema_faults({**lesson_data(small_lesson), place: value})
    assert [fault.split(":")[0] for fault in faults] == [place]


def test_the_guide_names_every_field_at_the_top() -> None:
    assert [name for name in SCHEMA["properties"] if f"`{name}`" not in GUIDE] == []


def test_the_example_in_the_guide_is_what_the_program_writes() -> None:
    example = json.loads(re.findall(r"```json\n(.*?)```", GUIDE, re.DOTALL)[0])
    chart = read_chart_text(re.findall(r'halfstep lesson "(.*?)"', GUIDE)[0])
    lesson = make_lesson(LessonBrief(chart, steps=parse_steps("1")))
    assert data_of(lesson)["analysis"]["changes"][0] == example


def test_instrument_keys_fit_the_schema() -> None:
    pattern = SCHEMA["$defs"]["player"]["properties"]["instrument"]["pattern"]
    assert [key for key in INSTRUMENTS if not re.search(pattern, key)] == []


def test_a_rest_before_the_first_chord_stands_under_no_chord() -> None:
    """A rest belongs to the silence it fills, not to the chord before it."""
    chart = read_chart_text("| N.C. | C7 | N.C. | F7 |")
    data = data_of(make_lesson(LessonBrief(chart, steps=parse_steps("1"))))
    notes = data["players"][0]["steps"][0]["notes"]
    assert len(analyse(chart).chords) == 4
    assert {n["chord"] for n in notes if n["midi"] is None} == {0, 2}
    assert {n["chord"] for n in notes if n["midi"] is not None} == {1, 3}
