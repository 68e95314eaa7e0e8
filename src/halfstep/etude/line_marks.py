"""How are the notes of an edited line spelled and marked? As their chords have them.

Degrees and the first hearing of a changing note are found anew for all of a line. How a note
leads to the next stays as it was written while the two stand as they did; elsewhere a note from
outside the scale leads that goes on by a half step.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.palette import NAMES_OF_SOUND
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.notes_over import concert_name
from halfstep.pitch import Degree, pitch_near

_SOON = Fraction(1)
"""Beats within which a note leads to the next."""


def pitched(note: EtudeNote, midi: int, analysis: Analysis) -> EtudeNote:
    """The note with another pitch, spelled over its chord; over none it has a usual name.

    Of several heads the highest is moved; among the others it takes its place.
    """
    chord, pitch_class = analysis.chords[note.chord], midi % 12
    name = NAMES_OF_SOUND[pitch_class] if chord.silent else concert_name(chord, pitch_class)
    others = [head for head in note.below if head.midi != midi]
    pitch, *below = sorted(
        (pitch_near(name, midi), *others), key=lambda head: head.midi, reverse=True
    )
    return note._replace(pitch=pitch, below=tuple(below), approach=Approach.NONE)


def chord_at(note: EtudeNote, analysis: Analysis) -> int:
    """The chord that a note begins in, or the next where it comes early to that.

    It does where it is held into it at least as long as before it, and belongs there.
    """
    starts = [chord.span.start for chord in analysis.chords]
    place = max(0, bisect_right(starts, note.onset) - 1)
    if note.pitch is None or place + 1 == len(starts) or starts[place + 1] >= note.end:
        return place
    following = analysis.chords[place + 1]
    belongs = not following.silent and note.pitch.midi % 12 in following.scale.pitch_classes
    is_early = starts[place + 1] - note.onset <= note.end - starts[place + 1]
    return place + 1 if belongs and is_early else place


def marked_line(notes: Sequence[EtudeNote], before: EtudeLine) -> tuple[EtudeNote, ...]:
    """The notes of an edited line with their degrees and marks.

    Parameters
    ----------
    notes : sequence of EtudeNote
    before : EtudeLine
        As it stood before the edit.
    """
    analysis = before.analysis
    fresh = _first_hearings(notes, analysis)
    leading = _leading_as_before(notes, before.notes)
    return tuple(
        _with_marks(
            note,
            degree=_degree(note, analysis),
            changing=place in fresh,
            approach=leading.get(place, _approach(notes[place : place + 2], analysis)),
        )
        for place, note in enumerate(notes)
    )


def _with_marks(note: EtudeNote, **marks: Any) -> EtudeNote:
    """The note itself where it has those marks: lines before and after an edit share notes."""
    same = all(getattr(note, name) == mark for name, mark in marks.items())
    return note if same else note._replace(**marks)


def _degree(note: EtudeNote, analysis: Analysis) -> Degree | None:
    """Its place in the scale of its chord; None outside it."""
    chord = analysis.chords[note.chord]
    if note.pitch is None or chord.silent:
        return None
    degrees = {n.name.pitch_class: n.degree for n in chord.scale.notes}
    return degrees.get(note.pitch.midi % 12)


def _in_scale(note: EtudeNote, analysis: Analysis) -> bool:
    chord = analysis.chords[note.chord]
    classes = () if chord.silent else chord.scale.pitch_classes
    return note.pitch is not None and note.pitch.midi % 12 in classes


def _first_hearings(notes: Sequence[EtudeNote], analysis: Analysis) -> set[int]:
    """The places of the notes in which a changing note is first heard in its chord."""
    first: dict[tuple[int, int], int] = {}
    for place, note in enumerate(notes):
        change = analysis.changing_into(note.chord) if note.pitch and note.chord else None
        new = {name.pitch_class for name in change.changing_notes} if change else set()
        if note.pitch and note.pitch.midi % 12 in new and _in_scale(note, analysis):
            first.setdefault((note.chord, note.pitch.midi % 12), place)
    return set(first.values())


def _leading_as_before(
    notes: Sequence[EtudeNote], before: Sequence[EtudeNote]
) -> dict[int, Approach]:
    """How the notes lead that stood before beside the same next one, by their places."""
    stood = {_look(pair): pair[0].approach for pair in _with_next(before)}
    pairs = enumerate(map(_look, _with_next(notes)))
    return {place: stood[look] for place, look in pairs if look in stood}


def _with_next(notes: Sequence[EtudeNote]) -> Iterator[Sequence[EtudeNote]]:
    return (notes[place : place + 2] for place in range(len(notes)))


def _look(notes: Sequence[EtudeNote]) -> tuple[object, ...]:
    return tuple((note.onset, note.beats, note.pitch) for note in notes)


def _approach(notes: Sequence[EtudeNote], analysis: Analysis) -> Approach:
    """A note from outside the scale leads where the next is a half step away, within a beat."""
    if len(notes) < 2 or _in_scale(notes[0], analysis):
        return Approach.NONE
    note, goal = notes[0].pitch, notes[1].pitch
    is_near = note is not None and goal is not None and abs(note.midi - goal.midi) == 1
    return Approach.CHROMATIC if is_near and notes[0].beats <= _SOON else Approach.NONE
