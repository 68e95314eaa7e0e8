"""What may be done to a line that stands? An edit names a note by its place, or writes bars anew.

Edits are values, so that undo is the list of them made shorter: a line is its etude as it was
written, and the edits in the order in which they were made.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from halfstep.errors import BriefError


class EditAction(StrEnum):
    """What is done to a note, or to its bar."""

    STEP_UP = "step-up"
    """To the next note of the scale of its chord."""
    STEP_DOWN = "step-down"
    HALF_STEP_UP = "half-step-up"
    HALF_STEP_DOWN = "half-step-down"
    CHORD_TONE_UP = "chord-tone-up"
    """To the next tone of its chord."""
    CHORD_TONE_DOWN = "chord-tone-down"
    OCTAVE_UP = "octave-up"
    OCTAVE_DOWN = "octave-down"
    SPLIT = "split"
    """Into two of the same pitch, at the beat that is nearest to its middle."""
    JOIN = "join"
    """With what follows it in the bar, whose time it takes."""
    TIE = "tie"
    """To the next note, over the bar line too: the two are one note of its pitch."""
    REST = "rest"
    """A rest in its place."""
    NOTE = "note"
    """A note in the place of a rest: the chord tone nearest to the note before."""
    LONGER = "longer"
    """By the unit of its rhythm, which what follows it in the bar loses."""
    SHORTER = "shorter"
    """By the unit of its rhythm, which goes to what follows it."""
    RHYTHM = "rhythm"
    """Its bar in another rhythm, each note with the pitch that sounded where it begins."""


@dataclass(frozen=True, slots=True)
class LineEdit:
    """One edit.

    Attributes
    ----------
    action : EditAction
    at : Fraction
        Where the note or rest begins, in beats from the start of bar 1; a place in the bar
        for a new rhythm.
    figure : tuple of Fraction
        The lengths of a new rhythm, which fill the bar; empty for all else.
    """

    action: EditAction
    at: Fraction
    figure: tuple[Fraction, ...] = ()


@dataclass(frozen=True, slots=True)
class LineRewriting:
    """A line written anew where it is not to stand.

    Attributes
    ----------
    seed : int
    bars : tuple of int
        Numbers of the bars that stand.
    """

    seed: int
    bars: tuple[int, ...] = ()


LineChange = LineEdit | LineRewriting
"""What is done to a line, and undone again."""


class EditRefused(BriefError):
    """An edit that cannot be made: what is in its way, in one line."""
