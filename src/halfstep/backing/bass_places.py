"""Where does the bass play, and what does each place ask? Figures, laid under the chords.

The figures of a style say when and what; the chords have the last word: each begins with its
root, or the bass under its slash, and the stroke before it leads there where it may. Over a
pedal every stroke is the pedal.

Source: common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum, auto
from fractions import Fraction
from random import Random

from halfstep.backing.bar_layout import BEAT, BarLayout, ChordTimeline
from halfstep.backing.chord_scales import PitchClasses
from halfstep.backing.figures import Dealer, FigureStroke, FigureTable, bar_strokes
from halfstep.meter import EIGHTH
from halfstep.progression.chart import Span
from halfstep.progression.symbol import ChordSymbol


class Duty(Enum):
    """What a place asks of the bass."""

    ROOT = auto()
    PEDAL = auto()
    FIFTH = auto()
    TONE = auto()
    PASSING = auto()
    LEAD = auto()
    COMING = auto()
    OCTAVE = auto()
    SKIP = auto()
    GHOST = auto()


DUTIES = {
    "R": Duty.ROOT,
    "F": Duty.FIFTH,
    "T": Duty.TONE,
    "P": Duty.PASSING,
    "N": Duty.COMING,
    "O": Duty.OCTAVE,
    "s": Duty.SKIP,
    "g": Duty.GHOST,
}
"""The signs of a bass figure.

