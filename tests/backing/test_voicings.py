"""The chords: which notes are laid, and how they move."""

from __future__ import annotations

from itertools import pairwise
from random import Random

import pytest
from invented_charts import SYMBOLS

from halfstep.backing import STYLES
from halfstep.backing.voice_leading import LaidChord, voiced
from halfstep.backing.voicings import Hands, motion, open_colours, tone_sets, voicings
from halfstep.harmony.scales import scale_over
from halfstep.harmony.tones import chord_degrees
from halfstep.pitch import Name
from halfstep.progression.symbol import ChordSymbol, parse_symbol

HANDS = sorted({style.chords.hands for style in STYLES}, key=str)


def scale_of(symbol: ChordSymbol, label: str) -> frozenset[int]:
    return scale_over(symbol.root, label).pitch_classes


@pytest.mark.parametrize(
    ("text", "label", "colours"),
    [
        ("C7", "Mixolydian", "9 13"),
        ("C7", "Phrygian dominant", ""),
        ("C7", "Mixolydian ♭6", "9"),
        ("Cmaj7", "Ionian", "9 13"),
        ("Cm7", "Dorian", "9"),
        ("Cm7", "Phrygian", ""),
        ("C6", "Ionian", "9"),
        ("Cm6", "melodic minor", "9"),
        ("C7sus4", "Mixolydian", "9 13"),
        ("C7b9", "half-whole diminished", "13"),
        ("C7#11", "Lydian dominant", "9 13"),
        ("C9", "Mixolydian", "13"),
        ("C7alt", "altered", ""),
        ("Cm7b5", "Locrian ♮2", ""),
        ("Cdim7", "whole-half diminished", ""),
        ("C", "Ionian", ""),
        ("C7/Bb", "Mixolydian", ""),
        ("C7#5", "whole-tone", "9"),
    ],
)
def test_colours_fit_the_symbol_and_the_scale(text: str, label: str, colours: str) -> None:
    """9 and 13 where the scale over the chord has them; common practice, no source."""
    symbol = parse_symbol(text)
    assert " ".join(map(str, open_colours(symbol, scale_of(symbol, label)))) == colours


@pytest.mark.parametrize("text", SYMBOLS)
@pytest.mark.parametrize("hands", HANDS, ids=range(len(HANDS)))
def test_a_voicing_holds_what_the_symbol_is(text: str, hands: Hands) -> None:
    """All but root and fifth; nothing that argues; no semitone on top, none twice."""
    symbol = parse_symbol(text)
    scale = scale_of(symbol, "Mixolydian")
    root = symbol.root.pitch_class
    needed = {
        degree.semitones
        for degree in chord_degrees(symbol)
        if degree.number not in {1, 5} or degree in symbol.altered
    }
    allowed = {d.semitones for d in (*chord_degrees(symbol), *open_colours(symbol, scale))}
    allowed |= {1, 3, 6, 8} if symbol.alt else set()
    for notes, _ in voicings(symbol, scale, hands):
        steps = {(note - root) % 12 for note in notes}
        assert needed <= steps <= allowed
        assert 48 <= notes[0] < notes[-2] < notes[-1] - 1 <= 71
        assert 3 <= len(set(notes)) == len(notes) <= 5


@pytest.mark.parametrize("text", [symbol for symbol in SYMBOLS if symbol != "N.C."])
def test_every_chord_has_top_notes_to_choose_from(text: str) -> None:
    symbol = parse_symbol(text)
    tops = {notes[-1] for notes, _ in voicings(symbol, scale_of(symbol, "Mixolydian"), Hands())}
    assert len(tops) >= 2
    assert not list(tone_sets(parse_symbol("N.C."), frozenset(), Hands()))


def test_a_suspension_has_no_third_and_alt_no_natural_fifth_or_ninth() -> None:
    for text, wrong in (("C7sus4", {3, 4}), ("C7alt", {2, 7}), ("Cm7b5", {7}), ("C6", {10, 11})):
        for label in ("Mixolydian", "altered", "Ionian"):
            symbol = parse_symbol(text)
            for notes, _ in voicings(symbol, scale_of(symbol, label), Hands()):
                assert not wrong & {note % 12 for note in notes}


def test_voices_move_as_little_as_they_can() -> None:
    """Dm7 G7 Cmaj7: a step and a half a voice at most; common practice, no source."""
    scale = scale_over(Name(0), "Ionian").pitch_classes
    chords = [LaidChord(parse_symbol(text), scale) for text in ("Dm7", "G7", "Cmaj7")]
    laid = voiced(chords, hands=Hands(most=3), random=Random(1))
    for one, other in pairwise(laid):
        assert motion(one, other) <= 9


def test_motion_counts_semitones() -> None:
    assert motion((52, 57, 60), (53, 57, 59)) == 1 + 0 + 1
    assert motion((52, 57, 60), (52, 57, 60, 63)) == 3
