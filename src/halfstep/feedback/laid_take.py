"""A take as a line over its chords: what the figures of a written line are made from."""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_note import TakeNote
from halfstep.harmony.leading_notes import Leading, leading_notes
from halfstep.harmony.line_over_chords import LineNote, LineOverChords, line_over_chords


@dataclass(frozen=True, slots=True)
class LaidTake:
    """A take laid over its chords, from bar 1 on.

    Attributes
    ----------
    notes : tuple of TakeNote
        Those from bar 1 on, side by side with the notes of `laid`.
    laid : LineOverChords
        On the places that a player counts on; up to the end of the last pass that is begun.
    leading : tuple of Leading
        How each note leads on.
    """

    notes: tuple[TakeNote, ...]
    laid: LineOverChords
    leading: tuple[Leading, ...]


def laid_take(take: JudgedTake) -> LaidTake:
    """Lay a take over its chords."""
    notes = tuple(note for note in take.notes if note.place >= 0)
    line = [LineNote(float(note.place), note.beats, note.midi) for note in notes]
    laid = line_over_chords(line, take.chart, until=_end_of_pass(take, notes))
    return LaidTake(notes, laid, leading_notes(laid, take.analysis))


def _end_of_pass(take: JudgedTake, notes: tuple[TakeNote, ...]) -> float:
    """Where the pass ends that the last note is played in; 0 without notes."""
    passes = take.place_at(float(notes[-1].place)).chorus if notes else 0
    return passes * take.form.beats
