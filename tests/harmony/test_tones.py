"""Which notes are in the chord?"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given

from halfstep.harmony.tones import chord_degrees, chord_tones, core_tones
from halfstep.pitch import Name
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from strategies import COMMON, ROOTS, symbols

# mir_eval 0.8 (MIT), chord.QUALITIES, after Harte 2005
HARTE = {
    "": "maj",
    "m": "min",
    "+": "aug",
    "dim": "dim",
    "sus4": "sus4",
    "sus2": "sus2",
    "7": "7",
    "maj7": "maj7",
    "m7": "min7",
    "m(maj7)": "minmaj7",
    "6": "maj6",
    "m6": "min6",
    "dim7": "dim7",
    "m7b5": "hdim7",
    "5": "5",
}


@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize(("suffix", "quality"), HARTE.items())
def test_mir_eval_hears_the_same_notes_on_every_root(suffix: str, quality: str) -> None:
    chord = pytest.importorskip("mir_eval.chord")
    for root in ROOTS:
        number, bitmap, _ = chord.encode(f"{root}:{quality}")
        theirs = {(number + semitones) % 12 for semitones in range(12) if bitmap[semitones]}
        ours = {tone.name.pitch_class for tone in chord_tones(parse_symbol(root + suffix))}
        assert ours == theirs, root


@given(symbols())
def test_every_tone_is_spelled_by_its_degree(symbol: ChordSymbol) -> None:
    for tone in chord_tones(symbol):
        assert tone.name.letter == (symbol.root.letter + tone.degree.number - 1) % 7
        assert (tone.name.pitch_class - symbol.root.pitch_class) % 12 == tone.degree.semitones


@given(symbols())
def test_tones_come_in_order_and_once(symbol: ChordSymbol) -> None:
    degrees = chord_degrees(symbol)
    assert list(degrees) == sorted(set(degrees))


@given(symbols())
def test_the_bass_is_apart_from_the_tones(symbol: ChordSymbol) -> None:
    assert chord_tones(symbol) == chord_tones(replace(symbol, bass=None))


@pytest.mark.parametrize("suffix", COMMON)
def test_an_arpeggio_stops_at_the_seventh(suffix: str) -> None:
    symbol = parse_symbol("C" + suffix)
    assert core_tones(symbol) == tuple(t for t in chord_tones(symbol) if t.degree.number <= 7)
    assert core_tones(symbol)[0].name == Name(0)


def test_no_chord_has_no_tones() -> None:
    assert chord_tones(parse_symbol("N.C.")) == ()


@pytest.mark.parametrize("suffix", COMMON)
def test_tones_and_degrees_are_the_same_on_a_root_that_nobody_writes(suffix: str) -> None:
    symbol = replace(parse_symbol("C" + suffix), root=Name(6, -3))
    tones = chord_tones(symbol)
    assert tuple(tone.degree for tone in tones) == chord_degrees(symbol)
    assert [tone.name for tone in tones] == [Name(6, -3) + t.degree.interval for t in tones]
