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
from functools import cache, lru_cache, partial
from itertools import accumulate, groupby, islice, pairwise
from math import inf
from typing import NamedTuple

import numpy as np

from halfstep.etude.costs import TEMPERATURE
from halfstep.etude.etude_brief import Brief
from halfstep.etude.guide_ways import (
    GuideWay,
    PieceWays,
    all_ways,
    class_count,
    guides_of,
    placed_rhythms,
)
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.prior_notes import Note, PriorNotes, never_thrice
from halfstep.etude.rules import FIFTH
from halfstep.etude.same_analysis import SameAnalysis
from halfstep.etude.seed_choices import manner, times_over_chart
from halfstep.etude.slots import Piece, closes_phrase, pieces
from halfstep.harmony.analysis import Analysis
from halfstep.level import Level
from halfstep.random_stream import RandomStream
from halfstep.search import Costs
from halfstep.sparse_search import SparseChain, Steps, SummedPaths

PUSHES = (0.5, 1.0, 2.0, 4.0, *range(8, 40, 2), 64.0, 256.0)
"""For each nat that a guide tone leaves untold, until the line tells enough."""
DRAWN = 2
"""How many lines are drawn before more telling is asked for."""
WARM = 0.18
"""Nats below the most telling line that a drawn one may lie."""
OTHERWISE = 6.0
"""For another rhythm in a bar than the seed and the repeats of the form would have."""
HELD = 0.7
"""For a guide tone held into the next bar."""
LEAP = 1000.0
"""For a leap wider than a fifth, or over one chord of a fifth: as good as never."""
AT_ONCE, MOST_AT_ONCE = 8, 1000
"""So many pushes are summed up at once, where the first is not enough; fewer over so many bars in
all that it would take more than some megabytes."""
STRANDED = 10_000.0
"""For a way after which no note can lead into the next guide tone."""
THRICE = 16.0
"""For guide tones that fill a bar for the third time, or that a neighbouring seed has there."""


class GuideTones(NamedTuple):
    """A way for each piece, None where there is no chord, and what they tell.

    In nats, as they or their decoration mostly will, more than the plain arpeggio.
    """

    ways: list[GuideWay | None]
    telling_nats: float


_Choices = tuple[Piece, Sequence[GuideWay]]
_Joins = Callable[[_Choices, _Choices], Costs]
_Line = list[int]
"""The number of a way for each piece, -1 where there is none."""


