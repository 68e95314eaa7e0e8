"""A written line as a take is read by it: its notes without rests, around the form."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace

from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.form_places import FormPlaces
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.line_alignment import LoopedLine, align
from halfstep.feedback.open_bars import open_bars
from halfstep.harmony.line_over_chords import LineNote


def sounding_places(line: Sequence[EtudeNote]) -> list[int]:
    """Where in an etude's list its notes stand, rests left out."""
    return [place for place, note in enumerate(line) if note.pitch is not None]


def looped_line(line: Sequence[EtudeNote], form: FormPlaces) -> LoopedLine:
    """A written line around its form; a player who stops goes on where a bar begins.

    Parameters
    ----------
    line : sequence of EtudeNote
    form : FormPlaces
    """
    notes = tuple(
        LineNote(note.onset, note.beats, note.pitch.midi) for note in line if note.pitch is not None
    )
    onsets = [float(note.onset) for note in notes]
    entries = (bisect_left(onsets, start) for start in form.bar_starts)
    return LoopedLine(notes, form.beats, frozenset(entries), open_bars(line, form))


def read_by_line(take: JudgedTake) -> JudgedTake:
    """The take with its notes read by its written line; an improvised one as it is."""
    if not take.line:
        return take
    notes = take.notes[: len(take.notes) - _notes_of_ending(take)]
    heard = [(note.onset, note.midi) for note in notes]
    return replace(take, alignment=align(heard, looped_line(take.line, take.form)))


def _notes_of_ending(take: JudgedTake) -> int:
    """How many of the last notes are the written ending: behind a chorus, and of its pitches."""
    pitches = {note.pitch.midi % 12 for note in take.ending if note.pitch}
    if not pitches or not take.notes:
        return 0
    start = float(take.notes[-1].place) // take.form.beats * take.form.beats
    if start <= 0:
        return 0
    behind = [note for note in take.notes if note.place >= start]
    is_ending = len(behind) <= len(take.ending) and all(n.midi % 12 in pitches for n in behind)
    return len(behind) if is_ending else 0
