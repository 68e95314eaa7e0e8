"""How clearly do the notes of a line tell one chord from another? Outline D.

For each note the log-likelihood over the chord it is played on, minus the mean of its
log-likelihoods over all chords of the progression, each counted by how long it lasts; then
the mean over notes, in nats per note. A line that knows nothing of where the chords are has
0, whatever its notes. The *relative* outline is D over the D of the plain arpeggio of step 1
in the same bars, since chords that share a key share notes.

Conventions
-----------
- The likelihoods are those of `halfstep.harmony.note_likelihoods`. A line is laid over its
  chords by `halfstep.harmony.line_over_chords`; notes before bar 1 are left out.
- A few bars are never graded: D needs `MIN_BARS` bars. What cannot be said is None, with the
  reason.

Source: the measure was tried on made-up lines over 342 charts; `tests/harmony` repeats that
table. The mixture is of log-likelihoods: with one of likelihoods, notes that know nothing of
the chords would fall below 0.
"""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import pairwise
from operator import sub
from typing import NamedTuple

from halfstep.errors import ReadError
from halfstep.harmony.line_over_chords import (
    LineNote,
    LineOverChords,
    Row,
    from_bar_one,
    line_over_chords,
    row_of,
)
from halfstep.harmony.tones import core_tones
from halfstep.meter import EIGHTH
from halfstep.progression.chart import Chart, Span, spans

MIN_BARS = 4
MIN_NOTES = 8
"""Notes that a mean is taken of at least."""
MIN_REFERENCE = 0.05
"""Where the plain arpeggio has less, nothing is compared with it."""


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


def whole_figures(line: Sequence[LineNote], chart: Chart) -> Figures:
    """How well all of a line tells the chords of a chart.

    Raises
    ------
    ReadError
        As `line_from_bar_one`.
    """
    laid = line_from_bar_one(line, chart)
    return measured(laid, chart).of(0, len(laid.bars))


def line_from_bar_one(line: Sequence[LineNote], chart: Chart) -> LineOverChords:
    """A line laid over a chart, without what precedes bar 1.

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
    line = from_bar_one(line, chart)
    if not line:
        raise ReadError("the line has no notes from bar 1 on")
    return line_over_chords(line, chart)


def measured(laid: LineOverChords, chart: Chart) -> "LineMeasure":
    """What the figures of any bars of a line over a chart are made from."""
    facts = _facts(chart)
    return LineMeasure(_gains(laid, facts.mixture), facts.reference, facts.alike)


class _ChartFacts(NamedTuple):
    """What the figures of every line over a chart are made with."""

    mixture: Row
    reference: list[tuple[float, int]]
    alike: str


@lru_cache(maxsize=8)
def _facts(chart: Chart) -> _ChartFacts:
    """Kept, since a writer compares many lines over one chart."""
    chords = spans(chart)
    mixture = mixture_of(chords)
    reference = _gains(line_over_chords(plain_arpeggio(chart), chart), mixture)
    return _ChartFacts(mixture, reference, _alike(chords))


def mixture_of(chords: Sequence[Span]) -> Row:
    """The mean of the chords' rows, each counted by its length; zeros without chords."""
    weighed = [(row, float(span.beats)) for span in chords if (row := row_of(span.symbol))]
    total = sum(beats for _, beats in weighed) or 1.0
    return tuple(sum(beats * row[k] for row, beats in weighed) / total for k in range(36))


def _alike(chords: Sequence[Span]) -> str:
    """Why nothing can be told apart; empty where it can."""
    rows = {row for span in chords if (row := row_of(span.symbol))}
    if not rows:
        return "the chart has no chords"
    return "the chart stays on one chord" if len(rows) == 1 else ""


def _gains(laid: LineOverChords, mixture: Row) -> list[tuple[float, int]]:
    """For each bar the sum over its notes of what D is the mean of, and their number."""
    sums, counts = [0.0] * len(laid.bars), [0] * len(laid.bars)
    places = laid.places
    for stretch, first, stop in zip(laid.stretches, laid.firsts, laid.firsts[1:], strict=False):
        if stretch.row is None:
            continue
        row_gains = list(map(sub, stretch.row, mixture))
        for bar, key in zip(places.bars[first:stop], places.keys[first:stop], strict=True):
            sums[bar] += row_gains[key]
            counts[bar] += 1
    return list(zip(sums, counts, strict=True))


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
    lines = [float(start) for bar, start in chart.placed() if bar.number >= 1]
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
