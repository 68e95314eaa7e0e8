"""How does a player read a note that was played over a chord, written or not?"""

from __future__ import annotations

from collections.abc import Iterator

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
    written = midi + part.interval.semitones
    names = (name for name in _names(part, chord) if name.pitch_class == written % 12)
    name = next(names, None)
    if name is None:
        return spelled(written, part.key.fifths)
    return pitch_near(practical(name), written)


def _names(part: Part, chord: int) -> Iterator[Name]:
    if not part.analysis.chords[chord].silent:
        yield from part.names(chord)
        yield from part.scale(chord).names
