"""A short figure carried through the changes, adapted only where it must.

One bar of rhythm and contour is drawn and heard in every bar. The rhythm and the direction
from note to note stay; the size of a step gives way where the chord asks for it, but in a third
of the bars at least the figure is as it was, step for step of the scale: the ear keeps hold of it.
Past the middle it comes late once, all of it shifted. Where a
chord begins inside a note of the figure, that note is struck again. Where a phrase ends,
the end of the figure is held for a beat at least.

Source: common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Sequence, Set
from fractions import Fraction
from itertools import accumulate, groupby, pairwise
from math import ceil
from typing import NamedTuple

import numpy as np

from halfstep.etude.costs import (
    Cost,
    comes_to_rest,
    in_figure,
    lingering,
    new_note_first,
    of_notes,
    pauses,
    skipping,
    tells,
    unlike_figure,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import EtudeLine, Notice
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import bars_in_words
from halfstep.etude.layouts import LAYOUTS_TRIED, with_phrases
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.prior_notes import PriorNotes
from halfstep.etude.rhythm_grammar import filled_in
from halfstep.etude.rules import (
    HIGH_POINT,
    IN_SCALE,
    NOT_THREE_EQUAL,
    WITHIN_OCTAVE,
    LineRule,
    LocalRule,
    chord_tone,
    palette_at,
    sounding,
)
from halfstep.etude.sentences import PartLine, written_pitch
from halfstep.etude.slots import (
    Piece,
    Slot,
    breath_beats,
    on_grid,
    phrase_ends,
    pieces,
)
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.note_likelihoods import Weight, weight_at
from halfstep.level import Level
from halfstep.meter import EIGHTH, Feel, Meter
from halfstep.random_stream import RandomStream
from halfstep.wording import joined_by_and

FEWEST, MOST = 3, 6
"""Notes of a figure, where the bar has room for so many and no more are needed to fill it."""
MOST_STRAIGHT = 4
"""Steps of a figure in one direction; small ranges have room for so many."""
SIZES = (1, 1, 1, 2, 2, 3)
"""Sizes that the steps of a figure are drawn from, in steps of the scale."""
EXACT_OF = 3
"""Of so many bars the figure is exact in one, at least."""
FEWEST_BARS = 4
"""Bars of a form in which a figure is shifted."""
WIDEST = {Level.BEGINNER: 4, Level.INTERMEDIATE: 5, Level.ADVANCED: 7}
"""Steps of the scale between the lowest and the highest note of a figure."""
_TRIES = 20
Figure = list[tuple[Fraction, int]]
"""Where each note of a figure begins in its bar, and how far it lies from the one before."""


def layouts(
    analysis: Analysis,
    brief: Brief,
    palettes: Sequence[Palette | None],
    rng: RandomStream,
    _priors: Sequence[PriorNotes],
) -> Iterator[list[Slot]]:
    """Figures in every bar, exact in some; the last are exact nowhere, for who has few notes."""
    exact = exact_bars(analysis)
    for asked in [exact] * (LAYOUTS_TRIED - 1) + [set[int]()] * LAYOUTS_TRIED:
        yield layout(analysis, brief, palettes, rng, asked)


def layout(
    analysis: Analysis,
    brief: Brief,
    palettes: Sequence[Palette | None],
    rng: RandomStream,
    exact: Set[int],
) -> list[Slot]:
    """The figure in every bar, exact in those of that number, and in one of them late."""
    figures: dict[Meter, Figure] = {}
    known: dict[tuple[Fraction, Fraction, Fraction, bool, Meter], list[_FigureNote]] = {}
    slots: list[Slot] = []
    entry, chord = 0, -1
    ends = phrase_ends(analysis, brief)
    cut = pieces(analysis)
    late = shifted_bar(analysis, brief)
    off_beat = any((piece.start - piece.bar_start) % 1 for piece in cut)
    feel = None if off_beat else brief.feel  # a chord may not begin inside a triplet
    for piece in cut:
        palette = palettes[piece.chord]
        if palette is None:
            slots.append(Slot(piece.start, piece.beats, None, True, 0))
            continue
        meter = piece.bar.meter
        if meter not in figures:
            figures[meter] = _drawn(meter, brief, rng, feel)
        entry, chord = (entry if piece.chord == chord else 0), piece.chord
        figure, closes = figures[meter], piece.bar.number in ends
        shift = shift_of(figure, brief.level) if piece.bar.number == late else Fraction(0)
        begun = piece.start
        if shift and piece.start == piece.bar_start:
            slots.append(Slot(piece.start, shift, None, True, 0))
            begun += shift
        bounds = begun - piece.bar_start, piece.end - piece.bar_start, shift
        place = (*bounds, closes, meter)
        if place not in known:
            known[place] = _in_bar(_held(figure, meter) if closes else figure, meter, *bounds)
        strict = piece.bar.number in exact
        slots += _piece_slots(piece, known[place], palette, entry, strict=strict)
        entry = slots[-1].entry + 1
    return with_phrases(slots, analysis, brief)


def exact_bars(analysis: Analysis) -> set[int]:
    """The bars in which the figure is exact: the first and enough others, those of one chord first.

    They are spread over the form.
    """
    chords = Counter(piece.bar.number for piece in pieces(analysis))
    sounding = [
        piece.bar.number for piece in pieces(analysis) if not analysis.chords[piece.chord].silent
    ]
    numbers = list(dict.fromkeys(sounding))
    order = sorted(numbers, key=lambda n: (chords[n] > 1, (n - numbers[0]) % EXACT_OF, n))
    return {*numbers[:1], *order[: ceil(len(numbers) / EXACT_OF)]}


def shifted_bar(analysis: Analysis, brief: Brief) -> int | None:
    """The bar past the middle in which the figure comes late; None where no bar is fit for it.

    It has the metre of the first bar, ends no phrase, and its first chord lasts longer than the
    figure is late; best it has one chord.
    """
    cut, ends = pieces(analysis), phrase_ends(analysis, brief)
    bars = len(analysis.chart.form)
    first = cut[0].bar
    if bars < FEWEST_BARS or first.number in ends or not first.meter.swings:
        return None
    fit = [
        (piece.beats < piece.bar.beats, piece.bar.number)
        for piece in cut
        if piece.start == piece.bar_start and piece.beats > 2 * EIGHTH
        if piece.bar.meter == first.meter and piece.bar.beats == first.meter.bar_beats
        if not analysis.chords[piece.chord].silent
        if piece.bar.number > bars // 2 and piece.bar.number not in ends
    ]
    return min(fit)[1] if fit else None


def shift_of(figure: Figure, level: Level) -> Fraction:
    """How late: a beat, or an eighth from intermediate on where the figure has no triplet."""
    plain = level is Level.BEGINNER or any(onset.denominator % 3 == 0 for onset, _ in figure)
    return 2 * EIGHTH if plain else EIGHTH


def _drawn(meter: Meter, brief: Brief, rng: RandomStream, feel: Feel | None) -> Figure:
    """A figure of three to six notes, rare rhythms as often as common ones; in long bars the
    shortest of some.
    """
    zero = Fraction(0)
    some = [
        filled_in(meter, zero, meter.bar_beats, brief.level, rng, not_like=[], feel=feel)
        for _ in range(20)
    ]
    fitting = sorted({tuple(lengths) for lengths in some if FEWEST <= len(lengths) <= MOST})
    lengths = fitting[rng.integers(len(fitting))] if fitting else min(some, key=len)
    onsets = list(accumulate(lengths, initial=Fraction(0)))[:-1]
    ways = (_moves(len(onsets), rng) for _ in range(_TRIES))
    made = next((moves for moves in ways if _span(moves) <= WIDEST[brief.level]), None)
    return list(zip(onsets, made or _moves(len(onsets), rng), strict=True))


def _moves(count: int, rng: RandomStream) -> list[int]:
    """Steps of the scale from note to note, mostly small ones."""
    way = rng.choice([-1, 1])
    moves, straight = [0], 0
    for _ in range(count - 1):
        turns = rng.random() < 0.35 or straight == MOST_STRAIGHT
        way, straight = (-way, 1) if turns else (way, straight + 1)
        moves.append(way * rng.choice(SIZES))
    return moves


def _span(moves: Sequence[int]) -> int:
    heights = list(accumulate(moves))
    return max(heights) - min(heights)


def _held(figure: Figure, meter: Meter) -> Figure:
    """The figure without the notes that would leave less than a beat for its end."""
    latest = meter.bar_beats - breath_beats(meter)
    return [note for note in figure if note[0] <= max(latest, Fraction(0))]


class _FigureNote(NamedTuple):
    """A note of a figure in its bar."""

    onset: Fraction
    beats: Fraction
    strong: bool
    weight: Weight
    move: int | None


def _in_bar(
    figure: Figure, meter: Meter, begun: Fraction, end: Fraction, shift: Fraction
) -> list[_FigureNote]:
    """The notes of the figure, later by the shift, between two beats of a bar, and at the first."""
    starts = {onset + shift: move for onset, move in figure if onset}
    onsets = sorted({begun, *(at for at in starts if begun < at < end)})
    return [
        _FigureNote(
            onset,
            stop - onset,
            onset in meter.strong_beats,
            weight_at(meter, float(onset)),
            starts.get(onset),
        )
        for onset, stop in pairwise([*onsets, end])
    ]


def _piece_slots(
    piece: Piece, notes: Sequence[_FigureNote], palette: Palette, entry: int, *, strict: bool
) -> list[Slot]:
    """The notes of a figure in a piece."""
    return [
        Slot(
            piece.bar_start + note.onset,
            note.beats,
            palette,
            note.strong or number == 0,
            number,
            weight=note.weight,
            motif=note.move,
            strict=strict,
        )
        for number, note in enumerate(notes, entry)
    ]


def same_direction(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """Up where the figure goes up, and down where it goes down."""
    way = 1 if (slots[1].motif or 0) > 0 else -1
    return np.asarray((midis[1] - midis[0]) * way > 0)


def same_steps(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """As many notes of the scale up or down as the figure goes."""
    rank = palette_at(slots[1]).scale_rank
    return np.asarray(rank[midis[1]] - rank[midis[0]] == (slots[1].motif or 0))


def comes_late(etude: EtudeLine) -> Iterator[EtudeNote]:
    """In the bar that is planned for it the rhythm of the first bar comes late, all of it."""
    late = shifted_bar(etude.analysis, etude.brief)
    if late is None or etude.brief.pinned:
        return
    starts = {bar.number: start for bar, start in etude.analysis.chart.placed()}
    first = min(number for number in starts if number >= 1)
    stated, later = (_onsets_in(etude, starts[number]) for number in (first, late))
    struck = {on_grid(chord.span.start) - starts[late] for chord in etude.analysis.chords}
    shift = later[0] if later else Fraction(0)
    if not shift or not {onset - shift for onset in {*later} - struck} <= {*stated}:
        yield next(note for note in etude.notes if note.end > starts[late])


def _onsets_in(etude: EtudeLine, start: Fraction) -> list[Fraction]:
    """Where notes begin in the bar that starts there, in beats from its start."""
    end = start + etude.analysis.chart.meter.bar_beats
    return [note.onset - start for note, _ in sounding(etude) if start <= note.onset < end]


def not_exact(analysis: Analysis, brief: Brief, notes: Sequence[EtudeNote]) -> tuple[Notice, ...]:
    """That the figure gives way where it should be exact; of no line with notes that stand."""
    sounding = [note for note in notes if note.pitch]
    if brief.pinned or not sounding:
        return ()
    starts = {bar.number: start for bar, start in analysis.chart.placed()}
    exact = sorted(exact_bars(analysis) - {shifted_bar(analysis, brief)})
    stated, *later = (_figure_moves(analysis, brief, sounding, starts[bar]) for bar in exact)
    differ = [
        bar
        for bar, moves in zip(exact[1:], later, strict=True)
        if any(moves[onset] != stated[onset] for onset in stated.keys() & moves.keys())
    ]
    if not differ:
        return ()
    text = (
        f"the figure is exact in fewer bars than a third: it gives way in {bars_in_words(differ)} "
        "as well, since no line was found that keeps it there"
    )
    return (Notice(0, text),)


def _figure_moves(
    analysis: Analysis, brief: Brief, sounding: Sequence[EtudeNote], start: Fraction
) -> dict[Fraction, int]:
    """How many notes of the scale each note of a bar goes up, by its beat in the bar.

    Without the first, and without those that a chord begins with: they may be struck again.
    """
    onsets = [note.onset for note in sounding]
    end = start + analysis.chart.meter.bar_beats
    within = sounding[bisect_left(onsets, start) : bisect_left(onsets, end)]
    moves: dict[Fraction, int] = {}
    for old, new in pairwise(within):
        chord = analysis.chords[new.chord]
        if old.pitch and new.pitch and on_grid(chord.span.start) != new.onset:
            low, high = sorted((old.pitch.midi, new.pitch.midi))
            classes = chord.scale.pitch_classes
            count = sum(n % 12 in classes and brief.has(n) for n in range(low + 1, high + 1))
            moves[new.onset - start] = count if new.pitch.midi == high else -count
    return moves


def between_figures(slots: Sequence[Slot]) -> bool:
    """True from one figure to the next."""
    return slots[1].motif is None


def _in_exact_figure(slots: Sequence[Slot]) -> bool:
    return slots[1].motif is not None and slots[1].strict


def _begins(slots: Sequence[Slot]) -> bool:
    return slots[0].motif is None


def figure(line: PartLine) -> str:
    """The notes of the figure, and where they come back with the same intervals."""
    bars = [list(group) for _, group in groupby(line.notes, key=line.bar)]
    first, shape = bars[0], _shape(line, bars[0])
    names = " ".join(line.name(note) for note in first)
    same = [line.bar(notes[0]) for notes in bars[1:] if _shape(line, notes) == shape]
    again = f"; the same shape comes back in {bars_in_words(same)}" if same else ""
    return f"The figure is {names} in bar {line.bar(first[0])}{again}."


def figure_gives_way(line: PartLine) -> str:
    """The first bar in which the figure's intervals change."""
    bars = [list(group) for _, group in groupby(line.notes, key=line.bar)]
    shape = _shape(line, bars[0])
    for notes in bars[1:]:
        if _shape(line, notes) != shape:
            names = " ".join(line.name(note) for note in notes)
            symbols = dict.fromkeys(str(line.part.symbol(note.chord)) for note in notes)
            over = joined_by_and(list(symbols))
            return f"Over {over} in bar {line.bar(notes[0])} it changes to fit the chord: {names}."
    return ""


