"""Twelve keys and more, every instrument: what a player reads is what sounds.

Sources: cases 43 and 49 of a collection of transposition faults met in other programs
(expected spellings worked out by hand from the line of fifths); flats at six and no
double sign in a root are common practice, no source.
"""

from __future__ import annotations

from functools import lru_cache

import pytest

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.steps import find_step
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.part.transposed_part import Part, part_for
from halfstep.part.transposition import moved_to
from halfstep.pitch import Interval
from halfstep.progression.key import key_of, parse_key
from typed_charts import read_chart_text

BARS = "| Dm7 G7 | Em7b5 A7b9 | Db7 C7 | Fmaj7 Bdim7 |"
"""In F: a turn to the sixth degree, a tritone substitute and a diminished chord."""

KEYS = ("C", "G", "D", "A", "E", "B", "F#", "Gb", "Db", "Ab", "Eb", "Bb", "F")
MINOR_KEYS = ("Am", "Em", "Bm", "F#m", "C#m", "G#m", "D#m", "Ebm", "Bbm", "Fm", "Cm", "Gm", "Dm")
INSTRUMENT_KEYS = tuple(INSTRUMENTS)


@lru_cache(maxsize=64)
def analysis_in(key: str) -> Analysis:
    own = "Dm" if key.endswith("m") else "F"
    chart = read_chart_text(f"title: Lift out of order\nkey: {own}\n{BARS}")
    return analyse(moved_to(chart, parse_key(key)), level=Level.INTERMEDIATE)


def part_in(key: str, instrument: str) -> Part:
    return part_for(analysis_in(key), INSTRUMENTS[instrument])


def chart_in(key: str, symbols: str) -> Analysis:
    return analyse(read_chart_text(f"key: {key}\n| {symbols} |"), level=Level.INTERMEDIATE)


def moves_written(instrument: str) -> bool:
    """True for instruments that read other note names than sound."""
    return INSTRUMENTS[instrument].rise.fifths != 0


each_key = pytest.mark.parametrize("key", KEYS + MINOR_KEYS)
each_instrument = pytest.mark.parametrize("instrument", INSTRUMENT_KEYS)


@pytest.mark.sampled
@each_key
@each_instrument
def test_a_written_signature_has_at_most_six_accidentals(key: str, instrument: str) -> None:
    assert abs(part_in(key, instrument).key.fifths) <= 6


@pytest.mark.sampled
@each_key
@each_instrument
def test_a_moved_part_has_six_flats_and_never_six_sharps(key: str, instrument: str) -> None:
    part = part_in(key, instrument)
    if moves_written(instrument):
        assert part.key.fifths != 6
    else:
        assert part.key == parse_key(key)


@pytest.mark.sampled
@each_key
@each_instrument
def test_no_root_has_a_double_sign(key: str, instrument: str) -> None:
    part = part_in(key, instrument)
    roots = [part.symbol(index).root for index in range(len(part.analysis.chords))]
    assert [root for root in roots if abs(root.alteration) > 1] == []


@pytest.mark.sampled
@each_key
@each_instrument
def test_written_chords_sound_like_those_in_concert_pitch(key: str, instrument: str) -> None:
    part = part_in(key, instrument)
    rise = INSTRUMENTS[instrument].rise.semitones
    for index, here in enumerate(part.analysis.chords):
        assert part.interval_at(index).semitones == rise
        concert = [(tone.name.pitch_class + rise) % 12 for tone in here.tones]
        assert [name.pitch_class for name in part.names(index)] == concert
        assert part.symbol(index).root.pitch_class == concert[0]
        assert part.symbol(index).family == here.span.symbol.family


