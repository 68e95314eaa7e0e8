"""Where does a form leave its player: at home, or on the way back to the top?

A form that ends at home can be played to its end and left. One that ends on a turnaround, or
anywhere off the tonic, goes round for as long as it is played, and ends on the chord at the
top: the tonic it begins on.

Conventions
-----------
- Silence at the beginning and at the end is passed over.

Source: common practice, no source.
"""

from __future__ import annotations

from enum import Enum, auto

from halfstep.harmony.analysis import Analysis


class FormEnd(Enum):
    """How the last chord of a form stands to its home."""

    LEADS_HOME = auto()
    """It is not the tonic, and the form begins on the tonic."""
    AT_HOME = auto()
    """It is the tonic, or the only one."""
    BEGINS_AWAY = auto()
    """It is not the tonic, nor is the first chord."""
    NO_HOME = auto()
    """Each chord has a mode of its own."""


def form_end(analysis: Analysis) -> FormEnd:
    """How a form ends."""
    first, last = first_chord(analysis), last_chord(analysis)
    if analysis.each_in_its_mode:
        return FormEnd.NO_HOME
    if first == last or analysis.chords[last].is_at_home(analysis.home):
        return FormEnd.AT_HOME
    at_home = analysis.chords[first].is_at_home(analysis.home)
    return FormEnd.LEADS_HOME if at_home else FormEnd.BEGINS_AWAY


def first_chord(analysis: Analysis) -> int:
    """The place of the first chord that sounds."""
    return next(n for n, chord in enumerate(analysis.chords) if not chord.silent)


def last_chord(analysis: Analysis) -> int:
    """The place of the last chord that sounds."""
    last = len(analysis.chords) - 1
    return next(n for n in range(last, -1, -1) if not analysis.chords[n].silent)
