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


@dataclass(frozen=True, slots=True)
class FormPlaces:
    """Where bars and chords of a form begin, however often it comes round.

    Attributes
    ----------
    beats : float
        Quarter notes in the form.
    bar_starts, pulses : tuple of float
        Of each bar: quarter notes from the start of bar 1, and in a pulse of its metre.
    chord_starts : tuple of float
        Of each chord of the analysis.
    """

    beats: float
    bar_starts: tuple[float, ...]
    pulses: tuple[float, ...]
    chord_starts: tuple[float, ...]

    def chord_at(self, beats: float) -> int:
        """The place in the analysis of the chord that sounds."""
        return bisect_right(self.chord_starts, (beats + _NEAR) % self.beats) - 1

    def place_at(self, beats: float) -> PassPlace:
        """The pass, bar and beat of a place."""
        chorus, rest = divmod(beats + _NEAR, self.beats)
        bar = bisect_right(self.bar_starts, rest)
        beat = max(0.0, rest - _NEAR - self.bar_starts[bar - 1]) / self.pulses[bar - 1] + 1
        return PassPlace(int(chorus) + 1, bar, round(beat, 3))


_NEAR = 1e-6
"""So that a place on a beat, worked out in floating point, does not fall before it."""


def form_places(analysis: Analysis) -> FormPlaces:
    """The places of a chart's bars and chords."""
    bars = [(bar, start) for bar, start in analysis.chart.placed() if bar.number >= 1]
    return FormPlaces(
        float(analysis.chart.beats),
        tuple(float(start) for _, start in bars),
        tuple(float(bar.meter.pulse_beats) for bar, _ in bars),
        tuple(float(chord.span.start) for chord in analysis.chords),
    )


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
    form : FormPlaces
        Of the same chart.
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
    form: FormPlaces
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
        return self.form.chord_at(beats)

    def place_at(self, beats: float) -> PassPlace:
        """The pass, bar and beat of a place."""
        return self.form.place_at(beats)

    def time_s(self, beats: float) -> float:
        """Where in the recording a place on the steady clock lies."""
        return self.clock.time_s(beats)
