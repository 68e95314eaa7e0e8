"""A line laid over the chords of a chart: its bars, its notes, and the chord of each note.

Conventions
-----------
- Beats are quarter notes from the start of bar 1; where the line is longer than the chart,
  the chart comes round again. Pitches are concert.
- A note less than an eighth of a beat from a beat stands on it.
- A note in the half beat before a change, with none on the change, belongs to the chord it
  fits better by the likelihoods of `halfstep.harmony.note_likelihoods`.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import ceil
from typing import NamedTuple

from halfstep.errors import ReadError
from halfstep.harmony.note_likelihoods import (
    NEAR_BEATS,
    Weight,
    chord_family,
    log_shares,
    on_beat,
    weight_at,
)
from halfstep.meter import Meter
from halfstep.progression.chart import Chart, spans
from halfstep.progression.symbol import ChordSymbol

MAX_LINE_BARS = 20_000

_NEAR = 1e-6

Row = tuple[float, ...]
"""How likely each pitch class is over a chord, in nats, at ``12 * weight + class``."""


class LineNote(NamedTuple):
    """A note of a line.

    Attributes
    ----------
    onset, beats : Fraction or float
        Quarter notes from the start of bar 1, and length.
    midi : int
        Concert.
    """

    onset: Fraction | float
    beats: Fraction | float
    midi: int


class LineBar(NamedTuple):
    """A bar under a line: its start and length, and a beat of its metre, in quarter notes."""

    start: float
    beats: float
    meter: Meter
    unit: float


class ChordStretch(NamedTuple):
    """A chord from where it begins to where another does.

    Attributes
    ----------
    symbol : ChordSymbol
    row : Row or None
        None for ``N.C.``
    start : float
    chord : int
        Its place among the chords of the form; of equal neighbours that of the first.
    """

    symbol: ChordSymbol
    row: Row | None
    start: float
    chord: int


class NotePlaces(NamedTuple):
    """The notes of a line side by side: place, bar from 0, and key in a row."""

    onsets: list[float]
    bars: list[int]
    keys: list[int]


class LineOverChords(NamedTuple):
    """A line with what lies under it.

    Attributes
    ----------
    line : tuple of LineNote
        In order of onset.
    bars : tuple of LineBar
        As many choruses as the line lasts, up to its last bar.
    stretches : tuple of ChordStretch
        The chords of those bars, equal neighbours joined.
    ends : tuple of float
        Where each of them ends.
    places : NotePlaces
    firsts : tuple of int
        The first note of each stretch, and at the end the number of notes.
    """

    line: tuple[LineNote, ...]
    bars: tuple[LineBar, ...]
    stretches: tuple[ChordStretch, ...]
    ends: tuple[float, ...]
    places: NotePlaces
    firsts: tuple[int, ...]

    @property
    def sounding_bars(self) -> int:
        """How many bars there are up to the last one that sounds."""
        end = max((float(onset + beats) for onset, beats, _ in self.line), default=0.0)
        return max(1, sum(bar.start < end - bar.unit * NEAR_BEATS for bar in self.bars))

    def stretch_of(self, note: int) -> int:
        """The place of the stretch that a note belongs to."""
        return bisect_right(self.firsts, note, hi=len(self.stretches)) - 1

    def unit_at(self, note: int) -> float:
        """The length of a beat where a note stands."""
        return self.bars[self.places.bars[note]].unit

    def is_on_beat(self, note: int) -> bool:
        """True for a note on a beat of the metre."""
        return self.places.keys[note] // 12 != Weight.OFF

    def has_weight(self, note: int) -> bool:
        """True for a note on a beat, or with half a beat or more until the next."""
        return self.is_on_beat(note) or self.gap(note) >= self.unit_at(note) / 2 - _NEAR

    def gap(self, note: int) -> float:
        """Quarter notes from a note to the next; its own length behind the last."""
        onsets = self.places.onsets
        last = note + 1 == len(onsets)
        return float(self.line[note].beats) if last else onsets[note + 1] - onsets[note]


def line_over_chords(
    line: Sequence[LineNote], chart: Chart, *, until: float = 0.0
) -> LineOverChords:
    """A line laid over a chart.

    Parameters
    ----------
    line : sequence of LineNote
        In order of onset, from bar 1 on.
    chart : Chart
        Repeated as often as the line needs it.
    until : float
        Where the bars end at the earliest, in quarter notes from bar 1.

    Raises
    ------
    ReadError
        When the line is far too long.
    """
    beat = float(chart.meter.tempo_beats)
    end = max((float(onset + beats) for onset, beats, _ in line), default=0.0)
    bars = _bars(chart, max(end - beat * NEAR_BEATS, until))
    places = _places(line, bars)
    last = bars[-1].start + bars[-1].beats
    stretches = _stretches(chart, last)
    ends = (*(stretch.start for stretch in stretches[1:]), last)
    firsts = _firsts(places, stretches, beat)
    return LineOverChords(tuple(line), tuple(bars), tuple(stretches), ends, places, tuple(firsts))


def from_bar_one(line: Sequence[LineNote], chart: Chart) -> list[LineNote]:
    """The notes of a line from bar 1 on, in floating point."""
    near = float(chart.meter.tempo_beats) * NEAR_BEATS
    floating = (LineNote(float(onset), float(beats), midi) for onset, beats, midi in line)
    return [note for note in floating if note.onset > -near]


def _bars(chart: Chart, end: float) -> list[LineBar]:
    """The bars of as many choruses as the line lasts, up to its last bar."""
    form = [(float(bar.beats), bar.meter, float(bar.meter.tempo_beats)) for bar in chart.form]
    if end * len(form) > MAX_LINE_BARS * float(chart.beats):
        raise ReadError(f"the line is longer than {MAX_LINE_BARS} bars; give a shorter one")
    bars: list[LineBar] = []
    start = 0.0
    while not bars or start < end:
        beats, meter, unit = form[len(bars) % len(form)]
        bars.append(LineBar(start, beats, meter, unit))
        start += beats
    return bars


def _places(line: Sequence[LineNote], bars: Sequence[LineBar]) -> NotePlaces:
    """The notes with their places; one that is near a beat is on it."""
    notes = NotePlaces([], [], [])
    place = 0
    for onset, _, midi in line:
        now = float(onset)
        while place + 1 < len(bars) and now >= bars[place + 1].start:
            place += 1
        start, beats, meter, unit = bars[place]
        at = on_beat(now - start, unit)
        weight, number = Weight.OFF, place
        if at is not None:
            now = start + at
            weight = weight_at(meter, at)
            if at >= beats and place + 1 < len(bars):
                number, weight = place + 1, Weight.STRONG
        notes.onsets.append(now)
        notes.bars.append(number)
        notes.keys.append(12 * weight + midi % 12)
    return notes


def row_of(symbol: ChordSymbol) -> Row | None:
    """How likely each note is over a chord; None for ``N.C.``"""
    family = chord_family(symbol)
    return None if family is None else log_shares(family, symbol.root.pitch_class)


@lru_cache(maxsize=8)
def _form_stretches(chart: Chart) -> tuple[ChordStretch, ...]:
    """Kept, since a writer lays many lines over one chart."""
    return tuple(
        ChordStretch(span.symbol, row_of(span.symbol), float(span.start), place)
        for place, span in enumerate(spans(chart))
    )


def _stretches(chart: Chart, end: float) -> list[ChordStretch]:
    """The chords of all choruses, equal neighbours joined."""
    form, form_beats = _form_stretches(chart), float(chart.beats)
    stretches: list[ChordStretch] = []
    for turn in range(ceil(end / form_beats)):
        for chord in form:
            start = turn * form_beats + chord.start
            if start < end and not (stretches and stretches[-1].symbol == chord.symbol):
                stretches.append(chord._replace(start=start))
    return stretches


def _firsts(notes: NotePlaces, stretches: Sequence[ChordStretch], beat: float) -> list[int]:
    """The first note of each stretch, and at the end the number of notes."""
    onsets, firsts = notes.onsets, [0]
    for (_, old, _, _), (_, new, start, _) in pairwise(stretches):
        first = bisect_left(onsets, start)
        before = first - 1
        anticipated = before >= firsts[-1] and onsets[before] >= start - beat / 2
        on_change = first < len(onsets) and onsets[first] == start
        if anticipated and not on_change and old and new:
            key = notes.keys[before]
            first -= new[key] > old[key]
        firsts.append(first)
    return [*firsts, len(onsets)]
