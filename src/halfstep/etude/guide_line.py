"""Which guide tones follow one another? The line of them that spells the changes.

It is found by an exact search: into each chord by the nearest third or seventh, and while a
chord lasts from one to the other or held, never struck again. The third tells more of a
chord than the seventh, so which of them the line begins on and where it moves decide how
clearly it spells the changes.

Source: common practice, no source.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence, Set
from dataclasses import replace
from fractions import Fraction
from functools import cache, lru_cache, partial
from itertools import groupby, islice, product, repeat
from typing import NamedTuple

import numpy as np

from halfstep.etude.costs import TEMPERATURE
from halfstep.etude.etude_brief import Brief
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.prior_notes import Note, PriorNotes, never_thrice
from halfstep.etude.rules import FIFTH
from halfstep.etude.same_analysis import SameAnalysis
from halfstep.etude.seed_choices import manner, times_over_chart
from halfstep.etude.slots import Piece, closes_phrase, pieces, slots_of
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.line_figures import plain_arpeggio, whole_figures
from halfstep.level import Level
from halfstep.meter import EIGHTH, Feel
from halfstep.random_stream import RandomStream
from halfstep.search import Chain, Costs, Lazy, best_path, sample_paths

PUSHES = (0.5, 1.0, 2.0, 4.0, *range(8, 40, 2), 64.0, 256.0)
"""For each nat that a guide tone leaves untold, until the line tells enough."""
DRAWN = 2
"""How many lines are drawn before more telling is asked for."""
WARM = 0.18
"""Nats below the most telling line that a drawn one may lie."""
OTHERWISE = 6.0
"""For another rhythm in a bar than the seed and the repeats of the form would have."""
LIKELY = 5
"""Of so many notes in range, those that tell most, a decoration is mostly made."""
HELD = 0.7
"""For a guide tone held into the next bar."""
LEAP = 1000.0
"""For a leap wider than a fifth, or over one chord of a fifth: as good as never."""
MOST_JOINS = 256
"""Costs between pieces known at a time, of 100 kB at most."""
STRANDED = 10_000.0
"""For a way after which no note can lead into the next guide tone."""
THRICE = 16.0
"""For guide tones that fill a bar for the third time, or that a neighbouring seed has there."""
FAR = 0.15
"""For each semitone from the middle of the range, beyond a fifth."""


def _rhythms(piece: Piece, level: Level, feel: Feel, *, closes: bool) -> list[tuple[Fraction, ...]]:
    """Rhythms for a chord in a bar, the plainest first: long notes, or one and what leads on.

    What leads on is held over the beat in one of them; the advanced have a triplet in swing, or
    sixteenths, where the beats that are left are whole ones.
    """
    if level is Level.BEGINNER:
        returns = [] if closes else _returns(piece)
        return [(piece.beats,), *_splits(piece), *returns]
    if closes:
        return [(piece.beats,), *_splits(piece)]
    if piece.beats < 2:
        return [(piece.beats,), *_split_off(piece)]
    half = (piece.beats / 2) // EIGHTH * EIGHTH
    long = piece.beats - half if level is Level.ADVANCED else max(piece.beats - half, 2 * EIGHTH)
    count = int((piece.beats - long) / EIGHTH)
    fewer = max(1, count - 2) if count != 3 else 2
    endings = [[EIGHTH] * count, [EIGHTH] * fewer]
    if count > 2:
        endings.insert(1, [2 * EIGHTH, *[EIGHTH] * (count - 2)])
        endings.append([EIGHTH, 2 * EIGHTH, *[EIGHTH] * (count - 3)])
    if level is Level.ADVANCED and count > 1 and count % 2 == 0 and piece.bar.meter.swings:
        quick = [Fraction(1, 3)] * 3 if feel is Feel.SWING else [EIGHTH, *[EIGHTH / 2] * 2]
        endings.append([*[EIGHTH] * (count - 2), *quick])
    if piece.beats < 3:
        endings.append([])
    return [(piece.beats - sum(ending), *ending) for ending in endings if sum(ending) < piece.beats]


def _split_off(piece: Piece) -> Iterator[tuple[Fraction, ...]]:
    """A short stay with an eighth that leads on."""
    if piece.beats >= 3 * EIGHTH:
        yield piece.beats - EIGHTH, EIGHTH


def guides_of(palette: Palette) -> Midis:
    """The guide tones in range; the tones of the arpeggio where there are none."""
    midis = np.flatnonzero(palette.guide)
    return midis if len(midis) else np.flatnonzero(palette.core)


def followers_of(palette: Palette) -> Midis:
    """What may follow a guide tone over one chord: the other one, or another tone of a triad."""
    midis = guides_of(palette)
    return midis if class_count(midis) > 1 else np.flatnonzero(palette.core)


def class_count(midis: Midis) -> int:
    """How many different notes there are, octaves aside."""
    return len({*(midis % 12).tolist()})


class GuideWay(NamedTuple):
    """What may stand for a chord in a bar: one guide tone, or one and then the other."""

    tones: tuple[int, ...]
    lengths: tuple[Fraction, ...]
    cost: float
    """Without what it tells."""
    telling_nats: float
    """Nats that its notes tell or mostly will, more than as many of the plain arpeggio."""

    def notes(self, start: Fraction) -> Iterator[Note]:
        """Its guide tones, from a beat on."""
        for length, tone in zip(self.lengths, self.tones, strict=False):
            yield start, length, tone
            start += length


GuideTones = list[GuideWay | None]
PlacedTone = tuple[float, float, int]
"""Onset and length in beats, MIDI number."""


class GuideLine:
    """What may stand for each piece of a chart, and lines of it."""

    def __init__(
        self,
        analysis: Analysis,
        brief: Brief,
        cut: Sequence[Piece],
        palettes: Sequence[Palette | None],
        ends: set[int],
        priors: Sequence[PriorNotes],
    ) -> None:
        plain = replace(brief, seed=0, pinned=())
        self._open = _open_ways(SameAnalysis(analysis), plain, tuple(palettes), frozenset(ends))
        self._cut, self._ends = cut, ends
        times = times_over_chart(cut, palettes, brief.seed)
        priced = [self._open.priced(n, brief.seed, before) for n, before in enumerate(times)]
        self._ways = [self._unlike(n, ways, priors) for n, ways in enumerate(priced)]
        self._weighed = [_weighed(ways) for ways in self._ways]
        silences = groupby(range(len(cut)), key=lambda n: not self._ways[n])
        self._parts = [(silent, list(places)) for silent, places in silences]
        self._bars = [start for _, start in analysis.chart.placed()]
        self._most_nats = sum(self._told_at_most(n) for silent, n in self._parts if not silent)

    def drawn(self, rng: RandomStream, short: float) -> GuideTones:
        """A way for each piece; None where there is no chord.

        Telling is asked for more and more, until the line tells as much as the plain
        arpeggio; up to ``short`` nats too little where more will be told by the decoration.
        What it took once is asked for at once where a line is drawn again.
        """
        pushes = deque(PUSHES if self.may_tell(-short) else PUSHES[-1:])

        def draw(priors: Sequence[PriorNotes]) -> GuideTones:
            weighed = [
                self._weighed[n] if made is ways else _weighed(made)
                for n, ways in enumerate(self._ways)
                for made in [self._unlike(n, ways, priors)]
            ]
            while True:
                for line in islice(self._pushed(weighed, pushes[0], rng), DRAWN):
                    if self.tells(line) >= -short:
                        return line
                if len(pushes) == 1:
                    return line
                pushes.popleft()

        # each tone is the nearest to the one before: between its neighbours a bar has no other
        return never_thrice(draw(()), draw, lambda line, _: line, self._sounds, self._bars)

    def may_tell(self, nats: float) -> bool:
        """False where no line tells so many nats more than the plain arpeggio."""
        return self._most_nats >= nats

    def _told_at_most(self, places: Sequence[int]) -> float:
        """What a line over pieces in a row tells at most."""
        gains = [self._weighed[n].telling_nats for n in places]
        twos = Lazy[Costs | None](len(places), lambda n: self._open.into(places[n]))
        path = best_path(Chain([-each for each in gains], twos, [None] * len(places)))
        return float(sum(each[state] for each, state in zip(gains, path, strict=True)))

    def tells(self, line: GuideTones) -> float:
        """Nats that it tells, or its decoration mostly will, more than the plain arpeggio."""
        return sum(way.telling_nats for _, way in _struck(self._cut, line, self._ends))

    def _pushed(
        self, choices: Sequence[_WeighedWays], push: float, rng: RandomStream
    ) -> Iterator[GuideTones]:
        """Lines without end, drawn with what they tell counted ``push`` times."""
        parts: list[Iterator[Sequence[GuideWay | None]]] = [
            repeat([None] * len(places)) if silent else self._drawn(places, choices, push, rng)
            for silent, places in self._parts
        ]
        while True:
            yield [way for part in parts for way in next(part)]

    def _drawn(
        self,
        places: list[int],
        choices: Sequence[_WeighedWays],
        push: float,
        rng: RandomStream,
    ) -> Iterator[list[GuideWay]]:
        """A way for each piece of a stretch, drawn from those that join, again and again."""
        ones = [choices[n].costs - push * choices[n].telling_nats for n in places]
        twos = Lazy[Costs | None](len(places), lambda n: self._open.into(places[n]))
        warmth = max(TEMPERATURE, WARM * push)
        costs = Chain(ones, twos, [None] * len(places))
        for path in sample_paths(costs, temperature=warmth, rng=rng):
            yield [choices[n].ways[state] for n, state in zip(places, path, strict=True)]

    def _unlike(
        self, place: int, choices: list[GuideWay], priors: Sequence[PriorNotes]
    ) -> list[GuideWay]:
        """The ways of a piece, dearer where prior notes have their long ones."""
        start = self._open.starts[place]
        begun = [prior for prior in priors if prior.begins(start)]
        if not begun:
            return choices
        notes_of_ways = self._open.notes(place)
        times = [sum(prior.has(notes) for prior in begun) for notes in notes_of_ways]
        return [
            way._replace(cost=way.cost + THRICE * count) if count else way
            for way, count in zip(choices, times, strict=True)
        ]

    def _sounds(self, line: GuideTones) -> list[Note]:
        """The long notes that are struck."""
        struck = _struck(self._cut, line, self._ends)
        return [note for piece, way in struck for note in way.notes(piece.start)]


class _WeighedWays(NamedTuple):
    """The ways of a piece, with their costs and what they tell in a row."""

    ways: list[GuideWay]
    costs: Costs
    telling_nats: Costs


def _weighed(ways: list[GuideWay]) -> _WeighedWays:
    costs = np.array([way.cost for way in ways])
    return _WeighedWays(ways, costs, np.array([way.telling_nats for way in ways]))


def _long_notes(choices: Sequence[GuideWay], start: Fraction) -> list[list[PlacedTone]]:
    """The guide tones of each way from a beat on; floats, since they are looked up often."""
    return [
        [(float(at), float(beats), tone) for at, beats, tone in way.notes(start)] for way in choices
    ]


def _struck(
    cut: Sequence[Piece], line: GuideTones, ends: set[int]
) -> Iterator[tuple[Piece, GuideWay]]:
    """The ways whose first tone is not held over from the bar before."""
    for place, way in enumerate(line):
        before, old = cut[place - 1], line[place - 1] if place else None
        held = old and way and old.tones[-1:] == way.tones and before.chord == cut[place].chord
        if way and not (held and not closes_phrase(before, ends)):
            yield cut[place], way


class _OpenWays:
    """What may stand for each piece of a chart whatever the seed, and how it is joined.

    Attributes
    ----------
    starts : list of float
        Where the pieces begin, in beats.
    into : callable
        What it costs to go into a piece from the one before; of a number of the piece.
    notes : callable
        The guide tones of each way of a piece; of its number.
    """

    def __init__(
        self,
        analysis: Analysis,
        brief: Brief,
        palettes: Sequence[Palette | None],
        ends: Set[int],
    ) -> None:
        cut = pieces(analysis)
        self._made: list[tuple[int, list[tuple[int, GuideWay]]]] = list(
            _all_ways(analysis, brief, cut, palettes, ends)
        )
        ways = [[way for _, way in made] for _, made in self._made]
        self.starts = [float(piece.start) for piece in cut]
        plain = brief.level is Level.BEGINNER
        joins = partial(_joined, palettes=palettes, ends=ends, plain=plain)
        both = list(zip(cut, ways, strict=True))
        self.into = lru_cache(MOST_JOINS)(lambda place: joins(both[place - 1], both[place]))
        self.notes = cache(lambda place: _long_notes(ways[place], cut[place].start))

    def priced(self, place: int, seed: int, before: int) -> list[GuideWay]:
        """The ways of a piece whose chord stood there so often; one rhythm is the seed's own."""
        count, ways = self._made[place]
        wanted = manner(seed, place, before, count) if ways else 0
        return [
            way if rhythm == wanted else way._replace(cost=OTHERWISE + way.cost)
            for rhythm, way in ways
        ]


