"""A lesson on four bars, from text to every file, read back by other programs."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from lesson.lesson_files import (
    STEMS,
    W3C,
    assert_data_is_consistent,
    assert_handout_opens,
    assert_part_is_right,
    assert_sound_is_right,
    lesson_data,
    names_in,
    schema_faults,
)

needs_schema = pytest.mark.skipif(not W3C.exists(), reason="the W3C's schema is not there")


@pytest.mark.slow
def test_data_follows_its_schema(small_lesson: Path) -> None:
    pytest.importorskip("jsonschema")
    assert schema_faults(lesson_data(small_lesson)) == []


def test_bars_chords_and_notes_fill_the_form(small_lesson: Path) -> None:
    assert_data_is_consistent(lesson_data(small_lesson))


@pytest.mark.slow
@needs_schema
def test_parts_sound_like_the_data_to_music21_and_mido(small_lesson: Path) -> None:
    for player in lesson_data(small_lesson)["players"]:
        assert_part_is_right(small_lesson, player, alone=False)


def test_handouts_open_and_carry_their_titles(small_lesson: Path) -> None:
    data = lesson_data(small_lesson)
    for player in data["players"]:
        assert_handout_opens(small_lesson, data, player)


@pytest.mark.slow
def test_stems_add_up_and_loop(small_lesson: Path) -> None:
    assert_sound_is_right(small_lesson, lesson_data(small_lesson))


def test_several_players_have_a_part_each_and_one_backing(small_lesson: Path) -> None:
    players = ("alto-sax", "trombone")
    expected = {f"{name}.wav" for name in ("backing", *STEMS)} | {"lesson.json", "teacher.pdf"}
    expected |= {f"handout-{player}.pdf" for player in players}
    expected |= {
        f"{name}-{step}-{player}.{kind}"
        for step in range(1, 7)
        for player in players
        for name, kind in (("step", "musicxml"), ("step", "mid"), ("step", "wav"), ("line", "wav"))
    }
    assert names_in(small_lesson) == expected


def test_the_files_in_the_data_are_those_in_the_folder(small_lesson: Path) -> None:
    files = lesson_data(small_lesson)["files"]
    assert {*files, "lesson.json"} == names_in(small_lesson)
    assert len(files) == len(set(files))


def test_the_data_has_what_was_asked(small_lesson: Path) -> None:
    data = lesson_data(small_lesson)
    assert (data["title"], data["chart"]["key"], data["chart"]["beats"]) == (
        "Stairs to Room Twelve", "Bb", "16",
    )  # fmt: skip
    assert [player["instrument"] for player in data["players"]] == ["alto-sax", "trombone"]
    steps = data["players"][0]["steps"]
    assert [step["number"] for step in steps] == [1, 2, 3, 4, 5, 6]
    assert steps[5]["step"] == "one-line"
    assert [chord["symbol"] for chord in data["analysis"]["chords"]] == [
        "Cm7", "F7", "Bbmaj7", "G7b9", "N.C.", "Bb6",
    ]  # fmt: skip


def test_no_note_sounds_where_there_is_no_chord(small_lesson: Path) -> None:
    data = lesson_data(small_lesson)
    silent = [i for i, chord in enumerate(data["analysis"]["chords"]) if chord["symbol"] == "N.C."]
    notes = [n for p in data["players"] for step in p["steps"] for n in step["notes"]]
    assert {note["midi"] for note in notes if note["chord"] in silent} == {None}
    rests = {Fraction(n["start"]) for n in notes if n["chord"] in silent}
    assert rests == {Fraction(12)}


def test_the_alto_reads_a_major_sixth_above_the_trombone(small_lesson: Path) -> None:
    alto, trombone = lesson_data(small_lesson)["players"]
    assert (alto["written_key"], trombone["written_key"]) == ("G", "Bb")
    assert alto["written_above_concert"] == {"letters": 5, "semitones": 9}
    assert [chord["symbol"] for chord in alto["chords"]] == [
        "Am7", "D7", "Gmaj7", "E7b9", "N.C.", "G6",
    ]  # fmt: skip
