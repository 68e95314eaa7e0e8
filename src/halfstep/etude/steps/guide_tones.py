"""Guide tones by nearest voice leading, in long notes and then decorated.

The line of guide tones is found first, then pinned. A beginner plays it as it is. Others
hold each guide tone for half of its chord's stay in the bar, and fill the rest with notes
that lead by step into the next; the advanced come to some of them an eighth early.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from functools import cache
from itertools import pairwise

import numpy as np

from halfstep.etude.costs import Cost, of_notes, pauses, returning, skipping, tells
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import LISTED
from halfstep.etude.guide_line import GuideLine, is_step_away
from halfstep.etude.guide_ways import GuideWay, followers_of, guides_of
from halfstep.etude.layouts import with_phrases
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.prior_notes import PriorNotes
from halfstep.etude.rules import IN_SCALE, SIXTH, LineRule, LocalRule, palette_at, sounding
from halfstep.etude.sentences import PartLine, breaths, move_in_words, size_of_move
from halfstep.etude.slots import Piece, Slot, closes_phrase, phrase_ends, pieces, slots_of
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import AnalysedChord, Analysis
from halfstep.harmony.note_likelihoods import Weight
from halfstep.level import Level
from halfstep.meter import EIGHTH
from halfstep.random_stream import RandomStream

LONG = 0
"""The motif of a slot that holds a guide tone."""
SHORT = (4.0, 3.0, 2.0, 1.0, 0.5, 0.0, -0.3, -0.6, -2.0)
"""Nats that a line may seem to tell too little, the freest first: small steps leave choice."""
PLAIN_SHORT = 0.25
"""The most where nothing is added to the guide tones."""
EARLY_SHARE = 0.35
"""Of the chords that an eighth leads into, how many an advanced player comes to early."""
TRIED, TRIED_PLAIN, MOST_IN_VAIN = 6, 2, 3
"""Lines for each of them, where nothing is added that may tell more or less two; and after how many
of them that no line keeps it is given up."""


def layouts(
    analysis: Analysis,
    brief: Brief,
    palettes: Sequence[Palette | None],
    rng: RandomStream,
    priors: Sequence[PriorNotes],
) -> Iterator[list[Slot]]:
    """A guide tone for each chord in each bar, pinned, and eighths that lead on.

    Unlike prior notes, and to be tried one after another until a line tells its chords.
    """
    cut = pieces(analysis)
    ends = phrase_ends(analysis, brief)
    line = GuideLine(analysis, brief, palettes, ends, priors)
    plain = brief.level is Level.BEGINNER
    most, tried = (PLAIN_SHORT, TRIED_PLAIN) if plain else (max(SHORT), TRIED)
    vain = 0
    for short in dict.fromkeys(min(least, most) for least in SHORT):
        enough = 0
        for _ in range(tried):
            drawn = line.drawn(rng, short)
            enough += drawn.telling_nats >= -short
            slots = _slots(cut, drawn.ways, palettes, ends, brief)
            if brief.level is Level.ADVANCED:
                slots = with_early_guides(slots, rng)
            yield with_phrases(slots, analysis, brief)
        vain = 0 if enough else vain + 1
        if vain == MOST_IN_VAIN:
            return


def _slots(
    cut: Sequence[Piece],
    line: Sequence[GuideWay | None],
    palettes: Sequence[Palette | None],
    ends: set[int],
    brief: Brief,
) -> list[Slot]:
    slots: list[Slot] = []
    entry, chord = 0, -1
    for before, piece, way in zip([cut[0], *cut], cut, line, strict=False):
        palette = palettes[piece.chord]
        if palette is None or way is None:
            slots.append(Slot(piece.start, piece.beats, None, True, 0))
            continue
        entry, chord = (entry if piece.chord == chord else 0), piece.chord
        if brief.level is Level.BEGINNER and _goes_on(way, slots, piece, before, ends):
            slots[-1] = slots[-1]._replace(beats=slots[-1].beats + piece.beats)
            continue
        made = list(slots_of(piece, piece.start, way.lengths, palette, entry))
        for place, tone in enumerate(way.tones):
            made[place] = made[place]._replace(pin=tone, motif=LONG)
        slots += made
        entry += len(made)
    return slots


def with_early_guides(slots: Sequence[Slot], rng: RandomStream) -> list[Slot]:
    """Some guide tones of new chords in place of the eighth that would have led into them."""
    laid: list[Slot] = []
    for slot in slots:
        before = laid[-1] if laid else None
        free = before is not None and before.palette and before.pin is None
        early = free and slot.motif == LONG and slot.entry == 0 and slot.weight is not Weight.OFF
        if before and early and before.beats == EIGHTH and rng.random() < EARLY_SHARE:
            laid[-1] = slot._replace(
                onset=before.onset, beats=before.beats + slot.beats, weight=Weight.OFF
            )
        else:
            laid.append(slot)
    return laid


def _goes_on(
    way: GuideWay, slots: Sequence[Slot], piece: Piece, before: Piece, ends: set[int]
) -> bool:
    """True where the tone of the bar before is held."""
    same = piece.start > before.start and piece.chord == before.chord
    return same and not closes_phrase(before, ends) and way.tones == (slots[-1].pin,)


def leads_in(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A half step or a whole step into the next guide tone."""
    return is_step_away(midis[1] - midis[0])


