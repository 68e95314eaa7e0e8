"""A folder of units is a course, and all that is wrong with it is told at once."""

from __future__ import annotations

import shutil
from itertools import product
from pathlib import Path

import pytest

from halfstep.course.course_folder import OUR_FOLDER, judged_course, our_course, read_course
from halfstep.course.unit import Facet
from halfstep.errors import ReadError
from halfstep.etude.steps import STEPS_AND_VOCABULARY

ORDER = 'title = "Another course"\nunits = [{}]\n'


def unit_text(name: str) -> str:
    return (OUR_FOLDER / f"{name}.toml").read_text("utf-8")


def put(folder: Path, name: str, *, needs: str = "", like: str = "one-chord") -> None:
    """A unit of ours under another name and title, with other needs."""
    text = unit_text(like).replace("needs = []", f"needs = [{needs}]")
    lines = [f'title = "{name}"', *text.splitlines()[1:]]
    (folder / f"{name}.toml").write_text("\n".join(lines), "utf-8")


def put_order(folder: Path, *names: str) -> None:
    listed = ", ".join(f'"{name}"' for name in names)
    (folder / "course.toml").write_text(ORDER.format(listed), "utf-8")


def faults_of(folder: Path) -> list[str]:
    return [str(fault) for fault in judged_course(folder)[1] if "serves" not in fault.text]


@pytest.mark.slow
def test_nothing_is_wrong_with_our_own_course() -> None:
    course, faults = judged_course(OUR_FOLDER)
    assert faults == ()
    assert course == our_course()


def test_our_course_serves_all_steps_the_vocabulary_and_all_facets() -> None:
    units = our_course().units
    assert len(units) >= 24
    assert {step for unit in units for step in unit.steps} == {
        step.name for step in STEPS_AND_VOCABULARY
    }
    assert {facet for unit in units for facet in unit.facets} == set(Facet)


def test_the_steps_before_the_first_belong_to_the_first_units() -> None:
    first = {step for unit in our_course().units[:5] for step in unit.steps}
    assert {"rhythm", "echo", "question", "root-third"} <= first
    assert our_course().units[0].steps[0] == "rhythm"


def test_no_two_progressions_of_our_course_have_one_title_or_the_same_chords() -> None:
    progressions = [p for unit in our_course().units for p in unit.progressions]
    assert len({p.title for p in progressions}) == len(progressions)
    bars = ["".join(p.chart.splitlines()[3:]) for p in progressions]
    assert len(set(bars)) == len(bars)


def test_a_unit_stands_after_those_it_needs() -> None:
    names = [unit.name for unit in our_course().units]
    pairs = [(unit.name, need) for unit in our_course().units for need in unit.needs]
    assert [p for p in pairs if names.index(p[0]) <= names.index(p[1])] == []


def test_the_goal_is_faster_than_the_start_and_at_most_twice_as_fast() -> None:
    for unit in our_course().units:
        assert unit.start_bpm < unit.goal_bpm
        assert unit.goal_bpm <= 2 * unit.start_bpm


def test_a_folder_without_an_order_adds_its_units_behind_what_they_need(tmp_path: Path) -> None:
    put(tmp_path, "stairs", needs='"two-dominants"')
    put(tmp_path, "attic", needs='"stairs"')
    names = [unit.name for unit in read_course(tmp_path).units]
    place = names.index("two-dominants")
    assert names[place : place + 4] == ["two-dominants", "stairs", "attic", "one-four-five"]
    assert len(names) == len(our_course().units) + 2


def test_a_unit_of_the_same_name_takes_the_place_of_ours(tmp_path: Path) -> None:
    text = unit_text("two-dominants").replace("keys = 3", "keys = 5")
    (tmp_path / "two-dominants.toml").write_text(text, "utf-8")
    course = read_course(tmp_path)
    unit = course.unit("two-dominants")
    assert unit
    assert unit.keys == 5
    assert [u.name for u in course.units] == [u.name for u in our_course().units]


def test_a_course_of_its_own_may_take_units_of_ours(tmp_path: Path) -> None:
    put(tmp_path, "stairs", needs='"one-chord"')
    put_order(tmp_path, "one-chord", "stairs")
    course = judged_course(tmp_path)[0]
    assert course
    assert (course.title, [u.name for u in course.units]) == (
        "Another course",
        ["one-chord", "stairs"],
    )


