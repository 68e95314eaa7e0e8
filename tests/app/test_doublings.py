"""Does a student of two instruments have a plan, sheets and a way so far for each of them?"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import func, select

from app.app_command import Command
from fresh_schools import fresh_school
from halfstep.app.tasks.doubling_tasks import add_instrument, play_instrument, players_of_student
from halfstep.app.tasks.handing_tasks import GiveLesson, give_again, give_lesson
from halfstep.app.tasks.heard_take_tasks import take_is_heard
from halfstep.app.tasks.practice_tasks import PlanDay, keep_word, plan_day
from halfstep.app.tasks.roster_tasks import keep_roster, read_roster, roster_text
from halfstep.app.tasks.student_tasks import AddStudent, change_facts, keep_student
from halfstep.errors import BriefError
from halfstep.instruments import INSTRUMENTS
from halfstep.practice.evidence import Evidence, Skill, Verdict
from halfstep.progression.load import typed_sheet
from halfstep.school.classes import add_class, join_class, students_of
from halfstep.school.database import School
from halfstep.school.doublings import MOST, every_player
from halfstep.school.hand_outs import sheets_at_hand, sheets_of, sheets_of_student
from halfstep.school.kept_evidence import evidence_of, keep_evidence
from halfstep.school.kept_plans import plan_of
from halfstep.school.leaving import erase_student, export_student
from halfstep.school.students import Student, find_student
from halfstep.school.tables import doublings, evidence
from halfstep.services.make_lesson import MakeLesson

CLARINET = AddStudent("", "clarinet", "beginner")
CHART = "key: C\n| Dm7 | G7 | Cmaj7 | Cmaj7 |"


@pytest.fixture
def school(tmp_path: Path) -> Iterator[School]:
    """One who plays the alto saxophone and, as a beginner, the clarinet; another in the class."""
    with fresh_school(tmp_path / "data") as made:
        for name, instrument in (("Ansel", "alto-sax"), ("Dilys", "flute")):
            keep_student(made, AddStudent(name, instrument, "advanced", "", "C G"))
        with made.writing() as connection:
            room = add_class(connection, "Room Twelve")
            for name in ("Ansel", "Dilys"):
                join_class(connection, room.number, name)
        add_instrument(made, 1, CLARINET)
        yield made


def ansel(school: School) -> Student:
    with school.reading() as connection:
        return find_student(connection, "Ansel")


def piece(source: str) -> Evidence:
    at = datetime(2026, 3, 2, 18, tzinfo=UTC)
    return Evidence(source, at, Skill("one-chord", "rhythm", 0), 80.0, Verdict.CLEAN, 1.0, 5.0)


def test_what_is_played_is_counted_for_the_instrument_at_hand(school: School) -> None:
    with school.writing() as connection:
        keep_evidence(connection, "Ansel", [piece("one")])
    assert play_instrument(school, 1, "clarinet").instrument.key == "clarinet"
    with school.writing() as connection:
        assert evidence_of(connection, "Ansel") == ()
        keep_evidence(connection, "Ansel", [piece("one"), piece("two")])
        assert [one.source for one in evidence_of(connection, "Ansel")] == ["one", "two"]
    play_instrument(school, 1, "alto-sax")
    with school.reading() as connection:
        assert [one.source for one in evidence_of(connection, "Ansel")] == ["one"]
        assert len(evidence_of(connection, "Ansel", 1)) == 2


def test_level_and_keys_belong_to_the_instrument_and_the_name_to_the_player(school: School) -> None:
    play_instrument(school, 1, "clarinet")
    clarinet = change_facts(school, "Ansel", {"name": "Anselm", "keys": "F", "minutes": 20.0})
    assert (clarinet.level, clarinet.keys) == ("beginner", "F")
    play_instrument(school, 1, "alto-sax")
    with school.reading() as connection:
        alto = find_student(connection, "anselm")
    assert (alto.level, alto.keys, alto.minutes) == ("advanced", "C G", 20.0)


def test_each_instrument_has_a_plan_of_the_day(school: School) -> None:
    plan_day(school, PlanDay("Ansel"))
    with school.reading() as connection:
        alto = plan_of(connection, "Ansel", date.today())
    keep_word(school, "Ansel", "1", "clean")
    play_instrument(school, 1, "clarinet")
    with school.reading() as connection:
        assert plan_of(connection, "Ansel", date.today()) is None
    plan_day(school, PlanDay("Ansel"))
    with school.reading() as connection:
        clarinet = plan_of(connection, "Ansel", date.today())
    keep_word(school, "Ansel", "1", "not yet")
    play_instrument(school, 1, "alto-sax")
    with school.reading() as connection:
        assert plan_of(connection, "Ansel", date.today()) == alto != clarinet
        assert [one.verdict for one in evidence_of(connection, "Ansel")] == [Verdict.CLEAN]
        assert [one.verdict for one in evidence_of(connection, "Ansel", 1)] == [Verdict.NOT_YET]


def given(school: School) -> int:
    lesson = MakeLesson(chart=typed_sheet(CHART), folder=school.folder, instruments=())
    due = date.today() + timedelta(days=7)
    return give_lesson(
        school, GiveLesson(lesson=lesson, title="Two Roads", class_number=1, due_on=due)
    )


def test_a_sheet_is_made_for_each_instrument(school: School) -> None:
    number = given(school)
    with school.reading() as connection:
        sheets = sheets_of(connection, number)
        assert [(one.student.name, one.student.instrument.key) for one in sheets] == [
            ("Ansel", "alto-sax"), ("Ansel", "clarinet"), ("Dilys", "flute"),
        ]  # fmt: skip
        assert "clarinet:beginner" in sheets[1].job.request  # type: ignore[union-attr]
        assert [one.student.instrument.key for one in sheets_at_hand(connection, 1)] == ["alto-sax"]
    add_instrument(school, 2, replace(CLARINET, instrument="alto-sax"))
    give_again(school, number)
    play_instrument(school, 2, "alto-sax")
    with school.reading() as connection:
        assert len(sheets_of_student(connection, 2)) == 2
        assert [one.student.instrument.key for one in sheets_at_hand(connection, 2)] == ["alto-sax"]


def test_a_take_counts_for_the_instrument_it_was_sent_from(school: School) -> None:
    """However late it is heard."""
    from halfstep.data.documents import json_text
    from halfstep.data.feedback_json import feedback_data
    from halfstep.school.jobs import add_job
    from halfstep.school.sent_takes import StoredRecording, keep_sent_take
    from made_feedback import made_feedback

    play_instrument(school, 1, "clarinet")
    with school.writing() as connection:
        take = keep_sent_take(
            connection, StoredRecording(1, "a" * 64, Path("1/a.wav")), hand_out=None, name="a.wav"
        )
        job = add_job(connection, f"sent-take {take.number}", "{}")
    assert take.doubling == 1
    play_instrument(school, 1, "alto-sax")
    data = feedback_data(*made_feedback(), (), evidence=piece("take"))
    with school.writing() as connection:
        take_is_heard(school, connection, job, json_text(data).encode())
    with school.reading() as connection:
        assert evidence_of(connection, "Ansel") == ()
        assert [one.source for one in evidence_of(connection, "Ansel", 1)] == ["take"]
    assert ansel(school).instrument.key == "alto-sax"


def test_an_instrument_that_cannot_be_meant_is_refused_in_a_line(school: School) -> None:
    with pytest.raises(BriefError, match="Ansel plays it already; take it up instead"):
        add_instrument(school, 1, replace(CLARINET, instrument="alto-sax"))
    with pytest.raises(BriefError, match="kazoo"):
        add_instrument(school, 1, replace(CLARINET, instrument="kazoo"))
    with pytest.raises(BriefError, match="choose one of alto-sax, clarinet"):
        play_instrument(school, 1, "flute")
    with pytest.raises(BriefError, match="plays it already"):
        change_facts(school, "Ansel", {"instrument": "clarinet"})


def test_nobody_plays_more_than_is_kept(school: School) -> None:
    others = [key for key in INSTRUMENTS if key not in {"alto-sax", "clarinet"}]
    for key in others[: MOST - 2]:
        add_instrument(school, 1, replace(CLARINET, instrument=key))
    with pytest.raises(BriefError, match=f"plays {MOST}, as many as are kept"):
        add_instrument(school, 1, replace(CLARINET, instrument=others[MOST]))
    assert len(players_of_student(school, ansel(school))) == MOST


def test_all_of_it_is_given_and_erased(school: School, tmp_path: Path) -> None:
    for source, instrument in (("one", "alto-sax"), ("two", "clarinet")):
        play_instrument(school, 1, instrument)
        with school.writing() as connection:
            keep_evidence(connection, "Ansel", [piece(source)])
    export_student(school, "Ansel", tmp_path / "out")
    kept = json.loads((tmp_path / "out" / "student.json").read_text())
    assert kept["instrument"] == "clarinet"
    assert [one["instrument"] for one in kept["other_instruments"]] == ["alto-sax"]
    for name, source in (("evidence.csv", "one"), ("evidence-clarinet.csv", "two")):
        (row,) = csv.DictReader((tmp_path / "out" / name).read_text().splitlines())
        assert row["source"] == source
    erase_student(school, "Ansel")
    with school.reading() as connection:
        assert every_player(connection, students_of(connection, 1))[0].name == "Dilys"
        for table in (doublings, evidence):
            assert connection.scalar(select(func.count()).select_from(table)) == 0


def test_a_table_of_players_has_all_instruments(school: School) -> None:
    """Saved with one at hand and taken in with another, it changes nothing but what is at hand."""
    play_instrument(school, 1, "clarinet")
    with school.reading() as connection:
        text = roster_text(every_player(connection, students_of(connection, 1)))
    (row, _) = csv.DictReader(text.splitlines())
    assert (row["instrument"], row["also plays"]) == ("alto-sax", "clarinet beginner")
    assert keep_roster(school, 1, read_roster(text.encode())) == ()
    played = players_of_student(school, ansel(school))
    assert [(one.instrument.key, one.level) for one in played] == [
        ("alto-sax", "advanced"), ("clarinet", "beginner"),
    ]  # fmt: skip
    added = f"{text}Vito,trombone,beginner,,,,30,flute; alto sax intermediate\n"
    assert keep_roster(school, 1, read_roster(added.encode())) == ()
    with school.reading() as connection:
        vito = find_student(connection, "Vito")
    played = players_of_student(school, vito)
    assert [(one.instrument.key, one.level) for one in played] == [
        ("trombone", "beginner"), ("flute", "beginner"), ("alto-sax", "intermediate"),
    ]  # fmt: skip
    wrong = read_roster(f"{text}Wanda,flute,beginner,,,,30,kazoo\n".encode())
    assert [fault for fault in wrong.faults if "kazoo" in fault]


@pytest.mark.slow
def test_the_command_takes_up_an_instrument(command: Command, home: Path) -> None:
    def student(*arguments: str) -> str:
        ran = command("student", *arguments, "--data", str(home / "data"))
        return ran.out or ran.err

    student("add", "Odile", "--for", "alto-sax")
    played = student("play", "Odile", "--for", "clarinet", "--level", "intermediate")
    assert played == "plays: Odile: Clarinet, intermediate, 30 minutes a day\n"
    assert student("list") == (
        "Odile: Clarinet, intermediate, 30 minutes a day; also Alto saxophone, beginner\n"
    )
    back = student("play", "Odile", "--for", "alto-sax")
    assert back == "plays: Odile: Alto saxophone, beginner, 30 minutes a day\n"
    assert "say what is played, such as clarinet" in student("play", "Odile")
