"""Chord symbols: what players write, one meaning each, and one house style."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings

from halfstep.errors import ReadError
from halfstep.harmony.tones import chord_tones
from halfstep.pitch import Name
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from strategies import COMMON, ROOTS, names, odd_symbol_texts, symbol_texts


def spelled(text: str) -> set[str]:
    return {tone.name.ascii for tone in chord_tones(parse_symbol(text))}


# common practice, no source: the spellings people type and the notes a player plays
READINGS = {
    "C-7": "C Eb G Bb",
    "C-": "C Eb G",
    "C-6": "C Eb G A",
    "C-7b5": "C Eb Gb Bb",
    "Db△7": "Db F Ab C",
    "DbΔ7": "Db F Ab C",
    "Db∆7": "Db F Ab C",
    "Db\N{CIRCUMFLEX ACCENT}7": "Db F Ab C",
    "Cdim.": "C Eb Gb",
    "C0": "C Eb Gb Bb",
    "C07": "C Eb Gb Bb",
    "Cadd9": "C E G D",
    "C9": "C E G Bb D",
    "Cmaj9": "C E G B D",
    "Cadd4": "C E F G",
    "Cadd11": "C E F G",
    "C6/9": "C E G A D",
    "C69": "C E G A D",
    "C6add9": "C E G A D",
    "Cm6/9": "C Eb G A D",
    "A6/7/9": "A C# E G B F#",
    "C7M": "C E G B",
    "C7m": "C Eb G Bb",
    "C7+": "C E G# Bb",
    "A7+5": "A C# E# G",
    "A7-5": "A C# Eb G",
    "A7+9": "A C# E G B#",
    "A7-9": "A C# E G Bb",
    "A-9": "A C E G B",
    "Dm+7": "D F A C#",
    "E7/b9": "E G# B D F",
    "D7/b9": "D F# A C Eb",
    "G/dim": "G Bb Db",
    "D#/dim": "D# F# A",
    "Asus": "A D E",
    "Esus": "E A B",
    "G7alt": "G B F",
    "Galt": "G B F",
    "G7alt.": "G B F",
    "Calt7": "C E Bb",
    "C7b5#5b9#9": "C E Bb",
    "E7sus4(b9)": "E A B D F",
    "G7b913": "G B D F Ab E",
    "Cb9": "Cb Eb Gb Bbb Db",
    "C11": "C G Bb D F",
    "C11(add3)": "C E G Bb D F",
    "Cmadd9": "C Eb G D",
    "Cm2": "C Eb G D",
    "Cmaadd9": "C E G D",
    "C7#10": "C E G Bb D#",
    "C7b10": "C E G Bb D#",
    "C6/9#11": "C E G A D F#",
    "C(add4)(no3)": "C F G",
    "C°(maj7)": "C Eb Gb B",
    "Cmb5": "C Eb Gb",
    "\N{FULLWIDTH LATIN CAPITAL LETTER C}m7": "C Eb G Bb",
    "C7(♭9,♯11)": "C E G Bb Db F#",
}


@pytest.mark.parametrize("typed", READINGS)
def test_a_spelling_has_one_meaning(typed: str) -> None:
    assert spelled(typed) == set(READINGS[typed].split())


def test_a_slash_before_a_letter_names_the_bass_and_before_a_digit_does_not() -> None:
    assert parse_symbol("C6/9").bass is None
    assert parse_symbol("C6/9/G").bass == Name(4)
    assert parse_symbol("E7/b9").bass is None


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("C7+", "read as ♯5"),
        ("C7m", "minor seventh"),
        ("C0", "half-diminished"),
        ("Cb9", "C7b9"),
        ("Cadd7", "major seventh"),
    ],
)
def test_a_reading_that_is_easily_meant_otherwise_is_said(typed: str, words: str) -> None:
    assert words in " ".join(parse_symbol(typed).notices)


@pytest.mark.parametrize(
    ("one", "other"),
    [("C9", "C7add9"), ("C7b9", "C7addb9"), ("C9b9", "C7b9"), ("C13b9", "C7b9add13")],
)
def test_two_ways_to_write_one_chord_are_equal(one: str, other: str) -> None:
    assert parse_symbol(one) == parse_symbol(other)


@pytest.mark.parametrize("suffix", COMMON)
@pytest.mark.parametrize("root", ROOTS)
def test_house_style_reads_back_on_every_root(root: str, suffix: str) -> None:
    symbol = parse_symbol(root + suffix)
    assert parse_symbol(symbol.ascii) == symbol
    assert parse_symbol(str(symbol)) == symbol


@settings(max_examples=400)
@given(odd_symbol_texts())
def test_whatever_can_be_read_prints_to_text_that_reads_the_same(typed: str) -> None:
    symbol = _read_or_skip(typed)
    assert parse_symbol(symbol.ascii) == symbol
    assert parse_symbol(str(symbol)) == symbol


@settings(max_examples=400)
@given(odd_symbol_texts())
def test_house_style_keeps_every_tone(typed: str) -> None:
    symbol = _read_or_skip(typed)
    assert chord_tones(parse_symbol(symbol.ascii)) == chord_tones(symbol)


def _read_or_skip(typed: str) -> ChordSymbol:
    try:
        return parse_symbol(typed)
    except ReadError:
        assume(False)
        raise


@given(symbol_texts(), names(), names())
def test_moving_up_and_down_again_changes_nothing(typed: str, low: Name, high: Name) -> None:
    symbol = parse_symbol(typed)
    interval = low.up_to(high)
    assert symbol.moved(interval).moved(-interval) == symbol


@pytest.mark.parametrize(
    ("typed", "column"), [("H7", 1), ("c7", 1), ("C7x", 3), ("Cmaj7?", 6), ("", 1)]
)
def test_an_error_names_the_character_where_sense_stops(typed: str, column: int) -> None:
    with pytest.raises(ReadError, match="chord") as caught:
        parse_symbol(typed)
    assert caught.value.column == column


# music21 10 (BSD), ChordSymbol.pitches; its flats are "-", and it cannot read the
# suffixes that are left out here (7alt, maj9, Δ7; C69 lacks its fifth)
MUSIC21_SUFFIXES = {
    "": "",
    "m": "m",
    "7": "7",
    "maj7": "maj7",
    "m7": "m7",
    "m7b5": "m7b5",
    "dim": "dim",
    "dim7": "dim7",
    "+": "+",
    "6": "6",
    "m6": "m6",
    "9": "9",
    "m9": "m9",
    "sus4": "sus4",
    "sus2": "sus2",
    "m(maj7)": "mM7",
}


@pytest.mark.slow
@pytest.mark.parametrize("suffix", MUSIC21_SUFFIXES)
@pytest.mark.filterwarnings("default")
def test_chords_are_spelled_as_music21_spells_them(suffix: str) -> None:
    harmony = pytest.importorskip("music21.harmony")
    for root in ROOTS:
        figure = root.replace("b", "-") + MUSIC21_SUFFIXES[suffix]
        theirs = {p.name.replace("-", "b") for p in harmony.ChordSymbol(figure).pitches}
        assert spelled(root + suffix) == theirs, root
