"""What does the band play in a written ending? Its chord once, and a stroke on the drums.

It rings for the bar, or stops short in a style that does so: a line may be held over it.

The bass goes to the root nearest to where it is, and the chords to the voicing that moves
least. It is not part of a chorus: whoever plays the band puts it behind the last one.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from halfstep.backing.bass_line import HIGH, LOW
from halfstep.backing.drum_kit import CRASH, KICK, SNARE
from halfstep.backing.styles import Style
from halfstep.backing.voicings import Voicing, motion, voicings
from halfstep.meter import EIGHTH
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Bar
from halfstep.progression.symbol import ChordSymbol

_BASS_VELOCITY, _CHORD_VELOCITY = 92, 72
_KICK_VELOCITY, _CRASH_VELOCITY = 72, 84


@dataclass(frozen=True, slots=True)
class BandEnding:
    """The bar after the last chorus.

    Attributes
    ----------
    start, beats : Fraction
        Where it begins, which is where a chorus ends, and its length.
    parts : tuple of PlayedPart
        The players of the band, each with the notes of this bar alone.
    """

    start: Fraction
    beats: Fraction
    parts: tuple[PlayedPart, ...]

    def after(self, part: PlayedPart) -> PlayedPart:
        """A part with its notes of the ending behind those of the chorus."""
        more = (note for other in self.parts if other.name == part.name for note in other.notes)
        return replace(part, notes=(*part.notes, *more))


def band_ending(
    band: Sequence[PlayedPart], bar: Bar, start: Fraction, *, style: Style | None = None
) -> BandEnding:
    """What drums, bass and chords play in a bar that holds one chord.

    Parameters
    ----------
    band : sequence of PlayedPart
        The chorus before it.
    bar : Bar
    start : Fraction
        Where a chorus ends.
    style : Style or None
        None rings.
    """
    symbol = bar.chords[0].symbol
    beats = min(EIGHTH, bar.beats) if style and style.stops else bar.beats
    parts = []
    for part in band:
        strokes = _strokes(style) if part.percussion else _held(part, symbol)
        notes = (PlayedNote(start, beats, midi, velocity) for midi, velocity in strokes)
        parts.append(replace(part, notes=tuple(notes)))
    return BandEnding(start, bar.beats, tuple(parts))


def _strokes(style: Style | None) -> Sequence[tuple[int, int]]:
    """The kick with a cymbal that rings, or with the snare."""
    loud = style.drums.loud if style else _CRASH_VELOCITY
    return (KICK, min(_KICK_VELOCITY, loud)), (SNARE if style and style.stops else CRASH, loud)


def _held(part: PlayedPart, symbol: ChordSymbol) -> Sequence[tuple[int, int]]:
    if part.name == "bass":
        return ((_nearest_root(part, symbol), _BASS_VELOCITY),)
    return [(midi, _CHORD_VELOCITY) for midi in _smoothest(_last_voicing(part), symbol)]


def _nearest_root(part: PlayedPart, symbol: ChordSymbol) -> int:
    roots = range(LOW + (symbol.root.pitch_class - LOW) % 12, HIGH + 1, 12)
    last = part.notes[-1].midi if part.notes else LOW
    return min(roots, key=lambda midi: abs(midi - last))


def _last_voicing(part: PlayedPart) -> Voicing:
    onset = part.notes[-1].onset if part.notes else Fraction(0)
    return tuple(note.midi for note in part.notes if note.onset == onset)


def _smoothest(last: Voicing, symbol: ChordSymbol) -> Voicing:
    weighed = voicings(symbol)
    if not last:
        return weighed[0][0]
    return min(weighed, key=lambda w: w[1] + motion(last, w[0]))[0]
