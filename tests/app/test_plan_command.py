"""``halfstep plan`` and ``played``: a day is planned, kept, answered, and planned on from there."""

from __future__ import annotations

import json
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest

from app.app_command import Command
from halfstep.meter import SLOWEST_BPM
from halfstep.school.data_folder import DATABASE_FILE, VARIABLE, data_folder

MONDAY, TUESDAY, WEDNESDAY, APRIL = "2026-03-02", "2026-03-03", "2026-03-04", "2026-04-06"


@pytest.fixture
def class_of_one(command: Command, home: Path, monkeypatch: pytest.MonkeyPatch) -> Command:
    """``halfstep`` with Odile kept in a data folder."""
    monkeypatch.setenv(VARIABLE, str(home / "data"))
    assert command("student", "add", "Odile", "--for", "alto-sax").status == 0
    return command


def test_a_first_day_has_one_new_thing_and_ends_with_a_chorus(class_of_one: Command) -> None:
    plan = json.loads(class_of_one("plan", "--today", MONDAY, "--json").out)
    roles = [item["role"] for item in plan["items"]]
    assert roles.count("new") <= 1
    assert roles[-1] == "chorus"
    assert 2 <= len(roles) <= 5
    assert plan["day"] == MONDAY


def test_every_item_says_goal_reason_loop_and_when_to_stop(class_of_one: Command) -> None:
    lines = class_of_one("plan", "--today", MONDAY).out.splitlines()
    assert lines[0].startswith("Odile · Alto saxophone: Monday, 2 March 2026, 30 minutes")
    items = [line for line in lines if line[:1].isdigit()]
    for word in ("goal", "why", "play", "stop"):
        assert sum(line.startswith(f"   {word}") for line in lines) == len(items)


def test_a_day_s_plan_stays_until_another_is_asked_for(class_of_one: Command) -> None:
    first = class_of_one("plan", "--today", MONDAY, "--json").out
    class_of_one("played", "1", "not yet", "--today", MONDAY)
    assert class_of_one("plan", "--today", MONDAY, "--json").out == first
    longer = json.loads(class_of_one("plan", "--today", MONDAY, "--minutes", "60", "--json").out)
    assert longer["minutes"] == 60


@pytest.mark.slow
def test_a_plan_is_the_same_whatever_is_kept_to_save_time(class_of_one: Command) -> None:
    """A later word takes the place of the one that the kept beliefs rest on."""
    database = data_folder() / DATABASE_FILE
    for day, word in ((MONDAY, "clean"), (TUESDAY, "nearly"), (MONDAY, "not-yet")):
        class_of_one("plan", "--today", day)
        class_of_one("played", "1", word, "--today", day)
    going_on = class_of_one("plan", "--today", WEDNESDAY, "--json").out
    with closing(sqlite3.connect(database)) as connection, connection:
        assert connection.execute("DELETE FROM milestones").rowcount > 0
    assert class_of_one("plan", "--today", WEDNESDAY, "--new", "--json").out == going_on


@pytest.mark.slow
def test_what_was_not_clean_is_mended_the_next_day_and_its_reason_said(
    class_of_one: Command,
) -> None:
    class_of_one("plan", "--today", MONDAY)
    kept = class_of_one("played", "1", "not-yet", "--today", MONDAY)
    assert kept.out.startswith("kept: ")
    assert kept.out.endswith(": not yet\n")
    class_of_one("played", "1", "not-yet", "--today", MONDAY)
    assert "played: 1\n" in class_of_one("student", "show", "Odile").out
    tuesday = class_of_one("plan", "--today", TUESDAY).out
    assert "Yesterday it was not clean yet." in tuesday


@pytest.mark.slow
def test_who_was_away_is_met_where_they_are(class_of_one: Command) -> None:
    class_of_one("plan", "--today", MONDAY)
    for number in ("1", "2"):
        class_of_one("played", number, "clean", "--today", MONDAY)
    plan = json.loads(class_of_one("plan", "--today", APRIL, "--json").out)
    played = [item for item in plan["items"] if item["last"]]
    assert played
    assert "5 weeks ago" in class_of_one("plan", "--today", APRIL).out


@pytest.mark.slow
def test_who_fails_for_days_is_asked_for_no_tempo_that_nothing_plays(class_of_one: Command) -> None:
    for number in range(2, 9):
        day = f"2026-03-0{number}"
        plan = json.loads(class_of_one("plan", "--today", day, "--json").out)
        assert all(item["tempo_bpm"] >= SLOWEST_BPM for item in plan["items"])
        for place in range(1, len(plan["items"]) + 1):
            class_of_one("played", str(place), "not-yet", "--today", day)
    assert plan["items"][-1]["tempo_bpm"] == SLOWEST_BPM
    assert "If two fail, leave it for" in class_of_one("plan", "--today", "2026-03-08").out


