"""``halfstep course``: the table, the data, the map, and another course checked."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from app.app_command import Command
from halfstep.app.terminal.course_table import table_lines
from halfstep.course.course_folder import our_course
from halfstep.course.course_skills import CoursePlayer, course_skills
from halfstep.course.skill_map import Standing
from halfstep.errors import BriefError
from halfstep.instruments import INSTRUMENTS
from halfstep.services.show_course import ShowCourse, show_course

SKILLS = course_skills(our_course(), CoursePlayer(INSTRUMENTS["concert"]))
STANDINGS = dict.fromkeys(SKILLS[:9], Standing.KNOWN)


def test_the_table_has_a_row_for_every_unit(command: Command) -> None:
    ran = command("course", "show", "--for", "alto-sax")
    assert (ran.status, ran.err) == (0, "")
    rows = re.findall(r"^ *(\d+) +([a-z-]+) ", ran.out, re.MULTILINE)
    units = our_course().units
    assert rows == [(str(number), unit.name) for number, unit in enumerate(units, 1)]


def test_the_data_have_the_units_with_the_players_keys(command: Command) -> None:
    ran = command("course", "show", "--json", "--for", "trumpet")
    data = json.loads(ran.out)
    assert (data["format"], data["instrument"]) == ("halfstep-course", "trumpet")
    assert len(data["units"]) == len(our_course().units)
    first = data["units"][0]
    assert (first["number"], first["name"], first["standing"]) == (1, "one-chord", None)
    assert len(first["keys"]) == our_course().units[0].keys


def test_one_unit_is_shown_in_full(command: Command) -> None:
    ran = command("course", "show", "--unit", "major-blues")
    assert ran.status == 0
    unit = our_course().unit("major-blues")
    assert unit
    shown = " ".join(ran.out.split())
    assert unit.goal in shown
    assert unit.advice in shown
    assert all(progression.title in shown for progression in unit.progressions)


def test_the_unit_of_a_chart_is_shown(command: Command) -> None:
    ran = command("course", "show", "--chart", "| Ebm7 | Ab7 | Dbmaj7 | Dbmaj7 |")
    assert ran.out.startswith("8. Two, five, one (two-five-one)\n")


@pytest.mark.slow
@pytest.mark.parametrize("suffix", [".svg", ".pdf"])
def test_the_map_is_written(command: Command, tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"map{suffix}"
    ran = command("course", "show", "--out", str(out))
    assert (ran.status, ran.err) == (0, "")
    assert out.read_bytes()[:4] == {".svg": b"<?xm", ".pdf": b"%PDF"}[suffix]


def test_the_map_says_in_words_what_it_shows() -> None:
    reply = show_course(ShowCourse(), standings=STANDINGS, student="Mila")
    svg = ElementTree.fromstring(reply.map_file(".svg").data)
    title, words = (svg.find(f"{{http://www.w3.org/2000/svg}}{tag}") for tag in ("title", "desc"))
    assert title is not None
    assert words is not None
    assert title.text == "From one chord to a whole form: Mila"
    assert "1. One chord: a beginning; known, 6 of 6 known." in str(words.text)
    assert "2. Two chords a fourth apart: after 1; begun, 3 of 12 known." in str(words.text)
    assert "35. A whole form that wanders: after 34, 28; not met, 0 of 18 known." in str(words.text)


def test_a_table_says_where_a_student_stands() -> None:
    reply = show_course(ShowCourse(), standings=STANDINGS, student="Mila")
    rows = list(table_lines(reply))
    assert rows[3].endswith("known, 6 of 6")
    assert rows[4].endswith("begun, 3 of 12")
    assert rows[5].endswith("not met, 0 of 20")
    assert reply.data()["units"][1]["standing"] == {
        "unit": "begun",
        "skills": 12,
        "counts": {"not met": 9, "begun": 0, "known": 3, "due again": 0},
    }


def test_only_keys_that_a_student_keeps_to_are_shown_and_counted() -> None:
    """What was played in others before counts as well."""
    reply = show_course(ShowCourse(keys="C"), standings=STANDINGS, student="Mila")
    rows = list(table_lines(reply))
    assert rows[3].endswith("known, 6 of 6")
    assert rows[4].endswith("begun, 3 of 4")
    assert rows[5].endswith("not met, 0 of 5")
    assert [unit["keys"] for unit in reply.data()["units"][:3]] == [["C"], ["C"], ["C"]]
    with pytest.raises(BriefError, match="'H' is no key"):
        show_course(ShowCourse(keys="H"))


def test_what_is_due_again_is_known_and_said() -> None:
    first = next(iter(STANDINGS))
    reply = show_course(ShowCourse(), standings=STANDINGS | {first: Standing.DUE})
    assert [unit.standing for unit in reply.standings[:2]] == [Standing.DUE, Standing.BEGUN]


def test_a_course_that_leaves_something_out_is_told_so(command: Command, tmp_path: Path) -> None:
    tmp_path.joinpath("course.toml").write_text('title = "Two weeks"\nunits = ["one-chord"]\n')
    ran = command("course", "check", str(tmp_path))
    assert ran.status == 2
    assert ran.out.splitlines()[0] == ("no unit serves harmony; name it among the `facets` of one")
    assert ran.err == f"halfstep: 4 things are wrong with the course in {tmp_path}\n"


def test_fields_of_a_file_are_not_called_by_options(command: Command, tmp_path: Path) -> None:
    (tmp_path / "ada.toml").write_text('title = "Ada"\n')
    ran = command("course", "check", str(tmp_path))
    assert "ada.toml: `level` is missing; give a level" in ran.out.splitlines()
    assert "--level" not in ran.out
    (tmp_path / "ada.toml").write_text('level = "high"\n')
    assert "--" not in command("course", "show", str(tmp_path)).err


def test_our_own_course_is_checked_and_nothing_is_wrong(command: Command) -> None:
    from halfstep.course.course_folder import OUR_FOLDER

    ran = command("course", "check", str(OUR_FOLDER))
    assert (ran.status, ran.err) == (0, "")
    assert ran.out == "From one chord to a whole form: 35 units, nothing is wrong\n"


@pytest.mark.parametrize(
    ("arguments", "fault"),
    [
        (("show", "nowhere"), "no such folder: nowhere; give a folder of units"),
        (("check", "nowhere"), "no such folder: nowhere; give a folder of units"),
        (("check",), "FOLDER is missing; give the folder of a course to check"),
        (("show", "--unit", "major-bluse"), "--unit 'major-bluse': the course has no such unit; "),
        (
            ("show", "--chart", "| Cdim7 | Bsus4 |"),
            "--chart: no unit of the course has chords like",
        ),
        (("show", "--chart", "| Y7 |"), "'Y7'"),
        (("show", "--for", "tuba"), "no instrument is called 'tuba'"),
        (("show", "--level", "expert"), "--level 'expert'"),
        (("show", "--out", "map.png"), "--out 'map.png': end the name in one of .pdf, .svg"),
        (("sing",), "ACTION 'sing': choose from show, check"),
    ],
)
def test_what_cannot_be_done_is_one_line(
    command: Command, arguments: tuple[str, ...], fault: str
) -> None:
    ran = command("course", *arguments)
    assert ran.status == 2
    assert fault in ran.err
    assert ran.err.count("\n") == 1


@pytest.mark.slow
def test_a_student_s_standing_is_shown(
    command: Command, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HALFSTEP_DATA", str(home / "data"))
    command("student", "add", "Odile", "--for", "alto-sax")
    command("plan", "--today", "2026-03-02")
    command("played", "1", "clean", "--today", "2026-03-02")
    rows = command("course", "show", "--student", "odile").out.splitlines()
    assert sum("not met, 0 of" in row for row in rows) > 20
    assert sum("begun" in row for row in rows) == 1
    assert "no such student" in command("course", "show", "--student", "Bram").err
