"""What is a chord to a key? Its kind and its numeral, whatever its spelling.

Common practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given

from halfstep.harmony.chord_in_key import (
    falls_a_fifth,
    is_dominant,
    is_tonic,
    numeral,
    rests_as_seventh,
)
from halfstep.pitch import Name, parse_name
from halfstep.progression.key import Key, parse_key
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from name_intervals import ascending
from strategies import keys, names, symbols

# --- words for chords in a key -------------------------------------------------------------


@pytest.mark.parametrize(
    ("symbol", "key", "text"),
    [
        ("Cmaj7", "C", "Imaj7"),
        ("Dm7", "C", "ii7"),
        ("G7", "C", "V7"),
        ("Bm7b5", "C", "viiø7"),
        ("Bb7", "C", "♭VII7"),
        ("Ebm7", "C", "♭iii7"),
        ("Db7", "C", "♭II7"),
        ("C#dim7", "C", "♯i°7"),
        ("F#dim7", "C", "♯iv°7"),
        ("G#dim7", "C", "♯v°7"),
        ("Gb7", "C", "♭V7"),
        ("Abmaj7", "Cm", "♭VImaj7"),
        ("Bdim7", "Cm", "vii°7"),
        ("Eb", "G", "♭VI"),
        ("F#7", "G", "VII7"),
        ("C#m7", "Ab", "iv7"),
        ("F#7", "Gb", "I7"),
        ("N.C.", "C", "N.C."),
    ],
)
def test_a_numeral_follows_the_spelling_of_the_root(symbol: str, key: str, text: str) -> None:
    assert numeral(parse_symbol(symbol), parse_key(key)) == text


@given(symbols(), keys(), names(), names())
def test_a_numeral_does_not_change_when_chord_and_key_move(
    symbol: ChordSymbol, key: Key, low: Name, high: Name
) -> None:
    up = ascending(low, high)
    assert numeral(symbol.moved(up), Key(key.tonic + up, key.minor)) == numeral(symbol, key)


@pytest.mark.parametrize(
    ("symbol", "dominant"),
    [
        ("G7", True),
        ("G13b9", True),
        ("G7sus4", True),
        ("Gmaj7", False),
        ("Gm7", False),
        ("G", False),
    ],
)
def test_a_dominant_has_a_major_third_or_a_fourth_and_a_minor_seventh(
    symbol: str, dominant: bool
) -> None:
    assert is_dominant(parse_symbol(symbol)) is dominant


@given(names(), names())
def test_a_fifth_falls_however_it_is_spelled(root: Name, other: Name) -> None:
    one, two = ChordSymbol("", root), ChordSymbol("", other)
    up_a_fourth = root + ascending(parse_name("C"), parse_name("F"))
    assert falls_a_fifth(one, two) == (up_a_fourth.pitch_class == other.pitch_class)


def test_silence_falls_nowhere() -> None:
    silent, f, g = (parse_symbol(text) for text in ("N.C.", "F", "G7"))
    assert not falls_a_fifth(silent, f)
    assert not falls_a_fifth(g, silent)


@pytest.mark.parametrize(
    ("symbol", "key", "tonic"),
    [
        ("Cmaj7", "C", True),
        ("C6", "C", True),
        ("C7", "C", False),
        ("Cm6", "Cm", True),
        ("Cm", "C", False),
        ("C", "Cm", False),
        ("N.C.", "C", False),
    ],
)
def test_the_tonic_is_the_keys_own_chord(symbol: str, key: str, tonic: bool) -> None:
    assert is_tonic(parse_symbol(symbol), parse_key(key)) is tonic


@pytest.mark.parametrize(
    ("symbol", "following", "key", "rests"),
    [
        ("C7", "Am", "C", True),
        ("C9", "C7", "C", True),
        ("C7", "N.C.", "C", True),
        ("C7", "F", "C", False),  # it falls a fifth
        ("C7", "Am", "Cm", False),
        ("F7", "C", "C", False),
        ("Cmaj7", "Am", "C", False),
    ],
)
def test_one_may_rest_with_a_minor_seventh(
    symbol: str, following: str, key: str, rests: bool
) -> None:
    chord, after = parse_symbol(symbol), parse_symbol(following)
    assert rests_as_seventh(chord, after, parse_key(key)) is rests
