"""How fast is a skill practised? Up after two clean passes, down after two failures.

A convenience: one study with 60 wind players found no effect of tempo ladders (Henley 2001),
so nothing is claimed for it.
"""

from __future__ import annotations

from typing import NamedTuple

from halfstep.practice.evidence import Verdict

RUNG = 1.08
"""From one tempo to the next: the least that is felt as faster (common practice, no source)."""

PASSES = 2
"""So many clean passes in a row, or failures, move a tempo."""


class TempoRung(NamedTuple):
    """Where a skill stands on its ladder of tempi.

    Attributes
    ----------
    tempo_bpm : float
        Pulses a minute at which it is played next.
    streak : int
        Clean passes in a row at this tempo; below 0, failures in a row.
    """

    tempo_bpm: float
    streak: int = 0

    def climbed(self, tempo_bpm: float, verdict: Verdict) -> TempoRung:
        """The ladder after the skill was played at a tempo.

        A tempo that is not the ladder's own is where it goes on: a player may set it.
        """
        streak = self.streak if _is_same(tempo_bpm, self.tempo_bpm) else 0
        streak = _continued(streak, verdict)
        if abs(streak) < PASSES:
            return TempoRung(tempo_bpm, streak)
        return TempoRung(tempo_bpm * (RUNG if streak > 0 else 1 / RUNG))


def _continued(streak: int, verdict: Verdict) -> int:
    """Passes in a row, or failures; nearly is neither."""
    if verdict is Verdict.NEARLY:
        return 0
    return max(streak, 0) + 1 if verdict is Verdict.CLEAN else min(streak, 0) - 1


def _is_same(tempo_bpm: float, other_bpm: float) -> bool:
    """Within the rounding of a metronome."""
    return abs(tempo_bpm - other_bpm) <= 1
