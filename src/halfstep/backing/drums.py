"""What do the drums play? Time that goes on, the style's beat, answers and fills.

A bar has four layers. The *time* goes on where no chord sounds, softer; the *beat* makes the
style; the *answers* come and go by chance; a *fill* leads over the bar line. A bar is drawn
again until its strokes differ from those of the bar before it and of the same bar in the last
three choruses; where chance gives too few, as in a bar of one beat, strokes are added to it in
order.

Conventions
-----------
- No answer has a place in the bar that an answer or a fill had in the bar before, and no fill
  one that the two bars before it had.
- The last bar of the block is held against the first ones, which follow it.

Source: General MIDI for the keys of the drums; the patterns are common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from random import Random

from halfstep.backing.bar_layout import BEAT, BarLayout, ChordTimeline
from halfstep.backing.drum_bar import DrumBar, Pattern, drum_bar
from halfstep.backing.drum_fills import Fill, cymbals, fill_start, fill_strokes, fills
from halfstep.backing.drum_kit import (
    CLOSED_HAT,
    CRASH,
    FLOOR_TOM,
    HIGH_TOM,
    KICK,
    LOW_TOM,
    OPEN_HAT,
    PEDAL_HAT,
    SIDE_STICK,
    SNARE,
    STANDARD_KIT,
    Stroke,
    place_in_bar,
)
from halfstep.backing.drum_touch import DrumTouch
from halfstep.backing.groove_drums import counted_cymbal, groups_answered
from halfstep.meter import EIGHTH
from halfstep.played import PlayedNote, PlayedPart

_STROKE = Fraction(1, 4)
_HATS = {CLOSED_HAT, PEDAL_HAT, OPEN_HAT}
_DRAWS = 6
_CHORUSES_APART = 4

Figure = frozenset[tuple[int, int, int]]
"""The strokes of a bar: places, as numerators and denominators, and keys."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What comes and goes between time and beat.

    Attributes
    ----------
    drums : tuple of (int, int)
        Keys and velocities; what stands twice comes twice as often.
    most : int
        The most in a bar of four beats.
    step : Fraction
        How fine the places are.
    """

    drums: tuple[tuple[int, int], ...] = ((SNARE, 46), (SNARE, 36), (SNARE, 54), (KICK, 58))
    most: int = 4
    step: Fraction = EIGHTH


@dataclass(frozen=True, slots=True)
class DrumStyle:
    """What is a style's own in the drums.

    Attributes
    ----------
    time : callable
        What goes on in a bar that is counted in quarters or longer.
    beat : callable
        What makes the style in such a bar.
    cymbal, answer : int
        What plays the eighths where a metre is counted in them, and what answers there.
    answers : Answers
    fill : tuple of int
        The drums of a fill, from high to low.
    loud : int
        The velocity at the end of a fill, and of the cymbal behind it.
    kit : int
        Program of the kit.
    both_hands : bool
        A full fill takes both hands, so that the cymbal pauses.
    swings : bool
        Fills are in triplets.
    """

    time: Pattern
    beat: Pattern
    cymbal: int
    answer: int = SIDE_STICK
    answers: Answers = Answers()
    fill: tuple[int, ...] = (SNARE, HIGH_TOM, LOW_TOM, FLOOR_TOM)
    loud: int = 84
    kit: int = STANDARD_KIT
    both_hands: bool = False
    swings: bool = False


@dataclass(frozen=True, slots=True)
class _DrawnBar:
    """The layers of a bar before they are struck."""

    time: tuple[Stroke, ...]
    free: tuple[Stroke, ...]
    roaming: frozenset[Fraction] = frozenset()

    @property
    def figure(self) -> Figure:
        return frozenset(
            (at.numerator, at.denominator, key) for at, key, _ in (*self.time, *self.free)
        )

    def heard(self, silence: Container[Fraction]) -> _DrawnBar:
        """Without what rests in a silence."""
        free = tuple(stroke for stroke in self.free if stroke.at not in silence)
        return _DrawnBar(self.time, free, self.roaming)


def drums_part(
    bars: Sequence[BarLayout],
    chords: ChordTimeline,
    *,
    style: DrumStyle,
    random: Random,
    quarter_s: float = 0.5,
) -> PlayedPart:
    """The drums for a block of choruses.

    Parameters
    ----------
    bars : sequence of BarLayout
    chords : ChordTimeline
    style : DrumStyle
    random : Random
    quarter_s : float
        Seconds in a quarter note: what is too quick for a hand is left out.
    """
    drummer = _Drummer(style, random, bars)
    touch = DrumTouch(random)
    hits: list[Stroke] = []
    has_silence = any(span.symbol.silent for span in chords.spans)
    for bar, fill in zip(bars, drummer.fills, strict=True):
        counted = drum_bar(bar, quarter_s)
        silence = _Silence(bar, chords) if has_silence else _NO_SILENCE
        drawn = drummer.bar(counted, fill, silence)
        hits += _struck(bar, counted, drawn, touch, silence)
    return _part(hits, style.kit)


def _struck(
    bar: BarLayout,
    counted: DrumBar,
    drawn: _DrawnBar,
    touch: DrumTouch,
    silence: Container[Fraction],
) -> list[Stroke]:
    """A bar's strokes at their places in the block, the loudest of two on one drum."""
    struck = [*touch.time(drawn.time, counted), *touch.free(drawn.free)]
    struck.sort(key=place_in_bar)
    hits: list[Stroke] = []
    for at, key, velocity in struck:
        softened = velocity * 3 // 4 if at in silence else velocity
        if hits and hits[-1].key == key and hits[-1].at == at:
            softened = max(softened, hits.pop().velocity)
        hits.append(Stroke(at, key, softened))
    return [Stroke(bar.start + at, key, velocity) for at, key, velocity in hits]