@pytest.mark.slow
def test_who_knows_two_keys_goes_on_in_them_from_the_first_unit(class_of_one: Command) -> None:
    class_of_one("student", "add", "Bram", "--for", "trombone", "--keys", "G D")
    units, keys = set(), set()
    for number in range(1, 15):
        day = f"2026-03-{number:02}"
        plan = json.loads(class_of_one("plan", "--student", "Bram", "--today", day, "--json").out)
        units |= {item["unit"] for item in plan["items"]}
        keys |= {item["key"] for item in plan["items"]}
        for place in range(1, len(plan["items"]) + 1):
            class_of_one("played", str(place), "clean", "--student", "Bram", "--today", day)
    assert len(units) > 1
    assert {1, 2} <= keys <= {1, 2, 4, 5}  # E and B minor have the same signatures
    table = class_of_one("course", "show", "--student", "Bram").out
    assert "not met" not in table.splitlines()[3]


@pytest.mark.slow
@pytest.mark.parametrize("zone", ["Pacific/Honolulu", "Pacific/Auckland"])
def test_a_word_counts_on_the_day_where_it_was_said(
    class_of_one: Command, monkeypatch: pytest.MonkeyPatch, zone: str
) -> None:
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    for day in ((), ("--today", MONDAY)):
        class_of_one("plan", *day)
        class_of_one("played", "1", "clean", *day)
        again = class_of_one("plan", "--new", *day)
        assert "Today it was clean" in again.out
    monkeypatch.undo()
    time.tzset()


@pytest.mark.slow
def test_a_folder_has_a_page_and_for_each_item_sheet_line_and_backing(
    class_of_one: Command, home: Path
) -> None:
    ran = class_of_one("plan", "--today", MONDAY, "--minutes", "12", "--out", "today")
    assert ran.status == 0
    names = {path.name for path in (home / "today").iterdir()}
    items = sum(line[:1].isdigit() for line in ran.out.splitlines())
    assert names == {"plan.pdf", "plan.json"} | {
        f"item-{number}{end}"
        for number in range(1, items + 1)
        for end in (".pdf", ".json", "-line.m4a", "-backing.m4a")
    }


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["plan", "--student", "Nobody"], "--student Nobody: there is no such student"),
        (["plan", "--student", "Odlie"], "there is no such student; did you mean Odile?"),
        (["plan", "--today", "monday"], "--today 'monday': write a day like 2026-03-02"),
        (["plan", "--today", "0001-01-01"], "--today '0001-01-01': give a day from 1900 on"),
        (["plan", "--today", "9999-12-31"], "--today '9999-12-31': give a day from 1900 on"),
        (["plan", "--minutes", "3"], "--minutes 3: give 10 to 180 minutes a day"),
        (["plan", "--paper", "a3"], "--paper 'a3'"),
        (["plan", "--course", "nowhere"], "no such folder: nowhere"),
        (["played", "1", "clean", "--today", APRIL], "ITEM: nothing is planned for 2026-04-06"),
        (["played", "9", "clean", "--today", MONDAY], "ITEM 9: the plan of 2026-03-02 has items"),
        (["played", "1", "great", "--today", MONDAY], "WORD 'great'"),
    ],
)
def test_what_is_wrong_is_one_line(class_of_one: Command, arguments: list[str], line: str) -> None:
    class_of_one("plan", "--today", MONDAY)
    ran = class_of_one(*arguments)
    assert ran.status == 2
    assert line in ran.err
    assert ran.err.count("\n") == 1


@pytest.mark.slow
def test_several_students_are_told_apart(class_of_one: Command) -> None:
    class_of_one("student", "add", "Bram", "--for", "trombone")
    assert "--student: several are kept here; say which: Bram, Odile" in class_of_one("plan").err
    assert class_of_one("plan", "--student", "bram").out.startswith("Bram · Trombone")


@pytest.mark.slow
def test_nobody_is_planned_for(
    command: Command, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(VARIABLE, str(home / "data"))
    assert "nobody is kept here yet" in command("plan").err


@pytest.mark.slow
def test_a_week_begins_with_the_day_s_plan_and_keeps_no_other(
    class_of_one: Command, home: Path
) -> None:
    day = json.loads(class_of_one("plan", "--today", MONDAY, "--json").out)
    ran = class_of_one("plan", "--today", MONDAY, "--week", "--json", "--out", "week")
    week = json.loads(ran.out)
    assert week["days"][0] == day
    assert [plan["day"][-2:] for plan in week["days"]] == [f"0{n}" for n in range(2, 9)]
    assert all(plan["items"][-1]["role"] == "chorus" for plan in week["days"])
    assert {path.name for path in (home / "week").iterdir()} == {"week.pdf", "week.json"}
    assert "plans: 1," in class_of_one("student", "show", "Odile").out


def test_a_week_is_shown_day_by_day(class_of_one: Command) -> None:
    lines = class_of_one("plan", "--today", MONDAY, "--week").out.splitlines()
    assert (
        lines[0] == "Odile · Alto saxophone: 2 March to 8 March, 30 minutes a day, rests among them"
    )
    assert [line for line in lines if "day, " in line and ":" not in line] == [
        "Monday, 2 March", "Tuesday, 3 March", "Wednesday, 4 March", "Thursday, 5 March",
        "Friday, 6 March", "Saturday, 7 March", "Sunday, 8 March",
    ]  # fmt: skip
