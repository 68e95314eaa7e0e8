"""Is a chart in a mode, and which? Charts that no dominant leads home.

Two kinds are told apart. In a chart with one modal home all chords lie in one scale, whose
tonic is not that of its major or natural minor key: D C G D is D Mixolydian. In the other
kind each chord is a home of its own: suspended or minor chords without a scale in common.

Conventions
-----------
- A dominant seventh with its third, anywhere but at rest on the tonic, leads somewhere: the
  chart is in a key.

Source: common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from halfstep.harmony.chord_in_key import falls_a_fifth, is_dominant
from halfstep.harmony.tones import chord_tones
from halfstep.pitch import Degree
from halfstep.progression.chart import Span
from halfstep.progression.key import Key, key_of
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

HELD_BEATS = Fraction(4)
"""In quarter notes: a chord that is a home of its own lasts so long or longer."""
_MODES = {Family.MAJOR: "mixolydian", Family.SUS4: "mixolydian", Family.MINOR: "dorian"}
_CHARACTER = {"mixolydian": Degree(7, -1), "dorian": Degree(6)}
"""The note that tells a mode from the major or minor key on its tonic."""


def modal_home(spans: Sequence[Span]) -> Key | None:
    """The one Mixolydian or Dorian home of a chart; None where it is in a key, or in none.

    The chart begins on its tonic and ends there, or rests on it as long as on the tonic of
    the major key that has the same notes.
    """
    played = [span for span in spans if not span.symbol.silent]
    mode = _mode_of(played[0].symbol) if played else None
    if mode is None or len({span.symbol.root.pitch_class for span in played}) < 2:
        return None
    home = Key(played[0].symbol.root, mode=mode)
    in_mode = abs(home.fifths) <= 7 and _in_mode([span.symbol for span in played], home)
    return home if in_mode and _rests(played, home) else None


def _mode_of(symbol: ChordSymbol) -> str | None:
    return None if symbol.seventh == Degree(7) else _MODES.get(symbol.family)


def _in_mode(symbols: Sequence[ChordSymbol], home: Key) -> bool:
    """True where all chords lie in the mode, its own note is heard, and nothing leads away."""
    tones = {tone.name.pitch_class for symbol in symbols for tone in chord_tones(symbol)}
    character = (home.tonic + _CHARACTER[home.mode].interval).pitch_class
    return character in tones and tones <= _notes(home) and not _leads_away(symbols, home)


def _leads_away(symbols: Sequence[ChordSymbol], home: Key) -> bool:
    """True for a dominant seventh with its third off the tonic, or on it and falling a fifth."""
    return any(
        is_dominant(one)
        and one.family is Family.MAJOR
        and (one.root.pitch_class != home.tonic.pitch_class or falls_a_fifth(one, two))
        for one, two in pairwise([*symbols, symbols[0]])
    )


def _notes(key: Key) -> set[int]:
    """The notes of the key's signature, as pitch classes."""
    return {7 * fifths % 12 for fifths in range(key.fifths - 1, key.fifths + 6)}


def _rests(spans: Sequence[Span], home: Key) -> bool:
    beats: dict[int, Fraction] = defaultdict(Fraction)
    for span in spans:
        beats[span.symbol.root.pitch_class] += span.beats
    tonic = home.tonic.pitch_class
    rival = beats[_major_tonic(home)]
    return spans[-1].symbol.root.pitch_class == tonic or beats[tonic] >= rival


def _major_tonic(key: Key) -> int:
    """The tonic of the major key with the same signature, as a pitch class."""
    return 7 * key.fifths % 12


def modes_of_their_own(spans: Sequence[Span]) -> tuple[Key, ...] | None:
    """For each chord the mode in which it is at home; None where the chords share a key.

    All are suspended or minor and last a bar of four beats, no minor one falls a fifth to the
    next, and no scale of a key holds them all.
    """
    played = [span for span in spans if not span.symbol.silent]
    if len({span.symbol.root.pitch_class for span in played}) < 2:
        return None
    if not all(_is_held(span) for span in played) or _has_scale_in_common(played) or _falls(played):
        return None
    current = _mode_key(played[0].symbol)
    modes = []
    for span in spans:
        current = current if span.symbol.silent else _mode_key(span.symbol)
        modes.append(current)
    return tuple(modes)


def _is_held(span: Span) -> bool:
    symbol = span.symbol
    stands = symbol.family in {Family.SUS4, Family.MINOR} and symbol.seventh != Degree(7)
    return stands and span.beats >= HELD_BEATS


def _has_scale_in_common(spans: Sequence[Span]) -> bool:
    tones = {tone.name.pitch_class for span in spans for tone in chord_tones(span.symbol)}
    return any(tones <= _notes(key_of(fifths)) for fifths in range(-5, 7))


def _falls(spans: Sequence[Span]) -> bool:
    """True where a minor chord falls a fifth, as ii does to V."""
    return any(
        one.symbol.family is Family.MINOR
        and (two.symbol.root.pitch_class - one.symbol.root.pitch_class) % 12 == 5
        for one, two in pairwise([*spans, spans[0]])
    )


def _mode_key(symbol: ChordSymbol) -> Key:
    return Key(symbol.root, mode=_MODES[symbol.family]).practical