def _part(hits: Sequence[Stroke], kit: int) -> PlayedPart:
    """Strokes as notes, each no longer than to the next stroke on the same drum.

    An open hi-hat sounds until the hi-hat is struck again or closed.
    """
    notes = []
    following: dict[int, Fraction] = {}
    for onset, key, velocity in reversed(hits):
        drum = CLOSED_HAT if key in _HATS else key
        longest = BEAT if key == OPEN_HAT else _STROKE
        beats = longest
        if drum in following and float(following[drum]) - float(onset) < float(longest):
            beats = following[drum] - onset or _STROKE
        notes.append(PlayedNote(onset, beats, key, velocity))
        following[drum] = onset
    return PlayedPart("drums", kit, True, tuple(reversed(notes)))


class _Silence:
    """The places of a bar where no chord sounds."""

    def __init__(self, bar: BarLayout, chords: ChordTimeline) -> None:
        covering = (chords.at(bar.start), *chords.within(bar.start, bar.end))
        self._stretches = [
            (span.start - bar.start, span.end - bar.start)
            for span in covering
            if span.symbol.silent
        ]

    def __contains__(self, at: object) -> bool:
        return any(start <= at < end for start, end in self._stretches)  # type: ignore[operator]


_NO_SILENCE: tuple[Fraction, ...] = ()  # a set would hash each place that is looked for


