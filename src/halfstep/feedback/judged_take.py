"""A take laid over what was meant: its notes in beats, under the chords of the form.

Conventions
-----------
- Beats are quarter notes from the start of bar 1 of the first pass; a chart comes round again
  as often as the take needs it. A take may begin before bar 1, at negative beats.
- Pitches are concert, names are those that the player reads.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.findings import PassPlace
from halfstep.feedback.take_clock import TakeClock
from halfstep.harmony.analysis import Analysis
from halfstep.level import Level
from halfstep.listen.heard_take import HeardNote
from halfstep.listen.known_errors import KnownErrors
from halfstep.meter import Feel
from halfstep.part.transposed_part import Part
from halfstep.progression.chart import Chart


@dataclass(frozen=True, slots=True)
class TakeNote:
    """A note of a take.

    Attributes
    ----------
    onset, beats : float
        Where it is judged, in quarter notes: swing and lag as played, a drift of the tempo and
        a slip of the form taken out; and how long it sounds.
    place : Fraction
        The nearest place that a player counts on, swing and lag taken out.
    midi : int
        Concert; a part read in a wrong transposition is read right.
    sounded : float
        Quarter notes on the steady clock of the take: as it was played.
    sound : HeardNote or None
        What was heard; None for a note that is known without listening.
    """

    onset: float
    beats: float
    place: Fraction
    midi: int
    sounded: float
    sound: HeardNote | None = None

    @property
    def certainty(self) -> float:
        """How surely it was heard, 0 to 1."""
        return 1.0 if self.sound is None else self.sound.certainty


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedTake:
    """A take and what it is held against.

    Attributes
    ----------
    notes : tuple of TakeNote
        In order of onset.
    end : float
        Where the recording ends, in quarter notes.
    clock : TakeClock
    part : Part
        The chart's analysis as the player reads it.
    level : Level
    feel : Feel
        How eighths are meant to fall.
    line : tuple of EtudeNote
        The written line, rests included; empty where the take is improvised.
    errors : KnownErrors
        Of the ear with this instrument.
    """

    notes: tuple[TakeNote, ...]
    end: float
    clock: TakeClock
    part: Part
    level: Level
    feel: Feel
    line: tuple[EtudeNote, ...] = ()
    errors: KnownErrors

    @property
    def analysis(self) -> Analysis:
        """The chords, in concert pitch."""
        return self.part.analysis

    @property
    def chart(self) -> Chart:
        """What was played over."""
        return self.part.analysis.chart

    def chord_at(self, beats: float) -> int:
        """The place in the analysis of the chord that sounds."""
        starts = _chord_starts(self.analysis)
        return bisect_right(starts, beats % float(self.chart.beats) + _NEAR) - 1

    def place_at(self, beats: float) -> PassPlace:
        """The pass, bar and beat of a place."""
        bars = _bar_starts(self.chart)
        chorus, rest = divmod(beats + _NEAR, float(self.chart.beats))
        number = bisect_right(bars, rest)
        pulse = float(self.chart.form[number - 1].meter.pulse_beats)
        beat = (max(0.0, rest - _NEAR - bars[number - 1])) / pulse + 1
        return PassPlace(int(chorus) + 1, number, round(beat, 3))

    def time_s(self, beats: float) -> float:
        """Where in the recording a place on the steady clock lies."""
        return self.clock.time_s(beats)


_NEAR = 1e-6


@lru_cache(maxsize=8)
def _bar_starts(chart: Chart) -> list[float]:
    return [float(start) for bar, start in chart.placed() if bar.number >= 1]


@lru_cache(maxsize=8)
def _starts_of(starts: tuple[Fraction, ...]) -> list[float]:
    return [float(start) for start in starts]


def _chord_starts(analysis: Analysis) -> list[float]:
    return _starts_of(tuple(chord.span.start for chord in analysis.chords))
