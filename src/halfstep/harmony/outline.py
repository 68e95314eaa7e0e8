"""Does a line spell the changes? How clearly its notes tell one chord from another.

Two figures, and neither says how good the music is.

- *Outline D*: for each note the log-likelihood over the chord it is played on, minus the
  mean of its log-likelihoods over all chords of the progression, each counted by how long
  it lasts; then the mean over notes, in nats per note. A line that knows nothing of where
  the chords are has 0, whatever its notes. The *relative* outline is D over the D of the
  plain arpeggio of step 1 in the same bars, since chords that share a key share notes.
- The *change test*: the notes of the last four beats of the old chord, taken together, are
  likelier over the old one, and those of the first four beats of the new one over the new.

Conventions
-----------
- The likelihoods are those of `halfstep.harmony.note_likelihoods`. A line is given in concert
  pitch; beats are quarter notes from the start of bar 1, and where the line is longer
  than the chart, the chart comes round again. Notes before bar 1 are left out.
- The windows of the change test are counted in beats of the metre (a dotted quarter in
  6/8) and end where the old chord began and the new one ends.
- A note in the half beat before a change, with none on the change, counts for the chord
  it fits better.
- A change is *moved* when another place within four beats of it parts the notes of the two
  chords better by at least `CLEAR_NATS`, with eight beats of each chord looked at, and the
  change test holds there. It is *heard* early or late when it is moved, on time when it is
  not and the test holds at the change. One change says little of this: of arpeggios that
  come two beats late a third are found late, of notes of the key that follow no chord a
  seventh are taken for moved and a seventh for on time. Judge a line by its many changes.
- A single bar is never graded: D needs `MIN_BARS` bars, the test `MIN_SIDE` notes a side.
  What cannot be said is None, with the reason.

Source: the measures were tried on made-up lines over 342 charts; `tests/harmony` repeats
that table. The mixture is of log-likelihoods: with one of likelihoods, notes that know
nothing of the chords would fall below 0.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate, pairwise
from math import ceil, log
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
MIN_SIDE = 3
"""Notes on each side of a change that is judged."""
SIDE_BEATS = 4
CLEAR_NATS = log(2)
"""How much likelier another place must be: twice."""
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


class Arrival(StrEnum):
    """What a listener can tell of a change."""

    ON_TIME = "on time"
    EARLY = "early"
    LATE = "late"
    NOT_HEARD = "not heard"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class OutlinedChange:
    """A change of chord under a line.

    Attributes
    ----------
    old, new : ChordSymbol
    onset : float
        Quarter notes from the start of the line's bar 1.
    bar : int
        Of the line, from 1, all choruses counted.
    beat : float
        In the bar, from 1, in pulses of the metre.
    spelled : bool or None
        The change test holds at the change; None where it is unknown.
    arrival : Arrival
    moved_beats : float
        Pulses after the change, to the nearest half beat, before it negative; 0 unless early
        or late.
    reason : str
        Why it is unknown.
    """

    old: ChordSymbol
    new: ChordSymbol
    onset: float
    bar: int
    beat: float
    spelled: bool | None
    arrival: Arrival
    moved_beats: float = 0.0
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Figures:
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


@dataclass(frozen=True, slots=True)
class Outline:
    """A line measured.

    Attributes
    ----------
    whole : Figures
    windows : tuple of Figures
        Four bars each, from the start of each chorus; what is left over joins the last.
    changes : tuple of OutlinedChange
        In order; beside ``N.C.`` there is none.
    """

    whole: Figures
    windows: tuple[Figures, ...]
    changes: tuple[OutlinedChange, ...]

    @property
    def judged(self) -> tuple[OutlinedChange, ...]:
        """Changes that something can be said of."""
        return tuple(change for change in self.changes if change.spelled is not None)

    @property
    def spelled(self) -> float | None:
        """The share of them where the change test holds; None where there are none."""
        judged = self.judged
        return sum(bool(change.spelled) for change in judged) / len(judged) if judged else None


class _LineBar(NamedTuple):
    start: float
    beats: float
    meter: Meter
    unit: float


class _ChordStretch(NamedTuple):
    """A chord from where it begins to where another does; ``row`` is None for ``N.C.``"""

    symbol: ChordSymbol
    row: Row | None
    start: float


class _Notes(NamedTuple):
    """The notes of a line side by side: place, bar from 0, and key in a row."""

    onsets: list[float]
    bars: list[int]
    keys: list[int]


def outline(line: Sequence[LineNote], chart: Chart) -> Outline:
    """How well a line spells the chords of a chart.

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
    figures = _Measure(gains, facts.reference, facts.alike)
    windows = [figures.of(*window) for window in _windows(len(bars), len(chart.form))]
    changes = _changes(notes, stretches, firsts, bars)
    return Outline(figures.of(0, len(bars)), tuple(windows), tuple(changes))


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


def _bars(chart: Chart, end: float) -> list[_LineBar]:
    """The bars of as many choruses as the line lasts, up to its last bar."""
    form = [(float(bar.beats), bar.meter, float(bar.meter.tempo_beats)) for bar in chart.form]
    if end * len(form) > MAX_LINE_BARS * float(chart.beats):
        raise ReadError(f"the line is longer than {MAX_LINE_BARS} bars; give a shorter one")
    bars: list[_LineBar] = []
    start = 0.0
    while not bars or start < end:
        beats, meter, unit = form[len(bars) % len(form)]
        bars.append(_LineBar(start, beats, meter, unit))
        start += beats
    return bars


def _notes(line: Sequence[LineNote], bars: Sequence[_LineBar]) -> _Notes:
    """The notes with their places; one that is near a beat is on it."""
    notes = _Notes([], [], [])
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


