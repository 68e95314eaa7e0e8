"""A written line as a take is read by it: its notes without rests, around the form."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import replace

from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.form_places import FormPlaces
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.line_alignment import Alignment, LoopedLine, align
from halfstep.feedback.take_note import TakeNote
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
    return LoopedLine(notes, form.beats, frozenset(entries))


def read_by_line(take: JudgedTake) -> JudgedTake:
    """The take with its notes read by its written line; an improvised one as it is."""
    if not take.line:
        return take
    notes = take.notes[: len(take.notes) - _notes_of_ending(take)]
    own = frozenset(_own_notes(take, notes))
    places = [place for place in range(len(notes)) if place not in own]
    heard = [(notes[place].onset, notes[place].midi) for place in places]
    read = align(heard, looped_line(take.line, take.form))
    matches = tuple(replace(match, heard=places[match.heard]) for match in read.matches)
    onsets = tuple(note.onset for note in notes)
    return replace(take, alignment=Alignment(read.line, onsets, matches, own))


LEAST_OPEN = 0.3
"""The share of bars without a note from which on a line leaves them to the player, as a call
leaves its answer; fewer are rests of the line."""
_RINGS_OVER = 0.25
"""How far into a bar a note may ring that belongs to the one before, in quarter notes."""
_BEFORE_BAR, _NEAR_NOTE = 0.5, 0.3
"""How early an answer may begin, and how near a written note is for it to be that one."""


def open_bars(line: Sequence[EtudeNote], form: FormPlaces) -> frozenset[int]:
    """Bars of the form, from 1, that a line leaves to the player; none where those are rests."""
    silent = set(range(1, len(form.bar_starts) + 1))
    for note in (note for note in line if note.pitch):
        end = float(note.onset + note.beats) - _RINGS_OVER
        silent -= set(range(form.place_at(float(note.onset)).bar, form.place_at(end).bar + 1))
    return frozenset(silent if len(silent) >= LEAST_OPEN * len(form.bar_starts) else ())


def _own_notes(take: JudgedTake, notes: Sequence[TakeNote]) -> Iterator[int]:
    """The places of notes in open bars, and of those that begin an answer a little early."""
    bars = open_bars(take.line, take.form)
    onsets = [float(note.onset) for note in take.line if note.pitch]
    for place, note in enumerate(notes if bars else ()):
        at = float(note.place)
        in_form = at % take.form.beats
        if take.place_at(at).bar in bars:
            yield place
        elif take.place_at(at + _BEFORE_BAR).bar in bars:
            if min(abs(onset - in_form) for onset in onsets) > _NEAR_NOTE:
                yield place


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
