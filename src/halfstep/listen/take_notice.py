"""What should be said of a take: a kind that programs tell apart, and a line of words."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Trouble(StrEnum):
    """What may be the matter with a take, by the names it is stored under."""

    DAMAGED = "damaged"
    CLIPPED = "clipped"
    QUIET = "quiet"
    BACKING_ABSENT = "backing-absent"
    BACKING_REPEATS = "backing-repeats"
    WRONG_RATE = "wrong-rate"
    LOUD_BACKING = "loud-backing"
    ONLY_BACKING = "only-backing"
    ONLY_CLICKS = "only-clicks"
    NO_NOTE = "no-note"
    SPEECH = "speech"
    SEVERAL_NOTES = "several-notes"
    OUT_OF_TUNE = "out-of-tune"
    OTHER = "other"


class TakeNotice(NamedTuple):
    """One line about a take.

    Attributes
    ----------
    trouble : Trouble
    text : str
    """

    trouble: Trouble
    text: str
