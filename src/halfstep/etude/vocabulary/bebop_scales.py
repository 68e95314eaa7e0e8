"""Eight notes to the octave, so that a line of steps has a chord tone on every beat.

Four tones of a chord stand on the beats: root, third, fifth, and the seventh where it is minor or
diminished, else the sixth. Between any two neighbours stands one note: that of the chord's
scale, or a half step below the upper one where the scale has none. So the Mixolydian gets the
major seventh beside its minor one, and the major scale the sharp fifth below its sixth. As
every second note is such a tone, a line that goes from note to note and has one on one beat has
one on every beat, whichever way it turns.

Sources: the eight-note scales on a dominant and on a major chord are common practice, no
source; the rule that makes one of any chord is ours, and gives those two.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

import numpy as np

from halfstep.etude.costs import (
    Cost,
    comes_to_rest,
    new_note_first,
    of_notes,
    returning,
    stepwise,
    turning,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.layouts import tried_again, with_phrases
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.rhythm_grammar import beats_of
from halfstep.etude.rules import FIFTH, IN_SCALE, LocalRule, at_change, palette_at
from halfstep.etude.sentences import changes, highest
from halfstep.etude.slots import Slot, closes_phrase, phrase_ends, pieces, slots_of
from halfstep.etude.step import NoteByNote, Step
from halfstep.etude.step_scales import degree_over, scale_of_names
from halfstep.etude.vocabulary.pattern_rhythm import in_eighths
from halfstep.etude.vocabulary.pattern_words import scales_named, where_none_fits
from halfstep.harmony.analysis import AnalysedChord, Analysis
from halfstep.harmony.scales import Mode, Scale
from halfstep.pitch import NATURAL_SEMITONES, Degree, Name
from halfstep.random_stream import RandomStream

EIGHT = 8
ON_BEAT = 0
"""The motif of a slot that begins a beat."""
FLAT_SEVENTHS = (9, 10)
"""Semitones above the root of a seventh that stands on the beat."""
_SIXTH = Degree(6)


def eight_notes_over(_analysis: Analysis, chord: AnalysedChord) -> Scale | None:
    """The scale of eight notes over a chord; None where two tones lie a half step apart."""
    root = chord.span.symbol.root
    tones = beat_tones(chord)
    rises = [_rise(root, tone) for tone in tones]
    if any(high - low < 2 for low, high in pairwise([*rises, 12])):
        return None
    names: list[Name] = []
    for tone, low, high in zip(tones, rises, [*rises[1:], 12], strict=True):
        upper = tones[rises.index(high)] if high < 12 else root
        names += [tone, _between(chord, low, high, upper)]
    degrees = tuple(degree_over(root, name) for name in names)
    return scale_of_names(Mode("bebop", degrees), root, tuple(names), root)


def beat_tones(chord: AnalysedChord) -> tuple[Name, ...]:
    """The four tones that stand on the beats, from the root up."""
    root = chord.span.symbol.root
    scale = {note.degree.simple.number: note.name for note in chord.scale.notes}
    core = {tone.degree.simple.number: tone.name for tone in chord.core}
    third = core.get(3) or core.get(4) or core.get(2) or scale.get(3, root + Degree(3).interval)
    fifth = core.get(5) or min(
        chord.scale.names, key=lambda name: (abs(_rise(root, name) - FIFTH), -_rise(root, name))
    )
    seventh = core.get(7) or (None if 6 in core else scale.get(7))
    if seventh is None or _rise(root, seventh) not in FLAT_SEVENTHS:
        seventh = core.get(6, root + _SIXTH.interval)
    return (root, third, fifth, seventh)


def _rise(root: Name, name: Name) -> int:
    """Semitones from a root up to a note, 0 to 11."""
    return (name.pitch_class - root.pitch_class) % 12


def _between(chord: AnalysedChord, low: int, high: int, upper: Name) -> Name:
    """The note between two tones: of the scale that nearest the middle, or one that leads up."""
    root = chord.span.symbol.root
    inside = [name for name in chord.scale.names if low < _rise(root, name) < high]
    if inside:
        return min(inside, key=lambda name: abs(2 * _rise(root, name) - low - high))
    letter = (upper.letter - 1) % 7
    wanted = upper.pitch_class - 1 - NATURAL_SEMITONES[letter]
    return Name(letter, (wanted + 6) % 12 - 6)


def layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], _rng: RandomStream
) -> list[Slot]:
    """A line of eighths; those that begin a beat are marked."""
    slots: list[Slot] = []
    ends = phrase_ends(analysis, brief)
    entry, chord = 0, -1
    for piece in pieces(analysis):
        palette = palettes[piece.chord]
        if palette is None:
            slots.append(Slot(piece.start, piece.beats, None, True, 0))
            continue
        entry, chord = (entry if piece.chord == chord else 0), piece.chord
        lengths = in_eighths(piece, closes=closes_phrase(piece, ends))
        beats = {piece.bar_start + start for start, _ in beats_of(piece.bar.meter)}
        made = slots_of(piece, piece.start, lengths, palette, entry)
        slots += [s._replace(motif=ON_BEAT) if s.onset in beats else s for s in made]
        entry += len(made)
    return with_phrases(slots, analysis, brief)


@lru_cache(512)
def _rungs(root_class: int, classes: frozenset[int]) -> Midis:
    """For each MIDI number its place in a scale, counted from a root: even for tones of the beat.

    Notes between two of them have the place of the lower one.
    """
    steps = np.isin(np.arange(-12, 128) % 12, list(classes)).cumsum()
    root = int(np.flatnonzero(np.arange(-12, 128) % 12 == root_class)[0])
    return np.asarray(steps[12:] - steps[root])


def rungs_of(palette: Palette) -> Midis:
    """The place in its scale of each MIDI number."""
    return _rungs(palette.root_class, frozenset(palette.names))


def tone_on_beat(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A tone of the beat."""
    return np.asarray(rungs_of(palette_at(slots[0]))[midis[0]] % 2 == 0)