@lru_cache(2)
def _open_ways(
    same: SameAnalysis, brief: Brief, palettes: tuple[Palette | None, ...], ends: frozenset[int]
) -> _OpenWays:
    """Kept, since kin are written over the same ones."""
    return _OpenWays(same.analysis, brief, palettes, ends)


def _all_ways(
    analysis: Analysis,
    brief: Brief,
    cut: Sequence[Piece],
    palettes: Sequence[Palette | None],
    ends: Set[int],
) -> Iterator[tuple[int, list[tuple[int, GuideWay]]]]:
    """How many rhythms each piece may have, and its ways with theirs; none without a chord."""
    arpeggio_nats = whole_figures(plain_arpeggio(analysis.chart), analysis.chart).outline or 0.0
    middle = (brief.concert_low + brief.concert_high) / 2
    likely = cache(_likely)
    known: dict[tuple[object, ...], tuple[int, list[tuple[int, GuideWay]]]] = {}
    for piece in cut:
        palette = palettes[piece.chord]
        if palette is None:
            yield 0, []
            continue
        closes = piece is cut[-1] or closes_phrase(piece, ends)
        key = (palette.look, piece.start - piece.bar_start, piece.beats, piece.bar.meter, closes)
        if key not in known:
            feel = brief.feel if piece.bar.meter.swings else Feel.STRAIGHT
            rhythms = _rhythms(piece, brief.level, feel, closes=closes)
            long = closes or brief.level is Level.BEGINNER
            ways = _piece_ways(piece, palette, rhythms, likely, arpeggio_nats, long=long)
            priced = [(n, way._replace(cost=FAR * _away(way, middle))) for n, way in ways]
            known[key] = len(rhythms), priced
        yield known[key]


