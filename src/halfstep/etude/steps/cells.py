"""The cell 1 2 3 5 and its mirror forms through the changes.

A cell is four eighths on the root, second, third and fifth of a chord's scale: up, down,
or turned inside. Each chord has one for every two beats, never the same form twice in a
row while it lasts. Where the
player's notes have no whole cell it is shortened or turned over the octave, and said so.
From intermediate on the second cell of a chord comes late now and then, without its last note,
after a rest or after a note that is held over the beat; the advanced have cells that begin with
a triplet, and chords whose cell comes an eighth early, before the last note of the one before.

Source: common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby, pairwise

from halfstep.etude.chord_runs import ChordRun, RunShape, ladder_of, rest_of
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import EtudeLine, Notice, notice_of_each
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import LISTED, bars_in_words
from halfstep.etude.palette import Flags, Midis, Palette, cell_classes
from halfstep.etude.rhythm_grammar import held_last
from halfstep.etude.rules import (
    IN_SCALE,
    NOT_THREE_EQUAL,
    LineRule,
    LocalRule,
    palette_at,
    sounding,
)
from halfstep.etude.seed_choices import manner, number_of
from halfstep.etude.sentences import PartLine, direction, highest
from halfstep.etude.slots import Piece, Slot, closes_phrase, on_grid, pieces, slots_of
from halfstep.etude.step import InRuns, Step
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.note_likelihoods import Weight
from halfstep.level import Level
from halfstep.meter import EIGHTH, Feel
from halfstep.random_stream import RandomStream
from halfstep.wording import joined_by_and

CELL = 4
"""Notes in a cell."""
FORMS = ((0, 1, 2, 3), (3, 2, 1, 0), (3, 0, 1, 2), (2, 1, 0, 3))
"""1 2 3 5, 5 3 2 1, 5 1 2 3 and 3 2 1 5, as places in the cell."""
LATER = 1.5
"""For each form that the seed would have before it; enough that two seeds differ."""
TURNED = 0.3
"""For a form that turns inside, beside the plain ones."""
ROOMY = 2
"""Roots with a whole cell on them that leave a line always a way on."""
TRIPLETS, LATE, HELD, EARLY = 0.2, 0.35, 0.6, 0.35
"""How many cells begin with a triplet; how many second cells are late, and of these how many after
a held note; how many chords are come to early."""
_TRIPLET = [*[Fraction(1, 3)] * 3, Fraction(1)]
FOLDED = 6.0
"""For a cell without its highest note, in a range too small for it."""


def layout(
    cut: Sequence[Piece],
    palettes: Sequence[Palette | None],
    ends: set[int],
    brief: Brief,
    rng: RandomStream,
) -> list[ChordRun]:
    """A run of one cell for every two beats of a chord in a bar; what is left is held.

    The cell that ends a phrase is shortened, so that its last note has a beat.
    """
    runs = list(_runs(cut, palettes, ends, brief, rng))
    return runs if brief.level is Level.BEGINNER else _in_rhythm(runs, brief, rng)


def _runs(
    cut: Sequence[Piece],
    palettes: Sequence[Palette | None],
    ends: set[int],
    brief: Brief,
    rhythm_rng: RandomStream,
) -> Iterator[ChordRun]:
    chord, number = -1, 0
    rng = RandomStream(number_of(cut))  # the same order for every seed, begun elsewhere
    swings = brief.level is Level.ADVANCED and brief.feel is Feel.SWING
    for piece in cut:
        palette = palettes[piece.chord]
        if palette is None:
            yield rest_of(piece)
            continue
        entry = 0 if piece.chord != chord else CELL
        chord = piece.chord
        ladder = ladder_of(palette.cell)
        folded = _whole_cells(palette.root_class, ladder, brief) < ROOMY
        for start, stop in _spans(piece):
            count = max(1, min(CELL, int((stop - start) / EIGHTH)))
            lengths = [EIGHTH] * (count - 1) + [stop - start - EIGHTH * (count - 1)]
            if stop == piece.end and closes_phrase(piece, ends):
                lengths = held_last(lengths, piece.bar.meter.tempo_beats)
            elif swings and piece.bar.meter.swings and lengths == [EIGHTH] * CELL:
                lengths = _TRIPLET if rhythm_rng.random() < TRIPLETS else lengths
            count = len(lengths)
            slots = slots_of(piece, start, lengths, palette, entry)
            begun = manner(brief.seed, number, 0, len(FORMS))
            order = rng.permutation(len(FORMS))
            forms = [*order[begun:], *order[:begun]]
            number += 1
            shapes = tuple(_shapes(forms, count, folded=folded))
            turns = entry > 0 and count == CELL
            yield ChordRun(slots, shapes, ladder, turns=turns, rooted=not folded)
            entry += count


def _in_rhythm(runs: Sequence[ChordRun], brief: Brief, rng: RandomStream) -> list[ChordRun]:
    """The runs, some of them late or early."""
    laid: list[ChordRun] = []
    for run in runs:
        before = laid[-1] if laid else None
        same = before and before.slots[0].palette is run.slots[0].palette
        if before is None or not (_is_cell(before) and _is_cell(run)) or before.slots[-1].closes:
            laid.append(run)
        elif same and rng.random() < LATE:
            laid += _late(laid.pop(), run, held=rng.random() < HELD)
        elif not same and brief.level is Level.ADVANCED and rng.random() < EARLY:
            laid += _early(laid.pop(), run)
        else:
            laid.append(run)
    return laid


def _is_cell(run: ChordRun) -> bool:
    """True for four notes whose first begins on a beat and whose last is an eighth."""
    sounds = not run.rest and len(run.slots) == CELL
    return sounds and run.slots[-1].beats == EIGHTH and run.slots[0].weight is not Weight.OFF


def _late(before: ChordRun, run: ChordRun, *, held: bool) -> list[ChordRun]:
    """Two cells of a chord, the second an eighth later and without its last note."""
    first, *others = run.slots
    late = _begun(run._replace(slots=tuple(others)))
    if held:
        *kept, last = before.slots
        longer = last._replace(beats=last.beats + first.beats)
        return [before._replace(slots=(*kept, longer)), late]
    return [before, ChordRun((Slot(first.onset, first.beats, None, True, 0),)), late]


def _early(before: ChordRun, run: ChordRun) -> list[ChordRun]:
    """Two cells, the second an eighth earlier in place of the last note of the first."""
    *kept, last = before.slots
    first, *others = run.slots
    early = first._replace(onset=last.onset, beats=last.beats + first.beats, weight=Weight.OFF)
    return [_begun(before._replace(slots=tuple(kept))), run._replace(slots=(early, *others))]


def _begun(run: ChordRun) -> ChordRun:
    """A run whose forms are cut to the notes it has."""
    count = len(run.slots)
    offsets = dict.fromkeys((shape.offsets[:count], shape.cost) for shape in run.shapes)
    shapes = tuple(RunShape(way, way.index(min(way)), cost) for way, cost in offsets)
    return run._replace(shapes=shapes, turns=False)


def _whole_cells(root_class: int, ladder: Sequence[int], brief: Brief) -> int:
    """From how many roots up the player has the cell."""
    known = brief.known
    return sum(
        ladder[place] % 12 == root_class
        and (known is None or known.issuperset(ladder[place : place + CELL]))
        for place in range(len(ladder) - CELL + 1)
    )


def _spans(piece: Piece) -> Iterator[tuple[Fraction, Fraction]]:
    """Two beats each from the start of a piece; what is left joins the last."""
    start = piece.start
    while piece.end - start >= 4:
        yield start, start + 2
        start += 2
    yield start, piece.end


def _shapes(forms: Sequence[int], count: int, *, folded: bool) -> Iterator[RunShape]:
    """The forms, the drawn one cheapest; for small ranges also those without the fifth."""
    for rank, form in enumerate(forms):
        offsets = FORMS[form][:count]
        cost = LATER * rank + TURNED * (form > 1)
        yield RunShape(offsets, offsets.index(min(offsets)), cost)
        if folded:
            short = tuple(offset if offset < 3 else 1 for offset in offsets)
            yield RunShape(short, short.index(min(short)), cost + FOLDED)


def cell_tone(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The root, second, third or fifth."""
    return palette_at(slots[0]).cell[midis[0]]


