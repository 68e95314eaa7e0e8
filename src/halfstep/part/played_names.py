"""How does a player read a note that was played over a chord, written or not?"""

from __future__ import annotations

from halfstep.part.transposed_part import Part
from halfstep.pitch import Name, practical


def name_over(part: Part, chord: int, pitch_class: int) -> Name | None:
    """The written name of a note of a chord or its scale; None for any other, and over silence.

    Parameters
    ----------
    part : Part
    chord : int
        Its place in the analysis.
    pitch_class : int
        Concert.
    """
    if part.analysis.chords[chord].silent:
        return None
    written = (pitch_class + part.interval.semitones) % 12
    names = (*part.names(chord), *part.scale(chord).names)
    return next((practical(name) for name in names if name.pitch_class == written), None)
