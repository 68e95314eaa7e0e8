"""``halfstep student``: the whole life of what is kept of one who studies, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.app_command import Command
from halfstep.school.data_folder import DATABASE_FILE, VARIABLE


@pytest.fixture
def student(command: Command, home: Path, monkeypatch: pytest.MonkeyPatch) -> Command:
    """``halfstep student`` with a data folder of its own."""
    monkeypatch.setenv(VARIABLE, str(home / "data"))
    return lambda *arguments: command("student", *arguments)


@pytest.mark.slow
def test_a_student_is_kept_shown_given_away_and_erased(student: Command, home: Path) -> None:
    assert "nobody is kept here yet" in student("list").out
    added = student("add", "Odile", "--for", "alto-sax", "--keys", "c, Bb", "--notes", "G4 A#4")
    line = "Odile: Alto saxophone, beginner, 30 minutes a day, notes G4 A#4, keys C Bb"
    assert added.out == f"added: {line}\n"
    student("add", "Bram", "--for", "trombone", "--level", "advanced", "--minutes", "20")
    assert student("list").out.splitlines() == [
        "Bram: Trombone, advanced, 20 minutes a day",
        line,
    ]
    assert "takes kept: 0, plans: 0, played: 0" in student("show", "odile").out
    assert "written to odile-export/student.json" in student("export", "ODILE").out
    assert (home / "odile-export" / "evidence.csv").is_file()
    assert student("erase", "Odile", "--yes").out.startswith("erased: Odile")
    assert "Odile" not in student("list").out
    assert b"Odile" not in (home / "data" / DATABASE_FILE).read_bytes()


@pytest.mark.slow
def test_the_folder_that_is_said_comes_before_the_one_of_the_environment(
    student: Command, home: Path
) -> None:
    student("add", "Odile", "--for", "flute", "--data", str(home / "other"))
    assert "nobody" in student("list").out
    assert "Odile" in student("list", "--data", str(home / "other")).out


@pytest.mark.slow
def test_nothing_is_erased_where_no_one_can_be_asked(student: Command) -> None:
    student("add", "Odile", "--for", "flute")
    erased = student("erase", "Odile")
    assert (erased.status, erased.err) == (
        2,
        "halfstep: Odile was not erased; give --yes to do it\n",
    )
    assert "Odile" in student("list").out


@pytest.mark.slow
@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["show"], "needs the NAME of a student"),
        (["shw", "Odile"], "did you mean show?"),
        (["add", "Odile"], "--for: say what is played"),
        (["add", "Odile", "--for", "kazoo"], "no instrument is called 'kazoo'"),
        (["add", "Odile", "--for", "flute", "--level", "begin"], "did you mean beginner?"),
        (["add", "Odile", "--for", "flute", "--minutes", "5"], "--minutes 5: give 10 to 180"),
        (["add", "Odile", "--for", "flute", "--minutes", "nan"], "--minutes nan: give 10 to 180"),
        (["add", "Odile", "--for", "flute", "--minutes", "x"], "--minutes 'x': give 10 to 180"),
        (["add", "Odile", "--for", "flute", "--keys", "H"], "--keys: 'H' is no key"),
        (["add", "Odile", "--for", "flute", "--notes", "H"], "--notes: 'H' is no note"),
        (["show", "Nobody"], "NAME Nobody: there is no such student; nobody is kept here yet"),
        (["list", "--data", "file"], "--data file is a file"),
        (["list", "--data", "file/in"], "cannot make the folder file/in"),
    ],
)
def test_what_is_wrong_is_one_line(
    student: Command, home: Path, arguments: list[str], line: str
) -> None:
    (home / "file").touch()
    ran = student(*arguments)
    assert ran.status == 2
    assert line in ran.err
    assert ran.err.count("\n") == 1


@pytest.mark.slow
def test_the_way_so_far_is_drawn(student: Command, home: Path) -> None:
    student("add", "Odile", "--for", "flute")
    assert "written to way.svg" in student("show", "Odile", "--page", "way.svg").out
    assert "The way so far: Odile · Flute" in (home / "way.svg").read_text()
    assert "--page 'way.doc': end the name in one of .svg, .pdf" in (
        student("show", "Odile", "--page", "way.doc").err
    )


@pytest.mark.slow
def test_a_student_is_changed_in_what_is_said_alone(student: Command) -> None:
    student("add", "Odile", "--for", "alto-sax", "--keys", "C Bb", "--minutes", "20")
    changed = student("change", "odile", "--level", "advanced", "--print", "Large cream")
    line = "Odile: Alto saxophone, advanced, 20 minutes a day, keys C Bb, print large, cream"
    assert changed.out == f"changed: {line}\n"
    assert student("list").out == f"{line}\n"
    assert student("change", "Odile", "--print", "").out.endswith("keys C Bb\n")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["change", "Odile"], "nothing to change: give --for, --level or another option"),
        (["change", "Odlie", "--level", "advanced"], "did you mean Odile?"),
        (["change", "Odile", "--print", "creme"], "--print 'creme'; did you mean cream?"),
        (["add", "Bram", "--for", "flute", "--print", "40mm"], "give 5mm to 16mm"),
    ],
)
def test_a_change_that_makes_no_sense_is_one_line(
    student: Command, arguments: list[str], line: str
) -> None:
    student("add", "Odile", "--for", "alto-sax")
    ran = student(*arguments)
    assert ran.status == 2
    assert line in ran.err
    assert ran.err.count("\n") == 1
    assert student("list").out == "Odile: Alto saxophone, beginner, 30 minutes a day\n"


@pytest.mark.slow
def test_what_is_allowed_is_written_down_and_shown(student: Command) -> None:
    student("add", "Odile", "--for", "flute")
    usual = "  decides alone; allowed: recording yes, hearing yes, sharing no, keeping no\n"
    assert usual in student("show", "Odile").out
    marked = student("under-age", "odile").out
    nothing = "recording no, hearing no, sharing no, keeping no"
    assert marked == f"marked: Odile\n  under age; allowed: {nothing}\n"
    allowed = student("allow", "Odile", "--purpose", "recording").out
    assert allowed.endswith("allowed: recording yes, hearing no, sharing no, keeping no\n")
    assert "recording no" in student("take-back", "Odile", "--purpose", "recording").out
    assert "decides alone; allowed: recording no" in student("of-age", "Odile").out
    ran = student("allow", "Odile", "--purpose", "flying")
    assert (ran.status, ran.err) == (
        2,
        "halfstep: --purpose 'flying': give one of recording, hearing, sharing, keeping\n",
    )


@pytest.mark.slow
def test_no_take_is_kept_of_who_may_not_be_recorded(
    student: Command, command: Command, home: Path
) -> None:
    (home / "take.wav").write_bytes(b"RIFF")
    student("add", "Odile", "--for", "flute")
    student("under-age", "Odile")
    ran = command("feedback", "take.wav", "--student", "Odile", "--chart", "| C |")
    assert ran.status == 2
    assert (
        "recording is not allowed for this player, so nothing was kept; a guardian may" in ran.err
    )
    assert not list((home / "data").rglob("*.wav"))
