"""Chord symbols: what players write, one meaning each, and one house style."""

from __future__ import annotations

import pickle
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.harmony.tones import chord_tones
from halfstep.pitch import Degree, Name, parse_name
from halfstep.progression.symbol import ChordSymbol, in_words, parse_symbol
from name_intervals import ascending
from strategies import COMMON, ROOTS, names, odd_symbol_texts, symbol_texts


def spelled(text: str) -> set[str]:
    return {tone.name.ascii for tone in chord_tones(parse_symbol(text))}


# common practice, no source: more spellings than test_symbol_cases.py has
READINGS = {
    "C7b5#5b9#9": "C E Bb",
    "Cmadd9": "C Eb G D",
    "Cm2": "C Eb G D",
    "Cmaadd9": "C E G D",
    "C7#10": "C E G Bb D#",
    "C7b10": "C E G Bb D#",
    "C6/9#11": "C E G A D F#",
    "C(add4)(no3)": "C F G",
    "C°(maj7)": "C Eb Gb B",
    "Cmb5": "C Eb Gb",
    "C-5": "C E Gb",
    "Cm-5": "C Eb Gb",
    "Cm7-5": "C Eb Gb Bb",
    "Cm-9": "C Eb G Db",
    "C+9": "C E G# Bb D",
    "\N{FULLWIDTH LATIN CAPITAL LETTER C}m7": "C Eb G Bb",
    "C7(♭9,♯11)": "C E G Bb Db F#",
}


@pytest.mark.parametrize("typed", READINGS)
def test_a_spelling_has_one_meaning(typed: str) -> None:
    assert spelled(typed) == set(READINGS[typed].split())


def test_an_added_seventh_says_which_it_is() -> None:
    assert "major seventh" in " ".join(parse_symbol("Cadd7").notices)


@pytest.mark.parametrize(
    ("one", "other"),
    [("C9", "C7add9"), ("C7b9", "C7addb9"), ("C9b9", "C7b9"), ("C13b9", "C7b9add13")],
)
def test_two_ways_to_write_one_chord_are_equal(one: str, other: str) -> None:
    assert parse_symbol(one) == parse_symbol(other)


ALL_ROOTS = tuple(letter + sign for letter in "CDEFGAB" for sign in ("", "b", "#", "bb", "##"))
VOCABULARY = (
    *COMMON,
    *("5", "sus2", "m11", "m13", "maj13", "maj7#5", "maj9#11", "9sus4", "13sus4", "7sus4b9"),
    *("m6/9", "m(maj9)", "m9b5", "add9", "madd9", "add11", "7b5", "7b13", "9#11", "13b9", "11"),
    *(
        "13#11",
        "7b9b13",
        "7#9b13",
        "7b9#11",
        "11(add3)",
        "maj7sus4",
        "7no3",
        "dim(maj7)",
        "m7add11",
    ),
)
"""Every suffix of the house style that a lesson may meet."""


@pytest.mark.slow
@pytest.mark.parametrize("suffix", VOCABULARY)
def test_the_house_style_reads_back_on_every_root_over_every_bass(suffix: str) -> None:
    for root in ALL_ROOTS:
        plain = parse_symbol(root + suffix)
        for bass in (None, *map(parse_name, ALL_ROOTS)):
            symbol = replace(plain, bass=bass)
            assert parse_symbol(symbol.ascii) == symbol
            assert parse_symbol(str(symbol)) == symbol


@pytest.mark.slow
@settings(max_examples=300)
@given(
    st.sampled_from(ALL_ROOTS),
    st.sampled_from(VOCABULARY),
    st.sampled_from(["", *("/" + root for root in ALL_ROOTS)]),
)
def test_what_is_printed_reads_back(root: str, suffix: str, bass: str) -> None:
    symbol = parse_symbol(root + suffix + bass)
    assert symbol.root == parse_name(root)
    assert symbol.bass == (parse_name(bass[1:]) if bass else None)
    assert parse_symbol(symbol.ascii) == symbol
    assert parse_symbol(str(symbol)) == symbol


@pytest.mark.parametrize("root", ALL_ROOTS)
def test_different_chords_have_different_words(root: str) -> None:
    chords = {parse_symbol(root + suffix) for suffix in VOCABULARY}
    assert len({in_words(symbol) for symbol in chords}) == len(chords)


@given(odd_symbol_texts())
def test_the_house_style_of_odd_text_is_said_in_the_same_words(typed: str) -> None:
    symbol = _read_or_skip(typed)
    house = parse_symbol(symbol.ascii)
    assert in_words(house) == in_words(symbol)


@given(symbol_texts())
def test_the_fields_of_a_read_symbol_are_those_of_a_built_one(typed: str) -> None:
    symbol = parse_symbol(typed)
    built = ChordSymbol(symbol.typed, symbol.root, *symbol.quality, symbol.bass, symbol.notices)
    assert (built, hash(built), repr(built)) == (symbol, hash(symbol), repr(symbol))
    assert replace(symbol, extension=9, seventh=Degree(7)).quality.extension == 9
    assert pickle.loads(pickle.dumps(symbol)) == symbol


@pytest.mark.slow
@settings(max_examples=400)
@given(odd_symbol_texts())
def test_whatever_can_be_read_prints_to_text_that_reads_the_same(typed: str) -> None:
    symbol = _read_or_skip(typed)
    assert parse_symbol(symbol.ascii) == symbol
    assert parse_symbol(str(symbol)) == symbol


@pytest.mark.slow
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
    interval = ascending(low, high)
    assert symbol.moved(interval).moved(-interval) == symbol


@given(symbol_texts(), names(), names())
def test_what_a_moved_chord_is_written_as_reads_back(typed: str, low: Name, high: Name) -> None:
    moved = parse_symbol(typed).moved(ascending(low, high))
    written = [moved.root, *([moved.bass] if moved.bass else [])]
    assume(all(abs(name.alteration) <= 2 for name in written))
    assert parse_symbol(moved.typed) == moved


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