def _piece_ways(
    piece: Piece,
    palette: Palette,
    rhythms: Sequence[tuple[Fraction, ...]],
    likely: Callable[..., float],
    arpeggio_nats: float,
    *,
    long: bool,
) -> Iterator[tuple[int, GuideWay]]:
    """What may stand for a piece, each way with the number of its rhythm."""
    for place, lengths in enumerate(rhythms):
        slots = slots_of(piece, piece.start, lengths, palette, 0)
        for tones in _tones(palette, count=len(lengths) if long else 1):
            gains = [palette.gain[s.weight, t] for s, t in zip(slots, tones, strict=False)]
            free = slots[len(tones) :]
            gains += [likely(palette, slot.weight, led=slot is free[-1]) for slot in free]
            gain = float(sum(gains)) - arpeggio_nats * len(gains)
            yield place, GuideWay(tones, lengths, 0.0, gain)


def _away(way: GuideWay, middle: float) -> float:
    """Semitones from the middle of the range, beyond a fifth."""
    return max(0.0, abs(sum(way.tones) / len(way.tones) - middle) - FIFTH)


def _likely(palette: Palette, weight: int, *, led: bool) -> float:
    """What a note of a decoration mostly tells; less if it leads on, for then it is bound."""
    gains = np.sort(palette.gain[weight][palette.scale])
    return float(gains.mean() if led else gains[-LIKELY:].mean())


