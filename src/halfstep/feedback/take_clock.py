"""Where heard seconds become beats: the one place where a take's times meet written time."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TakeClock:
    """The steady clock of a take.

    Attributes
    ----------
    quarter_s : float
        Seconds in a quarter note.
    form_s : float
        Where in the recording bar 1 of the first pass begins.
    is_offset_known : bool
        True where that is known by the backing or was said, so that early and late mean
        something; False where it was found from the notes themselves.
    """

    quarter_s: float
    form_s: float
    is_offset_known: bool

    def beats(self, time_s: float) -> float:
        """Quarter notes after the start of bar 1."""
        return (time_s - self.form_s) / self.quarter_s

    def time_s(self, beats: float) -> float:
        """Seconds from the start of the recording."""
        return self.form_s + beats * self.quarter_s