def in_forms(etude: EtudeLine) -> Iterator[EtudeNote]:
    """Every cell is 1 2 3 5 or one of its mirror forms, or begins like one.

    It stands on its root, unless the player has too few such cells.
    """
    notes, onsets = _sounding(etude)
    for piece in pieces(etude.analysis):
        chord = etude.analysis.chords[piece.chord]
        if chord.silent:
            continue
        root = chord.span.symbol.root.pitch_class
        classes = sorted(cell_classes(chord), key=lambda pc: (pc - root) % 12)
        folded = _is_narrow(root, classes, etude.brief)
        for start, stop in _spans(piece):
            cell = notes[_within(onsets, start, stop)]
            if cell and not _in_form([midi for _, midi in cell], classes, folded=folded):
                yield cell[0][0]


def _sounding(etude: EtudeLine) -> tuple[list[tuple[EtudeNote, int]], list[float]]:
    """The notes that sound with their MIDI numbers, and where they begin.

    One that comes early to its chord counts from where that begins.
    """
    notes = [(note, pitch.midi) for note, pitch in sounding(etude)]
    begun = [on_grid(chord.span.start) for chord in etude.analysis.chords]
    return notes, [float(max(note.onset, begun[note.chord])) for note, _ in notes]


def _within(onsets: Sequence[float], start: Fraction, stop: Fraction) -> slice:
    """Where among notes those stand that begin from one beat on and before another."""
    return slice(bisect_left(onsets, float(start)), bisect_left(onsets, float(stop)))


