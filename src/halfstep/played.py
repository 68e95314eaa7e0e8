"""What sounds, and when: the notes a synthesiser or a MIDI file is given.

All pitches are concert, all places beats from the start of bar 1; `halfstep.meter`
turns them into seconds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction


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
    """

    onset: Fraction
    beats: Fraction
    midi: int
    velocity: int
    late_s: float = 0.0
    longer_s: float = 0.0


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