def next_in_scale(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The next note of the scale, up or down."""
    rungs = rungs_of(palette_at(slots[1]))
    return np.asarray(np.abs(rungs[midis[1]] - rungs[midis[0]]) == 1)


def near_across(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """No more than a fifth, and never the same note."""
    size = np.abs(midis[1] - midis[0])
    return np.asarray((size > 0) & (size <= FIFTH))


def _begins_beat(slots: Sequence[Slot]) -> bool:
    return slots[0].motif == ON_BEAT and len(palette_at(slots[0]).names) == EIGHT


def _within_chord(slots: Sequence[Slot]) -> bool:
    return slots[0].palette is slots[1].palette and not slots[0].closes


def _over_border(slots: Sequence[Slot]) -> bool:
    return at_change(slots) or slots[0].closes


STEP = Step(
    name="bebop-scales",
    title="Bebop scales",
    task="Eight notes to the octave, from note to note: a tone of the chord falls on every beat. "
    "Play the notes on the beats alone first.",
    writing=NoteByNote(
        layouts=tried_again(layout),
        costs=(
            of_notes(2, stepwise, 1.0),
            Cost(1, new_note_first, 0.8),
            Cost(1, comes_to_rest, 1.0),
            of_notes(3, turning, 1.6),
            of_notes(3, returning, 1.5),
        ),
        notices=where_none_fits("where no scale of eight notes fits, the line has seven"),
    ),
    rules=(
        IN_SCALE,
        LocalRule("a tone of the chord stands on every beat", 1, tone_on_beat, _begins_beat),
        LocalRule("from note to note of the scale", 2, next_in_scale, _within_chord),
        LocalRule("into a new chord by a fifth or less", 2, near_across, _over_border),
    ),
    sentences=(scales_named, changes, highest),
    scale_over=eight_notes_over,
)
