"""Which rhythm of a line can be written? Where a bar has what no note value can, it is evened out.

Conventions
-----------
- What can be written are the values of `halfstep.notation` with their tuplets: nothing faster
  than sixteenths. A bar that has anything else is laid on its sixteenths; of notes on one the
  nearest stays.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise, zip_longest
from math import ceil

from halfstep.harmony.line_over_chords import LineNote
from halfstep.notation import NOTE_VALUES, lengths_at, plain_beats
from halfstep.progression.chart import Bar, Chart

_SIXTEENTH, _HALF = Fraction(1, 4), Fraction(1, 2)


@dataclass(frozen=True, slots=True)
class WritableLine:
    """A line in rhythms that can be written.

    Attributes
    ----------
    notes : tuple of LineNote
    bars : tuple of int
        The numbers of those that were laid on sixteenths; 0 is a pickup.
    """

    notes: tuple[LineNote, ...]
    bars: tuple[int, ...]


def writable_line(notes: Sequence[LineNote], chart: Chart) -> WritableLine:
    """A line of one chorus in rhythms that can be written."""
    bars = list(_bars(chart))
    starts = [start for start, _ in bars]
    coarse = {place for place, (start, bar) in enumerate(bars) if not _fits(notes, start, bar)}

    def laid(place: Fraction) -> Fraction:
        is_coarse = bisect_right(starts, place) - 1 in coarse
        return ceil(place / _SIXTEENTH - _HALF) * _SIXTEENTH if is_coarse else place

    return WritableLine(tuple(_laid(notes, laid)), tuple(bars[place][1].number for place in coarse))


def _bars(chart: Chart) -> Iterator[tuple[Fraction, Bar]]:
    """The bars of the form with their starts, and before them one for a pickup."""
    first = chart.form[0]
    yield -first.meter.bar_beats, Bar(0, first.meter, first.meter.bar_beats, (), 0)
    for bar, start in chart.placed():
        if bar.number >= 1:
            yield start, bar


def _fits(notes: Sequence[LineNote], start: Fraction, bar: Bar) -> bool:
    """True where notes and rests of a bar have values that can be written."""
    end = start + bar.beats
    inside = [note for note in notes if note.onset < end and note.onset + note.beats > start]
    spans = [(max(n.onset, start), min(n.onset + n.beats, end)) for n in inside]
    edges = [(start, start), *spans, (end, end)]
    rests = [(before, after) for (_, before), (after, _) in pairwise(edges) if after > before]
    pieces = [(span, False) for span in spans] + [(span, True) for span in rests]
    return all(
        plain_beats(length) in NOTE_VALUES
        for (first, last), is_rest in pieces
        for length in lengths_at(
            bar.meter, Fraction(first - start), Fraction(last - first), rest=is_rest
        )
    )


def _laid(notes: Sequence[LineNote], laid: Callable[[Fraction], Fraction]) -> Iterator[LineNote]:
    """The notes with their onsets and ends laid on the places that are given."""
    nearest: dict[Fraction, LineNote] = {}
    for note in notes:
        place = laid(Fraction(note.onset))
        other = nearest.setdefault(place, note)
        if abs(Fraction(note.onset) - place) < abs(Fraction(other.onset) - place):
            nearest[place] = note
    onsets = sorted(nearest)
    for onset, limit in zip_longest(onsets, onsets[1:]):
        note = nearest[onset]
        end = laid(Fraction(note.onset + note.beats))
        end = end if end > onset else onset + _SIXTEENTH
        yield LineNote(onset, (end if limit is None else min(end, limit)) - onset, note.midi)
