"""In which rhythms can the bars of a line be written, and which others might a bar have?

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate, islice, pairwise, product

from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.rhythm_grammar import cells
from halfstep.level import Level
from halfstep.meter import Feel, Meter
from halfstep.notation import NOTE_VALUES, lengths_at, plain_beats, tuplet_groups, tuplet_ratio
from halfstep.progression.chart import Bar
from halfstep.score import ScoreBar, ScoreNote

MOST_FIGURES = 24
"""Rhythms that are offered for a bar."""


def is_writable(bar: Bar, start: Fraction, notes: Sequence[EtudeNote]) -> bool:
    """True where all that lies in a bar has values that can be written, and whole tuplets.

    Parameters
    ----------
    bar : Bar
    start : Fraction
        Of the bar, in beats from bar 1.
    notes : sequence of EtudeNote
        Those that sound or rest in it, without gaps.
    """
    pieces = tuple(_pieces(bar, start, notes))
    drawn = ScoreBar(bar.number, bar.meter, pieces)
    if any(plain_beats(piece.beats) not in NOTE_VALUES for piece in pieces):
        return False
    whole = {place for group in tuplet_groups(drawn) for place in group}
    onsets = list(accumulate((piece.beats for piece in pieces), initial=Fraction(0)))
    begun_well = all(tuplet_ratio(onsets[group[0]])[0] == 1 for group in tuplet_groups(drawn))
    return begun_well and all(
        tuplet_ratio(piece.beats)[0] == 1 or place in whole for place, piece in enumerate(pieces)
    )


def _pieces(bar: Bar, start: Fraction, notes: Sequence[EtudeNote]) -> Iterator[ScoreNote]:
    """What is written in a bar, cut as a page cuts it."""
    end = start + bar.beats
    for note in notes:
        low, high = max(note.onset, start), min(note.end, end)
        if note.pitch is None and (low, high) == (start, end):
            yield ScoreNote(None, Fraction(4))  # a whole rest, in any metre
        elif low < high:
            lengths = lengths_at(bar.meter, low - start, high - low, rest=note.pitch is None)
            yield from (ScoreNote(note.pitch, length) for length in lengths)


def figures_of(meter: Meter, level: Level, feel: Feel) -> tuple[tuple[Fraction, ...], ...]:
    """Rhythms that fill a bar, each once, the plain ones first.

    >>> [str(beats) for beats in figures_of(Meter(3, 4), Level.BEGINNER, Feel.SWING)[0]]
    ['1', '1/2', '1/2', '1']
    """
    feel = feel if meter.swings else Feel.STRAIGHT
    even = (Fraction(1, 2),) * int(meter.bar_beats * 2)
    whole = cells(meter.bar_beats, level, feel)
    figures = (*whole, even, *islice(_by_groups(meter, level, feel), MOST_FIGURES))
    return tuple(dict.fromkeys(figures))[:MOST_FIGURES]


def _by_groups(meter: Meter, level: Level, feel: Feel) -> Iterator[tuple[Fraction, ...]]:
    """A cell for each group of the bar."""
    edges = (*meter.strong_beats, meter.bar_beats)
    choices = [
        cells(end - begin, level, feel) or ((end - begin,),) for begin, end in pairwise(edges)
    ]
    for chosen in product(*choices):
        yield tuple(beats for cell in chosen for beats in cell)
