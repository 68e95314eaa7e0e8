"""The notes of an etude: concert pitch, and beats from the start of bar 1.

Parts are transposed when they are put on a page.
"""

from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from halfstep.pitch import Degree, Pitch


class Approach(StrEnum):
    """How a note leads to the next."""

    NONE = ""
    SCALE = "scale"
    CHROMATIC = "chromatic"
    ENCLOSURE = "enclosure"


class EtudeNote(NamedTuple):
    """A note, or a rest when ``pitch`` is None.

    Attributes
    ----------
    onset, beats : Fraction
    pitch : Pitch or None
        Concert pitch, spelled as its chord's scale spells it; a part spells what leads to
        another note by its goal.
    chord : int
        Index into ``Analysis.chords``.
    degree : Degree or None
        Place over the chord's root.
    changing : bool
        The first hearing of a changing note in its chord.
    breath : bool
        Breathe after it.
    approach : Approach
        How it leads to the note after it.
    below : tuple of Pitch
        What is struck with it, the highest first; concert pitch.
    """

    onset: Fraction
    beats: Fraction
    pitch: Pitch | None
    chord: int
    degree: Degree | None = None
    changing: bool = False
    breath: bool = False
    approach: Approach = Approach.NONE
    below: tuple[Pitch, ...] = ()

    @property
    def end(self) -> Fraction:
        """Where the note stops."""
        return self.onset + self.beats
