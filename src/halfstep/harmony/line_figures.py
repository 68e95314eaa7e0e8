"""How clearly do the notes of a line tell one chord from another? Outline D.

For each note the log-likelihood over the chord it is played on, minus the mean of its
log-likelihoods over all chords of the progression, each counted by how long it lasts; then
the mean over notes, in nats per note. A line that knows nothing of where the chords are has
0, whatever its notes. The *relative* outline is D over the D of the plain arpeggio of step 1
in the same bars, since chords that share a key share notes.

Conventions
-----------
- The likelihoods are those of `halfstep.harmony.note_likelihoods`. A line is given in concert
  pitch; beats are quarter notes from the start of bar 1, and where the line is longer
  than the chart, the chart comes round again. Notes before bar 1 are left out.
- A note in the half beat before a change, with none on the change, counts for the chord
  it fits better.
- A few bars are never graded: D needs `MIN_BARS` bars. What cannot be said is None, with the
  reason.

Source: the measure was tried on made-up lines over 342 charts; `tests/harmony` repeats that
table. The mixture is of log-likelihoods: with one of likelihoods, notes that know nothing of
the chords would fall below 0.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import ceil
from operator import sub
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
from halfstep.harmony.tones import core_tones
from halfstep.meter import EIGHTH, Meter
from halfstep.progression.chart import Chart, Span, spans
from halfstep.progression.symbol import ChordSymbol

MIN_BARS = 4
MIN_NOTES = 8
"""Notes that a mean is taken of at least."""
MIN_REFERENCE = 0.05
"""Where the plain arpeggio has less, nothing is compared with it."""
MAX_LINE_BARS = 20_000

Row = tuple[float, ...]


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


class Figures(NamedTuple):
    """How well some bars of a line spell the changes.

    Attributes
    ----------
    first_bar, last_bar : int
        Of the line, from 1, all choruses counted.
    notes : int
        Those over chords.
    outline : float or None
        D in nats per note.
    reference : float or None
        D of the plain arpeggio in the same bars.
    relative : float or None
    reason : str
        Why a figure is None.
    """

    first_bar: int
    last_bar: int
    notes: int
    outline: float | None = None
    reference: float | None = None
    relative: float | None = None
    reason: str = ""


class LineBar(NamedTuple):
    """A bar under a line: where it starts, its length and what a tempo counts in it, in beats."""

    start: float
    beats: float
    meter: Meter
    unit: float


class ChordStretch(NamedTuple):
    """A chord from where it begins to where another does; ``row`` is None for ``N.C.``"""

    symbol: ChordSymbol
    row: Row | None
    start: float


class PlacedNotes(NamedTuple):
    """The notes of a line side by side: place, bar from 0, and key in a row."""

    onsets: list[float]
    bars: list[int]
    keys: list[int]


class LineOverChart(NamedTuple):
    """A line laid over the chords of a chart, chorus after chorus, and measured.

    Attributes
    ----------
    bars : sequence of LineBar
    notes : PlacedNotes
    stretches : sequence of ChordStretch
    firsts : sequence of int
        The first note of each stretch, and at the end the number of notes.
    measure : LineMeasure
    """

    bars: Sequence[LineBar]
    notes: PlacedNotes
    stretches: Sequence[ChordStretch]
    firsts: Sequence[int]
    measure: LineMeasure


def whole_figures(line: Sequence[LineNote], chart: Chart) -> Figures:
    """How well all of a line tells the chords of a chart.

    Raises
    ------
    ReadError
        As `line_over_chart`.
    """
    over = line_over_chart(line, chart)
    return over.measure.of(0, len(over.bars))


def line_over_chart(line: Sequence[LineNote], chart: Chart) -> LineOverChart:
    """A line laid over a chart.

    Parameters
    ----------
    line : sequence of LineNote
        Concert pitch, in order of onset.
    chart : Chart
        Repeated as often as the line needs it.

    Raises
    ------
    ReadError
        When the line has no notes from bar 1 on, or is far too long.
    """
    near = float(chart.meter.tempo_beats) * NEAR_BEATS
    line = [LineNote(float(onset), float(beats), midi) for onset, beats, midi in line]
    line = [note for note in line if note.onset > -near]
    if not line:
        raise ReadError("the line has no notes from bar 1 on")
    end = float(max(onset + beats for onset, beats, _ in line))
    bars = _bars(chart, end - near)
    facts = _facts(chart)
    notes = _notes(line, bars)
    stretches = _stretches(facts.chords, facts.beats, bars[-1].start + bars[-1].beats)
    firsts = _firsts(notes, stretches, float(chart.meter.tempo_beats))
    gains = _gains(notes, stretches, firsts, facts.mixture, len(bars))
    measure = LineMeasure(gains, facts.reference, facts.alike)
    return LineOverChart(bars, notes, stretches, firsts, measure)


class _ChartFacts(NamedTuple):
    """What the figures of every line over a chart are made with."""

    chords: tuple[Span, ...]
    beats: float
    mixture: Row
    reference: list[tuple[float, int]]
    alike: str


@lru_cache(maxsize=8)
def _facts(chart: Chart) -> _ChartFacts:
    """Kept, since a writer compares many lines over one chart."""
    chords = spans(chart)
    mixture = mixture_of(chords)
    reference = _reference(chart, chords, mixture)
    return _ChartFacts(chords, float(chart.beats), mixture, reference, _alike(chords))


# Bars, chords and notes, laid side by side


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


def _notes(line: Sequence[LineNote], bars: Sequence[LineBar]) -> PlacedNotes:
    """The notes with their places; one that is near a beat is on it."""
    notes = PlacedNotes([], [], [])
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


def _row(symbol: ChordSymbol) -> Row | None:
    family = chord_family(symbol)
    return None if family is None else log_shares(family, symbol.root.pitch_class)


def _stretches(chords: Sequence[Span], form_beats: float, end: float) -> list[ChordStretch]:
    """The chords of all choruses, equal neighbours joined."""
    rows = [_row(span.symbol) for span in chords]
    stretches: list[ChordStretch] = []
    for turn in range(ceil(end / form_beats)):
        for span, row in zip(chords, rows, strict=True):
            start = turn * form_beats + float(span.start)
            if start < end and not (stretches and stretches[-1].symbol == span.symbol):
                stretches.append(ChordStretch(span.symbol, row, start))
    return stretches


def _firsts(notes: PlacedNotes, stretches: Sequence[ChordStretch], beat: float) -> list[int]:
    """The first note of each stretch, and at the end the number of notes."""
    onsets, firsts = notes.onsets, [0]
    for (_, old, _), (_, new, start) in pairwise(stretches):
        first = bisect_left(onsets, start)
        before = first - 1
        anticipated = before >= firsts[-1] and onsets[before] >= start - beat / 2
        on_change = first < len(onsets) and onsets[first] == start
        if anticipated and not on_change and old and new:
            key = notes.keys[before]
            first -= new[key] > old[key]
        firsts.append(first)
    return [*firsts, len(onsets)]


# Outline D


def mixture_of(chords: Sequence[Span]) -> Row:
    """The mean of the chords' rows, each counted by its length; zeros without chords."""
    weighed = [(row, float(span.beats)) for span in chords if (row := _row(span.symbol))]
    total = sum(beats for _, beats in weighed) or 1.0
    return tuple(sum(beats * row[k] for row, beats in weighed) / total for k in range(36))


