"""What is asked of the writer: who plays, how hard, how fast, and which notes stand already?"""

from __future__ import annotations

from dataclasses import dataclass, field

from halfstep.etude.articulation import Articulation
from halfstep.etude.etude_notes import EtudeNote
from halfstep.harmony.analysis import Analysis
from halfstep.instruments import Instrument
from halfstep.level import Level
from halfstep.meter import Feel, clock_for


@dataclass(frozen=True, slots=True)
class Brief:
    """What is asked of the writer.

    Attributes
    ----------
    instrument : Instrument
    level : Level
    tempo_bpm : float
        Pulses a minute.
    seed : int
        The same seed writes the same etude.
    limits : tuple of (int, int)
        Concert MIDI numbers that narrow the instrument's range further.
    known : frozenset of int or None
        Concert MIDI numbers that the player knows; None for all.
    pinned : tuple of EtudeNote
        Notes that stand already, of whole bars; the rest is written around them.
    feel : Feel
        How eighths are played: swing has triplets, straight eighths have sixteenths.
    ending : bool or None
        A bar at home is written for the last time, where the form leads back there; None
        leaves it to the step.
    articulation : Articulation or None
        How it is tongued; None goes by its feel and its tempo.
    concert_low, concert_high : int
        MIDI numbers of the lowest and the highest note that may sound; they follow from the
        others, and are asked for so often that they are kept.
    """

    instrument: Instrument
    level: Level
    tempo_bpm: float
    seed: int = 0
    limits: tuple[int, int] = (0, 127)
    known: frozenset[int] | None = None
    pinned: tuple[EtudeNote, ...] = ()
    feel: Feel = Feel.SWING
    ending: bool | None = None
    articulation: Articulation | None = None
    concert_low: int = field(init=False, compare=False)
    concert_high: int = field(init=False, compare=False)

    def __post_init__(self) -> None:
        compass = self.instrument.compass(self.level)
        low, high = (self.instrument.concert(end).midi for end in (compass.low, compass.high))
        object.__setattr__(self, "concert_low", max(low, self.limits[0]))
        object.__setattr__(self, "concert_high", min(high, self.limits[1]))

    def has(self, midi: int) -> bool:
        """True for a note that the line may use."""
        known = self.known is None or midi in self.known
        return known and self.concert_low <= midi <= self.concert_high

    @property
    def barrier(self) -> int | None:
        """The highest MIDI number below a break that is not crossed quickly; None for no such.

        Beginners alone have one.
        """
        top = self.instrument.break_midi
        if top is None or self.level is not Level.BEGINNER:
            return None
        return top - self.instrument.rise.semitones


BREATH_S = 9.0
"""The longest phrase asked of a wind player, in seconds; common practice, no source."""


def phrase_bars(analysis: Analysis, tempo_bpm: float) -> int:
    """Bars in a phrase: four where they fit in one breath, two or one at slow tempi."""
    meter = analysis.chart.meter
    bar_s = float(meter.bar_beats) * clock_for(meter, tempo_bpm).beat_s
    return next((bars for bars in (4, 2) if bars * bar_s <= BREATH_S), 1)
