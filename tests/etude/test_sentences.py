"""What can be said of any line: names, places, roles, moves; no word about notes not there."""

from __future__ import annotations

import pytest
from step_lines import as_read, words_on
from typed_lines import typed

from halfstep.etude.sentences import (
    answer_bars,
    breaths,
    changes,
    direction,
    ends,
    highest,
    leading_in_words,
    move_in_words,
    size_of_move,
    smallest_change,
)  # fmt: skip

FALLING = "key: F\n| C7 | F7 |"
LINE = as_read(typed("one-line", FALLING, "C5 Bb4 A4 G4 E4 D4 F4 E4 | Eb4 F4 r- A4 F4--,")[0])


@pytest.mark.parametrize(
    ("chart", "line", "places"),
    [
        ("| C7 |", "C4- D4 E4 C4--",
         ["bar 1", "bar 1 beat 2", "bar 1 on the “and” of 2", "bar 1 beat 3"]),
        (FALLING, "C4---- | A4- C5---", ["bar 1", "bar 2", "bar 2 beat 2"]),
        ("meter: 6/8\n| C7 |", "C4 D4 E4 F4 E4 C4",
         ["bar 1", "bar 1 beat 1", "bar 1 beat 1", "bar 1 beat 2", "bar 1 beat 2", "bar 1 beat 2"]),
    ],
)  # fmt: skip
def test_beats_are_counted_in_pulses_and_halves_alone(
    chart: str, line: str, places: list[str]
) -> None:
    """Nobody counts 1.67; the beat that the note lies in is told instead."""
    read = as_read(typed("one-line", chart, line)[0])
    shown = [read.place(note) for note in read.notes]
    assert [text.removesuffix(" beat 1") for text in shown] == [
        text.removesuffix(" beat 1") for text in places
    ]
    assert [read.bar(note) for note in read.notes] == [int(text.split()[1]) for text in places]


def test_names_are_those_that_the_player_reads() -> None:
    alto = as_read(typed("one-line", FALLING, "C4---- | A4----", instrument="alto-sax")[0])
    assert [alto.name(note) for note in alto.notes] == ["A", "F♯"]
    assert [alto.high_name(note) for note in alto.notes] == ["A4", "F♯5"]
    assert str(alto.part.symbol(0)) == "A7"


def test_a_note_without_a_degree_has_no_role() -> None:
    assert LINE.role(LINE.notes[0]) == ""
    assert LINE.name(LINE.notes[0]._replace(pitch=None)) == ""


def test_notes_are_joined_where_no_rest_lies_between() -> None:
    joined = [(str(old.pitch), str(new.pitch)) for old, new in LINE.joined()]
    assert ("F4", "A4") not in joined
    assert len(joined) == len(LINE.notes) - 2
    assert [len(phrase) for phrase in LINE.phrases()] == [10, 2]
    assert [len(notes) for notes in LINE.by_chord()] == [8, 4]


@pytest.mark.parametrize(
    ("old", "new", "size", "way", "words"),
    [
        ("F4", "E4", 1, -1, "F falls a half step to E"),
        ("E4", "F4", 1, 1, "E rises a half step to F"),
        ("C4", "D4", 2, 1, "C rises a whole step to D"),
        ("E4", "G4", 3, 1, "E rises a minor third to G"),
        ("C4", "E4", 4, 1, "C rises a major third to E"),
        ("C5", "G4", 5, -1, "C falls a fourth to G"),
        ("E4", "Bb4", 6, 1, "E rises a tritone to B♭"),
        ("C4", "G4", 7, 1, "C rises a fifth to G"),
        ("C4", "A4", 9, 1, "C rises to A"),
    ],
)
def test_moves_have_the_names_of_their_intervals(
    old: str, new: str, size: int, way: int, words: str
) -> None:
    read = as_read(typed("one-line", "key: F\n| C7 |", f"{old}-- {new}--")[0])
    first, second = read.notes
    assert size_of_move(read, first, second) == size
    assert direction(read, first, second) == way
    assert move_in_words(read, first, second) == words
    assert direction(read, first, first) == 0


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("C5-- E4-- | F4----", "bar 2: E rises a half step to F over F7"),
        ("C5-- G4-- | Eb5----", "bar 2: G rises to E♭ over F7"),
        ("C5-- C5-- | C5----", ""),  # nothing moves
        ("C5-- r-- | F4----", ""),  # a rest lies between
    ],
)
def test_the_smallest_change_is_told_where_notes_move(line: str, text: str) -> None:
    read = as_read(typed("one-line", FALLING, line)[0])
    assert smallest_change(read, "{place}: {move} over {chord}") == text


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("C5-- G4-- | A4-- F4--", "The line is highest at C5 in bar 1, the root of C7."),
        ("G4-- C5-- | C5-- F4--", "The line is highest at C5, first in bar 1 beat 3, "
         "the root of C7."),
        ("G4-- E4-- | F4-- Eb5--", "The line is highest at E♭5 in bar 2 beat 3, "
         "the seventh of F7."),
    ],
)  # fmt: skip
def test_the_highest_note_is_told_with_what_it_is(line: str, text: str) -> None:
    assert words_on(highest, "one-line", FALLING, line) == text


def test_where_the_line_comes_to_rest() -> None:
    text = "It comes to rest on A4, the third of F7."
    assert words_on(ends, "one-line", FALLING, "C5-- G4-- | C5-- A4--") == text


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("C5-- G4--, | A4-- F4--,", "Breathe at the mark in bar 1, not before."),
        ("C5--, G4--, | A4--, F4--,", "Breathe at the marks in bars 1–2, not before."),
        ("C5--, r-- | A4-- F4--,", "Breathe at the mark in bar 1."),  # a rest is a breath as well
        ("C5-- G4-- | A4-- F4--,", ""),  # after the last note everyone breathes
    ],
)
def test_breaths_are_told_with_their_bars(line: str, text: str) -> None:
    assert words_on(breaths, "one-line", FALLING, line) == text


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("C5-- E4-- | Eb4-- F4--", "Listen for what changes: E becomes E♭ in bar 2."),
        ("C5-- E4-- | F4-- A4--", ""),
    ],
)
def test_a_changing_note_is_told_with_what_it_was(line: str, text: str) -> None:
    assert words_on(changes, "one-line", FALLING, line) == text


@pytest.mark.parametrize(
    ("chart", "line", "text"),
    [
        (FALLING, "C5---- | r----", "Bar 2 is yours."),
        (FALLING, "C5---- | F4----", ""),
        ("key: F\n| C7 | F7 | C7 |", "C5---- | r---- | r----", "Bars 2–3 are yours."),
        ("key: F\n| C7 | N.C. | C7 |", "C5---- | r---- | r----", "Bar 3 is yours."),
    ],
)  # fmt: skip
def test_bars_with_a_chord_and_no_note_are_the_players(chart: str, line: str, text: str) -> None:
    assert words_on(answer_bars, "echo", chart, line) == text


def test_each_way_of_leading_is_told_once_and_only_the_first_few() -> None:
    pairs = list(zip(LINE.notes, LINE.notes[1:], strict=False))
    assert leading_in_words(LINE, pairs[:1] * 3, 3) == "C into B♭ in bar 1"
    assert leading_in_words(LINE, pairs, 2) == "C into B♭ and B♭ into A in bar 1"
    assert leading_in_words(LINE, [], 2) == ""
