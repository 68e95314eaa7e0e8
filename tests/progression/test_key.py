"""Which key is it? Text, signature and moving."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.pitch import DIMINISHED_SECOND, Interval, Name, name_at, parse_name
from halfstep.progression.key import Key, key_of, parse_key
from name_intervals import ascending
from strategies import keys, modal_keys, names

MODES = ("major", "minor", "dorian", "phrygian", "lydian", "mixolydian", "locrian")


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


@pytest.mark.parametrize("mode", ["dorian", "phrygian", "lydian", "mixolydian", "locrian"])
@pytest.mark.parametrize("shape", ["D {mode}", "D{short}", "d {Mode}", "D {SHORT}"])
def test_a_church_mode_reads_in_full_and_by_three_letters(mode: str, shape: str) -> None:
    """ABC 2.1 (2011), K: only the first three letters count, in any case."""
    short = mode[:3]
    typed = shape.format(mode=mode, short=short, Mode=mode.title(), SHORT=short.upper())
    assert str(parse_key(typed)) == f"D {mode}"


# ABC 2.1 (2011), K: the table of modes, each with the signature of C major
@pytest.mark.parametrize(
    "typed", ["C", "C ion", "D dor", "E phr", "F lyd", "G mix", "Am", "A aeolian", "B loc"]
)
def test_the_modes_on_the_white_keys_share_their_signature(typed: str) -> None:
    assert parse_key(typed).fifths == 0


@given(modal_keys())
def test_a_key_of_any_mode_reads_back_from_its_text(key: Key) -> None:
    assert parse_key(key.ascii) == key
    assert parse_key(str(key)) == key


def test_a_mode_has_a_minor_third_or_not() -> None:
    minor = {mode for mode in MODES if key_of(0, mode=mode).minor}
    assert minor == {"minor", "dorian", "phrygian", "locrian"}


@pytest.mark.parametrize("typed", ["", "H", "Cm7", "C doric", "4", "Cbb"])
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
    assert ascending(minor.tonic, major.tonic) == Interval(2, 3)


@given(modal_keys(), names(), names())
def test_a_moved_key_sounds_moved_and_needs_seven_accidentals_at_most(
    key: Key, low: Name, high: Name
) -> None:
    interval = ascending(low, high)
    moved = key.moved(interval)
    assert (moved.tonic.pitch_class - key.tonic.pitch_class - interval.semitones) % 12 == 0
    assert moved.mode == key.mode
    assert abs(moved.fifths) <= 7


# common practice, no source: concert F sharp major is E flat for the alto, not D sharp
def test_a_key_beyond_seven_sharps_turns_to_flats() -> None:
    up_a_sixth = ascending(parse_name("C"), parse_name("A"))
    assert parse_key("F#").moved(up_a_sixth) == parse_key("Eb")


def test_a_key_moved_by_more_than_twelve_fifths_still_comes_back_to_a_signature() -> None:
    far = ascending(parse_name("Cb"), parse_name("B#"))  # nineteen fifths
    assert parse_key("G").moved(far) == parse_key("Ab")
    assert parse_key("F").moved(-far) == parse_key("E")


def test_a_key_within_seven_accidentals_keeps_its_spelling() -> None:
    assert parse_key("F#").moved(DIMINISHED_SECOND) == parse_key("Gb")
    assert parse_key("B").moved(ascending(parse_name("C"), parse_name("D"))) == parse_key("C#")


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