def _splits(piece: Piece) -> Iterator[tuple[Fraction, Fraction]]:
    """Two notes for a chord in a bar, on pulses, the first one no shorter."""
    pulse = piece.bar.meter.tempo_beats
    first = pulse
    while first < piece.beats:
        if first * 2 >= piece.beats and piece.beats - first >= pulse:
            yield first, piece.beats - first
        first += pulse


def _returns(piece: Piece) -> Iterator[tuple[Fraction, ...]]:
    """Three notes, there and back, where a pulse has three eighths."""
    if piece.bar.meter.tempo_beats == 3 * EIGHTH and piece.beats == 6 * EIGHTH:
        yield 3 * EIGHTH, 2 * EIGHTH, EIGHTH


def _tones(palette: Palette, *, count: int) -> Iterator[tuple[int, ...]]:
    """The guide tones one by one, or each in turn with another tone nearer than a fifth."""
    guides = guides_of(palette).tolist()
    if count == 1:
        yield from ((midi,) for midi in guides)
        return
    for old, new in product(guides, followers_of(palette).tolist()):
        if old % 12 != new % 12 and abs(new - old) < FIFTH:
            yield (old, new, old)[:count]


def _joined(
    last: tuple[Piece, list[GuideWay]],
    following: tuple[Piece, list[GuideWay]],
    *,
    palettes: Sequence[Palette | None],
    ends: Set[int],
    plain: bool,
) -> Costs:
    """What it costs to go from each way of a piece to each of the next."""
    piece = following[0]
    left = np.array([way.tones[-1] for way in last[1]])[:, None]
    right = np.array([way.tones[0] for way in following[1]])[None]
    palette, before = palettes[piece.chord], palettes[last[0].chord]
    assert palette is not None
    assert before is not None
    blocked = STRANDED * ~_led(last[1], before, right[0])
    if piece.chord != last[0].chord:
        return blocked + _nearest(left, right, guides_of(palette))
    holds = np.array([len(way.tones) == 1 for way in following[1]])
    holds = holds & plain & (not closes_phrase(last[0], ends))
    return blocked + _moved(left, right, guides_of(palette), holds)


