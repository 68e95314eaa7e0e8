"""Does a line spell the changes? How clearly its notes tell one chord from another.

Two figures, and neither says how good the music is.

- *Outline D*: `halfstep.harmony.line_figures`, in nats a note.
- What is heard of each change: `halfstep.harmony.chord_arrivals`.

A line is laid over its chords by `halfstep.harmony.line_over_chords`; notes before bar 1 are
left out. A single bar is never graded. What cannot be said is None, with the reason.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from halfstep.harmony.analysis import analyse
from halfstep.harmony.chart_sounds import ChartSounds
from halfstep.harmony.chord_arrivals import JUDGED, ChordArrival, chord_arrivals
from halfstep.harmony.leading_notes import leading_notes
from halfstep.harmony.line_figures import MIN_BARS, Figures, line_from_bar_one, measured
from halfstep.harmony.line_over_chords import LineNote, LineOverChords
from halfstep.progression.chart import Chart, spans


@dataclass(frozen=True, slots=True)
class Outline:
    """A line measured.

    Attributes
    ----------
    whole : Figures
    windows : tuple of Figures
        Four bars each, from the start of each chorus; what is left over joins the last.
    changes : tuple of ChordArrival
        In order; beside ``N.C.`` there is none.
    """

    whole: Figures
    windows: tuple[Figures, ...]
    changes: tuple[ChordArrival, ...]

    @property
    def judged(self) -> tuple[ChordArrival, ...]:
        """Changes that something can be said of."""
        return tuple(change for change in self.changes if change.verdict in JUDGED)

    @property
    def tested(self) -> tuple[ChordArrival, ...]:
        """Changes at which the change test can be made."""
        return tuple(change for change in self.changes if change.spelled is not None)

    @property
    def spelled(self) -> float | None:
        """The share of them where it holds; None where there are none."""
        tested = self.tested
        return sum(bool(change.spelled) for change in tested) / len(tested) if tested else None


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
    laid = line_from_bar_one(line, chart)
    return outline_of(laid, chart, arrivals_in(laid, _sounds(chart)))


def outline_of(laid: LineOverChords, chart: Chart, changes: Sequence[ChordArrival]) -> Outline:
    """The same of a line that is laid over a chart already, and of which the changes are known."""
    figures, bars = measured(laid, chart), laid.sounding_bars
    windows = [figures.of(*window) for window in _windows(bars, len(chart.form))]
    return Outline(figures.of(0, bars), tuple(windows), tuple(changes))


@lru_cache(maxsize=8)
def _sounds(chart: Chart) -> ChartSounds | None:
    """What the chords of a chart sound like; None where it has none."""
    is_silent = all(span.symbol.silent for span in spans(chart))
    return None if is_silent else ChartSounds(analyse(chart))


def arrivals_in(laid: LineOverChords, sounds: ChartSounds | None) -> tuple[ChordArrival, ...]:
    """What is heard of each change; nothing over a chart without chords."""
    if sounds is None:
        return ()
    return tuple(chord_arrivals(laid, sounds, leading_notes(laid, sounds)))


def _windows(bars: int, form: int) -> Iterator[tuple[int, int]]:
    """Four bars and four bars, from the start of each chorus that has as many."""
    chorus = form if form >= MIN_BARS else bars
    for start in range(0, bars, chorus):
        stop = min(start + chorus, bars)
        cuts = [*range(start, max(start + 1, stop - MIN_BARS + 1), MIN_BARS), stop]
        yield from pairwise(cuts)
