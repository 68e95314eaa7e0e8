"""A figure that is carried on: up and down a ladder of notes, or from root to root.

What such exercises differ in is a row of facts, a `Pattern`: its figures, the notes they run
through, and how far a figure lies from the one before. One layout writes them all, and one
rule asks whether a finished line is made of its figure.

Source: common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise, product
from typing import NamedTuple

from halfstep.etude.chord_runs import ChordRun, RunShape, ladder_of, rest_of
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import EtudeLine, Notice
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.palette import Flags, Palette, chord_palettes
from halfstep.etude.rules import LineRule, sounding
from halfstep.etude.seed_choices import manner, number_of
from halfstep.etude.slots import Piece, closes_phrase, phrase_ends, pieces, slots_of
from halfstep.etude.step import NoticesOf, RunLayout
from halfstep.etude.vocabulary.pattern_rhythm import pattern_rhythm
from halfstep.etude.vocabulary.pattern_words import notice_of_places
from halfstep.harmony.analysis import Analysis
from halfstep.level import Level
from halfstep.random_stream import RandomStream

Way = tuple[int, ...]
"""Rungs of a ladder, counted from the first note of a figure."""
TURNED, OTHER_WAY = 1.5, 0.8
"""For figures that turn within a bar, and for those that go the other way than the seed's."""
ALIKE = 2.0
"""For figures from one root that all go the same way."""
RESTING, FEW = 1.0, 4
"""For each rung by which a phrase ends on another note than the figure has; at most so many."""
FOLDED = 8.0
"""For a figure that is turned over the octave: only in ranges too small for it."""


def scale_notes(palette: Palette) -> Flags:
    """All notes of the scale."""
    return palette.scale


class Pattern(NamedTuple):
    """What an exercise of figures is made of.

    Attributes
    ----------
    figures : tuple of Way
        One for a line, drawn by the seed; the plainest first, those of the levels in threes.
    rungs : callable
        The notes of a palette that figures run through.
    moves : tuple of int
        How far up a figure may lie from the one before, in rungs, while a bar lasts.
    from_root : bool
        Every figure is counted from the root of its chord.
    in_threes : bool
        A figure has three notes to the beat, or to two beats.
    """

    figures: tuple[Way, ...]
    rungs: Callable[[Palette], Flags] = scale_notes
    moves: tuple[int, ...] = (1, -1)
    from_root: bool = False
    in_threes: bool = False

    def figure(self, brief: Brief) -> Way:
        """The figure of a line: beginners have the plainest ones, advanced players all."""
        count = {Level.BEGINNER: 2, Level.INTERMEDIATE: 4, Level.ADVANCED: len(self.figures)}
        return self.figures[brief.seed % min(count[brief.level], len(self.figures))]


def pattern_layout(pattern: Pattern) -> RunLayout:
    """The runs of a pattern, one for each chord in each bar."""

    def layout(
        cut: Sequence[Piece],
        palettes: Sequence[Palette | None],
        ends: set[int],
        brief: Brief,
        _rng: RandomStream,
    ) -> list[ChordRun]:
        runs, entry, chord = [], 0, -1
        for bar in _figure_bars(pattern, cut, palettes, ends, brief):
            if bar.palette is None:
                runs.append(rest_of(bar.piece))
                continue
            entry, chord = (entry if bar.piece.chord == chord else 0), bar.piece.chord
            slots = slots_of(bar.piece, bar.piece.start, bar.lengths, bar.palette, entry)
            entry += len(slots)
            runs.append(ChordRun(slots, bar.shapes, bar.ladder, rooted=pattern.from_root))
        return runs

    return layout


class _FigureBar(NamedTuple):
    """A chord in a bar: how long its notes are, and every way through them."""

    piece: Piece
    palette: Palette | None
    lengths: tuple[Fraction, ...] = ()
    ladder: tuple[int, ...] = ()
    shapes: tuple[RunShape, ...] = ()


