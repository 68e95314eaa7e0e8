"""Does each player of a class get a sheet of their own, made once for all who play the same?

The class and its progression are invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from fresh_schools import fresh_school
from halfstep.app.tasks.handing_tasks import (
    GiveLesson,
    give_again,
    give_lesson,
    has_failed,
    withdraw_hand_out,
    without_sheet,
)
from halfstep.app.tasks.job_work import Workplace, work_once
from halfstep.app.tasks.student_tasks import AddStudent, change_facts, keep_student
from halfstep.errors import BriefError, NoSuchThing, ReadError
from halfstep.school.classes import add_class, join_class
from halfstep.school.database import School
from halfstep.school.hand_outs import (
    Sheet,
    find_hand_out,
    hand_outs_of_class,
    hand_outs_of_student,
    sheets_of,
)
from halfstep.school.jobs import JobState, jobs_of
from halfstep.services.make_lesson import MakeLesson
from halfstep.services.request_fields import Progress
from halfstep.services.request_files import RequestFiles
from halfstep.services.stored_requests import Request

CLASS = (
    AddStudent("Ansel", "alto-sax", "beginner"),
    AddStudent("Brid", "alto-sax", "beginner"),
    AddStudent("Corin", "tenor-sax", "intermediate", known_notes="G4 A4"),
    AddStudent("Dilys", "flute", "intermediate"),
)
LESSON = MakeLesson("| Dm7 | G7 | Cmaj7 | A7 |", Path("made"), steps="1-2", tempo_bpm=92.0)


@pytest.fixture
def school(tmp_path: Path) -> Iterator[School]:
    with fresh_school(tmp_path / "school") as school:
        with school.writing() as connection:
            number = add_class(connection, "Wednesdays").number
        for request in CLASS:
            keep_student(school, request)
            with school.writing() as connection:
                join_class(connection, number, request.name)
        yield school


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> list[MakeLesson]:
    """Lessons are noted down in the place of being made; one who knows few notes gets none."""
    made: list[MakeLesson] = []

    def make(request: Request, folder: Path, *, progress: Progress, **_: object) -> RequestFiles:
        assert isinstance(request, MakeLesson)
        progress(0.5, "halfway")
        if request.known_notes == "G4 A4":
            raise BriefError("step 1 finds no line; it works with written B4 added")
        made.append(request)
        (folder / "handout.pdf").write_text(request.instruments[0])
        return RequestFiles(("handout.pdf",))

    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", make)
    return made


def given(school: School, lesson: MakeLesson = LESSON, **whom: int) -> int:
    """The number of a lesson that was handed out."""
    to = whom or {"class_number": 1}
    return give_lesson(
        school, GiveLesson(lesson=lesson, title="Room", due_on=date(2026, 3, 9), **to)
    )


def work(school: School) -> None:
    """Do all jobs."""
    while work_once(Workplace(school, "ada")):
        pass


def sheets(school: School, number: int) -> dict[str, Sheet]:
    with school.reading() as connection:
        return {sheet.student.name: sheet for sheet in sheets_of(connection, number)}


def test_each_gets_a_sheet_and_what_is_the_same_is_made_once(
    school: School, quick: list[MakeLesson]
) -> None:
    number = given(school)
    assert [sheet.folder for sheet in sheets(school, number).values()] == [""] * 4
    work(school)
    assert sorted(request.instruments[0] for request in quick) == [
        "alto-sax:beginner",
        "flute:intermediate",
    ]
    made = sheets(school, number)
    assert made["Ansel"].folder == made["Brid"].folder != made["Dilys"].folder
    file = school.folder / made["Dilys"].folder / "handout.pdf"
    assert file.read_text() == "flute:intermediate"
    assert all("Ansel" not in repr(request) for request in quick)


def test_who_reads_large_print_gets_a_sheet_of_their_own(
    school: School, quick: list[MakeLesson]
) -> None:
    change_facts(school, "Brid", {"print_setting": "large cream"})
    number = given(school)
    work(school)
    made = sheets(school, number)
    assert made["Ansel"].folder != made["Brid"].folder
    assert sorted(request.print_setting for request in quick) == ["", "", "large, cream"]


def test_who_cannot_have_it_is_told_why_and_the_others_go_on(school: School) -> None:
    number = given(school)
    work(school)
    corin = sheets(school, number)["Corin"]
    assert corin.job
    assert corin.job.trouble.endswith("it works with written B4 added")
    assert [name for name, sheet in sheets(school, number).items() if has_failed(sheet)] == [
        "Corin"
    ]


def test_it_is_made_again_as_the_player_is_now_and_for_who_came_later(school: School) -> None:
    number = given(school)
    work(school)
    keep_student(school, AddStudent("Edda", "flute", "intermediate"))
    with school.writing() as connection:
        join_class(connection, 1, "Edda")
        connection.exec_driver_sql("UPDATE students SET known_notes = '' WHERE name = 'Corin'")
        hand_out = find_hand_out(connection, number)
        assert [student.name for student in without_sheet(connection, hand_out)] == ["Edda"]
    give_again(school, number)
    work(school)
    made = sheets(school, number)
    assert made["Edda"].folder == made["Dilys"].folder
    assert made["Corin"].folder
    with school.reading() as connection:
        states = {job.state for job in jobs_of(connection, f"hand-out {number}")}
    assert states == {JobState.DONE}


def test_what_was_handed_out_is_found_and_goes_with_its_files(school: School) -> None:
    number, alone = given(school), given(school, student=4)
    work(school)
    with school.reading() as connection:
        assert [one.number for one in hand_outs_of_class(connection, 1)] == [number]
        assert [one.number for one in hand_outs_of_student(connection, 4)] == [alone, number]
    for one in (number, alone):
        withdraw_hand_out(school, one)
    assert list((school.folder / "made").iterdir()) == []
    with pytest.raises(NoSuchThing, match="it may have been withdrawn"):
        withdraw_hand_out(school, number)


@pytest.mark.parametrize(
    ("lesson", "kind", "line"),
    [
        (MakeLesson("| Qx |", Path("made")), ReadError, "Qx"),
        (MakeLesson("| C6 |", Path("made"), steps="77"), BriefError, "steps '77'"),
        (MakeLesson("| C6 |", Path("made"), tempo_bpm=5.0), BriefError, "tempo_bpm"),
    ],
)
def test_what_makes_no_sense_for_anybody_is_refused_before_it_is_kept(
    school: School, lesson: MakeLesson, kind: type[Exception], line: str
) -> None:
    with pytest.raises(kind, match=line):
        given(school, lesson)
    with school.reading() as connection:
        assert hand_outs_of_class(connection, 1) == ()


def test_an_empty_class_gets_nothing(school: School) -> None:
    with school.writing() as connection:
        number = add_class(connection, "Nobody").number
    with pytest.raises(BriefError, match="add its players first"):
        given(school, class_number=number)
