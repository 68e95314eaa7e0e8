"""Roman numerals in a key, names with endings, and signs that stand apart.

References: the Roman numerals of music21 (`music21.roman`) for roots and triads; else common
practice, no source.
"""

from __future__ import annotations

import pytest

from halfstep.errors import ReadError
from halfstep.progression.key import parse_key
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.progression.reading import parse_reading, reading_text
from halfstep.progression.roman import is_numeral, symbol_text
from halfstep.progression.symbol import parse_symbol

NUMERALS = ("I", "ii", "iii", "IV", "V", "vi", "vii°")
IN_MINOR = ("i", "ii°", "III", "iv", "V", "VI", "VII")
TONICS = ("C", "G", "D", "A", "E", "B", "F#", "C#", "F", "Bb", "Eb", "Ab", "Db", "Gb", "Cb")
MINOR_TONICS = ("A", "E", "B", "F#", "C#", "G#", "D#", "D", "G", "C", "F", "Bb", "Eb", "Ab")


def chords(text: str) -> list[str]:
    return [str(chord.symbol) for bar in read_sheet_text(text).bars for chord in bar.chords]


@pytest.mark.sampled
@pytest.mark.parametrize(
    ("tonic", "numerals"),
    [(tonic, NUMERALS) for tonic in TONICS] + [(f"{tonic}m", IN_MINOR) for tonic in MINOR_TONICS],
)
def test_triads_of_every_key_are_those_of_music21(tonic: str, numerals: tuple[str, ...]) -> None:
    roman = pytest.importorskip("music21.roman")
    key = parse_key(tonic)
    letter = tonic.removesuffix("m").replace("b", "-")
    for numeral in numerals:
        expected = roman.RomanNumeral(
            numeral.replace("°", "o"), letter.lower() if key.minor else letter
        )
        symbol = parse_symbol(symbol_text(numeral, key))
        assert symbol.root.ascii.replace("b", "-") == expected.root().name
        third = {"minor": "m", "major": "", "diminished": "°"}[expected.quality]
        assert str(symbol) == str(parse_symbol(symbol.root.ascii + third))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("key: F\n| ii7 | V7 | Imaj7 | iv6 |", ["Gm7", "C7", "Fmaj7", "B♭m6"]),
        ("key: F\n| iiø7 V7b9 | im6 |", ["Gø7", "C7♭9", "Fm6"]),
        ("key: Bb\n| bVII7 | #iv°7 | V7/ii | V7/bVI |", ["A♭7", "E°7", "G7", "D♭7"]),
        ("key: Em\n| iiø7 | bVI7 | VI7 | #vi°7 |", ["F♯ø7", "C7", "C7", "C♯°7"]),
        ("key: D dorian\n| i7 | IV7 | bVII |", ["Dm7", "G7", "C"]),
        ("key: C\n| imaj7 | {key Eb} I6 | V7sus4 |", ["Cm(maj7)", "E♭6", "B♭7sus4"]),
        ("key: C\n| Dm7 V7 | I |", ["Dm7", "G7", "C"]),
    ],
)  # fmt: skip
def test_numerals_are_chords_of_the_key_that_holds(text: str, expected: list[str]) -> None:
    assert chords(text) == expected


def test_numerals_are_said_to_be_read_in_their_key_once() -> None:
    notices = read_sheet_text("key: F\n| ii7 | V7 | I |").notices
    assert [notice for notice in notices if "Roman" in notice] == [
        "Roman numerals are read in F major"
    ]


def test_a_numeral_without_a_key_asks_for_one() -> None:
    words = r"line 1, column 3: 'ii7' is a Roman numeral; state a key, such as key: C"
    with pytest.raises(ReadError, match=words):
        read_sheet_text("| ii7 | V7 |")


@pytest.mark.parametrize("text", ["vamp", "Intro", "b", "#", "Bb", "Dm7", "IIII"])
def test_what_is_no_numeral_is_not_taken_for_one(text: str) -> None:
    assert not is_numeral(text)


# names with endings


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("Cis7", "C♯7"), ("Fis", "F♯"), ("Gism7", "G♯m7"), ("Des7", "D♭7"), ("Esmaj7", "E♭maj7"),
        ("Es", "E♭"), ("As6", "A♭6"), ("Bes7", "B♭7"), ("D/Fis", "D/F♯"), ("Es/Bes", "E♭/B♭"),
        ("Esus", "Esus4"), ("Asus4", "Asus4"), ("Essus", "E♭sus4"), ("Hism", "B♯m"),
        ("C", "C"), ("Bb7", "B♭7"),
    ],
)  # fmt: skip
def test_endings_are_signs_where_they_are_settled(typed: str, expected: str) -> None:
    assert str(parse_symbol(typed, parse_reading("Cis = C#"))) == expected


@pytest.mark.parametrize("equation", ["Cis = C#", "Es = Eb", "As=Ab", "Bes = Bb", "Fis = F♯"])
def test_any_name_with_an_ending_settles_all(equation: str) -> None:
    reading = parse_reading(equation)
    assert reading.endings
    assert parse_reading(reading_text(reading)) == reading


def test_german_books_have_h_small_letters_and_endings_at_once() -> None:
    text = "reading: B = Bb, e = Em, Es = Eb\n| cis | H7 | B | es/b | fis7 |"
    assert chords(text) == ["C♯m", "B7", "B♭", "E♭m/B♭", "F♯m7"]


def test_an_ending_that_is_not_settled_says_how_to() -> None:
    with pytest.raises(ReadError, match=r"at 'is7'; say reading: Cis = C# if -is is a sharp"):
        read_sheet_text("| Cis7 |")
    with pytest.raises(ReadError, match=r"at 's7'; say reading: Cis = C#"):
        read_sheet_text("| Es7 |")


def test_an_ending_is_settled_with_its_own_name_only() -> None:
    with pytest.raises(ReadError, match=r"'Cis' is not in doubt"):
        parse_reading("Cis = Db")


# signs that stand apart


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("| Co omit5 | F |", ["C°no5", "F"]),
        ("| Csus add b7 | F |", ["C7sus4", "F"]),
        ("| C7 no3 F add 9 |", ["C7no3", "Fadd9"]),
        ("| Cj7 | Dmj7 | Gj9 | FJ7 |", ["Cmaj7", "Dm(maj7)", "Gmaj9", "Fmaj7"]),
    ],
)
def test_what_is_added_or_left_out_may_stand_apart(text: str, expected: list[str]) -> None:
    assert chords(text) == expected
