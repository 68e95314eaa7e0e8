"""What sounds, and when: the notes a synthesiser or a MIDI file is given.

All pitches are concert, all places beats from the start of bar 1; `halfstep.meter`
turns them into seconds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum, Flag, auto
from fractions import Fraction


class Slur(Flag):
    """How a note is joined to its neighbours."""

    NONE = 0
    FROM = auto()
    """It goes on from the note before it, without an attack of its own."""
    INTO = auto()
    """The next note goes on from it."""


class Bend(Enum):
    """How the pitch of a note moves."""

    SCOOP = auto()
    """Up to it from below, at its beginning."""
    FALL = auto()
    """Down from it, at its end."""


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """One sounding note.

    Attributes
    ----------
    onset, beats : Fraction
        Start and length in quarter notes.
    midi : int
        Concert MIDI number, or the General MIDI drum key on a percussion part.
    velocity : int
        1 to 127.
    late_s : float
        Seconds that the whole note sounds after the place that the clock gives its onset;
        negative for early.
    longer_s : float
        Seconds that it sounds longer than its beats; negative for shorter.
    slur : Slur or None
        None leaves it to who plays.
    bend : Bend or None
    """

    onset: Fraction
    beats: Fraction
    midi: int
    velocity: int
    late_s: float = 0.0
    longer_s: float = 0.0
    slur: Slur | None = None
    bend: Bend | None = None


@dataclass(frozen=True, slots=True)
class PlayedPart:
    """One player's notes in order of onset.

    Attributes
    ----------
    name : str
        ``drums``, ``bass``, ``chords`` or ``line``.
    program : int
        General MIDI program, 0 to 127; of percussion, the kit.
    percussion : bool
    notes : tuple of PlayedNote
    """

    name: str
    program: int
    percussion: bool
    notes: tuple[PlayedNote, ...]

    def later(self, beats: Fraction) -> PlayedPart:
        """The part so many quarter notes later."""
        if not beats:
            return self
        notes = tuple(replace(note, onset=note.onset + beats) for note in self.notes)
        return replace(self, notes=notes)
