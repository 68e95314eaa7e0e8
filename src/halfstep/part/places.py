"""Where does each chord begin, as a player counts it?

Beats are counted from 1 in the pulse of the metre, a dotted quarter in 6/8 and a half
note in 2/2. A bar is named by its number on the page; where repeats play it again, the
time is said too.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from halfstep.harmony.analysis import Analysis
from halfstep.meter import count_in_words
from halfstep.progression.chart import Bar, Chart
from halfstep.score import Barline


@dataclass(frozen=True, slots=True)
class Placed:
    """A bar of the form, and a beat in it counted from 1."""

    bar: Bar
    beat: Fraction

    @property
    def number(self) -> str:
        """The bar's number as printed."""
        return bar_number(self.bar)

    @property
    def beat_text(self) -> str:
        """The beat as printed: ``3``, ``2.5``."""
        return f"{float(self.beat):.4g}"

    @property
    def counted(self) -> str:
        """The beat in words: ``beat 3``, ``on the “and” of 2``."""
        return "on " * (self.beat.denominator == 2) + count_in_words(self.beat)

    def __str__(self) -> str:
        return self.number + (f" {self.counted}" if self.beat != 1 else "")


def bar_number(bar: Bar) -> str:
    """The bar on the page, with the time it is played: ``5``, ``5 (2nd)``."""
    if bar.time == 1:
        return str(bar.written)
    return f"{bar.written} ({bar.time}{ {2: 'nd', 3: 'rd'}.get(bar.time, 'th') })"


def end_of_bar(chart: Chart, bar: Bar) -> Barline:
    """How a bar ends: a double line before a section, the final line at the end of the form."""
    if bar.number == len(chart.form):
        return Barline.FINAL
    return Barline.DOUBLE if bar.number > 0 and chart.form[bar.number].section else Barline.SINGLE


def beat_words(bar: Bar, at: Fraction) -> str:
    """Where in a bar a chord begins, as it is counted; empty at the start of the bar."""
    shift = bar.meter.bar_beats - bar.beats if bar.number < 1 else Fraction(0)
    beat = (at + shift) / bar.meter.pulse_beats + 1
    if beat == 1 or beat.denominator > 2:
        return ""
    return f"beat {beat}" if beat.denominator == 1 else f"and of {beat // 1}"


def placed_chords(analysis: Analysis) -> list[Placed]:
    """The place of each chord of an analysis, in order."""
    bars = {bar.number: (bar, start) for bar, start in analysis.chart.placed()}
    spans = [analysed.span for analysed in analysis.chords]
    return [
        Placed(bar, (span.start - start) / bar.meter.pulse_beats + 1)
        for span in spans
        for bar, start in [bars[span.bar]]
    ]


def place_of(bar: int, chart: Chart) -> tuple[int, str]:
    """The chorus and the bar's number on the page, for a bar of the line."""
    chorus, place = divmod(bar - 1, len(chart.form))
    return chorus + 1, bar_number(chart.form[place])
