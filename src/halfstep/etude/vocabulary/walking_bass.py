"""A walking line: a note on every beat, from root to root.

The root stands where its chord begins, a tone of the chord on the strong beats, and the last
note before another chord leads into its root from a half step or a whole step away. A
beginner stays in the scale; the others have half steps from outside as well. Where the root is
not among the player's notes another tone of the chord stands for it, and that is told.

Source: common practice, no source. So do the rhythm sections of solos: the root on beat 1 of a new
chord in 42 of 100 cases at least, and into a root from a half step below in 20, above in 17, from
a whole step above in 11, counted on the bass of 347 solos (tables derived by the authors of the
jazzodata repository, MIT).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from halfstep.etude.costs import Cost, comes_to_rest, of_notes, returning, skipping, turning
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import Notice
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.etude_words import LISTED
from halfstep.etude.layouts import tried_again, with_phrases
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.rhythm_grammar import held_last
from halfstep.etude.rules import (
    CHORD_TONE_ON_STRONG,
    INSIDE,
    WITHIN_OCTAVE,
    LocalRule,
    neighbours,
    palette_at,
)
from halfstep.etude.sentences import EXAMPLES, PartLine, leading_in_words
from halfstep.etude.slots import Leads, Slot, closes_phrase, phrase_ends, pieces, slots_of
from halfstep.etude.step import NoteByNote, Step
from halfstep.etude.vocabulary.pattern_rhythm import on_beats
from halfstep.etude.vocabulary.pattern_words import notice_of_places
from halfstep.harmony.analysis import Analysis
from halfstep.level import Level
from halfstep.random_stream import RandomStream


def layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], _rng: RandomStream
) -> list[Slot]:
    """A note on every beat; the last before another chord leads into it."""
    slots: list[Slot] = []
    ends = phrase_ends(analysis, brief) if brief.instrument.breath else set()
    cut = pieces(analysis)
    entry, chord = 0, -1
    for piece in cut:
        palette = palettes[piece.chord]
        if palette is None:
            slots.append(Slot(piece.start, piece.beats, None, True, 0))
            continue
        entry, chord = (entry if piece.chord == chord else 0), piece.chord
        lengths = on_beats(piece)
        if closes_phrase(piece, ends) or piece is cut[-1]:
            lengths = held_last(lengths, piece.bar.meter.tempo_beats)
        slots += slots_of(piece, piece.start, lengths, palette, entry)
        entry += len(lengths)
    leads = Leads.SCALE_NEIGHBOUR if brief.level is Level.BEGINNER else Leads.NEIGHBOUR
    marked = [
        slot._replace(leads=leads) if leads_into(slot, after) else slot
        for slot, after in pairwise(slots)
    ]
    return with_phrases([*marked, slots[-1]], analysis, brief)


def leads_into(slot: Slot, following: Slot) -> bool:
    """True for the last note of a chord that has others before it."""
    if slot.palette is None or following.palette is None:
        return False
    return following.entry == 0 and slot.entry > 0 and not slot.strong


def root_first(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The root, or a tone of the arpeggio where the player has no root."""
    palette = palette_at(slots[0])
    roots = palette.core & (np.arange(128) % 12 == palette.root_class)
    return (roots if roots.any() else palette.core)[midis[0]]


def moves_on(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """Never the same note."""
    return np.asarray(midis[1] != midis[0])


def _not_two_roots(slots: Sequence[Slot]) -> bool:
    return slots[0].entry > 0 or slots[1].entry > 0


def _begins_chord(slots: Sequence[Slot]) -> bool:
    return slots[0].entry == 0


def _leads(slots: Sequence[Slot]) -> bool:
    return slots[0].leads in {Leads.NEIGHBOUR, Leads.SCALE_NEIGHBOUR}


def into_roots(line: PartLine) -> str:
    """The notes that lead into other chords."""
    leading = [pair for pair in line.joined() if pair[0].approach is not Approach.NONE]
    shown = leading_in_words(line, leading, EXAMPLES)
    return f"The last beat leads on: {shown}." if shown else ""


def roots_in_order(line: PartLine) -> str:
    """The first notes of the chords."""
    names = [line.name(notes[0]) for notes in line.by_chord()][:LISTED]
    return f"Say the roots first: {', '.join(names)} …" if len(names) > 1 else ""


def not_on_root(
    analysis: Analysis, _brief: Brief, notes: Sequence[EtudeNote]
) -> tuple[Notice, ...]:
    """The chords that do not begin on their root."""
    firsts: dict[int, EtudeNote] = {}
    for note in notes:
        if note.pitch:
            firsts.setdefault(note.chord, note)
    places = [n for n, note in firsts.items() if note.degree and note.degree.number != 1]
    lead = "where you have no root, the line begins on another tone of the chord"
    return notice_of_places(lead, analysis, places)


STEP = Step(
    name="walking-bass",
    title="Walking bass",
    task="A note on every beat: the root where a chord begins, and a step into the next root. "
    "Every note as long as the other.",
    writing=NoteByNote(
        layouts=tried_again(layout),
        costs=(
            of_notes(2, skipping, 0.6),
            Cost(1, comes_to_rest, 1.0),
            of_notes(3, turning, 0.3),
            of_notes(3, returning, 1.2),
        ),
        notices=not_on_root,
    ),
    rules=(
        INSIDE,
        CHORD_TONE_ON_STRONG,
        LocalRule("a chord begins on its root", 1, root_first, _begins_chord),
        LocalRule(
            "the last note before a new chord leads into it by a step", 2, neighbours, _leads
        ),
        LocalRule("no note twice, but for one root under two chords", 2, moves_on, _not_two_roots),
        WITHIN_OCTAVE,
    ),
    sentences=(roots_in_order, into_roots),
)
