"""The values an etude is made of.

Everything is concert pitch and beats from the start of bar 1; parts are transposed
when they are put on a page.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from halfstep.harmony.analysis import Analysis
from halfstep.instruments import Instrument
from halfstep.level import Level
from halfstep.meter import Feel, clock_for
from halfstep.pitch import Degree, Pitch
from halfstep.progression.symbol import ChordSymbol


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
    """

    instrument: Instrument
    level: Level
    tempo_bpm: float
    seed: int = 0
    limits: tuple[int, int] = (0, 127)
    known: frozenset[int] | None = None
    pinned: tuple[EtudeNote, ...] = ()
    feel: Feel = Feel.SWING

    @property
    def concert_low(self) -> int:
        """MIDI number of the lowest note that may sound."""
        low = self.instrument.concert(self.instrument.compass(self.level).low).midi
        return max(low, self.limits[0])

    @property
    def concert_high(self) -> int:
        """MIDI number of the highest note that may sound."""
        high = self.instrument.concert(self.instrument.compass(self.level).high).midi
        return min(high, self.limits[1])


BREATH_S = 9.0
"""The longest phrase asked of a wind player, in seconds; common practice, no source."""


def phrase_bars(analysis: Analysis, tempo_bpm: float) -> int:
    """Bars in a phrase: four where they fit in one breath, two or one at slow tempi."""
    meter = analysis.chart.meter
    bar_s = float(meter.bar_beats) * clock_for(meter, tempo_bpm).beat_s
    return next((bars for bars in (4, 2) if bars * bar_s <= BREATH_S), 1)


class Approach(StrEnum):
    """How a note leads to the next."""

    NONE = ""
    SCALE = "scale"
    CHROMATIC = "chromatic"
    ENCLOSURE = "enclosure"


@dataclass(frozen=True, slots=True)
class EtudeNote:
    """A note, or a rest when ``pitch`` is None.

    Attributes
    ----------
    onset, beats : Fraction
    pitch : Pitch or None
        Concert pitch, spelled as its chord's scale spells it.
    chord : int
        Index into ``Analysis.chords``.
    degree : Degree or None
        Place over the chord's root.
    changing : bool
        The first hearing of a changing note in its chord.
    breath : bool
        Breathe after it.
    approach : Approach
        How it leads to the note after it.
    """

    onset: Fraction
    beats: Fraction
    pitch: Pitch | None
    chord: int
    degree: Degree | None = None
    changing: bool = False
    breath: bool = False
    approach: Approach = Approach.NONE

    @property
    def end(self) -> Fraction:
        """Where the note stops."""
        return self.onset + self.beats


@dataclass(frozen=True, slots=True)
class Notice:
    """Something the teacher should know about one chord.

    ``text`` has a place for the chord's symbol, so that each part can name its own.
    """

    chord: int
    text: str

    def said(self, symbol: ChordSymbol) -> str:
        """The sentence about that symbol."""
        return self.text.format(chord=symbol)


@dataclass(frozen=True, slots=True)
class Etude:
    """One step written out.

    Attributes
    ----------
    step : int
    analysis : Analysis
    brief : Brief
    notes : tuple of EtudeNote
        In order, without gaps, over the whole form.
    notices : tuple of Notice
        Such as a chord that is built on its third.
    """

    step: int
    analysis: Analysis
    brief: Brief
    notes: tuple[EtudeNote, ...]
    notices: tuple[Notice, ...] = ()
