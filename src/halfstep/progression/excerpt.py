"""A few bars of a chart as a chart of their own, to be played round and round."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from halfstep.progression.chart import Bar, Chart, ChordAt
from halfstep.progression.key import Key


@dataclass(frozen=True, slots=True)
class WholeForm:
    """What a few bars in a row are of.

    Attributes
    ----------
    chart : Chart
        All of it.
    first : int
        The bar of its form that they begin with, from 1.
    """

    chart: Chart
    first: int

    def share(self, some: Chart) -> float:
        """Which share of its bars some are, above 0 to 1."""
        return len(some.form) / len(self.chart.form)


def bars_around(chart: Chart, bar: int, *, before: int, after: int) -> tuple[int, ...]:
    """The numbers of the bars around one, where the form goes on from its end to bar 1.

    Parameters
    ----------
    chart : Chart
    bar : int
        Of the form, from 1.
    before, after : int
        How many bars.
    """
    count = len(chart.form)
    return tuple((bar - 1 + step) % count + 1 for step in range(-before, after + 1))


def excerpt(
    chart: Chart,
    numbers: Sequence[int],
    *,
    key: Key,
    title: str,
    scale_at: Callable[[Fraction], str] = lambda _: "",
) -> Chart:
    """Bars of a chart, numbered from 1, in its home key.

    Parameters
    ----------
    chart : Chart
    numbers : sequence of int
        Bars of the form, from 1; one may come again.
    key : Key
        The home key of the whole chart, which a few bars may not tell.
    title : str
    scale_at : callable
        The kind of scale of the chord at a place of the whole chart, which a few bars may
        not tell; empty for what the chart has.
    """
    form = chart.form
    starts = {bar.number: start for bar, start in chart.placed()}
    bars: list[Bar] = []
    for place, number in enumerate(numbers, start=1):
        bar = form[number - 1]
        symbols = bar.chords if bars else _from_the_start(form, number - 1)
        chords = tuple(
            chord._replace(scale=scale_at(starts[number] + chord.at) or chord.scale)
            for chord in symbols
        )
        bars.append(bar._replace(number=place, written=place, time=1, section="", chords=chords))
    return Chart(title, tuple(bars), key, chart.tempo_bpm, chart.feel, style=chart.style)


def _from_the_start(form: Sequence[Bar], place: int) -> tuple[ChordAt, ...]:
    """The chords of a bar, with the one that sounds on from before it."""
    chords = form[place].chords
    if chords and chords[0].at == 0:
        return chords
    for step in range(1, len(form) + 1):
        before = form[place - step].chords
        if before:
            return (before[-1]._replace(at=Fraction(0)), *chords)
    return chords
