"""A unit's file is read, or each thing that is wrong with it is told in a line."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.course.course_folder import OUR_FOLDER
from halfstep.course.unit import CourseUnit, Facet, Measure, PassMark
from halfstep.course.unit_fields import UNIT_FIELDS
from halfstep.course.unit_file import table_of, unit_faults, unit_of
from halfstep.errors import ReadError
from halfstep.level import Level

UNIT = """\
title = "Two bicycles"
goal = "You hear the second bicycle come."
needs = ["one-chord"]
level = "beginner"
steps = ["root-third", "arpeggio"]
keys = 3
start_bpm = 60
goal_bpm = 90.5
style = "swing"
facets = ["harmony"]
advice = \"""
Ride slowly.
Then ride on.\"""

[[progressions]]
title = "Left"
chart = "| C7 | F7 |"

[[progressions]]
title = "Right"
chart = "key: C\\n| C7 | Bb7 |"

[[marks]]
measure = "changes-on-time"
at_least = 0.6
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "two-bicycles.toml"


def read_unit(file: Path) -> CourseUnit:
    """The unit in a file; the first thing that is wrong is an error."""
    data = table_of(file)
    for fault in unit_faults(data, file):
        raise fault.error()
    return unit_of(data, file.stem)


def told(file: Path, text: str) -> list[str]:
    """All that is wrong with a file."""
    file.write_text(text, "utf-8")
    return list(map(str, unit_faults(table_of(file), file)))


def test_a_unit_is_what_stands_in_its_file(file: Path) -> None:
    file.write_text(UNIT, "utf-8")
    unit = read_unit(file)
    assert (unit.name, unit.title, unit.level) == ("two-bicycles", "Two bicycles", Level.BEGINNER)
    assert (unit.needs, unit.steps) == (("one-chord",), ("root-third", "arpeggio"))
    assert (unit.keys, unit.start_bpm, unit.goal_bpm) == (3, 60.0, 90.5)
    assert (unit.facets, unit.is_minor) == ((Facet.HARMONY,), False)
    assert unit.marks == (PassMark(Measure.CHANGES_ON_TIME, at_least=0.6),)
    assert unit.advice == "Ride slowly. Then ride on."


def test_a_chart_states_its_title_its_key_and_the_style_of_its_unit(file: Path) -> None:
    file.write_text(UNIT, "utf-8")
    left, right = read_unit(file).progressions
    assert left.chart == "title: Left\nkey: C\nstyle: swing\n| C7 | F7 |"
    assert right.chart == "title: Right\nstyle: swing\nkey: C\n| C7 | Bb7 |"


def test_a_minor_unit_is_in_c_minor(file: Path) -> None:
    text = UNIT.replace("keys = 3", "keys = 3\nminor = true").replace("C7 | F7", "Cm7 | Fm7")
    file.write_text(text.replace("key: C\\n| C7", "key: C dorian\\n| Cm7"), "utf-8")
    unit = read_unit(file)
    assert unit.is_minor
    assert "key: Cm\n" in unit.progressions[0].chart
    assert "key: C dorian\n" in unit.progressions[1].chart


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('title = "Two bicycles"\n', "", "`title` is missing; give a title of a few words"),
        ("keys = 3", "keys = 3\nkeyz = 3", "there is no field 'keyz'; did you mean keys?"),
        ("keys = 3", "keys = 0", "`keys` 0: give a whole number from 1 to 12"),
        ("keys = 3", "keys = 2.5", "`keys` 2.5: give a whole number from 1 to 12"),
        ("keys = 3", "keys = true", "`keys` True: give a whole number from 1 to 12"),
        ("keys = 3", 'keys = 3\nminor = "no"', "`minor` 'no': give true or false"),
        ("start_bpm = 60", "start_bpm = 6", "`start_bpm` 6: give pulses a minute from 40 to 300"),
        ("start_bpm = 60", "start_bpm = 92", "`goal_bpm` 90.5 is below `start_bpm` 92"),
        ("start_bpm = 60", "start_bpm = nan", "`start_bpm` nan: give pulses a minute"),
        ('"root-third"', '"root-fourth"', "`steps` 'root-fourth'; did you mean root-third?"),
        ('"root-third"', '"arpeggio"', "`steps` has 'arpeggio' twice"),
        ('["root-third", "arpeggio"]', "[]", "`steps` is empty; give names of steps"),
        ('["root-third", "arpeggio"]', '"scale"', "`steps` 'scale': give a list of names of steps"),
        ('"swing"', '"swung"', "`style` 'swung'; did you mean swing?"),
        ('"swing"', "3", "`style` 3: choose a style from swing, "),
        ('"harmony"', '"charm"', "`facets` 'charm'"),
        ('"beginner"', '"Beginner"', "`level` 'Beginner'; did you mean beginner?"),
        ("bicycle come.", "bicycle come. It rings.", "`goal` is not one sentence"),
        ("bicycle come.", "bicycle come", "`goal` is not one sentence"),
        ("| C7 | F7 |", "| C7 | Y7 |", "`progressions` number 1: `chart`: line 4, column 8: "),
        ("| C7 | F7 |", "| N.C. | % |", "number 1: `chart` has no chord to play over"),
        ("| C7 | F7 |", "tempo: 9\\n| C7 |", "number 1: `chart`: line 4, column 8: "),
        ("key: C\\n", "key: D\\n", "`progressions` number 2: `chart` is in D major; write it in C"),
        ("key: C\\n", "key: Cm\\n", "`chart` is in C minor, a minor key, and `minor` says other"),
        ('"Right"', '"Left"', "`progressions`: 'Left' stands there twice"),
        ('title = "Left"\n', "", "`progressions` number 1: `title` is missing; give a name"),
        ("at_least", "at_most", "`marks` number 1: `measure` changes-on-time: give `at_least`"),
        ("at_least = 0.6", "at_least = 60", "`at_least` 60: give a share from 0 to 1"),
        ('"changes-on-time"', '"form-slips"', "`measure` form-slips: give `at_most` alone"),
        ('"changes-on-time"', '"motif-kept"', "motif-kept needs 'motif' among `steps`"),
        ('"changes-on-time"', '"echoed-right"', "echoed-right needs 'echo' among `steps`"),
        ('"changes-on-time"', '"charm"', "`measure` 'charm'"),
    ],
)
def test_what_is_wrong_is_named_with_its_file_and_field(
    file: Path, old: str, new: str, fault: str
) -> None:
    assert UNIT.count(old) == 1 or old == "at_least"
    faults = told(file, UNIT.replace(old, new))
    assert len(faults) == 1
    assert faults[0].startswith("two-bicycles.toml: ")
    assert fault in faults[0]
    with pytest.raises(ReadError, match=r"^two-bicycles.toml: "):
        read_unit(file)


def test_all_that_is_wrong_is_told_at_once(file: Path) -> None:
    text = UNIT.replace("keys = 3", "keys = 13").replace("swing", "swung")
    assert len(told(file, text.replace('"harmony"', '"charm", "grace"'))) == 4


def test_one_progression_or_five_are_refused(file: Path) -> None:
    row = '[[progressions]]\ntitle = "{}"\nchart = "| C7 |"\n\n'
    more = UNIT + "".join(row.format(name) for name in "abc")
    assert told(file, more) == ["two-bicycles.toml: `progressions` are 5; give 2 to 4"]


def test_a_name_that_is_hard_to_type_is_refused(file: Path) -> None:
    faults = told(file.with_name("Two Bicycles.toml"), UNIT)
    assert faults == ["Two Bicycles.toml: name the file with small letters, digits and hyphens"]


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (b"title = ", "is no TOML: invalid value"),
        (b'title = "\xff"', "is no TOML: 'utf-8' codec"),
        (b"# " + b"x" * 100_001, "is longer than 100 kB"),
        (b"a = " + b"[" * 5000, "is no TOML: "),
    ],
)
def test_a_file_that_cannot_be_read_is_one_line(file: Path, content: bytes, fault: str) -> None:
    file.write_bytes(content)
    with pytest.raises(ReadError) as refused:
        read_unit(file)
    assert str(refused.value).startswith(f"two-bicycles.toml: {fault}")
    assert "\n" not in str(refused.value)


def test_a_file_that_is_not_there_is_one_line(file: Path) -> None:
    with pytest.raises(ReadError, match=r"^two-bicycles.toml: cannot read it: No such file"):
        read_unit(file)


@pytest.mark.parametrize("file", sorted(OUR_FOLDER.glob("*-*.toml")), ids=lambda path: path.stem)
def test_nothing_is_wrong_with_our_own_units(file: Path) -> None:
    assert list(unit_faults(table_of(file), file)) == []


anything: st.SearchStrategy[Any] = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=6),
        st.sampled_from(["echo", "swing", "harmony", "| C7 |", "changes-on-time", "form-slips"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.sampled_from(["title", "chart", "measure", "at_least", "at_most", "x"]), inner,
            max_size=4,
        ),
    ),
    max_leaves=8,
)  # fmt: skip


@pytest.mark.slow
@given(st.dictionaries(st.sampled_from([*UNIT_FIELDS, "other"]), anything, min_size=1))
def test_whatever_stands_in_a_file_it_is_a_unit_or_its_faults_are_single_lines(
    fields: dict[str, Any],
) -> None:
    data = {**tomllib.loads(UNIT), **fields}
    faults = list(map(str, unit_faults(data, Path("two-bicycles.toml"))))
    assert all(fault.isprintable() for fault in faults)
    if not faults:
        assert unit_of(data, "two-bicycles").name == "two-bicycles"
