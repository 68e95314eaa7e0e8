"""Where does each chord begin, as a player counts it?

Beats are counted from 1 in the pulse of the metre, a dotted quarter in 6/8 and a half
note in 2/2. A bar is named by its number on the page; where repeats play it again, the
time is said too.
"""

from __future__ import annotations

from collections.abc import Sequence
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
        """The beat in a column of beats: ``3``, ``2 and``, ``after 2``."""
        whole = self.beat // 1
        return {1: f"{whole}", 2: f"{whole} and"}.get(self.beat.denominator, f"after {whole}")

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


def end_of_bar(number: int, sections: Sequence[str]) -> Barline:
    """How a bar ends: a double line before a section, the final line at the end of the form.

    Parameters
    ----------
    number : int
        Of the bar in the form, from 1; a pickup has none and begins no section anew.
    sections : sequence of str
        What begins in each bar of the form.
    """
    if number == len(sections):
        return Barline.FINAL
    return Barline.DOUBLE if number > 0 and sections[number] else Barline.SINGLE


def end_of_chart_bar(chart: Chart, bar: Bar) -> Barline:
    """How a bar of the form ends."""
    return end_of_bar(bar.number, [other.section for other in chart.form])


def beat_words(bar: Bar, at: Fraction) -> str:
    """Where in a bar a chord begins, as it is counted; empty at the start of the bar."""
    shift = bar.meter.bar_beats - bar.beats if bar.number < 1 else Fraction(0)
    beat = (at + shift) / bar.meter.pulse_beats + 1
    return "" if beat == 1 or beat.denominator > 2 else count_in_words(beat)


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