def _figure_bars(
    pattern: Pattern,
    cut: Sequence[Piece],
    palettes: Sequence[Palette | None],
    ends: set[int],
    brief: Brief,
) -> Iterator[_FigureBar]:
    figure, chart = pattern.figure(brief), number_of(cut)
    for place, piece in enumerate(cut):
        palette = palettes[piece.chord]
        if palette is None:
            yield _FigureBar(piece, None)
            continue
        closes = closes_phrase(piece, ends)
        size = len(figure)
        rhythm = pattern_rhythm(piece, brief, size, in_threes=pattern.in_threes, closes=closes)
        ladder = ladder_of(pattern.rungs(palette))
        octave = len({midi % 12 for midi in ladder})
        rises = manner(brief.seed, place, chart % 2, 2) == 0
        room = min(len(ladder), _ROOMY)
        shapes = _shapes(
            figure, rhythm.counts, None if pattern.from_root else pattern.moves, octave, room,
            rises=rises, closes=closes,
        )  # fmt: skip
        yield _FigureBar(piece, palette, rhythm.lengths, ladder, shapes)


_ROOMY = 24
"""Rungs beyond which it does not matter how many there are."""


@lru_cache(1024)
def _shapes(
    figure: Way,
    counts: tuple[int, ...],
    moves: tuple[int, ...] | None,
    octave: int,
    room: int,
    *,
    rises: bool,
    closes: bool,
) -> tuple[RunShape, ...]:
    """Every way through a bar, the one that the seed would have cheapest.

    Parameters
    ----------
    figure : Way
    counts : tuple of int
        How many notes each figure of the bar has room for.
    moves : tuple of int or None
        From one figure to the next; None where all are counted from the root.
    octave, room : int
        Rungs in an octave, and in all.
    rises, closes : bool
        The seed would have it go up; a phrase ends with it.
    """
    if moves is None:
        ways = list(_from_root(figure, counts, octave, rises=rises))
    else:
        ways = list(_carried_on(figure, counts, moves, rises=rises))
        if room - min(max(way) - min(way) for way, _ in ways) <= octave // 2:
            ways += list(_narrower(ways, octave))
    if closes:
        ways += _coming_to_rest(ways)
    return tuple(RunShape(way, way.index(min(way)), cost) for way, cost in cheapest(ways))


def cheapest(ways: Iterable[tuple[Way, float]]) -> list[tuple[Way, float]]:
    """Each way once, at the least that it costs."""
    costs: dict[Way, float] = {}
    for way, cost in ways:
        costs[way] = min(cost, costs.get(way, cost))
    return list(costs.items())


def _carried_on(
    figure: Way, counts: Sequence[int], steps: Sequence[int], *, rises: bool
) -> Iterator[tuple[Way, float]]:
    """The figure on one rung after another: all up, all down, or with one turn.

    Going down it is played backwards.
    """
    for moves in product(steps, repeat=len(counts) - 1):
        turns = sum(one != other for one, other in pairwise(moves))
        if turns > 1:
            continue
        bases = [sum(moves[:n]) for n in range(len(counts))]
        for forwards in (True, False):
            up = moves[0] > 0 if moves else forwards
            cost = TURNED * turns + OTHER_WAY * (up != rises) + TURNED * (up != forwards)
            way = figure if forwards else figure[::-1]
            yield _joined([(way, base) for base in bases], counts), cost


def _narrower(ways: Iterable[tuple[Way, float]], octave: int) -> Iterator[tuple[Way, float]]:
    """The ways with their upper notes an octave lower, for ranges with little room."""
    for way, cost in ways:
        low = min(way)
        for ceiling in range(max(way) - 1, low - 1, -1):
            yield folded(way, ceiling, octave), cost + FOLDED * (max(way) - ceiling)


def _coming_to_rest(ways: Iterable[tuple[Way, float]]) -> list[tuple[Way, float]]:
    """The ways with another last note, at most a few rungs from their own."""
    moves = [move for move in range(-FEW, FEW + 1) if move]
    return [
        ((*way[:-1], way[-1] + move), cost + RESTING * abs(move))
        for way, cost in ways
        for move in moves
    ]


