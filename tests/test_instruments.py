"""Who plays it: transposition, range and program."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.errors import BriefError
from halfstep.instruments import INSTRUMENTS, Compass, Instrument, find_instrument
from halfstep.level import Level
from halfstep.listen.spectra import LOW, SEMITONES
from halfstep.pitch import Pitch, parse_pitch
from strategies import pitches

# sounding minus written, semitones: music21 10 run, a university handout and OpenStax read;
# the guitar: common practice, no source
SOUNDS_ABOVE_WRITTEN = {
    "soprano-sax": -2,
    "alto-sax": -9,
    "tenor-sax": -14,
    "baritone-sax": -21,
    "trumpet": -2,
    "clarinet": -2,
    "bass-clarinet": -14,
    "horn": -7,
    "violin": 0,
    "double-bass": -12,
    "flute": 0,
    "trombone": 0,
    "guitar": -12,
    "concert": 0,
    "piano": 0,
    "voice": 0,
}

# lowest written note: music21 10 run; guitar common practice; baritone from memory
LOWEST = {
    "soprano-sax": "Bb3",
    "alto-sax": "Bb3",
    "tenor-sax": "Bb3",
    "baritone-sax": "A3",
    "trumpet": "F#3",
    "clarinet": "E3",
    "bass-clarinet": "Eb3",
    "violin": "G3",
    "horn": "C3",
    "flute": "C4",
    "trombone": "E2",
    "guitar": "E3",
}

# highest written note without altissimo: sources differ, defaults a teacher changes
HIGHEST = {
    "soprano-sax": "F6",
    "alto-sax": "F6",
    "tenor-sax": "F6",
    "baritone-sax": "F6",
    "trumpet": "C6",
    "trombone": "C5",
    "clarinet": "C7",
    "flute": "C7",
}

MUSIC21 = {
    "soprano-sax": "SopranoSaxophone",
    "alto-sax": "AltoSaxophone",
    "tenor-sax": "TenorSaxophone",
    "baritone-sax": "BaritoneSaxophone",
    "trumpet": "Trumpet",
    "clarinet": "Clarinet",
    "bass-clarinet": "BassClarinet",
    "flute": "Flute",
    "horn": "Horn",
    "trombone": "Trombone",
    "violin": "Violin",
    "double-bass": "Contrabass",
}

GENERAL_MIDI = {
    "soprano-sax": "Soprano Sax",
    "alto-sax": "Alto Sax",
    "tenor-sax": "Tenor Sax",
    "baritone-sax": "Baritone Sax",
    "trumpet": "Trumpet",
    "trombone": "Trombone",
    "clarinet": "Clarinet",
    "bass-clarinet": "Clarinet",
    "horn": "French Horn",
    "violin": "Violin",
    "double-bass": "Acoustic Bass",
    "flute": "Flute",
    "guitar": "Electric Guitar (jazz)",
    "piano": "Acoustic Grand Piano",
    "concert": "Acoustic Grand Piano",
    "voice": "Voice Oohs",
}

EVERY = pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=INSTRUMENTS)


def instruments() -> st.SearchStrategy[Instrument]:
    return st.sampled_from(list(INSTRUMENTS.values()))


@EVERY
def test_it_sounds_as_far_from_what_it_reads_as_the_books_say(instrument: Instrument) -> None:
    written = parse_pitch("C5")
    sounding = instrument.concert(written)
    assert sounding.midi - written.midi == SOUNDS_ABOVE_WRITTEN[instrument.key]


@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize("key", MUSIC21)
def test_music21_transposes_by_the_same_spelled_interval(key: str) -> None:
    module = pytest.importorskip("music21.instrument")
    theirs = getattr(module, MUSIC21[key])().transposition
    rise = INSTRUMENTS[key].rise
    if theirs is None:
        assert (rise.letters, rise.semitones) == (0, 0)
    else:
        assert theirs.semitones == -rise.semitones
        assert theirs.diatonic.generic.staffDistance == -rise.letters


# music21 has the baritone without its low A, the horn with its pedal notes; the double bass is
# written no lower than the program hears
@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize("key", sorted({*MUSIC21} - {"baritone-sax", "horn", "double-bass"}))
def test_music21_has_the_same_lowest_written_note(key: str) -> None:
    module = pytest.importorskip("music21.instrument")
    theirs = getattr(module, MUSIC21[key])().lowestNote.nameWithOctave.replace("-", "b")
    assert INSTRUMENTS[key].compass(Level.ADVANCED).low.ascii == theirs


@pytest.mark.parametrize(("key", "low"), LOWEST.items())
def test_the_lowest_note_is_the_instruments_own(key: str, low: str) -> None:
    assert INSTRUMENTS[key].compass(Level.ADVANCED).low == parse_pitch(low)


@pytest.mark.parametrize(("key", "high"), HIGHEST.items())
def test_the_highest_note_needs_no_altissimo(key: str, high: str) -> None:
    assert INSTRUMENTS[key].compass(Level.ADVANCED).high.midi <= parse_pitch(high).midi


# General MIDI names as they stand in the text events of a set of test files (MIT)
@EVERY
def test_its_program_has_its_name_in_general_midi(
    instrument: Instrument, reference_data: Path
) -> None:
    table = json.loads((reference_data / "midi-test-files/gm_names_from_midi.json").read_text())
    named = dict(table["gm_program_0based"])
    assert named[instrument.program].endswith(GENERAL_MIDI[instrument.key])


@EVERY
def test_a_level_widens_the_range_and_never_narrows_it(instrument: Instrument) -> None:
    first, second, third = (instrument.compass(level) for level in Level)
    assert third.low.midi <= second.low.midi <= first.low.midi
    assert first.high.midi <= second.high.midi <= third.high.midi


@EVERY
@pytest.mark.parametrize("level", Level)
def test_a_range_has_room_for_a_line(instrument: Instrument, level: Level) -> None:
    compass = instrument.compass(level)
    assert compass.high.midi - compass.low.midi >= 12


# common practice, no source: from the lowest brass to the top of the piano
@EVERY
def test_what_sounds_is_within_what_instruments_play(instrument: Instrument) -> None:
    compass = instrument.compass(Level.ADVANCED)
    low, high = instrument.concert(compass.low), instrument.concert(compass.high)
    assert 36 <= low.midi < high.midi <= 96


def test_every_instrument_is_heard_over_its_whole_range() -> None:
    """What is written for it can be heard in a take."""
    for instrument in INSTRUMENTS.values():
        compass = instrument.compass(Level.ADVANCED)
        assert instrument.concert(compass.low).midi >= LOW
        assert instrument.concert(compass.high).midi < LOW + SEMITONES


# common practice, no source: written G4 to C6 or less
@pytest.mark.parametrize("key", [key for key in INSTRUMENTS if key.endswith("sax")])
def test_a_first_year_saxophonist_stays_between_g4_and_c6(key: str) -> None:
    compass = INSTRUMENTS[key].compass(Level.BEGINNER)
    assert compass.low.midi >= parse_pitch("G4").midi
    assert compass.high.midi <= parse_pitch("C6").midi


# common practice, no source: C#5 to D5 on the saxophone
@pytest.mark.parametrize("key", [key for key in INSTRUMENTS if key.endswith("sax")])
def test_the_saxophones_break_lies_above_c_sharp_5(key: str) -> None:
    assert INSTRUMENTS[key].break_midi == parse_pitch("C#5").midi


# common practice, no source: throat tones end at A4 and B flat 4, B4 takes the register key
def test_the_clarinets_break_lies_below_b4() -> None:
    assert INSTRUMENTS["clarinet"].break_midi == parse_pitch("B4").midi - 1


def test_a_first_year_clarinettist_stays_below_the_break() -> None:
    clarinet = INSTRUMENTS["clarinet"]
    assert clarinet.break_midi is not None
    assert clarinet.compass(Level.BEGINNER).high.midi <= clarinet.break_midi


def test_those_who_blow_must_breathe() -> None:
    winds = {key for key, each in INSTRUMENTS.items() if each.breath}
    assert winds == set(INSTRUMENTS) - {"concert", "guitar", "piano", "violin", "double-bass"}


@given(instruments(), pitches())
def test_written_and_concert_undo_each_other(instrument: Instrument, pitch: Pitch) -> None:
    assert instrument.concert(instrument.written(pitch)) == pitch
    assert instrument.written(instrument.concert(pitch)) == pitch


@given(pitches(), pitches(), pitches())
def test_a_compass_holds_what_lies_between_its_ends(a: Pitch, b: Pitch, c: Pitch) -> None:
    low, middle, high = sorted((a, b, c), key=lambda pitch: pitch.midi)
    compass = Compass(low, high)
    assert low in compass
    assert middle in compass
    assert high in compass
    assert (middle in Compass(high, high)) == (middle.midi == high.midi)


# common practice, no source
@pytest.mark.parametrize(
    ("key", "concert", "written"),
    [
        ("alto-sax", "Eb4", "C5"),
        ("tenor-sax", "Bb3", "C5"),
        ("baritone-sax", "Eb3", "C5"),
        ("trumpet", "Gb4", "Ab4"),
        ("clarinet", "F#4", "G#4"),
        ("guitar", "E2", "E3"),
        ("trombone", "Bb2", "Bb2"),
    ],
)
def test_a_player_reads_what_a_book_prints(key: str, concert: str, written: str) -> None:
    assert INSTRUMENTS[key].written(parse_pitch(concert)).ascii == written


@pytest.mark.parametrize("typed", ["alto-sax", " Alto-Sax ", "ALTO-SAX"])
def test_an_instrument_is_found_as_people_type_it(typed: str) -> None:
    assert find_instrument(typed).label == "Alto saxophone"


def test_an_unknown_instrument_is_refused_with_those_there_are() -> None:
    with pytest.raises(BriefError, match=r"'kazoo'; choose from concert, .*alto-sax"):
        find_instrument("kazoo")


def test_the_table_is_found_by_the_key_of_each_line() -> None:
    assert all(find_instrument(key).key == key for key in INSTRUMENTS)
