"""How is a line tongued and slurred, by how its eighths are played and by its player's level?

The rules are rows of a table; `halfstep.etude.touches` reads a line by them.

Source: common practice, no source: in swing an off-beat eighth is tongued and slurred into the
beat, even eighths are slurred in twos and fours, a ballad is legato; a beginner tongues, and slurs
a few steps in twos.
"""

from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from halfstep.level import Level
from halfstep.meter import Feel


class Articulation(StrEnum):
    """How a line is tongued."""

    PLAIN = "plain"
    """Without a mark: its player chooses, or its teacher."""
    SWUNG = "swung"
    """From the off-beat into the beat."""
    EVEN = "even"
    """In twos and fours."""
    LEGATO = "legato"
    """Slurred as far as it goes."""


BALLAD_BPM = 76.0
"""Swung quarters up to this tempo are legato; common practice, no source."""


def articulation_of(feel: Feel, quarters_a_minute: float) -> Articulation:
    """How a line is tongued where nobody says.

    >>> articulation_of(Feel.SWING, 120.0), articulation_of(Feel.SWING, 60.0)
    (<Articulation.SWUNG: 'swung'>, <Articulation.LEGATO: 'legato'>)
    """
    if quarters_a_minute <= BALLAD_BPM:
        return Articulation.LEGATO
    return Articulation.SWUNG if feel is Feel.SWING else Articulation.EVEN


class TouchRules(NamedTuple):
    """What is slurred, and which other signs there are.

    Attributes
    ----------
    widest : int
        Semitones that are slurred over at most: what lies farther apart is tongued.
    pulses : Fraction or None
        Over how many pulses a slur goes, from where they begin on; None goes from the off-beat
        into the beat.
    strong_only : bool
        Slurs lead to strong beats, or begin there, and to no others.
    accents : bool
        On anticipations and syncopations, and on the highest note of a phrase.
    climb : int or None
        Semitones that a line rises to another top that is accented; None for no other.
    ghost_below : int or None
        Semitones that an off-beat note lies below both its neighbours to be a ghost note; None
        for no ghosts.
    staccato : bool
        On a short note off the beat before a rest.
    tenuto : bool
        On a note that repeats the one before it inside a slurred line.
    bends : bool
        A few scoops and falls.
    dynamics : bool
    """

    widest: int
    pulses: Fraction | None
    strong_only: bool = False
    accents: bool = False
    climb: int | None = None
    ghost_below: int | None = None
    staccato: bool = False
    tenuto: bool = False
    bends: bool = False
    dynamics: bool = False


_STEP, _THIRD, _FIFTH, _OCTAVE = 2, 4, 7, 12
_TWOS, _FOURS, _BAR = Fraction(1), Fraction(2), Fraction(4)

TOUCH_RULES: dict[Articulation, dict[Level, TouchRules]] = {
    Articulation.SWUNG: {
        Level.BEGINNER: TouchRules(_STEP, None, strong_only=True),
        Level.INTERMEDIATE: TouchRules(
            _THIRD, None, accents=True, ghost_below=3, staccato=True, dynamics=True,
        ),
        Level.ADVANCED: TouchRules(
            _THIRD, None, accents=True, climb=_FIFTH, ghost_below=2, staccato=True, bends=True,
            dynamics=True,
        ),
    },
    Articulation.EVEN: {
        Level.BEGINNER: TouchRules(_STEP, _TWOS, strong_only=True),
        Level.INTERMEDIATE: TouchRules(
            _THIRD, _TWOS, accents=True, staccato=True, dynamics=True,
        ),
        Level.ADVANCED: TouchRules(
            _THIRD, _FOURS, accents=True, climb=_OCTAVE, ghost_below=5, staccato=True, bends=True,
            dynamics=True,
        ),
    },
    Articulation.LEGATO: {
        Level.BEGINNER: TouchRules(_STEP, _TWOS),
        Level.INTERMEDIATE: TouchRules(_FIFTH, _FOURS, tenuto=True, dynamics=True),
        Level.ADVANCED: TouchRules(_OCTAVE, _BAR, tenuto=True, bends=True, dynamics=True),
    },
}  # fmt: skip
"""What each level is given; nothing stands for `Articulation.PLAIN`."""
