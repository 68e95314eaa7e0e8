"""Where do the notes of a line stand? What layouts of several steps share.

A layout makes the slots of a whole etude; the search fills them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from halfstep.etude.etude_brief import Brief
from halfstep.etude.palette import Palette
from halfstep.etude.prior_notes import PriorNotes
from halfstep.etude.rhythm_grammar import filled_in, held_last, left_out
from halfstep.etude.slots import Piece, Slot, phrase_ends, pieces, slots_of
from halfstep.harmony.analysis import Analysis
from halfstep.random_stream import RandomStream

Layout = Callable[[Analysis, Brief, Sequence[Palette | None], RandomStream], list[Slot]]
Layouts = Callable[
    [Analysis, Brief, Sequence[Palette | None], RandomStream, Sequence[PriorNotes]],
    Iterator[list[Slot]],
]
LAYOUTS_TRIED = 3
"""Layouts that are filled until a line tells enough, or none of them can be filled."""


def tried_again(layout: Layout) -> Layouts:
    """Layouts drawn one after another, whatever was written before."""

    def layouts(
        analysis: Analysis,
        brief: Brief,
        palettes: Sequence[Palette | None],
        rng: RandomStream,
        _priors: Sequence[PriorNotes],
    ) -> Iterator[list[Slot]]:
        return (layout(analysis, brief, palettes, rng) for _ in range(LAYOUTS_TRIED))

    return layouts


def with_phrases(slots: Sequence[Slot], analysis: Analysis, brief: Brief) -> list[Slot]:
    """Mark where phrases end, where players breathe, and the last note."""
    ends = phrase_ends(analysis, brief)
    stops = {start + bar.beats for bar, start in analysis.chart.placed() if bar.number in ends}
    marked = []
    for slot in slots:
        closes = slot.palette is not None and slot.onset + slot.beats in stops
        breath = closes and brief.instrument.breath
        same = (slot.closes, slot.breath) == (closes, breath)
        marked.append(slot if same else slot._replace(closes=closes, breath=breath))
    marked[-1] = marked[-1]._replace(last=marked[-1].palette is not None)
    return marked


def stretches(slots: Sequence[Slot]) -> list[tuple[int, int]]:
    """Where the line sounds without a rest: start and stop indices."""
    edges = [-1, *(n for n, slot in enumerate(slots) if slot.palette is None), len(slots)]
    return [(low + 1, high) for low, high in pairwise(edges) if high > low + 1]


def in_rhythm(
    analysis: Analysis,
    brief: Brief,
    palettes: Sequence[Palette | None],
    rng: RandomStream,
    played: set[int],
    *,
    rests: bool = False,
    whole_rests: bool = False,
    closing: frozenset[int] = frozenset(),
) -> list[Slot]:
    """Slots in a rhythm that varies in the bars that are played, and rests in the others.

    With ``rests`` some of the notes are left out; with ``whole_rests`` a bar that is not
    played is one rest, whatever chords it has. Where a phrase ends, in bars of that number or
    before a rest, the last note is held for a beat.
    """
    slots: list[Slot] = []
    rhythm: list[Fraction] = []
    inside: set[Fraction] = set()
    entry, chord = 0, -1
    stopping = closing | phrase_ends(analysis, brief)
    for piece in pieces(analysis):
        palette = palettes[piece.chord]
        if palette is None or piece.bar.number not in played:
            whole = whole_rests and piece.bar.number not in played
            slots += _silence(piece, whole=whole)
            chord = -1
            continue
        entry, chord = (entry if piece.chord == chord else 0), piece.chord
        at = piece.start - piece.bar_start
        rhythm = filled_in(
            piece.bar.meter, at, piece.beats, brief.level, rng, not_like=rhythm, feel=brief.feel
        )
        stops = piece.end == piece.bar_start + piece.bar.beats
        ends = stops and (piece.bar.number + 1 not in played or piece.bar.number in stopping)
        lengths = held_last(rhythm, piece.bar.meter.tempo_beats) if ends else rhythm
        out = left_out(piece.bar.meter, at, lengths, brief.level, rng) if rests else None
        made = _with_rest(piece, lengths, palette, entry, out)
        inside |= {slot.onset for slot in made if slot.palette is None}
        slots += made
        entry += sum(slot.palette is not None for slot in made)
    marked = with_phrases(slots, analysis, brief)
    for place, (slot, after) in enumerate(pairwise(marked)):
        if slot.palette is not None and after.palette is None and after.onset not in inside:
            marked[place] = slot._replace(closes=True, breath=brief.instrument.breath)
    return marked


def _with_rest(
    piece: Piece, lengths: Sequence[Fraction], palette: Palette, entry: int, out: int | None
) -> list[Slot]:
    """Slots of those lengths, one of them silent."""
    if out is None:
        return list(slots_of(piece, piece.start, lengths, palette, entry))
    at = piece.start + sum(lengths[:out], Fraction(0))
    before = slots_of(piece, piece.start, lengths[:out], palette, entry)
    after = slots_of(piece, at + lengths[out], lengths[out + 1 :], palette, entry + out)
    return [*before, Slot(at, lengths[out], None, True, 0), *after]


def _silence(piece: Piece, *, whole: bool) -> list[Slot]:
    """A rest for a piece; for a ``whole`` bar one rest, whatever chords it has."""
    if not whole:
        return [Slot(piece.start, piece.beats, None, True, 0)]
    first = piece.start == piece.bar_start
    return [Slot(piece.start, piece.bar.beats, None, True, 0)] if first else []


def every_bar(analysis: Analysis) -> set[int]:
    """The numbers of all bars of the form."""
    return {bar.number for bar in analysis.chart.form}
