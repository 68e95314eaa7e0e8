"""What can be said of a take: one finding each, with its evidence and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from halfstep.pitch import Pitch


class FindingKind(StrEnum):
    """The kinds of finding, by the names they are stored under."""

    CHANGE_HEARD = "change-heard"
    CHANGE_MISSED = "change-missed"
    OLD_NOTE_KEPT = "old-note-kept"
    RESTART = "restart"
    APPROACH = "approach"
    ENCLOSURE = "enclosure"
    ANTICIPATION = "anticipation"
    BLUE_NOTE = "blue-note"
    FORM_SLIP = "form-slip"
    OCTAVE = "octave"
    TRANSPOSITION = "transposition"
    OFFSET = "offset"
    UNEVEN = "uneven"
    RUSHING = "rushing"
    DRAGGING = "dragging"
    STRAIGHT = "straight"
    SWUNG = "swung"
    SHARP = "sharp"
    FLAT = "flat"
    MISSED = "missed"
    ADDED = "added"
    CHANGED = "changed"
    LATE_NOTE = "late-note"
    LONG_PHRASE = "long-phrase"
    NO_REST = "no-rest"
    FEW_RHYTHMS = "few-rhythms"
    NARROW_RANGE = "narrow-range"
    REPEATED_FIGURE = "repeated-figure"
    NOT_JUDGED = "not-judged"


class Unit(StrEnum):
    """What an amount is counted in."""

    MS = "ms"
    CENTS = "cents"
    PERCENT = "percent"


@dataclass(frozen=True, slots=True)
class PassPlace:
    """A place in the music as it is counted while the form comes round.

    Attributes
    ----------
    chorus : int
        Which pass of the form, from 1; 0 before it begins.
    bar : int
        Of the form as it is played, from 1.
    beat : float
        In the bar, from 1, in pulses of the metre.
    """

    chorus: int
    bar: int
    beat: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that can be said of a take; over several bars it stands at the first.

    Attributes
    ----------
    kind : FindingKind
    fault : bool
        True for something to mend, False for craft, praise and plain facts.
    place : PassPlace
    time_s : float
        In the recording.
    certainty : float
        0 to 1: how likely it is true.
    note, instead : Pitch or None
        Written: what was played, and what it should have become.
    chord : str
        The written symbol it is about; empty for none.
    beats_late : float or None
        Pulses after the chord's first beat, before it negative.
    bars : int or None
        How many bars it lasts; of a slip how many bars late the player is, early negative.
    until : PassPlace or None
        Where what lasts several bars ends.
    amount : float or None
    unit : Unit or None
    interval : (float, float) or None
        In which the amount lies in 95 of 100 cases.
    etude_note : int or None
        The place of the written note in its etude's list, from 0.
    reason : str
        Why something was not judged, in words.
    """

    kind: FindingKind
    fault: bool
    place: PassPlace
    time_s: float
    certainty: float
    note: Pitch | None = None
    instead: Pitch | None = None
    chord: str = ""
    beats_late: float | None = None
    bars: int | None = None
    until: PassPlace | None = None
    amount: float | None = None
    unit: Unit | None = None
    interval: tuple[float, float] | None = None
    etude_note: int | None = None
    reason: str = ""
