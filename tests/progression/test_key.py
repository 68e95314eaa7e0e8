"""Which key is it? Text, signature and moving."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.pitch import DIMINISHED_SECOND, Name, name_at, parse_name
from halfstep.progression.key import Key, key_of, parse_key
from strategies import keys, names


@pytest.mark.parametrize(
    ("typed", "ascii_text"),
    [
        ("C", "C"),
        ("bb", "Bb"),
        ("B♭", "Bb"),
        ("F#m", "F#m"),
        ("f# minor", "F#m"),
        ("C-", "Cm"),
        ("C min", "Cm"),
        ("Eb major", "Eb"),
        ("EbM", "Eb"),
    ],
)
def test_a_key_reads_as_players_type_it(typed: str, ascii_text: str) -> None:
    assert parse_key(typed).ascii == ascii_text


@pytest.mark.parametrize("typed", ["", "H", "Cm7", "C dorian", "4", "Cbb"])
def test_what_is_no_key_is_refused_in_words(typed: str) -> None:
    with pytest.raises(ReadError, match="is no key; write a tonic such as Bb, or F#m"):
        parse_key(typed)


@pytest.mark.parametrize(
    ("typed", "words"),
    [("C", "no sharps or flats"), ("Am", "no sharps or flats"), ("F", "1 flat"), ("Em", "1 sharp")],
)
def test_a_signature_is_said_in_words(typed: str, words: str) -> None:
    assert parse_key(typed).signature == words


@given(st.integers(-7, 7))
def test_a_minor_key_shares_the_signature_of_the_major_key_a_minor_third_up(fifths: int) -> None:
    minor, major = key_of(fifths, minor=True), key_of(fifths)
    assert minor.fifths == major.fifths == fifths
    assert (minor.tonic.up_to(major.tonic).letters, minor.tonic.up_to(major.tonic).semitones) == (
        2,
        3,
    )


@given(keys(), names(), names())
def test_a_moved_key_sounds_moved_and_needs_seven_accidentals_at_most(
    key: Key, low: Name, high: Name
) -> None:
    interval = low.up_to(high)
    moved = key.moved(interval)
    assert (moved.tonic.pitch_class - key.tonic.pitch_class - interval.semitones) % 12 == 0
    assert moved.minor == key.minor
    assert abs(moved.fifths) <= 7


# common practice, no source: concert F sharp major is E flat for the alto, not D sharp
def test_a_key_beyond_seven_sharps_turns_to_flats() -> None:
    up_a_sixth = parse_name("C").up_to(parse_name("A"))
    assert parse_key("F#").moved(up_a_sixth) == parse_key("Eb")


def test_a_key_within_seven_accidentals_keeps_its_spelling() -> None:
    assert parse_key("F#").moved(DIMINISHED_SECOND) == parse_key("Gb")
    assert parse_key("B").moved(parse_name("C").up_to(parse_name("D"))) == parse_key("C#")


# music21 10 (BSD), KeySignature.asKey
@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize("mode", ["major", "minor"])
def test_music21_names_the_same_key_for_every_signature(mode: str) -> None:
    module = pytest.importorskip("music21.key")
    for fifths in range(-7, 8):
        theirs = module.KeySignature(fifths).asKey(mode).tonic.name.replace("-", "b")
        assert key_of(fifths, minor=mode == "minor").tonic.ascii == theirs


@given(keys())
def test_a_major_keys_tonic_stands_at_its_signature_on_the_line_of_fifths(key: Key) -> None:
    assert key.tonic == name_at(key.fifths + (3 if key.minor else 0))