def _alike(chords: Sequence[Span]) -> str:
    """Why nothing can be told apart; empty where it can."""
    rows = {row for span in chords if (row := _row(span.symbol))}
    if not rows:
        return "the chart has no chords"
    return "the chart stays on one chord" if len(rows) == 1 else ""


def _gains(
    notes: PlacedNotes,
    stretches: Sequence[ChordStretch],
    firsts: Sequence[int],
    mixture: Row,
    bars: int,
) -> list[tuple[float, int]]:
    """For each bar the sum over its notes of what D is the mean of, and their number."""
    sums, counts = [0.0] * bars, [0] * bars
    for (_, row, _), first, stop in zip(stretches, firsts, firsts[1:], strict=False):
        if row is None:
            continue
        row_gains = list(map(sub, row, mixture))
        for bar, key in zip(notes.bars[first:stop], notes.keys[first:stop], strict=True):
            sums[bar] += row_gains[key]
            counts[bar] += 1
    return list(zip(sums, counts, strict=True))


def _reference(chart: Chart, chords: Sequence[Span], mixture: Row) -> list[tuple[float, int]]:
    """What `_gains` gives for one chorus of the plain arpeggio."""
    bars = _bars(chart, float(chart.beats))
    notes = _notes(plain_arpeggio(chart), bars)
    stretches = _stretches(chords, float(chart.beats), float(chart.beats))
    starts = [bisect_left(notes.onsets, stretch.start) for stretch in stretches]
    return _gains(notes, stretches, [*starts, len(notes.onsets)], mixture, len(bars))