class _Drummer:
    """Draws bars one after another, and knows those that a bar must differ from."""

    def __init__(self, style: DrumStyle, random: Random, bars: Sequence[BarLayout]) -> None:
        self.style, self.random = style, random
        self.fills = tuple(fills(bars))
        self._cymbals = tuple(cymbals(bars, self.fills))
        self._form = sum(bar.chorus == 0 for bar in bars)
        self._count = len(bars)
        self._figures: list[Figure] = []
        self._roaming: list[frozenset[Fraction]] = []

    def bar(self, bar: DrumBar, fill: Fill, silence: Container[Fraction]) -> _DrawnBar:
        """The next bar."""
        taken, barred = self._taken(), self._barred()
        cue = self._cymbals[len(self._figures)]
        drawn = self._drawn(bar, fill, barred, cue=cue).heard(silence)
        for _ in range(_DRAWS):
            if drawn.figure not in taken:
                break
            drawn = self._drawn(bar, fill, barred, cue=cue).heard(silence)
        else:
            drawn = _made_other(drawn, bar, taken, barred, silence)
        self._figures.append(drawn.figure)
        self._roaming.append(drawn.roaming)
        return drawn

    @property
    def _is_last(self) -> bool:
        """True for the bar that leads back to the first."""
        return len(self._figures) == self._count - 1

    def _taken(self) -> set[Figure]:
        """The figures of the bar before, and of the same bar in the choruses before."""
        n = len(self._figures)
        earlier = [n - 1, *(n - self._form * apart for apart in range(1, _CHORUSES_APART))]
        if self._is_last:
            earlier.append(0)
        return {self._figures[at] for at in earlier if 0 <= at < n}

    def _barred(self) -> frozenset[Fraction]:
        """The places that two bars in a row had before this one, or about the block's seam."""
        n, places = len(self._roaming), self._roaming
        barred = places[n - 1] & places[n - 2] if n > 1 else frozenset()
        if self._is_last and n > 1:
            barred |= (places[n - 1] & places[0]) | (places[0] & places[1])
        return barred

    def _drawn(
        self, bar: DrumBar, fill: Fill, barred: frozenset[Fraction], *, cue: bool
    ) -> _DrawnBar:
        time, beat = self._time_and_beat(bar)
        start = fill_start(bar, fill)
        answers = [stroke for stroke in self._answers(bar) if stroke.at < start]
        lead = list(self._fill(bar, fill, barred))
        if lead:
            beat = [stroke for stroke in beat if stroke.at < start or stroke.key == KICK]
        if fill is Fill.FULL and self.style.both_hands:
            time = [stroke for stroke in time if stroke.at < start or stroke.key == PEDAL_HAT]
        if cue:
            beat += [Stroke(Fraction(0), CRASH, self.style.loud), Stroke(Fraction(0), KICK, 72)]
        roaming = frozenset(stroke.at for stroke in (*answers, *lead))
        return _DrawnBar(tuple(time), (*beat, *answers, *lead), roaming)

    def _time_and_beat(self, bar: DrumBar) -> tuple[list[Stroke], list[Stroke]]:
        style, random = self.style, self.random
        if bar.in_eighths:
            time = counted_cymbal(bar, random, style.cymbal)
            beat = groups_answered(bar, random, style.answer)
        else:
            time, beat = style.time(bar, random), style.beat(bar, random)
        return _inside(time, bar), _inside(beat, bar)

    def _answers(self, bar: DrumBar) -> Iterator[Stroke]:
        """Strokes at free places, more often between the beats than on them."""
        answers, random = self.style.answers, self.random
        step = answers.step if bar.playable(answers.step) else EIGHTH
        neighbours = self._roaming[-1:] + self._roaming[:1] * self._is_last
        for _ in range(random.randint(0, max(1, round(answers.most * float(bar.beats) / 4)))):
            place = random.choice(bar.grid(step))
            if bar.counts(place):
                place = random.choice(bar.grid(step))
            if not any(place in places for places in neighbours):
                yield Stroke(place, *random.choice(answers.drums))

    def _fill(self, bar: DrumBar, fill: Fill, barred: Container[Fraction]) -> Iterator[Stroke]:
        if fill is Fill.NONE:
            return iter(())
        style = self.style
        loud = style.loud if fill is Fill.FULL else round(style.loud * 0.75)
        return fill_strokes(
            bar, fill,
            keys=style.fill, loud=loud, swings=style.swings, barred=barred, random=self.random,
        )  # fmt: skip


def _inside(strokes: Iterable[Stroke], bar: DrumBar) -> list[Stroke]:
    end = float(bar.beats)
    return [stroke for stroke in strokes if 0 <= float(stroke.at) < end]


def _made_other(
    drawn: _DrawnBar,
    bar: DrumBar,
    taken: Container[Figure],
    barred: Container[Fraction],
    silence: Container[Fraction],
) -> _DrawnBar:
    """The bar with a soft stroke more, so that it equals none that is taken.

    Where no chord sounds it is one of the foot on the hi-hat. A bar in which no place is left
    stays as it is; its strokes then differ by their velocities alone.
    """
    places = [at for at in bar.sixteenths if at not in barred]
    for at, key in product(reversed(places), (SNARE, KICK)):
        other = _DrawnBar(drawn.time, (*drawn.free, Stroke(at, key, 34)), drawn.roaming | {at})
        if at not in silence and other.figure not in taken:
            return other
    for at in reversed(bar.sixteenths):
        other = _DrawnBar((*drawn.time, Stroke(at, PEDAL_HAT, 56)), drawn.free, drawn.roaming)
        if other.figure not in taken:
            return other
    return drawn
