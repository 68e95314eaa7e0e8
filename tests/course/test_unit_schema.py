"""The schema of a unit's file says what the reader says.

The schema's own grammar is held by jsonschema (MIT), an implementation of JSON Schema 2020-12.
"""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from halfstep.course.course_folder import OUR_FOLDER
from halfstep.course.unit_fields import MARK_FIELDS, PROGRESSION_FIELDS, UNIT_FIELDS
from halfstep.course.unit_file import unit_faults

SCHEMA: dict[str, Any] = json.loads(
    (Path(__file__).resolve().parents[2] / "docs" / "course-unit.schema.json").read_text("utf-8")
)
UNIT = tomllib.loads((OUR_FOLDER / "waltz.toml").read_text("utf-8"))


def fits(data: Any) -> bool:
    return jsonschema.Draft202012Validator(SCHEMA).is_valid(data)


def test_the_schema_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_it_has_the_fields_that_the_reader_has() -> None:
    assert list(SCHEMA["properties"]) == list(UNIT_FIELDS)
    needed = [field for field, rule in UNIT_FIELDS.items() if rule.default is ...]
    assert SCHEMA["required"] == needed
    for name, rules in (("progression", PROGRESSION_FIELDS), ("mark", MARK_FIELDS)):
        assert list(SCHEMA["$defs"][name]["properties"]) == list(rules)


@pytest.mark.parametrize("path", sorted(OUR_FOLDER.glob("*-*.toml")), ids=lambda path: path.stem)
def test_every_unit_of_ours_fits_it(path: Path) -> None:
    assert fits(tomllib.loads(path.read_text("utf-8")))


@pytest.mark.parametrize("field", UNIT_FIELDS)
@pytest.mark.parametrize("value", [None, 3, -1, "", "fast", [], ["fast"], [3], True, {}])
def test_what_does_not_fit_it_is_refused_by_the_reader(field: str, value: Any) -> None:
    """A field left out, and values of other kinds; the reader refuses some that fit, too."""
    data = {name: held for name, held in UNIT.items() if name != field}
    if value is not None:
        data[field] = value
    if not fits(data):
        assert list(unit_faults(data, Path("waltz.toml")))
