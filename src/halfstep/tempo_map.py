"""When does a beat sound where the tempo changes, as in a MIDI file?"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from halfstep.meter import DEFAULT_BPM


@dataclass(frozen=True, slots=True)
class TempoMap:
    """Turns beats into seconds where the tempo changes.

    Attributes
    ----------
    changes : tuple of (Fraction, float)
        Beat and quarter notes a minute from there on, in order. Before the first it is
        `DEFAULT_BPM`; before beat 0 as on it.
    """

    changes: tuple[tuple[Fraction, float], ...] = ()

    def seconds(self, beat: Fraction | float) -> float:
        """When ``beat`` sounds, in seconds after beat 0; each span has its own tempo."""
        total, at, tempo_bpm = 0.0, Fraction(0), DEFAULT_BPM
        for change, following_bpm in self.changes:
            if 0 < change >= beat:
                break
            total += float(change - at) * 60.0 / tempo_bpm
            at, tempo_bpm = change, following_bpm
        return total + float(beat - at) * 60.0 / tempo_bpm

    def beats(self, seconds: float) -> float:
        """Which beat sounds so many seconds after beat 0; the inverse of `seconds`."""
        total, at, tempo_bpm = 0.0, Fraction(0), DEFAULT_BPM
        for change, following_bpm in self.changes:
            until = total + float(change - at) * 60.0 / tempo_bpm
            if change > 0 and until >= seconds:
                break
            total, at, tempo_bpm = until, change, following_bpm
        return float(at) + (seconds - total) * tempo_bpm / 60.0