@pytest.mark.sampled
@each_instrument
@pytest.mark.parametrize("key", KEYS)
def test_a_written_line_sounds_where_it_should_there_and_back(key: str, instrument: str) -> None:
    part, player = part_in(key, instrument), INSTRUMENTS[instrument]
    etude = write_etude(
        find_step("scale"), part.analysis, Brief(player, Level.INTERMEDIATE, 112.0, 1)
    )
    compass = player.compass(Level.INTERMEDIATE)
    for note in etude.notes:
        written = part.pitch(note)
        assert note.pitch is not None
        assert written is not None
        assert written.midi == note.pitch.midi + player.rise.semitones
        assert written.midi - player.rise.semitones == note.pitch.midi
        assert (note.pitch + player.rise - player.rise) == note.pitch
        assert written in compass
        assert abs(written.name.alteration) <= 1


def test_concert_f_sharp_for_alto_is_written_in_e_flat() -> None:
    """Case 49: E♭ major, not D♯ major, and concert C♯7 is B♭7."""
    part = part_for(chart_in("F#", "C#7 | F#maj7"), INSTRUMENTS["alto-sax"])
    assert str(part.key) == "E♭ major"
    assert [part.symbol(index).ascii for index in (0, 1)] == ["Bb7", "Ebmaj7"]


@pytest.mark.parametrize("instrument", ["concert", "flute", "piano", "guitar", "trombone"])
def test_g_flat_and_f_sharp_are_both_kept_where_nothing_moves(instrument: str) -> None:
    """Case 43: neither is replaced by the other without asking."""
    player = INSTRUMENTS[instrument]
    flat = part_for(chart_in("Gb", "Db7 | Gbmaj7"), player)
    sharp = part_for(chart_in("F#", "C#7 | F#maj7"), player)
    assert (flat.key.fifths, sharp.key.fifths) == (-6, 6)
    assert [flat.symbol(index).ascii for index in (0, 1)] == ["Db7", "Gbmaj7"]
    assert [sharp.symbol(index).ascii for index in (0, 1)] == ["C#7", "F#maj7"]


@pytest.mark.parametrize(
    ("instrument", "written"),
    [("tenor-sax", "Ab"), ("trumpet", "Ab"), ("alto-sax", "Eb"), ("flute", "Gb")],
)
def test_a_flat_part_of_concert_g_flat_is_in_flats(instrument: str, written: str) -> None:
    part = part_for(chart_in("Gb", "Db7 | Gbmaj7"), INSTRUMENTS[instrument])
    assert part.key == parse_key(written)


def test_the_interval_of_a_turned_part_still_sounds_the_same() -> None:
    plain = part_in("C", "alto-sax").interval
    turned = part_in("B", "alto-sax").interval
    assert plain == Interval(5, 9)
    assert turned == Interval(6, 9)


@pytest.mark.parametrize("fifths", range(-7, 8))
@pytest.mark.parametrize("instrument", ["alto-sax", "tenor-sax", "baritone-sax"])
def test_all_fifteen_signatures_are_written_with_six_or_fewer(fifths: int, instrument: str) -> None:
    """Even C♯ and C♭ major, which a chart may state, end in a signature a player knows."""
    key = key_of(fifths)
    part = part_for(chart_in(key.ascii, f"{key.ascii}maj7"), INSTRUMENTS[instrument])
    assert -6 <= part.key.fifths <= 5


def test_a_region_that_would_need_seven_sharps_turns_to_flats_by_itself() -> None:
    """Concert E major is D♭ for an alto saxophone, not C♯; its ii–V turns with it."""
    chart = read_chart_text("| Cmaj7 | F#m7 B7 | Emaj7 | Dm7 G7 | Cmaj7 |")
    part = part_for(analyse(chart), INSTRUMENTS["alto-sax"])
    written = [part.symbol(index).ascii for index in range(len(part.analysis.chords))]
    assert written == ["Amaj7", "Ebm7", "Ab7", "Dbmaj7", "Bm7", "E7", "Amaj7"]
    assert [part.local_keys[index].ascii for index in (0, 1, 3, 4)] == ["A", "Db", "Db", "A"]
    assert max(abs(part.signature(each).fifths) for each in part.analysis.signatures) <= 6