Root, fifth, tone of the chord, passing note (which leads where a root follows), coming root
an eighth early, root in another octave than the note before, short note between two beats,
ghost note.
"""


@dataclass(frozen=True, slots=True)
class BassPlace:
    """One note to be chosen.

    Attributes
    ----------
    onset, beats : Fraction
    duty : Duty
    span : Span
        The chord it sounds in.
    scale : frozenset of int
        Pitch classes between the chord's tones.
    coming : int or None
        Pitch class of the root that comes with the next place; None where none does.
    """

    onset: Fraction
    beats: Fraction
    duty: Duty
    span: Span
    scale: PitchClasses
    coming: int | None = None

    @property
    def symbol(self) -> ChordSymbol:
        """The chord it sounds in."""
        return self.span.symbol


@dataclass(frozen=True, slots=True)
class BassFigures:
    """What a style plays, and how often a beat has a note between.

    Attributes
    ----------
    table : mapping
        Figures in the signs of `DUTIES`.
    between : int
        One beat in so many has a note between; 0 for none.
    """

    table: FigureTable
    between: int = 0


def lowest(symbol: ChordSymbol) -> int:
    """Pitch class of the bass of a chord: what stands under a slash, else the root."""
    return (symbol.bass or symbol.root).pitch_class


def bass_places(
    bars: Sequence[BarLayout],
    chords: ChordTimeline,
    scales: Sequence[PitchClasses],
    *,
    figures: BassFigures,
    finest: Fraction,
    random: Random,
) -> list[BassPlace]:
    """Every note that the bass will play; silent chords have none.

    Parameters
    ----------
    bars : sequence of BarLayout
    chords : ChordTimeline
    scales : sequence of frozenset of int
        The scale over each of the chords.
    figures : BassFigures
    finest : Fraction
        The grid in beats that the tempo leaves time for; what lies between is left out.
    random : Random
    """
    strokes = list(_strokes(bars, figures, finest, random))
    onsets = [stroke.onset for stroke in strokes]
    line_places: list[BassPlace] = []
    for n, (span, scale) in enumerate(zip(chords.spans, scales, strict=True)):
        if span.symbol.silent:
            continue
        covered = strokes[bisect_left(onsets, span.start) : bisect_left(onsets, span.end)]
        on_pedal = _is_pedal(chords, n)
        for stroke in _from_the_root(covered, span):
            duty = _duty(stroke, span, on_pedal=on_pedal)
            line_places.append(BassPlace(stroke.onset, stroke.beats, duty, span, scale))
    return list(_leading(line_places))


def _strokes(
    bars: Sequence[BarLayout], figures: BassFigures, finest: Fraction, random: Random
) -> Iterator[FigureStroke]:
    """The strokes of all bars, one beat in so many of those in quarters parted."""
    dealer: Dealer[str] = Dealer(random)
    parting: Dealer[bool] = Dealer(random)
    deck = [True] + [False] * (figures.between - 1)
    for bar in bars:
        for stroke in bar_strokes(bar, figures.table, dealer, plain=("T",)):
            whole = stroke.beats == BEAT and bar.meter.swings
            if figures.between and whole and parting.deal("", deck):
                yield from _parted(stroke, random)
            elif stroke.fits(bar, finest):
                yield stroke


def _parted(stroke: FigureStroke, random: Random) -> Iterator[FigureStroke]:
    """A stroke and a short note behind it, which take its time together."""
    first = random.choice(_PARTED)
    yield replace(stroke, beats=first)
    yield FigureStroke(stroke.onset + first, stroke.beats - first, "s")


_PARTED = (EIGHTH, EIGHTH, EIGHTH, Fraction(2, 3))
"""How a beat is parted: eighths, or a kick on the last note of a triplet."""


def _from_the_root(covered: Sequence[FigureStroke], span: Span) -> Iterator[FigureStroke]:
    """The strokes of a chord, the first one on its beginning, none over its end."""
    strokes = list(covered)
    if not strokes or strokes[0].onset > span.start:
        strokes = [s for s in strokes if s.onset >= span.start + EIGHTH]
        until = strokes[0].onset if strokes else span.end
        strokes.insert(0, FigureStroke(span.start, until - span.start, "R"))
    if len(strokes) == 1 and span.beats >= 2 * BEAT:
        strokes.append(FigureStroke(span.end - BEAT, BEAT, "P"))
        strokes[0] = replace(strokes[0], beats=span.beats - BEAT)
    for stroke in strokes:
        yield replace(stroke, beats=min(stroke.beats, span.end - stroke.onset))


def _duty(stroke: FigureStroke, span: Span, *, on_pedal: bool) -> Duty:
    if stroke.onset == span.start:
        return Duty.ROOT
    duty = DUTIES[stroke.sign]
    return _ON_A_PEDAL.get(duty, duty) if on_pedal else duty


_ON_A_PEDAL = dict.fromkeys((Duty.ROOT, Duty.FIFTH, Duty.TONE, Duty.PASSING, Duty.SKIP), Duty.PEDAL)


def _is_pedal(chords: ChordTimeline, n: int) -> bool:
    """True for a chord that has its bass in common with a neighbour of another root or bass."""
    symbol = chords.spans[n].symbol
    neighbours = (chords.spans[n - 1].symbol, chords.spans[(n + 1) % len(chords.spans)].symbol)
    return any(
        not other.silent
        and lowest(other) == lowest(symbol)
        and (symbol.bass is not None or other.bass is not None)
        and other != symbol
        for other in neighbours
    )


def _leading(line_places: Sequence[BassPlace]) -> Iterator[BassPlace]:
    """The places, each with what its duty is before what follows it."""
    following = [*line_places[1:], *line_places[:1]]
    for n, (place, after) in enumerate(zip(line_places, following, strict=True), 1):
        is_next = place.span is after.span or place.span.end == after.onset
        comes = after.duty is Duty.ROOT and (is_next or n == len(line_places))
        changes = place.span is not after.span or n == len(line_places)
        duty = _before_root(place, changes=changes) if comes else _before_other(place.duty)
        yield replace(place, duty=duty, coming=lowest(after.symbol) if comes else None)


_LEADS_TO_A_CHANGE = {Duty.ROOT, Duty.FIFTH, Duty.TONE, Duty.PASSING, Duty.OCTAVE, Duty.SKIP}
_LEADS_TO_A_ROOT = {Duty.PASSING, Duty.SKIP}


def _before_root(place: BassPlace, *, changes: bool) -> Duty:
    """What a place is before a root; the beginning of a chord stays its root."""
    leading = _LEADS_TO_A_CHANGE if changes else _LEADS_TO_A_ROOT
    leads = place.duty in leading and place.onset != place.span.start
    return Duty.LEAD if leads else place.duty


def _before_other(duty: Duty) -> Duty:
    return Duty.FIFTH if duty is Duty.COMING else duty