def _is_narrow(root: int, classes: Sequence[int], brief: Brief) -> bool:
    """True where the player has too few whole cells on the root to go on from."""
    among = range(brief.concert_low, brief.concert_high + 1)
    return _whole_cells(root, [midi for midi in among if midi % 12 in classes], brief) < ROOMY


def _in_form(midis: Sequence[int], classes: Sequence[int], *, folded: bool) -> bool:
    """True for notes that go through the cell's classes, from the root up, as a form does."""
    ladder = [midi for midi in range(128) if midi % 12 in classes]
    if not all(midi in ladder for midi in midis):
        return False
    ranks = [ladder.index(midi) for midi in midis]
    return any(
        (folded or midis[0] % 12 == classes[shape.offsets[0] % len(classes)])
        and _lowered(ranks) == _lowered(shape.offsets)
        for shape in _shapes(range(len(FORMS)), len(midis), folded=folded)
    )


def in_turns(etude: EtudeLine) -> Iterator[EtudeNote]:
    """A whole cell goes another way than the one before it on the same chord."""
    notes, onsets = _sounding(etude)
    last: tuple[int, list[bool]] | None = None
    for piece in pieces(etude.analysis):
        for start, stop in _spans(piece):
            cell = notes[_within(onsets, start, stop)]
            way = piece.chord, [new > old for (_, old), (_, new) in pairwise(cell)]
            if len(cell) == CELL and way == last:
                yield cell[0][0]
            last = way


def notices(analysis: Analysis, brief: Brief, notes: Sequence[EtudeNote]) -> tuple[Notice, ...]:
    """Which chords have cells that are shortened, or do not stand on their root."""
    bars: dict[str, tuple[int, list[int]]] = {}
    begun = [on_grid(chord.span.start) for chord in analysis.chords]
    onsets = [float(max(note.onset, begun[note.chord])) for note in notes]
    for piece in pieces(analysis):
        symbol = str(analysis.chords[piece.chord].span.symbol)
        if any(_is_turned(notes[_within(onsets, *span)]) for span in _spans(piece)):
            bars.setdefault(symbol, (piece.chord, []))[1].append(piece.bar.number)
    why = "leave the range" if brief.known is None else "need notes you do not know"
    lead = f"where root, 2nd, 3rd and 5th would {why}, the notes come in another order"
    texts = [(chord, f"{{}} in {bars_in_words(numbers)}") for chord, numbers in bars.values()]
    return (notice_of_each(lead, texts),) if texts else ()


def _is_turned(notes: Sequence[EtudeNote]) -> bool:
    """True for four notes that are not four from the root up, in any order."""
    cell = [(note.pitch.midi, note.degree.number) for note in notes if note.pitch and note.degree]
    return len(cell) == CELL and (len(set(cell)) < CELL or min(cell)[1] != 1)


def _lowered(offsets: Sequence[int]) -> tuple[int, ...]:
    """A shape with its lowest note at 0."""
    return tuple(offset - min(offsets) for offset in offsets)


def cell_roots(line: PartLine) -> str:
    """The roots the cells are built on."""
    roots = [str(line.part.symbol(notes[0].chord).root) for notes in line.by_chord()]
    names = [root for root, _ in groupby(roots)]
    if len(names) > LISTED:
        return f"The cells are built on {', '.join(names[:LISTED])} …"
    return f"The cells are built on {joined_by_and(names)}."


def cell_forms(line: PartLine) -> str:
    """The first cell that goes up, down, and is turned inside."""
    examples: dict[str, str] = {}
    for notes in line.by_chord():
        directions = [direction(line, old, new) for old, new in pairwise(notes[:CELL])]
        if len(notes) >= CELL:
            form = {1: "goes up", -1: "comes down"}.get(directions[0], "")
            form = form if len(set(directions)) == 1 else "is mixed"
            names = " ".join(line.name(note) for note in notes[:CELL])
            examples.setdefault(form, f"{form} in {line.place(notes[0])} ({names})")
    return f"The cell {joined_by_and(list(examples.values()))}." if examples else ""


STEP = Step(
    name="cells",
    title="Cells",
    task="Four notes for two beats: root, 2nd, 3rd and 5th, up, down or mixed. "
    "Sing the root of the next chord before you play its cell.",
    writing=InRuns(layout=layout, notices=notices, untold=3.0, again=2.5),
    rules=(
        IN_SCALE,
        NOT_THREE_EQUAL,
        LocalRule("only the root, second, third and fifth", 1, cell_tone),
        LineRule("every cell is 1 2 3 5 or a mirror form of it", in_forms),
        LineRule("two cells of one chord do not go the same way in a row", in_turns),
    ),
    sentences=(cell_roots, cell_forms, highest),
    least_outline=0.6,
)
