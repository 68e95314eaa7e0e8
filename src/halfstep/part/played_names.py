"""How does a player read a note that was played over a chord, written or not?"""

from __future__ import annotations

from halfstep.part.take_part import spelled
from halfstep.part.transposed_part import Part
from halfstep.pitch import Name, Pitch, pitch_near, practical


def played_pitch(part: Part, midi: int, chord: int) -> Pitch:
    """The written pitch of a sounding note over a chord of a part.

    It has the name of the chord's tone or of its scale's note where it is one, and else that
    of the key.

    Parameters
    ----------
    part : Part
    midi : int
        Concert.
    chord : int
        Place in the part's analysis.
    """
    name = name_over(part, chord, midi % 12)
    written = midi + part.interval.semitones
    return spelled(written, part.key.fifths) if name is None else pitch_near(name, written)


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