def _stretches(chords: Sequence[Span], form_beats: float, end: float) -> list[_ChordStretch]:
    """The chords of all choruses, equal neighbours joined."""
    rows = [_row(span.symbol) for span in chords]
    stretches: list[_ChordStretch] = []
    for turn in range(ceil(end / form_beats)):
        for span, row in zip(chords, rows, strict=True):
            start = turn * form_beats + float(span.start)
            if start < end and not (stretches and stretches[-1].symbol == span.symbol):
                stretches.append(_ChordStretch(span.symbol, row, start))
    return stretches


def _firsts(notes: _Notes, stretches: Sequence[_ChordStretch], beat: float) -> list[int]:
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
    notes: _Notes,
    stretches: Sequence[_ChordStretch],
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


class _Measure(NamedTuple):
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


def _windows(bars: int, form: int) -> Iterator[tuple[int, int]]:
    """Four bars and four bars, from the start of each chorus that has as many."""
    chorus = form if form >= MIN_BARS else bars
    for start in range(0, bars, chorus):
        stop = min(start + chorus, bars)
        cuts = [*range(start, max(start + 1, stop - MIN_BARS + 1), MIN_BARS), stop]
        yield from pairwise(cuts)


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


# The changes


def _changes(
    notes: _Notes,
    stretches: Sequence[_ChordStretch],
    firsts: Sequence[int],
    bars: Sequence[_LineBar],
) -> Iterator[OutlinedChange]:
    starts = [bar.start for bar in bars]
    for place in range(1, len(stretches)):
        old, new = stretches[place - 1], stretches[place]
        if old.row is None or new.row is None:
            continue
        number = bisect_left(starts, new.start + 1e-9)
        start, _, meter, unit = bars[number - 1]
        beat = (new.start - start) / float(meter.pulse_beats) + 1
        around = _Around(
            notes, old.row, new.row, firsts[place - 1 : place + 2], new.start, unit, meter
        )
        judged = around.unknown() or around.verdict()
        yield OutlinedChange(old.symbol, new.symbol, new.start, number, beat, *judged)


class _Around(NamedTuple):
    """The notes around a change.

    Attributes
    ----------
    firsts : sequence of int
        The first note of the old chord, of the new one, and of the one after it.
    """

    notes: _Notes
    old: Row
    new: Row
    firsts: Sequence[int]
    start: float
    unit: float
    meter: Meter

    def unknown(self) -> tuple[None, Arrival, float, str] | None:
        """Why nothing can be said, as the end of a `OutlinedChange`."""
        left, right = self._sides(self.firsts[1], self.start)
        reason = ""
        if self.old == self.new:
            reason = "both chords have the same notes"
        elif min(self.firsts[1] - left, right - self.firsts[1]) < MIN_SIDE:
            reason = f"fewer than {MIN_SIDE} notes on one side"
        return (None, Arrival.UNKNOWN, 0.0, reason) if reason else None

    def verdict(self) -> tuple[bool, Arrival, float]:
        """Does the test hold, what was heard, and how many beats after the change."""
        first, stop = self._within(2 * SIDE_BEATS)
        sums = self._sums(first, stop)
        holds = self._holds(self.firsts[1], self.start, sums, first)
        best = self._clearly_best(sums, first, stop)
        moved = 0.0 if best is None else self._moved(best)
        if best is not None and moved:
            if self._holds(best, self.notes.onsets[best], sums, first):
                return holds, Arrival.LATE if moved > 0 else Arrival.EARLY, moved
        return holds, Arrival.ON_TIME if holds else Arrival.NOT_HEARD, 0.0

    def _within(self, beats: int, at: float | None = None) -> tuple[int, int]:
        """The notes of both chords so many beats around a place."""
        middle = self.start if at is None else at
        onsets, reach = self.notes.onsets, beats * self.unit
        left = bisect_left(onsets, middle - reach)
        right = bisect_left(onsets, middle + reach)
        return max(self.firsts[0], left), min(self.firsts[2], right)

    def _sides(self, cut: int, at: float) -> tuple[int, int]:
        left, right = self._within(SIDE_BEATS, at)
        return min(left, cut), max(right, cut)

    def _sums(self, first: int, stop: int) -> list[float]:
        """How much likelier over the old chord the notes are, up to before each one."""
        keys = self.notes.keys[first:stop]
        return list(accumulate((self.old[k] - self.new[k] for k in keys), initial=0.0))

    def _clearly_best(self, sums: Sequence[float], first: int, stop: int) -> int | None:
        """Another note that the new chord likelier begins with; of equals the nearest."""
        change, onsets, reach = self.firsts[1], self.notes.onsets, SIDE_BEATS * self.unit
        low = max(first + MIN_SIDE, bisect_left(onsets, self.start - reach))
        high = min(stop - MIN_SIDE, bisect_right(onsets, self.start + reach) - 1)
        top = max(sums[low - first : high - first + 1])
        if top - sums[change - first] < CLEAR_NATS:
            return None
        best = [place for place in range(low, high + 1) if sums[place - first] == top]
        return min(best, key=lambda place: abs(onsets[place] - self.start))

    def _moved(self, best: int) -> float:
        """Pulses after the change, to the nearest half beat."""
        halves = round(2 * (self.notes.onsets[best] - self.start) / self.unit)
        return halves * self.unit / 2 / float(self.meter.pulse_beats)

    def _holds(self, cut: int, at: float, sums: Sequence[float], first: int) -> bool:
        """The two-sided test, with the new chord beginning at a note."""
        left, right = self._sides(cut, at)
        left, right = max(left, first), min(right, first + len(sums) - 1)
        if cut - left < MIN_SIDE or right - cut < MIN_SIDE:
            return False
        before, at_cut, after = (sums[place - first] for place in (left, cut, right))
        return at_cut > before and at_cut > after
