"""Have two charts the same chords, and where not first? Names aside: D♭7 and C♯7 sound alike."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from fractions import Fraction

from halfstep.progression.chart import Chart, Span, spans


def have_same_chords(chart: Chart, other: Chart) -> bool:
    """True where the same sounds at every place of the form."""
    return chart.beats == other.beats and first_difference(chart, other) is None


def first_difference(chart: Chart, other: Chart) -> tuple[Span, Span] | None:
    """The first chords of two forms of one length that sound together and are not the same."""
    both = (spans(chart), spans(other))
    starts = sorted({span.start for form in both for span in form})
    pairs = (tuple(map(_at(start), both)) for start in starts)
    return next(((a, b) for a, b in pairs if _sounding(a) != _sounding(b)), None)


def _at(start: Fraction) -> Callable[[Sequence[Span]], Span]:
    """Gives the chord of a form that sounds at a place."""
    return lambda form: form[bisect_right(form, start, key=lambda span: span.start) - 1]


def _sounding(span: Span) -> tuple[object, ...]:
    """What sounds, whatever its names."""
    bass = span.symbol.bass and span.symbol.bass.pitch_class
    return span.symbol.root.pitch_class, span.symbol.quality, bass
