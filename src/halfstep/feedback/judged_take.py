"""A take laid over what was meant: its notes in beats, under the chords of the form.

Conventions
-----------
- Beats are quarter notes from the start of bar 1 of the first pass; a chart comes round again
  as often as the take needs it. A take may begin before bar 1, at negative beats.
- Pitches are concert, names are those that the player reads.
- Findings have the seconds of the file, so that it can be sought there; heard notes and the
  clock have those of the true rate, where the file declares a wrong one.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.doubts import Doubt
from halfstep.feedback.findings import PassPlace
from halfstep.feedback.form_places import FormPlaces
from halfstep.feedback.line_alignment import Alignment
from halfstep.feedback.take_clock import TakeClock
from halfstep.feedback.take_note import TakeNote
from halfstep.harmony.analysis import Analysis
from halfstep.level import Level
from halfstep.listen.known_errors import KnownErrors
from halfstep.meter import Feel
from halfstep.part.transposed_part import Part
from halfstep.progression.chart import Chart


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
    ending : tuple of EtudeNote
        What is written behind the line, to be played the last time only.
    ghosts : frozenset of Fraction
        Where in the line notes begin that are barely sounded: none of them is ever missing.
    errors : KnownErrors
        Of the ear with this instrument.
    alignment : Alignment or None
        The take read by its line; None where it is improvised.
    doubts : tuple of Doubt
        What stands against judging it, as far as that was known before its notes were read.
    """

    notes: tuple[TakeNote, ...]
    end: float
    clock: TakeClock
    part: Part
    form: FormPlaces
    level: Level
    feel: Feel
    line: tuple[EtudeNote, ...] = ()
    ending: tuple[EtudeNote, ...] = ()
    ghosts: frozenset[Fraction] = frozenset()
    errors: KnownErrors
    alignment: Alignment | None = None
    doubts: tuple[Doubt, ...] = ()

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

    def bars_touched(self, start: PassPlace, until: PassPlace) -> int:
        """How many bars lie from one place to another, the bars of both counted."""
        passes = until.chorus - start.chorus
        return passes * len(self.chart.form) + until.bar - start.bar + 1

    def time_s(self, beats: float) -> float:
        """Where in the file a place on the steady clock lies."""
        return self.clock.time_s(beats) * self.clock.rate_ratio

    def beats_at(self, time_s: float) -> float:
        """The place on the steady clock at a time in the file."""
        return self.clock.beats(time_s / self.clock.rate_ratio)
