"""Is what was kept found again, counted once, given away whole, and gone when it is erased?"""

from __future__ import annotations

import csv
import json
import os
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path

import pytest
from school_of_two import MONDAY, piece, school_of_two
from sqlalchemy import update

from halfstep.errors import BriefError, StoreError
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.practice.belief_milestones import digested
from halfstep.practice.beliefs import Beliefs, beliefs_of
from halfstep.practice.evidence import Verdict
from halfstep.practice.practice_plan import ItemRole, Manner, PlanItem, PracticePlan, Rest
from halfstep.practice.syllabus import Syllabus, SyllabusRow
from halfstep.school.database import School
from halfstep.school.devices import begin_device
from halfstep.school.hand_outs import HandOut, add_hand_out, add_sheet, sheets_made
from halfstep.school.jobs import add_job
from halfstep.school.kept_beliefs import keep_milestones
from halfstep.school.kept_evidence import evidence_of, keep_evidence
from halfstep.school.kept_plans import keep_plan, plan_of, plans_of
from halfstep.school.kept_takes import keep_take, takes_of
from halfstep.school.leaving import erase_student, export_student
from halfstep.school.sent_takes import keep_sent_take, store_recording
from halfstep.school.students import add_student, every_student, find_student, new_student
from halfstep.school.tables import sent_takes

TAKE = b"a recording of scales by nobody " * 500
FEEDBACK = '{"format": "halfstep-feedback", "title": "mark of the feedback"}'


def test_a_student_is_found_by_any_capitals(tmp_path: Path) -> None:
    with school_of_two(tmp_path) as school, school.reading() as connection:
        odile = find_student(connection, " oDile")
        assert (odile.name, odile.instrument.key, odile.level) == ("Odile", "alto-sax", "beginner")
        assert odile in every_student(connection)


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("odile", "there is an* [oO]dile already"),
        ("  ", "give a nickname in letters"),
        ("Od\x00ile", "give a nickname in letters"),
        ("x" * 61, "61 letters; give 60 or less"),
    ],
)
def test_a_bad_nickname_is_one_line(tmp_path: Path, name: str, line: str) -> None:
    with (
        school_of_two(tmp_path) as school,
        school.writing() as connection,
        pytest.raises(BriefError, match=line),
    ):
        add_student(connection, new_student(name, INSTRUMENTS["flute"], Level.ADVANCED))


def test_an_unknown_student_is_one_line_with_the_likeliest(tmp_path: Path) -> None:
    with (
        school_of_two(tmp_path) as school,
        school.reading() as connection,
        pytest.raises(BriefError, match="no such student; did you mean Odile"),
    ):
        find_student(connection, "Odil")


def test_evidence_of_one_source_is_counted_once(tmp_path: Path) -> None:
    first, second = piece(1), piece(2, key=-2)
    with school_of_two(tmp_path) as school:
        for _ in range(2):
            with school.writing() as connection:
                keep_evidence(connection, "Odile", [second, first, first])
        with school.reading() as connection:
            assert evidence_of(connection, "Odile") == (first, second)
            assert evidence_of(connection, "Bram") == ()


def test_another_word_about_the_same_playing_takes_the_place_of_the_first(tmp_path: Path) -> None:
    word = piece(1, verdict=Verdict.NOT_YET)
    better = replace(word, verdict=Verdict.CLEAN)
    with school_of_two(tmp_path) as school:
        with school.writing() as connection:
            keep_evidence(connection, "Odile", [word])
            keep_evidence(connection, "Odile", [better])
        with school.reading() as connection:
            assert evidence_of(connection, "Odile") == (better,)


def plan(day: date) -> PracticePlan:
    """A plan of one item."""
    last = piece(0)
    return PracticePlan(
        day,
        30.0,
        (PlanItem(ItemRole.REVIEW, last.skill, 84.0, 7.5, 0.8125, last, 2, 1, 5, 0.75, True),),
        (Rest(1, 5.0),),
        Manner.MIXED,
    )


def test_a_day_has_one_plan(tmp_path: Path) -> None:
    monday, tuesday = date(2026, 3, 2), date(2026, 3, 3)
    longer = replace(plan(monday), minutes=45.0)
    with school_of_two(tmp_path) as school, school.writing() as connection:
        keep_plan(connection, "Bram", plan(tuesday))
        keep_plan(connection, "Bram", plan(monday))
        keep_plan(connection, "Bram", longer)
        assert plan_of(connection, "Bram", monday) == longer
        assert plan_of(connection, "Odile", monday) is None
        assert plans_of(connection, "Bram") == (longer, plan(tuesday))


def test_a_damaged_plan_says_its_day_and_may_be_planned_anew(tmp_path: Path) -> None:
    monday = date(2026, 3, 2)
    with school_of_two(tmp_path) as school, school.writing() as connection:
        keep_plan(connection, "Bram", plan(monday))
        connection.exec_driver_sql("UPDATE plans SET plan = substr(plan, 2)")
        for reading in (partial(plan_of, day=monday), plans_of):
            with pytest.raises(StoreError, match="the plan kept for 2026-03-02 is damaged"):
                reading(connection, "Bram")
        keep_plan(connection, "Bram", plan(monday))
        assert plan_of(connection, "Bram", monday) == plan(monday)


def beliefs() -> Beliefs:
    """What follows from one piece of evidence."""
    rows = (SyllabusRow(piece(1).skill, 0, 0, 0, 60.0, 120.0, is_chorus=True),)
    return beliefs_of(Syllabus(rows, ((),), (2,), Level.BEGINNER), [piece(1)], date(2026, 3, 9))


