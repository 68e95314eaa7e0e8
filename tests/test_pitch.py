"""Spelled notes and intervals: algebra, text and sound."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.instruments import INSTRUMENTS, Instrument
from halfstep.pitch import (
    DIMINISHED_SECOND,
    OCTAVE,
    UNISON,
    Degree,
    Interval,
    Name,
    Pitch,
    ascii_signs,
    name_at,
    parse_degrees,
    parse_name,
    parse_pitch,
    pitch_near,
    practical,
    practical_pitch,
    shown_alteration,
)
from strategies import names, pitches

NAMES = tuple(Name(letter, alteration) for letter in range(7) for alteration in range(-2, 3))
"""The 35 spelled names with two accidentals at most."""

SINGLE = tuple(name for name in NAMES if abs(name.alteration) <= 1)


def intervals() -> st.SearchStrategy[Interval]:
    """Distances between two spelled notes, up or down."""
    return st.builds(between, pitches(), pitches())


def between(low: Pitch, high: Pitch) -> Interval:
    return Interval(high.staff_step - low.staff_step, high.midi - low.midi)


# --- by construction -----------------------------------------------------------------


@given(names(double=True), intervals())
def test_a_name_moved_up_and_down_is_the_same_name(name: Name, interval: Interval) -> None:
    assert name + interval - interval == name


@given(pitches(), intervals())
def test_a_pitch_moved_up_and_down_is_the_same_pitch(pitch: Pitch, interval: Interval) -> None:
    assert pitch + interval - interval == pitch


@given(pitches(), intervals(), intervals())
def test_two_moves_are_one_move_of_their_sum(pitch: Pitch, a: Interval, b: Interval) -> None:
    assert pitch + a + b == pitch + (a + b)


@given(pitches(), intervals())
def test_a_move_counts_letters_and_semitones(pitch: Pitch, interval: Interval) -> None:
    moved = pitch + interval
    assert moved.staff_step - pitch.staff_step == interval.letters
    assert moved.midi - pitch.midi == interval.semitones


@given(pitches(), pitches())
def test_the_distance_of_two_pitches_leads_from_one_to_the_other(low: Pitch, high: Pitch) -> None:
    assert low + between(low, high) == high


@given(names(double=True), intervals())
def test_an_interval_moves_every_name_equally_far_along_the_fifths(
    name: Name, interval: Interval
) -> None:
    assert (name + interval).fifths - name.fifths == interval.fifths


@given(intervals())
def test_the_opposite_interval_undoes_it(interval: Interval) -> None:
    assert interval + -interval == UNISON
    assert (-interval).fifths == -interval.fifths


@given(st.integers(-40, 40))
def test_every_place_on_the_line_of_fifths_has_one_name(fifths: int) -> None:
    assert name_at(fifths).fifths == fifths
    assert name_at(fifths).pitch_class == 7 * fifths % 12


def test_the_line_of_fifths_reads_as_it_is_taught() -> None:
    line = [name_at(fifths).ascii for fifths in range(-8, 9)]
    assert " ".join(line) == "Fb Cb Gb Db Ab Eb Bb F C G D A E B F# C# G#"


@pytest.mark.parametrize("name", NAMES, ids=str)
def test_a_diminished_second_changes_the_name_and_not_the_sound(name: Name) -> None:
    turned = name + DIMINISHED_SECOND
    assert turned.pitch_class == name.pitch_class
    assert turned.letter == (name.letter + 1) % 7


@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=INSTRUMENTS)
def test_every_instrument_moves_every_name_and_back(instrument: Instrument) -> None:
    for name in NAMES:
        written = name + instrument.rise
        assert written - instrument.rise == name
        assert (written.pitch_class - name.pitch_class - instrument.rise.semitones) % 12 == 0


# --- text ----------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES, ids=str)
def test_a_name_reads_back_from_both_its_texts(name: Name) -> None:
    assert parse_name(name.ascii) == name
    assert parse_name(str(name)) == name


@given(pitches(-1, 9))
def test_a_pitch_reads_back_from_both_its_texts(pitch: Pitch) -> None:
    assert parse_pitch(pitch.ascii) == pitch
    assert parse_pitch(str(pitch)) == pitch


@given(st.integers(-5, 5))
def test_shown_signs_are_as_many_as_they_mean(alteration: int) -> None:
    plain = ascii_signs(shown_alteration(alteration))
    assert plain == ("#" if alteration > 0 else "b") * abs(alteration)


@pytest.mark.parametrize(
    ("typed", "read"),
    [("bb", "Bb"), ("b", "B"), (" eb ", "Eb"), ("Fx", "F##"), ("B𝄫", "Bbb"), ("C♮", "C")],
)
def test_a_name_reads_as_players_type_it(typed: str, read: str) -> None:
    assert parse_name(typed).ascii == read


@pytest.mark.parametrize("typed", ["", "H", "C#b", "Es", "4", "CC", "Eb4"])
def test_what_is_no_name_is_refused_in_words(typed: str) -> None:
    with pytest.raises(ReadError, match="is no note name; write a letter A to G"):
        parse_name(typed)


@pytest.mark.parametrize("typed", ["", "C", "4", "H4", "Eb 4", "C10"])
def test_what_is_no_pitch_is_refused_in_words(typed: str) -> None:
    with pytest.raises(ReadError, match="is no note with octave; write it like Eb4"):
        parse_pitch(typed)


def test_mixed_accidentals_are_refused_in_a_pitch_too() -> None:
    with pytest.raises(ReadError, match="'Cb#' is no note name"):
        parse_pitch("Cb#4")


def test_a_formula_reads_into_degrees_and_prints_again() -> None:
    formula = "1 b2 #4 5 bb7 b9 #11 13"
    assert " ".join(degree.ascii for degree in parse_degrees(formula)) == formula


# --- degrees -------------------------------------------------------------------------


@given(st.integers(1, 13), st.integers(-2, 2), names())
def test_a_degree_keeps_its_letter_and_sound_within_the_octave(
    number: int, alteration: int, root: Name
) -> None:
    degree = Degree(number, alteration)
    assert root + degree.interval == root + degree.simple.interval
    assert (root + degree.interval).letter == (root.letter + number - 1) % 7
    assert degree.semitones == degree.interval.semitones % 12
    assert 1 <= degree.simple.number <= 7


# common practice, no source: the third is two letters above its root, the seventh six
@pytest.mark.parametrize(
    ("root", "degree", "name"),
    [
        ("C", "bb7", "Bbb"),
        ("Gb", "b3", "Bbb"),
        ("F#", "3", "A#"),
        ("Ab", "#11", "D"),
        ("D#", "3", "F##"),
    ],
)
def test_a_degree_is_spelled_by_its_letter(root: str, degree: str, name: str) -> None:
    (found,) = parse_degrees(degree)
    assert (parse_name(root) + found.interval).ascii == name


# --- sound ---------------------------------------------------------------------------


# ISO 16 and MIDI 1.0: A4 = 440 Hz = 69; f = 440 * 2 ** ((m - 69) / 12)
def test_a4_is_440_hz_and_midi_69() -> None:
    assert (parse_pitch("A4").midi, parse_pitch("A4").hz) == (69, 440.0)


def test_middle_c_is_midi_60_and_261_6256_hz() -> None:
    middle = parse_pitch("C4")
    assert middle.midi == 60
    assert middle.hz == pytest.approx(261.6256, abs=5e-5)


@given(pitches())
def test_an_octave_doubles_the_frequency(pitch: Pitch) -> None:
    assert (pitch + OCTAVE).hz == pytest.approx(2 * pitch.hz)


@given(pitches(), names(double=True))
def test_the_nearest_pitch_of_a_name_is_within_a_tritone(pitch: Pitch, name: Name) -> None:
    near = pitch_near(name, pitch.midi)
    assert near.name == name
    assert abs(near.midi - pitch.midi) <= 6


@given(st.builds(Pitch, st.builds(Name, st.integers(0, 6), st.integers(-4, 4)), st.integers(1, 7)))
def test_practical_spelling_never_changes_the_sound(pitch: Pitch) -> None:
    played = practical_pitch(pitch)
    assert played.midi == pitch.midi
    assert abs(played.name.alteration) <= 1


@given(names())
def test_practical_spelling_leaves_single_accidentals_alone(name: Name) -> None:
    assert practical(name) == name


# --- music21 10 (BSD), Pitch and Interval; flats are "-" there ------------------------


@pytest.mark.filterwarnings("default")
def test_music21_agrees_on_every_spelled_pitch() -> None:
    module = pytest.importorskip("music21.pitch")
    for name, octave in product(NAMES, range(1, 8)):
        ours = Pitch(name, octave)
        theirs = module.Pitch(ours.ascii.replace("b", "-"))
        assert (ours.midi, ours.staff_step) == (theirs.ps, theirs.diatonicNoteNum - 1), ours
        assert ours.hz == pytest.approx(theirs.frequency), ours


@pytest.mark.filterwarnings("default")
def test_music21_agrees_on_every_interval_between_names() -> None:
    pitch = pytest.importorskip("music21.pitch")
    interval = pytest.importorskip("music21.interval")
    # music21 has no name for an interval altered more than four times
    theirs = {name: pitch.Pitch(f"{name.ascii.replace('b', '-')}4") for name in SINGLE}
    for low, high in product(SINGLE, SINGLE):
        distance = interval.Interval(theirs[low], theirs[high])
        ours = between(Pitch(low, 4), Pitch(high, 4))
        assert ours.semitones == distance.semitones, (low, high)
        assert ours.letters == distance.diatonic.generic.staffDistance, (low, high)


@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=INSTRUMENTS)
def test_music21_transposes_every_name_for_every_instrument_alike(instrument: Instrument) -> None:
    pitch = pytest.importorskip("music21.pitch")
    interval = pytest.importorskip("music21.interval")
    generic = instrument.rise.letters + 1
    theirs = interval.intervalFromGenericAndChromatic(generic, instrument.rise.semitones)
    for name in SINGLE:
        moved = pitch.Pitch(f"{name.ascii.replace('b', '-')}4").transpose(theirs)
        ours = Pitch(name, 4) + instrument.rise
        assert ours.ascii.replace("b", "-") == moved.nameWithOctave, name
