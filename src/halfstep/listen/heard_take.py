"""What was heard: notes, and what was found out about the take.

Conventions: times in seconds from the start of the recording, pitch as a concert MIDI
number with cents from equal temperament at the player's own tuning, levels in decibels
under full scale.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class HeardNote:
    """One note.

    Attributes
    ----------
    onset_s, offset_s : float
        Where it begins and ends.
    midi : int
        36 to 96.
    cents : float
        From that pitch in equal temperament, the player's A at `HeardTake.tuning_cents`.
    level_db : float
        RMS under full scale.
    certainty : float
        0 to 1: how likely the network holds the pitch to be, through the note.
    """

    onset_s: float
    offset_s: float
    midi: int
    cents: float
    level_db: float
    certainty: float


@dataclass(frozen=True, slots=True)
class HeardTake:
    """A take as it was heard.

    Attributes
    ----------
    notes : tuple of HeardNote
        In order of onset; they do not overlap.
    length_s : float
    tuning_cents : float
        How far the player's A lies from 440 Hz.
    delay_s : float or None
        How late the backing is in the take; None without a backing.
    delay_modulo_s : float or None
        Where the backing sounds alike every so many seconds, the true delay may be a number
        of these more or less than `delay_s`; None where it is unmistakable.
    leak_db : float or None
        The level of the backing in the take against the player's; None without one.
    rate_ratio : float
        The true rate of the recording over the declared one, by the clock of the backing; 1
        where it was right. All times are those of the true rate.
    notices : tuple of str
        What makes the take hard to hear, one line each.
    """

    notes: tuple[HeardNote, ...]
    length_s: float
    tuning_cents: float = 0.0
    delay_s: float | None = None
    leak_db: float | None = None
    rate_ratio: float = 1.0
    delay_modulo_s: float | None = None
    notices: tuple[str, ...] = ()
