"""Shell voicings: third and seventh by the nearest way, with the root on a guitar.

Beginners hold a voicing as long as its chord lasts in the bar; the others strike it in a figure
of the rhythm section. A player of one note has the shell broken into its two notes, up over one
chord and down over the next, and is told so.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise, repeat

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import EtudeLine, Notice
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.layouts import LAYOUTS_TRIED, with_phrases
from halfstep.etude.palette import Palette
from halfstep.etude.prior_notes import PriorNotes
from halfstep.etude.rules import IN_SCALE, LineRule, sounding
from halfstep.etude.sentences import PartLine, smallest_change
from halfstep.etude.slots import Piece, Slot, closes_phrase, phrase_ends, pieces, slots_of
from halfstep.etude.step import NoteByNote, Step
from halfstep.etude.vocabulary.voicing_line import (
    FIFTH,
    Voicing,
    has_root,
    lies_under_hand,
    shell_classes,
    upper_moves,
    voicing_line,
)
from halfstep.harmony.analysis import Analysis
from halfstep.instruments import Striking
from halfstep.level import Level
from halfstep.meter import EIGHTH
from halfstep.random_stream import RandomStream
from halfstep.wording import joined_by_and

Strike = tuple[Fraction, bool]
"""A length, and whether it sounds."""
_Q, _H = Fraction(1), Fraction(2)
FIGURES: tuple[tuple[Strike, ...], ...] = (
    ((3 * EIGHTH, True), (EIGHTH, True), (_H, False)),
    ((_Q, False), (_Q, True), (_Q, False), (_Q, True)),
    ((_Q, True), (EIGHTH, False), (5 * EIGHTH, True)),
    ((EIGHTH, False), (3 * EIGHTH, True), (EIGHTH, False), (3 * EIGHTH, True)),
)
"""Strikes of a chord that has a bar of four quarters: on 1 and the "and" of 2, on 2 and 4, …"""


def layouts(
    analysis: Analysis,
    brief: Brief,
    palettes: Sequence[Palette | None],
    rng: RandomStream,
    _priors: Sequence[PriorNotes],
) -> Iterator[list[Slot]]:
    """Every voicing, pinned, in its rhythm."""
    cut, ends = pieces(analysis), phrase_ends(analysis, brief)
    line = voicing_line(analysis, brief, cut, rng)
    slots: list[Slot] = []
    rises = True
    for place, (piece, voicing) in enumerate(zip(cut, line, strict=True)):
        palette = palettes[piece.chord]
        if palette is None or voicing is None:
            slots.append(Slot(piece.start, piece.beats, None, True, 0))
        elif brief.instrument.striking is Striking.ONE_NOTE:
            broken = _broken(piece, palette, voicing, rises=rises)
            rises = rises != (len(broken) > 1)  # from its end to the next voicing's is nearest
            slots += broken
        else:
            held = closes_phrase(piece, ends) or brief.level is Level.BEGINNER
            figure = ((piece.beats, True),) if held else _figure(piece, brief, place)
            slots += _struck(piece, palette, voicing, figure)
    return repeat(with_phrases(slots, analysis, brief), LAYOUTS_TRIED)


def _figure(piece: Piece, brief: Brief, place: int) -> tuple[Strike, ...]:
    """How a chord is struck: held, but for one that has a bar of four quarters."""
    if piece.beats != 4 or piece.bar.meter.unit != 4:
        return ((piece.beats, True),)
    turn = place if brief.level is Level.ADVANCED else 0
    return FIGURES[(brief.seed + turn) % len(FIGURES)]


def _struck(
    piece: Piece, palette: Palette, voicing: Voicing, figure: Sequence[Strike]
) -> Iterator[Slot]:
    """The voicing at each strike, and rests between."""
    at = piece.start
    entry = 0 if figure[0][1] else 1
    for length, sounds in figure:
        if sounds:
            (slot,) = slots_of(piece, at, [length], palette, entry)
            yield slot._replace(pin=voicing[-1], below=voicing[-2::-1])
            entry += 1
        else:
            yield Slot(at, length, None, True, 0)
        at += length


def _broken(piece: Piece, palette: Palette, voicing: Voicing, *, rises: bool) -> list[Slot]:
    """One note of the voicing after the other; the last of them where there is time for one."""
    notes = voicing if rises else voicing[::-1]
    notes = notes if piece.beats >= 2 else notes[:1]
    beat = _Q if piece.beats < 2 * len(notes) else _H
    lengths = [*[beat] * (len(notes) - 1), piece.beats - beat * (len(notes) - 1)]
    slots = slots_of(piece, piece.start, lengths, palette, 0)
    return [slot._replace(pin=midi) for slot, midi in zip(slots, notes, strict=True)]


def _voicings(etude: EtudeLine) -> list[tuple[EtudeNote, Voicing]]:
    """What sounds at once, the lowest note first."""
    return [
        (note, (*(head.midi for head in reversed(note.below)), pitch.midi))
        for note, pitch in sounding(etude)
    ]


def only_shells(etude: EtudeLine) -> Iterator[EtudeNote]:
    """Third and seventh or what stands for them, both of them where chords are struck."""
    chords, brief = etude.analysis.chords, etude.brief
    for note, voicing in _voicings(etude):
        chord = chords[note.chord]
        wanted = set(shell_classes(chord))
        if has_root(brief):
            wanted.add(chord.span.symbol.root.pitch_class)
        classes = {midi % 12 for midi in voicing}
        whole = brief.instrument.striking is Striking.ONE_NOTE or classes == wanted
        if not classes <= wanted or not whole:
            yield note


def under_hand(etude: EtudeLine) -> Iterator[EtudeNote]:
    """Every voicing is played without moving the hand."""
    if etude.brief.instrument.striking is not Striking.ONE_NOTE:
        for note, voicing in _voicings(etude):
            if len(voicing) < 2 or not lies_under_hand(voicing, etude.brief):
                yield note


def led_smoothly(etude: EtudeLine) -> Iterator[EtudeNote]:
    """No upper voice moves further than a fifth."""
    silent = [chord.silent for chord in etude.analysis.chords]
    for (old, one), (new, other) in pairwise(_voicings(etude)):
        joined = not any(silent[old.chord : new.chord + 1])
        if joined and min(len(one), len(other)) > 1 and max(upper_moves(one, other)) > FIFTH:
            yield new


def notices(analysis: Analysis, brief: Brief, _notes: Sequence[EtudeNote]) -> tuple[Notice, ...]:
    """That a player of one note has the shells broken."""
    first = next(n for n, chord in enumerate(analysis.chords) if not chord.silent)
    if brief.instrument.striking is not Striking.ONE_NOTE:
        return ()
    return (
        Notice(first, "you play one note at a time, so the shells are broken into their notes"),
    )


def first_voicings(line: PartLine) -> str:
    """The notes of the first voicings, from the lowest up."""
    texts = []
    for notes in line.by_chord()[:3]:
        heads = [*reversed(line.part.below(notes[0])), line.part.pitch(notes[0])]
        names = " ".join(str(head) for head in heads)
        texts.append(f"{names} for {line.part.symbol(notes[0].chord)}")
    return f"The first are {joined_by_and(texts)}."


def moves_least(line: PartLine) -> str:
    """The smallest move of the upper voice."""
    return smallest_change(line, "Keep your hand still: in {place} {move} over {chord}.")


STEP = Step(
    name="shell-voicings",
    title="Shell voicings",
    task="Third and seventh of each chord, and to the nearest ones of the next. "
    "Say which of the two notes moves.",
    writing=NoteByNote(layouts=layouts, costs=(), redrawn=False, notices=notices),
    rules=(
        IN_SCALE,
        LineRule("only the third and the seventh, or what stands for them", only_shells),
        LineRule("every voicing lies under the hand", under_hand),
        LineRule("no upper voice moves further than a fifth", led_smoothly),
    ),
    sentences=(first_voicings, moves_least),
    in_chords=True,
)
