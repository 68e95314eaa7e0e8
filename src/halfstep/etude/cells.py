"""Step 8: the cell 1 2 3 5 and its mirror forms through the changes.

A cell is four eighths on the root, second, third and fifth of a chord's scale: up, down,
or turned inside. Each chord has one for every two beats, never the same form twice in a
row where it has two.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

import numpy as np

from halfstep.etude.frame import Flags, Midis, Palette, Piece, Slot, cell_classes, pieces
from halfstep.etude.parts import Brief, Etude, EtudeNote
from halfstep.etude.rules import IN_SCALE, NOT_THREE_EQUAL, LineRule, LocalRule, palette, sounding
from halfstep.etude.shapes import Run, Shape, ladder_of, rest_of, slots_of
from halfstep.meter import EIGHTH

CELL = 4
"""Notes in a cell."""
FORMS = ((0, 1, 2, 3), (3, 2, 1, 0), (3, 0, 1, 2), (2, 1, 0, 3))
"""1 2 3 5, 5 3 2 1, 5 1 2 3 and 3 2 1 5, as places in the cell."""
TURNED = 0.3
"""For a form that turns inside, beside the plain ones."""
FOLDED = 6.0
"""For a cell without its highest note, in a range too small for it."""


def layout(
    cut: Sequence[Piece],
    found: Sequence[Palette | None],
    _ends: set[int],
    _brief: Brief,
    rng: np.random.Generator,
) -> list[Run]:
    """A run of one cell for every two beats of a chord in a bar; what is left is held."""
    return list(_runs(cut, found, rng))


def _runs(
    cut: Sequence[Piece], found: Sequence[Palette | None], rng: np.random.Generator
) -> Iterator[Run]:
    last, chord = -1, -1
    for piece in cut:
        here = found[piece.chord]
        if here is None:
            yield rest_of(piece)
            continue
        entry = 0 if piece.chord != chord else CELL
        chord = piece.chord
        for start, stop in _spans(piece):
            count = max(1, min(CELL, int((stop - start) / EIGHTH)))
            lengths = [EIGHTH] * (count - 1) + [stop - start - EIGHTH * (count - 1)]
            slots = slots_of(piece, start, lengths, here, entry)
            first = int(rng.integers(len(FORMS)))
            order = [(first + turn) % len(FORMS) for turn in range(len(FORMS))]
            shapes = tuple(_shapes([n for n in order if n != last], count))
            last = order[0] if order[0] != last else order[1]
            yield Run(slots, shapes, ladder_of(here.cell))
            entry += count


def _spans(piece: Piece) -> Iterator[tuple[Fraction, Fraction]]:
    """Two beats each from the start of a piece; what is left joins the last."""
    start = piece.start
    while piece.end - start >= 4:
        yield start, start + 2
        start += 2
    yield start, piece.end


def _shapes(forms: Sequence[int], count: int) -> Iterator[Shape]:
    """The forms, the drawn one cheapest, and for small ranges those without the fifth."""
    for rank, form in enumerate(forms):
        offsets = FORMS[form][:count]
        cost = 0.4 * rank + TURNED * (form > 1)
        yield Shape(offsets, offsets.index(min(offsets)), cost)
        folded = tuple(min(offset, 2) if offset < 3 else 1 for offset in offsets)
        yield Shape(folded, folded.index(min(folded)), cost + FOLDED)


def cell_tone(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The root, second, third or fifth."""
    return palette(slots[0]).cell[midis[0]]


def in_forms(etude: Etude) -> Iterator[EtudeNote]:
    """Every cell is 1 2 3 5 or one of its mirror forms, or begins like one."""
    known = {_lowered(shape.offsets) for count in range(1, CELL + 1) for shape in
             _shapes(range(len(FORMS)), count)}  # fmt: skip
    notes = sounding(etude)
    for piece in pieces(etude.analysis):
        here = etude.analysis.chords[piece.chord]
        if here.silent:
            continue
        classes = cell_classes(here)
        for start, stop in _spans(piece):
            cell = [(note, pitch.midi) for note, pitch in notes if start <= note.onset < stop]
            ladder = [midi for midi in range(128) if midi % 12 in classes]
            ranks = [ladder.index(midi) for _, midi in cell if midi in ladder]
            if cell and (len(ranks) != len(cell) or _lowered(ranks) not in known):
                yield cell[0][0]


def _lowered(offsets: Sequence[int]) -> tuple[int, ...]:
    """A shape with its lowest note at 0."""
    return tuple(offset - min(offsets) for offset in offsets)


RULES = (
    IN_SCALE,
    NOT_THREE_EQUAL,
    LocalRule("only the root, second, third and fifth", 1, cell_tone),
    LineRule("every cell is 1 2 3 5 or a mirror form of it", in_forms),
)