def _led(choices: Sequence[GuideWay], palette: Palette, goals: Midis) -> Flags:
    """For each way and each goal: true where a note can lead there, if one has to."""
    notes = np.flatnonzero(palette.scale)
    leads = is_step_away(notes[:, None] - goals)
    free = [len(way.lengths) - len(way.tones) for way in choices]
    return np.array(
        [
            leads[(notes != way.tones[-1]) | (count > 1)].any(axis=0) | (count == 0)
            for way, count in zip(choices, free, strict=True)
        ]
    )


def _nearest(left: Midis, right: Midis, guides: Midis) -> Costs:
    """Into a new chord: only the nearest, and no leap where there is another way."""
    size = np.abs(right - left)
    nearest = np.abs(guides - left).min(axis=1)[:, None]
    return np.where(size == nearest, LEAP * (size > FIFTH), np.inf)


def _moved(left: Midis, right: Midis, guides: Midis, holds: Flags) -> Costs:
    """In one chord: to the other tone, or the same one if it is held or there is no other."""
    size = np.abs(right - left)
    again = np.where(holds, HELD, np.inf if class_count(guides) > 1 else 0.0)
    return np.where(size == 0, again, np.where(size >= FIFTH, LEAP, 0.0))


def is_step_away(moved: Midis) -> Flags:
    """True for a half step or a whole step."""
    size = np.abs(moved)
    return np.asarray((size >= 1) & (size <= 2))