def keep_everything(school: School, folder: Path) -> None:
    """A recording, evidence and a plan of Odile."""
    recording = folder / "Odile at home.WAV"
    recording.write_bytes(TAKE)
    with school.writing() as connection:
        for _ in range(2):
            keep_take(
                school,
                connection,
                "Odile",
                recording=recording,
                recorded_at=MONDAY,
                feedback=FEEDBACK,
            )
        keep_evidence(connection, "Odile", [piece(1)])
        keep_plan(connection, "Odile", plan(date(2026, 3, 2)))
    hand_out_everything(school, recording)


NOTE, SENT, SHARED = "slowly, as on the wall", b"the mark of a sent take", b"what two of them have"


def hand_out_everything(school: School, recording: Path) -> None:
    """A sheet that Odile has alone, one that Bram has too, and a take that Odile sent."""
    recording.write_bytes(SENT)
    stored = store_recording(school, 1, recording)
    with school.writing() as connection:
        odile, bram = (find_student(connection, name) for name in ("Odile", "Bram"))
        for title, players in (("Alone", [odile]), ("Both", [odile, bram])):
            hand_out = HandOut(title=title, request="{}", note=NOTE, made_at=MONDAY)
            number = add_hand_out(connection, hand_out)
            job = add_job(connection, f"hand-out {number}", "{}")
            for player in players:
                add_sheet(connection, number, player, job)
            folder = school.folder / "made" / f"{job.number}-x" / "files"
            folder.mkdir(parents=True)
            (folder / "handout.pdf").write_bytes(SHARED if len(players) > 1 else SENT)
            sheets_made(connection, job, folder.relative_to(school.folder).as_posix())
        take = keep_sent_take(connection, stored, hand_out=number, name="Odile sings.wav")
        connection.execute(
            update(sent_takes)
            .where(sent_takes.c.id == take.number)
            .values(words="Well heard, Odile", feedback=FEEDBACK)
        )
        keep_milestones(connection, "Odile", beliefs())
        begin_device(connection, 1, "Firefox on a phone of Odile")


def test_what_leaves_is_whole_and_in_open_formats(tmp_path: Path) -> None:
    with school_of_two(tmp_path / "school") as school:
        keep_everything(school, tmp_path)
        files = export_student(school, "Odile", tmp_path / "away")
        with pytest.raises(BriefError, match="it is not empty"):
            export_student(school, "Odile", tmp_path / "away")
    by_name = {file.name: file for file in files}
    sent = f"sent-001-{datetime.now(UTC):%Y-%m-%d}"
    assert set(by_name) == {
        "student.json", "evidence.csv", "plans.json", "practised.json", "sheets.json", "sent.json",
        "room.json", "consents.json", "devices.json",
        "take-001-2026-03-02.wav", "take-001-2026-03-02.json",
        "sheet-001-handout.pdf", "sheet-002-handout.pdf", f"{sent}.wav", f"{sent}.json",
    }  # fmt: skip
    assert by_name[f"{sent}.wav"].read_bytes() == SENT
    (row,) = json.loads(by_name["sent.json"].read_text())
    assert (row["name"], row["words"]) == ("Odile sings.wav", "Well heard, Odile")
    titles = [row["title"] for row in json.loads(by_name["sheets.json"].read_text())]
    assert titles == ["Alone", "Both"]
    assert by_name["take-001-2026-03-02.wav"].read_bytes() == TAKE
    assert by_name["take-001-2026-03-02.json"].read_text() == FEEDBACK
    assert json.loads(by_name["student.json"].read_text())["instrument"] == "alto-sax"
    (row,) = csv.DictReader(by_name["evidence.csv"].read_text().splitlines())
    assert (row["unit"], row["verdict"], row["weight"]) == ("one-chord", "clean", "0.75")
    assert json.loads(by_name["plans.json"].read_text())[0]["day"] == "2026-03-02"


def raw_bytes(folder: Path) -> bytes:
    """All files of a folder, as they lie on the disk."""
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


@pytest.mark.slow
def test_no_byte_is_left_of_who_is_erased(tmp_path: Path) -> None:
    folder = tmp_path / "school"
    with school_of_two(folder) as school:
        keep_everything(school, tmp_path)
        (digest,) = digested(beliefs())
        traces = (
            b"Odile", b"odile", b"mark of the feedback", TAKE[:32], b"one-chord", digest.encode(),
            b'"variances":',
        )  # fmt: skip
        assert all(trace in raw_bytes(folder) for trace in traces)
        erase_student(school, "odile")
        assert [trace for trace in traces if trace in raw_bytes(folder)] == []
        assert b"Bram" in raw_bytes(folder)
        assert SHARED in raw_bytes(folder), "no name is in what Bram has too"
        with school.reading() as connection:
            assert [student.name for student in every_student(connection)] == ["Bram"]
    assert list(folder.rglob("*.wav")) == []


@pytest.mark.slow
def test_what_a_killed_process_left_behind_goes_too(tmp_path: Path) -> None:
    with school_of_two(tmp_path) as school:
        keep_everything(school, tmp_path)
        left = school.folder / "takes" / "2" / "left.wav"
        left.parent.mkdir()
        left.write_bytes(TAKE)
        os.utime(left, (0, 0))
        erase_student(school, "Bram")
        assert not left.exists()
        with school.reading() as connection:
            (take,) = takes_of(connection, "Odile")
        assert (school.folder / "takes" / take.file).read_bytes() == TAKE


def test_no_name_stands_in_the_name_of_a_file(tmp_path: Path) -> None:
    with school_of_two(tmp_path / "school") as school:
        keep_everything(school, tmp_path)
    names = [path.name.lower() for path in (tmp_path / "school").rglob("*")]
    assert len(names) > 3
    assert not any("odile" in name for name in names)