def decorates(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """No more than a sixth, and never the same note."""
    size = np.abs(midis[1] - midis[0])
    return np.asarray((size >= 1) & (size <= SIXTH))


def is_guide(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A third or seventh, or what stands for them; later also what may follow them."""
    palette = palette_at(slots[0])
    allowed = np.zeros(len(palette.guide), bool)
    allowed[followers_of(palette) if slots[0].entry else guides_of(palette)] = True
    return allowed[midis[0]]


def comes_early(
    onset: Fraction, beats: Fraction, chord: int, starts: Mapping[Fraction, Piece]
) -> bool:
    """True for a guide tone that is struck an eighth before its chord, which starts there."""
    piece = starts.get(onset + EIGHTH) if beats > EIGHTH else None
    return piece is not None and piece.chord == chord


def _guides_heard(etude: EtudeLine) -> Iterator[tuple[EtudeNote, int]]:
    """The long notes: all of a beginner's, else where a chord, a bar begins or a phrase ends."""
    cut, ends = pieces(etude.analysis), phrase_ends(etude.analysis, etude.brief)
    starts = {piece.start: piece for piece in cut}
    stops = {piece.end for piece in cut if piece is cut[-1] or closes_phrase(piece, ends)}
    plain = etude.brief.level is Level.BEGINNER
    for note, pitch in sounding(etude):
        early = comes_early(note.onset, note.beats, note.chord, starts)
        if plain or early or note.onset in starts or note.end in stops:
            yield note, pitch.midi


def _guide_choices(chord: AnalysedChord, midis: Sequence[int]) -> list[int]:
    """The guide tones among those that the player has, or what stands for them."""
    for tones in (chord.guides, chord.core):
        classes = {tone.name.pitch_class for tone in tones}
        if choices := [midi for midi in midis if midi % 12 in classes]:
            return choices
    return []


def _guide_pairs(
    etude: EtudeLine,
) -> Iterator[tuple[tuple[EtudeNote, int], tuple[EtudeNote, int], list[int]]]:
    """Guide tones one after another without a rest between, and the choices for the second."""
    chords, brief = etude.analysis.chords, etude.brief
    midis = [n for n in range(brief.concert_low, brief.concert_high + 1) if brief.has(n)]
    choices = cache(lambda chord: _guide_choices(chords[chord], midis))
    for old, new in pairwise(_guides_heard(etude)):
        if not any(chords[n].silent for n in range(old[0].chord, new[0].chord)):
            yield old, new, choices(new[0].chord)


def by_nearest(etude: EtudeLine) -> Iterator[EtudeNote]:
    """Every chord is entered by the guide tone nearest to the one before."""
    for (last, old), (note, new), choices in _guide_pairs(etude):
        if last.chord != note.chord and any(abs(midi - old) < abs(new - old) for midi in choices):
            yield note


def not_struck_again(etude: EtudeLine) -> Iterator[EtudeNote]:
    """Over one chord a guide tone is held, or the other one follows, if there is one."""
    for (last, old), (note, new), choices in _guide_pairs(etude):
        if last.chord == note.chord and new == old and len({midi % 12 for midi in choices}) > 1:
            yield note


def by_half(etude: EtudeLine) -> Iterator[EtudeNote]:
    """The first note of each chord in each bar takes half of the chord's stay, or more."""
    at = {note.onset: note for note, _ in sounding(etude)}
    for piece in pieces(etude.analysis):
        note = at.get(piece.start)
        if note and note.beats * 2 < piece.beats:
            yield note


def _is_long(slots: Sequence[Slot]) -> bool:
    return slots[0].motif == LONG


def _into_long(slots: Sequence[Slot]) -> bool:
    return slots[0].motif is None and slots[1].motif == LONG


def _from_long_or_between(slots: Sequence[Slot]) -> bool:
    return slots[1].motif is None


def guide_line(line: PartLine) -> str:
    """The guide tones one after another."""
    firsts = [notes[0] for notes in line.by_chord()]
    names = [f"{line.name(note)} ({_number(note)})" for note in firsts[:LISTED]]
    end = " …" if len(firsts) > len(names) else "."
    return f"The thread to hear is {' – '.join(names)}{end}" if len(names) > 1 else ""


def _number(note: EtudeNote) -> str:
    """Which tone of its chord a guide tone is; thirds and sevenths need no sign."""
    degree = note.degree
    return "" if degree is None else str(degree.number if degree.number in {3, 7} else degree)


def guide_step(line: PartLine) -> str:
    """The first guide tone that moves by a half step."""
    firsts = [notes[0] for notes in line.by_chord()]
    for old, new in pairwise(firsts):
        if size_of_move(line, old, new) == 1 and new.chord == old.chord + 1:
            move = move_in_words(line, old, new)
            return f"In {line.place(new)} {move} over {line.part.symbol(new.chord)}: make it heard."
    return ""


STEP = Step(
    name="guide-tones",
    title="Guide tones",
    task="Play the third or the seventh of each chord, then the nearest one of the next chord. "
    "Hold them until you hear the chords move.",
    writing=NoteByNote(
        layouts=layouts,
        costs=(
            of_notes(2, skipping, 0.8),
            Cost(1, tells, 24.0),
            Cost(1, pauses, 1.0),
            of_notes(3, returning, 0.6),
        ),
        redrawn=False,
    ),
    rules=(
        IN_SCALE,
        LocalRule("a chord begins with its third or seventh", 1, is_guide, _is_long),
        LocalRule(
            "the notes between lead by step into the next guide tone", 2, leads_in, _into_long
        ),
        LocalRule(
            "no leap wider than a sixth between guide tones", 2, decorates, _from_long_or_between
        ),
        LineRule("guide tones go to the nearest of the next chord", by_nearest),
        LineRule("over one chord a guide tone is held, or the other one follows", not_struck_again),
        LineRule("a guide tone is held for half of its chord's stay in the bar", by_half),
    ),
    sentences=(guide_line, guide_step, breaths),
    least_outline=1.0,
    beginners_kin=4,
)
