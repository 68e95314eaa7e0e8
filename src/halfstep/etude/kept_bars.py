"""How are a line's notes kept while the rest is written around them?

Pinned notes fill whole bars; a note that is tied into one of those bars, or out of it,
stands with all its length. Their slots hold one note each, and no rule is asked of
them. Where a window reaches from them into the new notes, a broken rule is a high cost
instead of a ban: the joint keeps every rule that it can, and never fails.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np

from halfstep.errors import BriefError
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.palette import Palette
from halfstep.etude.slots import FIRST_AROUND, Leads, Piece, Slot, is_strong, pieces
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.note_likelihoods import weight_at

JOINT = 30.0
"""What a rule costs that a window with some pinned notes breaks; far above all else."""
Bound = tuple[Fraction, Fraction]


def pinned_bars(analysis: Analysis, pinned: Sequence[EtudeNote]) -> list[Bound]:
    """Start and end of what stands: bars, and beside them what is tied to their notes.

    Raises
    ------
    BriefError
        When the notes do not fill whole bars of the form.
    """
    bars = [(bar, start) for bar, start in analysis.chart.placed() if bar.number >= 1]
    starts, total = [start for _, start in bars], analysis.chart.beats
    lines = {*starts, total}
    bounds: list[Bound] = []
    for run in _runs(pinned):
        low, high = run[0].onset, run[-1].end
        if not 0 <= low <= run[-1].onset < total:
            outside = low if low < 0 else run[-1].onset
            raise BriefError(f"the notes kept at beat {outside} lie outside the chart")
        for note, edge in ((run[0], low), (run[-1], high)):
            bar, start = bars[bisect_right(starts, note.onset) - 1]
            tied = start + bar.beats < note.end <= total
            if not (edge in lines or tied) or (bounds and low < bounds[-1][1]):
                raise BriefError(f"the notes kept in bar {bar.number} do not fill it")
        bounds.append((low, high))
    return bounds


def _runs(pinned: Sequence[EtudeNote]) -> list[list[EtudeNote]]:
    """The notes in order, cut where one does not begin as the one before ends."""
    runs: list[list[EtudeNote]] = []
    for note in sorted(pinned, key=lambda note: note.onset):
        if runs and runs[-1][-1].end == note.onset:
            runs[-1].append(note)
        else:
            runs.append([note])
    return runs


def slots_with_pins(
    slots: Sequence[Slot], analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None]
) -> list[Slot]:
    """The slots of a line, with those of the bars that stand in place of their own."""
    if not brief.pinned:
        return list(slots)
    bars = pinned_bars(analysis, brief.pinned)
    free = [part for slot in slots for part in outside_bars(slot, bars)]
    standing = standing_slots(slots, analysis, brief, palettes)
    return _eased(_entered(sorted([*free, *standing], key=lambda slot: slot.onset)), brief)


def outside_bars(slot: Slot, bars: Sequence[Bound]) -> list[Slot]:
    """The slot where it lies outside the bars that stand: all, none, or parts of it."""
    parts = [(slot.onset, slot.onset + slot.beats)]
    for start, end in bars:
        cut = [(low, min(high, start)) for low, high in parts]
        cut += [(max(low, end), high) for low, high in parts]
        parts = [(low, high) for low, high in cut if low < high]
    return [slot._replace(onset=low, beats=high - low) for low, high in sorted(set(parts))]


def standing_slots(
    slots: Sequence[Slot], analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None]
) -> list[Slot]:
    """A slot with one choice for every pinned note.

    Where the layout has a note of that length it keeps what it was marked with.
    """
    cut = pieces(analysis)
    starts = [piece.start for piece in cut]
    closing = {slot.onset + slot.beats for slot in slots if slot.closes}
    last = max(slot.onset + slot.beats for slot in slots)
    laid_out = {(slot.onset, slot.beats): slot for slot in slots if slot.palette}
    made = []
    for note in brief.pinned:
        place = bisect_right(starts, note.onset) - 1
        slot = _slot(note, cut[place], _chord_of(note, cut[place : place + 2], palettes))
        if slot.palette and (layout_slot := laid_out.get((note.onset, note.beats))):
            slot = slot._replace(
                motif=layout_slot.motif,
                leads=layout_slot.leads,
                turn=layout_slot.turn,
            )
        sounds = slot.palette is not None
        closes = sounds and note.end in closing
        made.append(slot._replace(closes=closes, last=sounds and note.end == last))
    return made


def _chord_of(
    note: EtudeNote, cut: Sequence[Piece], palettes: Sequence[Palette | None]
) -> Palette | None:
    """The chord that a note begins in, or the next one where it comes early to that.

    It does where it is held into it at least as long as before it, and belongs there.
    """
    palette = palettes[cut[0].chord]
    if len(cut) == 1 or note.pitch is None:
        return palette
    early, following = cut[1].start - note.onset, palettes[cut[1].chord]
    belongs = following is not None and bool(following.scale[note.pitch.midi])
    return following if belongs and early <= note.end - cut[1].start else palette


def _slot(note: EtudeNote, piece: Piece, palette: Palette | None) -> Slot:
    if note.pitch is None:
        return Slot(note.onset, note.beats, None, True, 0, stands=True)
    first = note.onset == piece.start
    return Slot(
        note.onset,
        note.beats,
        palette or _anything(piece),
        is_strong(piece, note.onset, first=first),
        0 if first else 2,
        breath=note.breath,
        weight=weight_at(piece.bar.meter, float(note.onset - piece.bar_start)),
        pin=note.pitch.midi,
        stands=True,
    )


def _anything(piece: Piece) -> Palette:
    """For notes that the teacher plays where there is no chord: all are as good."""
    every, none, rank = np.ones(128, bool), np.zeros(128, bool), np.arange(128)
    flags = (every, every, every, every, none, none, every, every)
    nothing = np.zeros((3, 128))
    return Palette(
        piece.chord, "N.C.", {}, {}, *flags, nothing, nothing, rank, rank, 0, piece.beats,
        ("N.C.", piece.beats),
    )  # fmt: skip


def _entered(slots: Sequence[Slot]) -> list[Slot]:
    """Each note with its number in its chord, counted again."""
    counted: list[Slot] = []
    entry, now = 0, -1
    for slot in slots:
        if slot.palette is not None:
            entry = entry + 1 if slot.palette.chord == now else 0
            now = slot.palette.chord
            slot = slot._replace(entry=entry)
        counted.append(slot)
    return counted


def _eased(slots: Sequence[Slot], brief: Brief) -> list[Slot]:
    """New notes before a rest that stands lead nowhere, and end a phrase."""
    eased = list(slots)
    for place, (slot, following) in enumerate(pairwise(slots)):
        if following.stands and following.palette is None and slot.palette and not slot.stands:
            breath = brief.instrument.breath
            eased[place] = slot._replace(leads=Leads.NOT, closes=True, breath=breath)
            if place and eased[place - 1].leads in FIRST_AROUND:
                eased[place - 1] = eased[place - 1]._replace(leads=Leads.NOT)
    return eased