def _from_root(
    figure: Way, counts: Sequence[int], octave: int, *, rises: bool
) -> Iterator[tuple[Way, float]]:
    """The figure from the root again and again, forwards and backwards in turn.

    What turns goes on from the next rung, so that no note is struck twice.
    """
    for first, turns in product((True, False), repeat=2):
        forwards = [first != (turns and n % 2 > 0) for n in range(len(counts))]
        cost = OTHER_WAY * (first != rises) + ALIKE * (not turns and len(counts) > 1)
        shift = 1 if first else -1
        for ceiling in range(max(figure), -1, -1):
            way = folded(figure, ceiling, octave)
            parts = [
                (way if onwards else way[::-1], 0 if onwards is first else shift)
                for onwards in forwards
            ]
            yield _joined(parts, counts), cost + FOLDED * (max(figure) - ceiling)


def folded(figure: Way, ceiling: int, octave: int) -> Way:
    """The figure with all notes above a rung an octave of so many rungs lower.

    >>> folded((0, 1, 2, 3), 2, 4)
    (0, 1, 2, -1)
    """
    return tuple(rung if rung <= ceiling else rung - octave for rung in figure)


def _joined(parts: Sequence[tuple[Way, int]], counts: Sequence[int]) -> Way:
    """The rungs of figures one after another, each from its base and as long as it has room."""
    pairs = zip(parts, counts, strict=True)
    return tuple(base + rung for (way, base), count in pairs for rung in way[:count])


def made_of_figures(pattern: Pattern, text: str) -> LineRule:
    """The rule that every bar is made of the figure of the line."""

    def breaches(etude: EtudeLine) -> Iterator[EtudeNote]:
        """The first note over each chord in a bar that is not made of it."""
        line = [(note, pitch.midi) for note, pitch in sounding(etude)]
        for notes, cost in _costs_in_line(pattern, etude.analysis, etude.brief, line):
            if cost is None:
                yield notes[0]

    return LineRule(text, breaches)


def turned_over(pattern: Pattern) -> NoticesOf:
    """A notice of the chords over which upper notes of the figure stand an octave lower."""

    def notices(analysis: Analysis, brief: Brief, notes: Sequence[EtudeNote]) -> tuple[Notice, ...]:
        line = [(note, note.pitch.midi) for note in notes if note.pitch]
        costs = _costs_in_line(pattern, analysis, brief, line)
        places = {notes[0].chord for notes, cost in costs if cost is not None and cost >= FOLDED}
        why = "leave the range" if brief.known is None else "need notes you do not know"
        lead = f"where the figure would {why}, its upper notes stand an octave lower"
        return notice_of_places(lead, analysis, sorted(places))

    return notices


def _costs_in_line(
    pattern: Pattern, analysis: Analysis, brief: Brief, line: Sequence[tuple[EtudeNote, int]]
) -> Iterator[tuple[list[EtudeNote], float | None]]:
    """The notes over each chord in a bar, and what their way costs; None for no way at all."""
    brief = replace(brief, known=None, pinned=())
    palettes = chord_palettes(analysis, brief)
    onsets = [note.onset for note, _ in line]
    cut, ends = pieces(analysis), phrase_ends(analysis, brief)
    for bar in _figure_bars(pattern, cut, palettes, ends, brief):
        notes = line[bisect_left(onsets, bar.piece.start) : bisect_left(onsets, bar.piece.end)]
        if notes and bar.palette is not None:
            cost = _cost_of_way(pattern, bar, bar.palette.root_class, [midi for _, midi in notes])
            yield [note for note, _ in notes], cost


def _cost_of_way(
    pattern: Pattern, bar: _FigureBar, root: int, midis: Sequence[int]
) -> float | None:
    """The least that a shape costs which goes through those notes, as far as they go."""
    classes = sorted({midi % 12 for midi in bar.ladder}, key=lambda pc: (pc - root) % 12)
    ladder = [midi for midi in range(128) if midi % 12 in classes]
    if not set(midis) <= set(ladder):
        return None
    rungs = [ladder.index(midi) for midi in midis]
    costs = (
        shape.cost
        for shape in bar.shapes
        if not pattern.from_root or midis[0] % 12 == classes[shape.offsets[0] % len(classes)]
        if [rung - rungs[0] for rung in rungs]
        == [rung - shape.offsets[0] for rung in shape.offsets[: len(rungs)]]
    )
    return min(costs, default=None)