def _shape(line: PartLine, notes: Sequence[EtudeNote]) -> list[int]:
    return [written_pitch(line, b).midi - written_pitch(line, a).midi for a, b in pairwise(notes)]


STEP = Step(
    name="motif",
    title="Motif",
    task="One short figure in every bar, changed only where the chord asks for it. "
    "Sing it before you play it.",
    writing=NoteByNote(
        layouts=layouts,
        costs=(
            Cost(2, unlike_figure, 1.2, in_figure),
            of_notes(2, skipping, 0.5, between_figures),
            Cost(1, tells, 1.7),
            Cost(1, new_note_first, 0.5),
            Cost(1, pauses, 0.5),
            Cost(1, lingering, 2.0),
            Cost(1, comes_to_rest, 0.6),
        ),
        most_blocked=2 * LAYOUTS_TRIED - 1,
        notices=not_exact,
    ),
    rules=(
        HIGH_POINT,
        IN_SCALE,
        NOT_THREE_EQUAL,
        LocalRule("the figure begins on a chord tone", 1, chord_tone, _begins),
        LocalRule("the figure keeps its directions", 2, same_direction, in_figure),
        LocalRule("in a third of the bars the figure is exact", 2, same_steps, _in_exact_figure),
        LineRule("past the middle the figure comes late once", comes_late),
        WITHIN_OCTAVE,
    ),
    sentences=(figure, figure_gives_way),
)
