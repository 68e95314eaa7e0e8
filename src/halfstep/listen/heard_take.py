"""What was heard: notes, and what was found out about the take.

Conventions: times in seconds from the start of the recording, levels in decibels under full
scale. Pitch is measured as a MIDI number with a fraction, 69 at 440 Hz; its name is the
nearest concert note in equal temperament at the player's own tuning.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from halfstep.listen.take_notice import TakeNotice, Trouble

OUT_OF_TUNE_CENTS = 35.0
"""A player farther than this from 440 Hz is told to tune."""


@dataclass(frozen=True, slots=True)
class HeardNote:
    """One note.

    Attributes
    ----------
    onset_s, offset_s : float
        Where it begins and ends.
    midi : int
        The nearest note at the player's own tuning, `HeardTake.tuning_cents`.
    cents : float
        From that note, -50 to 50.
    level_db : float
        RMS under full scale.
    certainty : float
        0 to 1: how likely the network holds the pitch to be, through the note.
    pitch_midi : float
        As it sounded, whatever the tuning.
    """

    onset_s: float
    offset_s: float
    midi: int
    cents: float
    level_db: float
    certainty: float
    pitch_midi: float

    def named(self, tuning_cents: float) -> HeardNote:
        """The note with the name that it has at a tuning."""
        pitch = self.pitch_midi - tuning_cents / 100
        return replace(self, midi=round(pitch), cents=100 * (pitch - round(pitch)))


@dataclass(frozen=True, slots=True)
class HeardTake:
    """A take as it was heard.

    Attributes
    ----------
    notes : tuple of HeardNote
        In order of onset; they do not overlap.
    length_s : float
    tuning_cents : float
        How far the player's A lies from 440 Hz. The recording alone tells it up to whole
        semitones, and the least is taken; what was played tells it wholly, see `named`.
    delay_s : float or None
        How late the backing is in the take; None without a backing.
    delay_modulo_s : float or None
        Where the backing sounds alike every so many seconds, the true delay may be a number
        of these more or less than `delay_s`; None where it is unmistakable.
    leak_db : float or None
        The level of the backing in the take against the player's; None without one.
    rate_ratio : float
        The true rate of the recording over the declared one, by the clock of the backing; 1
        where it was right. All times are those of the true rate; see `file_s`.
    notices : tuple of TakeNotice
        What makes the take hard to hear.
    """

    notes: tuple[HeardNote, ...]
    length_s: float
    tuning_cents: float = 0.0
    delay_s: float | None = None
    leak_db: float | None = None
    rate_ratio: float = 1.0
    delay_modulo_s: float | None = None
    notices: tuple[TakeNotice, ...] = ()

    def file_s(self, time_s: float) -> float:
        """Where a time lies by the file's own seconds, in which a player of sound seeks it."""
        return time_s * self.rate_ratio

    def named(self, tuning_cents: float) -> HeardTake:
        """The same take with its notes named at another tuning, one for all of it."""
        notices = [notice for notice in self.notices if notice.trouble is not Trouble.OUT_OF_TUNE]
        return replace(
            self,
            notes=tuple(note.named(tuning_cents) for note in self.notes),
            tuning_cents=tuning_cents,
            notices=(*notices, *_out_of_tune(tuning_cents)),
        )


def _out_of_tune(tuning_cents: float) -> Iterator[TakeNotice]:
    if abs(tuning_cents) > OUT_OF_TUNE_CENTS:
        side = "flat" if tuning_cents < 0 else "sharp"
        yield TakeNotice(
            Trouble.OUT_OF_TUNE,
            f"the take is {abs(tuning_cents):.0f} cents {side}: tune up before the next one",
        )
