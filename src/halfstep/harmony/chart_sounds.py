"""What sounds over each chord of a chart, and what differs between two of them?

Conventions
-----------
- Notes are pitch classes, 0 for C to 11 for B. What sounds over a chord is the first choice
  of scale with the tones of the chord.
- A note of the old chord alone is a *colour* of the new one where another scale of that has
  it with all else that is played, the eighth note of a bebop scale apart: that only passes.
  Where it stands in the place of a chord tone, it is one beside that tone alone: the ♯9 of a
  dominant with its third.
- Over a blues its ♭3, ♭5 and ♭7 are colours of every chord.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Set
from typing import NamedTuple

from halfstep.harmony.analysis import AnalysedChord, Analysis
from halfstep.harmony.changes import change_between

BLUE_STEPS = (3, 6, 10)
"""Semitones over the tonic of a blues."""
_BEBOP_NOTES = 8


class ChordSounds(NamedTuple):
    """What may sound over a chord.

    Attributes
    ----------
    tones : frozenset of int
        Of the chord.
    scale : frozenset of int
        Its scale and its tones.
    others : tuple of frozenset of int
        All its scales.
    """

    tones: frozenset[int]
    scale: frozenset[int]
    others: tuple[frozenset[int], ...]


class ChangeSounds(NamedTuple):
    """What differs between two chords.

    Attributes
    ----------
    telling, leaving : frozenset of int
        Of the new chord alone, and of the old one alone.
    blue : frozenset of int
        The blue notes of the chart.
    displaced : dict of int to int
        Those of `leaving` that stand in the place of a tone of the new chord, and that tone.
    new : ChordSounds
    new_tones : frozenset of int
        Tones of the new chord that the old one has not.
    """

    telling: frozenset[int]
    leaving: frozenset[int]
    blue: frozenset[int]
    displaced: dict[int, int]
    new: ChordSounds
    new_tones: frozenset[int]

    def stays(self, pitch_class: int, played: Set[int]) -> bool:
        """True for a note of the old chord that is no colour among what is played.

        Parameters
        ----------
        pitch_class : int
        played : set of int
            All that is played over the new chord, without what leads on.
        """
        if pitch_class not in self.leaving or pitch_class in self.blue:
            return False
        is_in_place = self.displaced.get(pitch_class) in played | {None}
        is_colour = any(pitch_class in other and played <= other for other in self.new.others)
        return not (is_colour and is_in_place)


class ChartSounds:
    """What sounds over the chords of a chart; what differs is worked out when it is asked for.

    Attributes
    ----------
    chords : tuple of ChordSounds or None
        None for ``N.C.``
    blue : frozenset of int
        The ♭3, ♭5 and ♭7 of a blues; none over another chart.
    """

    def __init__(self, analysis: Analysis) -> None:
        self._analysed = analysis.chords
        self.chords = tuple(None if c.silent else _chord_sounds(c) for c in analysis.chords)
        tonic = analysis.home.tonic.pitch_class
        steps = BLUE_STEPS if analysis.blues_scales else ()
        self.blue = frozenset((tonic + step) % 12 for step in steps)
        self._changes: dict[tuple[int, int], ChangeSounds | None] = {}

    def change(self, old: int, new: int) -> ChangeSounds | None:
        """What differs between two chords, by their places; None beside ``N.C.``"""
        if (old, new) not in self._changes:
            self._changes[old, new] = self._change(old, new)
        return self._changes[old, new]

    def _change(self, old: int, new: int) -> ChangeSounds | None:
        before, after = self.chords[old], self.chords[new]
        if before is None or after is None:
            return None
        leaving = before.scale - after.scale
        displaced = _displaced(self._analysed[old], self._analysed[new])
        return ChangeSounds(
            after.scale - before.scale,
            leaving,
            self.blue,
            {a: b for a, b in displaced.items() if a in leaving},
            after,
            after.tones - before.tones,
        )


def _chord_sounds(chord: AnalysedChord) -> ChordSounds:
    tones = frozenset(tone.name.pitch_class for tone in chord.tones)
    scales = (choice.scale for choice in chord.choices if len(choice.scale.notes) != _BEBOP_NOTES)
    others = tuple(scale.pitch_classes for scale in scales)
    return ChordSounds(tones, tones | chord.scale.pitch_classes, others)


def _displaced(old: AnalysedChord, new: AnalysedChord) -> dict[int, int]:
    """Notes of the old scale in whose place the new one has a chord tone, and that tone."""
    core = {tone.name.pitch_class for tone in new.core}
    change = change_between(old.scale, new.scale)
    return {
        motion.old.pitch_class: motion.new.pitch_class
        for motion in (*change.half_steps, *change.steps)
        if motion.new.pitch_class in core
    }