class LineMeasure(NamedTuple):
    """What the figures of any bars are made from."""

    gains: list[tuple[float, int]]
    reference: list[tuple[float, int]]
    alike: str

    def of(self, first: int, stop: int) -> Figures:
        """The figures of bars ``first`` to before ``stop``, counted from 0."""
        total, count = _summed(self.gains[first:stop])
        reason = self.alike or _too_little(stop - first, count)
        if reason:
            return Figures(first + 1, stop, count, reason=reason)
        d = total / count
        form = len(self.reference)
        known, steps = _summed([self.reference[bar % form] for bar in range(first, stop)])
        reference = known / steps if steps else 0.0
        if reference < MIN_REFERENCE:
            reason = "the plain arpeggio hardly tells these chords apart"
            return Figures(first + 1, stop, count, d, reference, reason=reason)
        return Figures(first + 1, stop, count, d, reference, d / reference)


def _summed(gains: Sequence[tuple[float, int]]) -> tuple[float, int]:
    return sum(gain for gain, _ in gains), sum(count for _, count in gains)


def _too_little(bars: int, notes: int) -> str:
    if bars < MIN_BARS:
        return f"fewer than {MIN_BARS} bars"
    return f"fewer than {MIN_NOTES} notes over chords" if notes < MIN_NOTES else ""


def plain_arpeggio(chart: Chart) -> tuple[LineNote, ...]:
    """Step 1 of a lesson over one chorus: 1 3 5 7 of each chord.

    Up in one bar and down in the next in quarters, or up and down in eighths where the chord
    lasts a bar or less; two beats or less go up only.
    """
    bars = _bars(chart, float(chart.beats))
    lines = [bar.start for bar in bars]
    notes: list[LineNote] = []
    for span in spans(chart):
        start, end = float(span.start), float(span.end)
        cuts = [start, *(line for line in lines if start < line < end), end]
        root = 60 + span.symbol.root.pitch_class
        tones = [root + tone.degree.semitones for tone in core_tones(span.symbol)]
        pieces = list(pairwise(cuts))
        for turn, (at, stop) in enumerate(pieces if tones else ()):
            direction = tones[::-1] if turn % 2 else tones
            if len(pieces) == 1 and stop - at > 2:
                notes += _run(at, stop, [*tones, *tones[-2::-1]], float(EIGHTH))
            else:
                length = 1.0 if len(tones) <= stop - at else float(EIGHTH)
                notes += _run(at, stop, direction, length)
    return tuple(notes)


def _run(start: float, stop: float, tones: Sequence[int], length: float) -> Iterator[LineNote]:
    """The tones one after another as far as there is time, the last one held."""
    count = min(len(tones), max(1, int((stop - start) / length)))
    for place, midi in enumerate(tones[:count]):
        at = start + place * length
        yield LineNote(at, stop - at if place == count - 1 else length, midi)
