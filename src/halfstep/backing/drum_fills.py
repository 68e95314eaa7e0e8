"""What leads over a bar line? A fill of a beat or two, and where in the form it stands.

The last bar of a section has a fill, a full one where four bars or more have led there; every
fourth bar has a light one. A cymbal and the kick mark what begins behind a full fill; in a form
of less than eight bars they come every eight.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from enum import Enum, auto
from fractions import Fraction
from random import Random

from halfstep.backing.bar_layout import BEAT, BarLayout
from halfstep.backing.drum_bar import SIXTEENTH, DrumBar
from halfstep.backing.drum_kit import Stroke
from halfstep.meter import EIGHTH

_PHRASE_BARS = 4
_CYMBAL_BARS = 8


class Fill(Enum):
    """How much leads over the next bar line."""

    NONE = auto()
    LIGHT = auto()
    FULL = auto()


def fills(bars: Sequence[BarLayout]) -> Iterator[Fill]:
    """The fill of each bar."""
    bars_since_full = 0
    for bar in bars:
        bars_since_full += 1
        if bar.ends_section and bars_since_full >= _PHRASE_BARS:
            bars_since_full = 0
            yield Fill.FULL
        elif bar.section_bar % _PHRASE_BARS == _PHRASE_BARS - 1:
            yield Fill.LIGHT
        else:
            yield Fill.LIGHT if bar.ends_section and bar.section_bar else Fill.NONE


def cymbals(bars: Sequence[BarLayout], bar_fills: Sequence[Fill]) -> Iterator[bool]:
    """True for a bar that begins with a cymbal; over a short form not in every chorus."""
    form = sum(bar.chorus == 0 for bar in bars)
    bars_since = _CYMBAL_BARS
    for n, bar in enumerate(bars):
        top = bar.index == 0 and form >= _CYMBAL_BARS
        struck = bar_fills[n - 1] is Fill.FULL and (top or bars_since >= _CYMBAL_BARS)
        bars_since = 1 if struck else bars_since + 1
        yield struck


def fill_start(bar: DrumBar, fill: Fill) -> Fraction:
    """Where a fill begins: two beats or one before the end, half of a short bar at most."""
    beats = {Fill.NONE: Fraction(0), Fill.LIGHT: BEAT, Fill.FULL: 2 * BEAT}[fill]
    return bar.beats - min(beats, bar.beats / 2)


def fill_strokes(
    bar: DrumBar,
    fill: Fill,
    *,
    keys: Sequence[int],
    loud: int,
    swings: bool,
    barred: Container[Fraction],
    random: Random,
) -> Iterator[Stroke]:
    """A fill over some drums from high to low, louder towards the bar line."""
    start = fill_start(bar, fill)
    places = [p for p in _fill_places(bar, start, swings=swings) if p not in barred]
    sure, share = (2, 0.75) if fill is Fill.FULL else (1, 0.5)
    chosen = [place for place in places[:-sure] if random.random() < share] + places[-sure:]
    drums = keys if fill is Fill.FULL else keys[:1]
    for n, place in enumerate(chosen):
        nearness = (n + 1) / len(chosen)
        drum = drums[min(int(n * len(drums) / len(chosen)), len(drums) - 1)]
        yield Stroke(place, drum, round(loud * (0.65 + 0.35 * nearness)))


def _fill_places(bar: DrumBar, start: Fraction, *, swings: bool) -> list[Fraction]:
    """Eighths, or what is finer where there is time: triplets where it swings, sixteenths."""
    step = SIXTEENTH if bar.playable(SIXTEENTH) else EIGHTH
    number = -(-start // step)
    count = -(-bar.beats // step)
    fine = (step * n for n in range(number, count))
    triplets = swings and not bar.in_eighths
    return [place for place in fine if not (triplets and place % 1 == 3 * SIXTEENTH)]
