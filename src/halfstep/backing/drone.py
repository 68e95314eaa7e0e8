"""What is there to tune to? A held root with its fifth, for each chord or for the home key.

Over each chord it is heard what a tone is worth there; over the home key's tonic, where the
whole is at home. Chords on one root are one long tone. A fifth that the chord has lowered or
raised is left out, the octave sounds for it.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import groupby

from halfstep.backing.bar_layout import chord_timeline
from halfstep.harmony.home_key import home_key
from halfstep.harmony.tones import chord_tones
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Chart, Span, spans
from halfstep.progression.symbol import ChordSymbol

_CLARINET = 71
_LOWEST_ROOT = 50  # D3: the lowest note of the clarinet that sounds it
_FIFTH, _OCTAVE = 7, 12
_VELOCITY = 64


def drone_part(chart: Chart, choruses: int = 1, *, at_home: bool = False) -> PlayedPart:
    """A drone for a block of choruses; silence has none.

    Parameters
    ----------
    chart : Chart
    choruses : int
    at_home : bool
        The tonic of the home key throughout; else the root of each chord.
    """
    held = _home_tones(chart, choruses) if at_home else _root_tones(chart, choruses)
    notes = tuple(
        PlayedNote(start, beats, midi, _VELOCITY - 6 * (midi != min(chord)))
        for start, beats, chord in held
        for midi in chord
    )
    return PlayedPart("drone", _CLARINET, False, notes)


Tone = tuple[Fraction, Fraction, tuple[int, ...]]
"""Start and length in beats, and what sounds as MIDI numbers."""


def _home_tones(chart: Chart, choruses: int) -> Iterator[Tone]:
    """The tonic and its fifth, struck anew with each chorus."""
    key = chart.key or home_key(spans(chart))
    root = _placed(key.tonic.pitch_class)
    for chorus in range(choruses):
        yield chorus * chart.beats, chart.beats, (root, root + _FIFTH)


def _root_tones(chart: Chart, choruses: int) -> Iterator[Tone]:
    chords = chord_timeline(chart, choruses).spans
    for tones, held in groupby(chords, key=_root_and_fifth):
        if tones:
            stretch: list[Span] = list(held)
            yield stretch[0].start, stretch[-1].end - stretch[0].start, tones


def _root_and_fifth(span: Span) -> tuple[int, ...]:
    if span.symbol.silent:
        return ()
    root = _placed(span.symbol.root.pitch_class)
    return root, root + (_FIFTH if _has_plain_fifth(span.symbol) else _OCTAVE)


def _has_plain_fifth(symbol: ChordSymbol) -> bool:
    """True unless the chord has another fifth; one without any does not mind it."""
    fifths = [tone.degree for tone in chord_tones(symbol) if tone.degree.number == 5]
    return not symbol.alt and all(degree.alteration == 0 for degree in fifths)


def _placed(pitch_class: int) -> int:
    return _LOWEST_ROOT + (pitch_class - _LOWEST_ROOT) % 12