def test_a_circle_is_told_of_each_unit_in_it(tmp_path: Path) -> None:
    for name, need in (("ada", "bo"), ("bo", "cem"), ("cem", "ada")):
        put(tmp_path, name, needs=f'"{need}"')
    put_order(tmp_path, "ada", "bo", "cem")
    assert faults_of(tmp_path) == [
        "ada.toml: `needs` go round in a circle: ada needs bo needs cem needs ada",
        "bo.toml: `needs` go round in a circle: bo needs cem needs ada needs bo",
        "cem.toml: `needs` go round in a circle: cem needs ada needs bo needs cem",
    ]


def test_a_unit_that_needs_itself_goes_in_a_circle(tmp_path: Path) -> None:
    put(tmp_path, "ada", needs='"ada"')
    assert faults_of(tmp_path) == ["ada.toml: `needs` go round in a circle: ada needs ada"]


def test_needs_that_are_unknown_or_come_later_are_told(tmp_path: Path) -> None:
    put(tmp_path, "ada", needs='"bo"')
    put(tmp_path, "bo", needs='"adda"')
    put_order(tmp_path, "ada", "bo")
    assert faults_of(tmp_path) == [
        "ada.toml: `needs` 'bo', which comes after it; put it before ada",
        "bo.toml: `needs` 'adda': there is no such unit; did you mean ada?",
    ]


def test_a_unit_that_cannot_be_read_is_not_called_missing(tmp_path: Path) -> None:
    put(tmp_path, "ada", needs='"bo"')
    (tmp_path / "bo.toml").write_text("title", "utf-8")
    put_order(tmp_path, "bo", "ada")
    faults = faults_of(tmp_path)
    assert len(faults) == 1
    assert faults[0].startswith("bo.toml: is no TOML: ")


def test_an_order_names_every_file_and_no_other(tmp_path: Path) -> None:
    put(tmp_path, "ada")
    put(tmp_path, "bo")
    put_order(tmp_path, "ada", "cem")
    assert faults_of(tmp_path) == [
        "course.toml: `units` 'cem': there is no file cem.toml",
        "course.toml: `units` does not name 'bo', which has a file",
    ]


def test_two_units_of_one_title_are_told(tmp_path: Path) -> None:
    put(tmp_path, "ada")
    shutil.copy(tmp_path / "ada.toml", tmp_path / "bo.toml")
    put_order(tmp_path, "ada", "bo")
    assert faults_of(tmp_path) == ["bo.toml: `title` 'ada' is that of ada, too"]


def test_what_no_unit_serves_is_told_once_for_each(tmp_path: Path) -> None:
    put(tmp_path, "ada")
    put_order(tmp_path, "ada")
    faults = list(map(str, judged_course(tmp_path)[1]))
    assert faults == [
        f"no unit serves {facet}; name it among the `facets` of one"
        for facet in (Facet.HARMONY, Facet.DEVELOPMENT, Facet.STYLE, Facet.CREATIVITY)
    ]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("title = 3\nunits = []", "course.toml: title 3: give a title of a few words"),
        ('title = "x"', "course.toml: units is missing; give names of units in order"),
        ("units =", "course.toml: is no TOML: "),
    ],
)
def test_an_order_that_is_none_is_one_line(tmp_path: Path, text: str, fault: str) -> None:
    (tmp_path / "course.toml").write_text(text, "utf-8")
    with pytest.raises(ReadError) as refused:
        read_course(tmp_path)
    assert str(refused.value).startswith(fault)


@pytest.mark.parametrize("name", ["", "nowhere"])
def test_a_folder_without_units_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(ReadError, match=r"no units are in|no such folder"):
        read_course(tmp_path / name)


@pytest.mark.slow
def test_any_mixture_of_needs_is_judged_to_an_end(tmp_path: Path) -> None:
    """Every way that three units may need each other: the check ends and tells no unit twice."""
    names = ("ada", "bo", "cem")
    for chosen in product(("", '"ada"', '"bo"', '"cem", "bo"'), repeat=3):
        for name, needs in zip(names, chosen, strict=True):
            put(tmp_path, name, needs=needs)
        course, faults = judged_course(tmp_path)
        assert course
        assert {unit.name for unit in course.units} >= set(names)
        assert len({str(fault) for fault in faults}) == len(faults)