class GuideLine:
    """Lines of guide tones over a chart, for a seed."""

    def __init__(
        self,
        analysis: Analysis,
        brief: Brief,
        palettes: Sequence[Palette | None],
        ends: set[int],
        priors: Sequence[PriorNotes],
    ) -> None:
        plain = replace(brief, seed=0, pinned=())
        self._open = _open_ways(SameAnalysis(analysis), plain, tuple(palettes), frozenset(ends))
        self._bars = [start for _, start in analysis.chart.placed()]
        self._costs = self._open.costs(brief.seed) + THRICE * self._open.times(priors)

    def drawn(self, rng: RandomStream, short: float) -> GuideTones:
        """A line of guide tones.

        Telling is asked for more and more, until the line tells as much as the plain
        arpeggio; up to ``short`` nats too little where more will be told by the decoration.
        What it took once is asked for at once where a line is drawn again.
        """
        ways = self._open
        many = max(1, min(AT_ONCE, MOST_AT_ONCE // len(self._bars)))
        pushes = deque(PUSHES if ways.most_nats >= -short else PUSHES[-1:])

        def draw(priors: Sequence[PriorNotes]) -> _Line:
            costs = self._costs + THRICE * ways.times(priors)
            count = 1
            while True:
                pushed = ways.pushed(costs, list(islice(pushes, count)))
                for number in range(min(count, len(pushes))):
                    for _ in range(DRAWN):
                        line = pushed.line(number, rng)
                        if ways.tells(line) >= -short:
                            return line
                    if len(pushes) == 1:
                        return line
                    pushes.popleft()
                count = many

        # each tone is the nearest to the one before: between its neighbours a bar has no other
        line = never_thrice(draw(()), draw, lambda line, _: line, ways.notes, self._bars)
        return GuideTones(ways.ways(line), ways.tells(line))


class _JoinedPieces(NamedTuple):
    """Pieces in a row without silence between them; their states are their ways."""

    places: range
    states: slice
    chain: SparseChain


class _Pushed:
    """Lines drawn with what they tell counted so and so many times."""

    def __init__(
        self, parts: Sequence[_JoinedPieces], costs: Costs, warmths: Costs, count: int
    ) -> None:
        self._count = count
        self._parts = [
            (part.places, SummedPaths(part.chain, costs[:, part.states], warmths)) for part in parts
        ]

    def line(self, number: int, rng: RandomStream) -> _Line:
        """A line drawn with the push of that number."""
        line = [-1] * self._count
        for places, paths in self._parts:
            line[places.start : places.stop] = paths.path(number, rng)
        return line


class _OpenWays:
    """What may stand for each piece of a chart whatever the seed, and how it is joined.

    Attributes
    ----------
    most_nats : float
        No line tells more, above the plain arpeggio.
    """

    def __init__(
        self,
        analysis: Analysis,
        brief: Brief,
        palettes: Sequence[Palette | None],
        ends: Set[int],
    ) -> None:
        cut = pieces(analysis)
        choices = list(all_ways(analysis, brief, cut, palettes, ends))
        self._pieces = choices
        self._sizes = [len(piece.ways) for piece in choices]
        self._firsts = [0, *accumulate(self._sizes)][:-1]
        self._onsets = [float(piece.start) for piece in cut]
        self._own = np.array([cost for piece in choices for cost in piece.costs])
        self._rhythms = np.array([n for piece in choices for n in piece.rhythms], int)
        self._telling_nats = np.array([w.telling_nats for piece in choices for w in piece.ways])
        self._gains = [[*(way.telling_nats for way in piece.ways), 0.0] for piece in choices]
        self._goes_on = [
            place
            for place, (before, piece) in enumerate(pairwise(cut), 1)
            if before.chord == piece.chord and not closes_phrase(before, ends)
        ]
        self._notes = cache(lambda n, way: [*choices[n].ways[way].notes(cut[n].start)])
        self._rhythms_at = cache(lambda n: placed_rhythms(choices[n], cut[n].start))
        self._times = cache(lambda seed: times_over_chart(cut, palettes, seed))
        plain = brief.level is Level.BEGINNER
        joins = partial(_joined, palettes=palettes, ends=ends, plain=plain)
        self._parts = list(_joined_pieces(cut, choices, joins))
        self.most_nats = sum(map(self._told_at_most, self._parts))

    def costs(self, seed: int) -> Costs:
        """What each way costs, one piece after another; one rhythm of each is the seed's own."""
        counts = self._times(min(seed, 1))  # all other seeds count alike
        wanted = [
            manner(seed, place, before, piece.rhythm_count) if piece.ways else 0
            for place, (piece, before) in enumerate(zip(self._pieces, counts, strict=True))
        ]
        others = self._rhythms != np.repeat(wanted, self._sizes)
        return self._own + np.where(others, OTHERWISE, 0.0)

    def times(self, priors: Sequence[PriorNotes]) -> Midis:
        """How many of the prior notes have the long ones of each way."""
        counts = [0] * len(self._own)
        for place, (onset, first) in enumerate(zip(self._onsets, self._firsts, strict=True)):
            begun = [prior for prior in priors if prior.begins(onset)]
            for rhythm in self._rhythms_at(place) if begun else ():
                for prior in begun:
                    number = rhythm.ways.get(tuple(prior.midis_at(rhythm.places) or ()))
                    if number is not None:
                        counts[first + number] += 1
        return np.array(counts, int)

    def pushed(self, costs: Costs, pushes: Sequence[float]) -> _Pushed:
        """Lines at those costs, with what they tell counted so many times."""
        factors = np.array(pushes)
        pushed = costs - factors[:, None] * self._telling_nats
        warmths = np.maximum(TEMPERATURE, WARM * factors)
        return _Pushed(self._parts, pushed, warmths, len(self._pieces))

    def ways(self, line: _Line) -> list[GuideWay | None]:
        """The ways of a line."""
        pairs = zip(self._pieces, line, strict=True)
        return [piece.ways[number] if number >= 0 else None for piece, number in pairs]

    def tells(self, line: _Line) -> float:
        """Nats that a line tells, or its decoration mostly will, more than the plain arpeggio."""
        gains = [gains[number] for gains, number in zip(self._gains, line, strict=True)]
        for place in self._held(line):
            gains[place] = 0.0
        return sum(gains)

    def notes(self, line: _Line) -> list[Note]:
        """The long notes of a line that are struck."""
        struck = dict(enumerate(line))
        for place in self._held(line):
            del struck[place]
        return [note for place, n in struck.items() if n >= 0 for note in self._notes(place, n)]

    def _held(self, line: _Line) -> list[int]:
        """The pieces whose tone is held over from the bar before."""
        held = []
        for place in self._goes_on:
            before, here = self._pieces[place - 1].ways, self._pieces[place].ways
            if here and before[line[place - 1]].tones[-1:] == here[line[place]].tones:
                held.append(place)
        return held

    def _told_at_most(self, part: _JoinedPieces) -> float:
        """What a line over pieces in a row tells at most."""
        gains = self._telling_nats[part.states]
        path = part.chain.best_path(-gains)
        return float(gains[np.array(path) + part.chain.starts[:-1]].sum())


def _joined_pieces(
    cut: Sequence[Piece], choices: Sequence[PieceWays], joins: _Joins
) -> Iterator[_JoinedPieces]:
    """The pieces between silences, with what may follow what."""
    known: dict[tuple[int, int, bool], tuple[list[int], Steps]] = {}

    def joined(place: int) -> tuple[list[int], Steps]:
        """A number for each way, the same for those that are entered alike, and what leads in."""
        before, here = choices[place - 1], choices[place]
        kind = before.kind, here.kind, cut[place - 1].chord == cut[place].chord
        if kind not in known:
            table = joins((cut[place - 1], before.ways), (cut[place], here.ways)).T.tolist()
            numbers = {column: n for n, column in enumerate(dict.fromkeys(map(tuple, table)))}
            steps = [[(n, cost) for n, cost in enumerate(row) if cost < inf] for row in numbers]
            known[kind] = [numbers[tuple(column)] for column in table], steps
        return known[kind]

    stop = 0
    for silent, group in groupby(range(len(cut)), key=lambda place: not choices[place].ways):
        places = list(group)
        start, stop = stop, stop + sum(len(choices[place].ways) for place in places)
        if not silent:
            into = [joined(place) for place in places[1:]]
            entries = [[0] * len(choices[places[0]].ways), *(numbers for numbers, _ in into)]
            chain = SparseChain(entries, [steps for _, steps in into])
            yield _JoinedPieces(range(places[0], places[-1] + 1), slice(start, stop), chain)


@lru_cache(2)
def _open_ways(
    same: SameAnalysis, brief: Brief, palettes: tuple[Palette | None, ...], ends: frozenset[int]
) -> _OpenWays:
    """Kept, since kin are written over the same ones."""
    return _OpenWays(same.analysis, brief, palettes, ends)


def _joined(
    last: _Choices,
    following: _Choices,
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
    every = np.ones(len(goals), bool)

    @cache
    def led(tone: int, free: int) -> Flags:
        return leads[(notes != tone) | (free > 1)].any(axis=0) if free else every

    return np.array([led(way.tones[-1], len(way.lengths) - len(way.tones)) for way in choices])


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
