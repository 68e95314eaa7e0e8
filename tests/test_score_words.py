"""A part read aloud: every bar, chord and note in words, and nothing that a reader passes over."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from halfstep.meter import Meter
from halfstep.notation import notated_lengths
from halfstep.part.chord_text import chord_text
from halfstep.pitch import LETTERS
from halfstep.progression.symbol import parse_symbol
from halfstep.score import Dynamic, Mark, PlaceSign, Road, Score, ScoreBar, ScoreNote, SignShape
from halfstep.score_words import (
    chord_words,
    name_words,
    opening_words,
    score_words,
    spoken_score,
)
from strategies import symbol_texts
from written_scores import line, part, rhythm, whole_scores

ALTERATIONS = {-2: " double flat", -1: " flat", 0: "", 1: " sharp", 2: " double sharp"}


def chord(text: str, at: object = 0):
    return chord_text(parse_symbol(text), Fraction(at))


def words_of(*bars: ScoreBar, **more: object) -> tuple[str, ...]:
    return score_words(part(*bars, **more))


def test_a_length_is_said_once_and_again_in_the_next_bar():
    one = ScoreBar(1, Meter(), line("A4 B4 C5 D5", 1), chords=(chord("Am7"), chord("D7", 2)))
    two = ScoreBar(2, Meter(), line("G4 r C#5", [2, 1, 1]), chords=(chord("Gmaj7"),))
    assert words_of(one, two) == (
        "Bar 1: On A minor 7: quarter A 4, B 4. On D 7: C 5, D 5.",
        "Bar 2: On G major 7: half G 4, quarter rest, C sharp 5.",
    )


def test_a_chord_inside_a_note_says_from_which_beat():
    bar = ScoreBar(1, Meter(), line("A4", 4), chords=(chord("Am7"), chord("D7", 2)))
    assert words_of(bar) == ("Bar 1: On A minor 7: whole A 4. On D 7 from beat 3.",)


def test_beats_of_six_eight_are_dotted_quarters():
    bar = ScoreBar(1, Meter(6, 8), line("A4", 3), chords=(chord("C"), chord("G", Fraction(3, 2))))
    assert words_of(bar) == ("Bar 1: On C: dotted half A 4. On G from beat 2.",)


def test_marks_are_words():
    note = line("F#5", 1)[0]
    marked = [
        replace(note, marks=Mark.CHANGING | Mark.BREATH),
        replace(note, marks=Mark.LEADS_CHROMATIC),
        replace(note, marks=Mark.TIE),
        replace(note, degree="♭7"),
    ]
    (words,) = words_of(ScoreBar(1, Meter(), tuple(marked)))
    assert words == (
        "Bar 1: quarter new F sharp 5, breathe, leading from outside F sharp 5, F sharp 5 tied, "
        "F sharp 5 as flat 7."
    )


def test_how_notes_are_touched_is_words():
    marks = (
        Mark.ACCENT | Mark.SLUR, Mark.STACCATO, Mark.GHOST, Mark.TENUTO, Mark.SCOOP, Mark.FALL,
        Mark.TIE | Mark.SLUR, Mark.NONE,
    )  # fmt: skip
    notes = [replace(n, marks=m) for n, m in zip(line("C5 " * 8, "1/2 " * 8), marks, strict=True)]
    notes[2] = replace(notes[2], dynamic=Dynamic.MEZZO_FORTE)
    assert words_of(ScoreBar(1, Meter(), tuple(notes))) == (
        "Bar 1: eighth accented C 5 slurred, short C 5, mezzo forte ghosted C 5, held C 5, "
        "scooped C 5, C 5 falling away, C 5 tied slurred, C 5.",
    )


def test_the_road_and_what_was_found_of_a_take_are_words():
    road = Road(forward=True, backward=3, ending=(1, 2), section="Bridge", signs=("to coda",))
    sign = PlaceSign(Fraction(2), SignShape.FULL, "late")
    bar = replace(rhythm("4"), road=road, signs=(sign,))
    assert words_of(bar) == (
        "Bar 1, section Bridge, repeat from here, ending 1 and 2: whole C 5. Full square on beat "
        "3, late. Play 3 times. To Coda.",
    )


def test_metre_and_signature_are_said_where_they_change():
    one = ScoreBar(1, Meter(), line("C5", 4))
    two = ScoreBar(2, Meter(3, 4), line("C5", 3), key=(-3, "major"))
    score = part(one, two, fifths=2)
    assert opening_words(score) == "2 sharps, 4 4 time"
    assert score_words(score)[1] == "Bar 2, 3 4 time, 3 flats: dotted half C 5."


def test_triplets_pickups_slashes_and_rests_have_words():
    third = Fraction(1, 3)
    pickup = ScoreBar(0, Meter(), line("C5 D5 E5", third))
    free = replace(rhythm("(4)", number=1), slashes=True, notes=(), chords=(chord("C7"),))
    rest = rhythm("(4)", number=2)
    first, second, third_bar = words_of(pickup, free, rest)
    assert first == "Pickup: triplet eighth C 5, D 5, E 5."
    assert second == "Bar 1: On C 7. Your own line."
    assert third_bar == "Bar 2: whole bar rest."


def test_an_open_bar_of_a_chart_has_its_chords_alone():
    silent = tuple(ScoreNote(None, beats, Mark.UNSEEN) for beats in notated_lengths(Fraction(4)))
    bar = ScoreBar(1, Meter(), silent, chords=(chord("N.C."), chord("C/E", 2)))
    assert words_of(bar) == ("Bar 1: No chord. On C over E from beat 3.",)


def test_symbols_are_said_as_players_say_them():
    """Common practice, no source."""
    said = {
        "Bbm7b5": "B flat half-diminished 7", "F#dim7": "F sharp diminished 7",
        "C7sus4": "C 7 suspended 4",
        "Ebmaj9": "E flat major 9", "G7b9": "G 7 flat 9", "Am/G": "A minor over G", "C6/9": "C 6 9",
        "E+": "E augmented", "Bm7b5/F": "B half-diminished 7 over F", "D7alt": "D 7 altered",
        "Cm(maj7)": "C minor major 7", "G": "G",
    }  # fmt: skip
    printed = {text: chord_words(chord(text)) for text in said}
    assert printed == said


@given(symbol_texts())
def test_no_symbol_leaves_a_sign_that_a_reader_passes_over(text: str):
    assert re.fullmatch(r"[A-Za-z0-9 -]+", chord_words(chord(text)))


@pytest.mark.slow
@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
@given(whole_scores())
def test_every_note_of_every_bar_is_said(score: Score):
    spoken = spoken_score(score)
    assert len(spoken) == 1 + len(score.bars)
    for words, bar in zip(spoken[1:], score.bars, strict=True):
        names = [
            f"{LETTERS[note.pitch.name.letter]}{ALTERATIONS[note.pitch.name.alteration]} "
            f"{note.pitch.octave}"
            for note in bar.notes
            if note.pitch
        ]
        at = 0
        for name in names:
            at = words.index(name, at) + len(name)
        assert not re.search("[♭♯𝄫𝄪°ø△]", words.replace("Bridge <2>", ""))


def test_a_double_sharp_is_two_words():
    assert name_words("F𝄪5") == "F double sharp 5"
