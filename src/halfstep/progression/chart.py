"""Bars with chords in them, in the order they are played.

Conventions
-----------
- Places in a bar are quarter-note beats from its start; places in the chart count from
  the start of bar 1, so that a pickup lies at negative beats.
- A bar without a symbol goes on with the chord before it.
- `spans` is the other view: each chord with its start and length, equal neighbours
  joined into one.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from halfstep.meter import Feel, Meter
from halfstep.pitch import Interval, Name
from halfstep.progression.key import Key
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol


class ChordAt(NamedTuple):
    """A symbol and its place in the bar.

    Attributes
    ----------
    symbol : ChordSymbol
    at : Fraction
        Beats from the start of the bar.
    scale : str
        The kind of scale that the teacher sets over it, as typed; empty where none is set.
    """

    symbol: ChordSymbol
    at: Fraction
    scale: str = ""

    def moved(self, interval: Interval) -> "ChordAt":
        """The same place with the symbol an interval higher."""
        return self._replace(symbol=self.symbol.moved(interval))


def _ordinal(number: int) -> str:
    """The number as a word, or with its ending: second, third, 4th."""
    return {2: "second", 3: "third"}.get(number, f"{number}th")


class Bar(NamedTuple):
    """One bar of the form as played.

    Attributes
    ----------
    number : int
        Place in the play order; bar 1 is the first whole bar, 0 a pickup.
    meter : Meter
    beats : Fraction
        Real length in quarter notes; less than the metre's for a pickup.
    chords : tuple of ChordAt
    written : int
        The number this bar has on the written page; repeats play it again.
    time : int
        Which time it is that this written bar is played, from 1.
    section : str
        A rehearsal letter or name that stands at its start.
    """

    number: int
    meter: Meter
    beats: Fraction
    chords: tuple[ChordAt, ...]
    written: int
    time: int = 1
    section: str = ""

    @property
    def label(self) -> str:
        """How a page names the bar: ``bar 9, second time``."""
        if self.time == 1:
            return f"bar {self.written}"
        return f"bar {self.written}, {_ordinal(self.time)} time"


class Span(NamedTuple):
    """A chord and how long it lasts.

    Attributes
    ----------
    symbol : ChordSymbol
    start, beats : Fraction
        From the start of bar 1, and length.
    bar : int
        Number of the bar it starts in.
    scale : str
        The kind of scale that the teacher sets over it; empty where none is set.
    at : Fraction
        Beats from the start of that bar.
    """

    symbol: ChordSymbol
    start: Fraction
    beats: Fraction
    bar: int
    scale: str = ""
    at: Fraction = Fraction(0)

    @property
    def end(self) -> Fraction:
        """Where the next chord begins."""
        return self.start + self.beats


@dataclass(frozen=True, slots=True)
class Chart:
    """A chord chart as played once through.

    Attributes
    ----------
    title : str
    bars : tuple of Bar
    key : Key or None
        As stated by the chart; None when it states none.
    tempo_bpm : float or None
    feel : Feel or None
    notices : tuple of str
        What was not certain about the reading.
    style : str
        The name of the style that the band plays it in; empty states none.
    """

    title: str
    bars: tuple[Bar, ...]
    key: Key | None = None
    tempo_bpm: float | None = None
    feel: Feel | None = None
    notices: tuple[str, ...] = ()
    style: str = ""

    @property
    def meter(self) -> Meter:
        """The metre of bar 1."""
        return next((bar.meter for bar in self.bars if bar.number == 1), Meter())

    @property
    def pickup_beats(self) -> Fraction:
        """Length of the bar before bar 1; 0 without one."""
        return sum((bar.beats for bar in self.bars if bar.number < 1), Fraction(0))

    @property
    def form(self) -> tuple[Bar, ...]:
        """The bars from bar 1 on: what is repeated as choruses."""
        return tuple(bar for bar in self.bars if bar.number >= 1)

    @property
    def beats(self) -> Fraction:
        """Length of the form in beats, without the pickup."""
        return sum((bar.beats for bar in self.form), Fraction(0))

    def placed(self) -> Iterator[tuple[Bar, Fraction]]:
        """Each bar with the beat it starts on."""
        beat = -self.pickup_beats
        for bar in self.bars:
            yield bar, beat
            beat += bar.beats

    def moved(self, interval: Interval) -> "Chart":
        """The chart an interval higher, key and chords together."""
        bars = tuple(
            bar._replace(chords=tuple(c.moved(interval) for c in bar.chords)) for bar in self.bars
        )
        return replace(self, bars=bars, key=self.key + interval if self.key else None)


def spans(chart: Chart) -> tuple[Span, ...]:
    """The chords of the form from bar 1 on, equal neighbours joined.

    A chart that starts without a chord, in the pickup or in bar 1, is silent until the
    first symbol; a chord in the pickup sounds on into bar 1 when that states none.
    """
    joined: list[Span] = []
    current = ChordAt(ChordSymbol("N.C.", Name(0), Family.SILENT), Fraction(0))
    for bar, start in chart.placed():
        places = list(bar.chords)
        if not places or places[0].at > 0:
            places.insert(0, current._replace(at=Fraction(0)))
        ends = [chord.at for chord in places[1:]] + [bar.beats]
        for chord, end in zip(places, ends, strict=True):
            current, beats = chord, end - chord.at
            if bar.number < 1 or beats <= 0:
                continue
            last = joined[-1] if joined else None
            if last and last.symbol == chord.symbol and chord.scale in {"", last.scale}:
                joined[-1] = last._replace(beats=last.beats + beats)
            else:
                begin = start + chord.at
                joined.append(Span(chord.symbol, begin, beats, bar.number, chord.scale, chord.at))
    return tuple(joined)
