"""Is the whole part an octave off, or read in another transposition? Told once, then read right.

- Against a written line each heard note is held against the written one at its place: the
  semitones between them that most notes share are how the part is off.
- Over chords alone the notes are tried some semitones lower and higher; another transposition
  must be likelier by far, since good players play many notes outside the chord.

Source: the bounds were chosen on written etudes and solos of players; common practice, no
source.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from halfstep.feedback.chart_fit import is_best_bar
from halfstep.feedback.chord_fit import Floats, counted, fitted, has_few_degrees, kinds_laid
from halfstep.feedback.findings import Finding, FindingKind, Unit
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.line_alignment import LoopedLine, apart
from halfstep.feedback.take_note import TakeNote
from halfstep.feedback.written_line import looped_line

FEWEST_NOTES = 8
FEWEST_IMPROVISED = 24
CLEAR_SHARE = 0.5
"""Of the notes that must agree on how far they are off."""
CLEAR_NATS, NATS_A_NOTE = 8.0, 0.1
"""How much likelier the chords must be at another transposition, in all and for each note."""
MISREADINGS = (0, 2, 3, 5, 7, 9, 10)
"""Semitones, octaves aside, between what players of two transpositions read."""
_AT_PLACE = 0.35
"""Beats that a note may lie from the written one it is held against."""


def read_right(take: JudgedTake) -> tuple[JudgedTake, tuple[Finding, ...]]:
    """The take with its pitches as they were meant, and what is told of that."""
    semitones = _off_by(take)
    if not semitones:
        return take, ()
    notes = tuple(replace(note, midi=note.midi - semitones) for note in take.notes)
    return replace(take, notes=notes), (_pitch_finding(take, semitones),)


def _pitch_finding(take: JudgedTake, semitones: int) -> Finding:
    first = take.notes[0]
    is_octave = semitones % 12 == 0
    return Finding(
        kind=FindingKind.OCTAVE if is_octave else FindingKind.TRANSPOSITION,
        fault=not is_octave,
        place=take.place_at(float(first.place)),
        time_s=take.time_s(first.sounded),
        certainty=0.97,
        amount=100.0 * semitones,
        unit=Unit.CENTS,
    )


def _off_by(take: JudgedTake) -> int:
    """How many semitones too high all of it is; 0 where that is not clear."""
    if take.line:
        return _off_by_line(take.notes, looped_line(take.line, take.form))
    return _off_by_chords(take)


# Against a line


def _off_by_line(notes: Sequence[TakeNote], line: LoopedLine) -> int:
    differences = Counter(_differences(notes, line))
    if differences.total() < FEWEST_NOTES:
        return 0
    semitones, count = max(differences.items(), key=lambda item: (item[1], -abs(item[0])))
    return semitones if count >= CLEAR_SHARE * differences.total() else 0


def _differences(notes: Sequence[TakeNote], line: LoopedLine) -> Iterator[int]:
    """Semitones from the written note at its place to each heard one."""
    onsets = [float(note.onset) for note in line.notes]
    for note in notes:
        at = note.onset % line.beats
        right = bisect_left(onsets, at)
        places = {place % len(onsets) for place in (right - 1, right)}
        nearest = min(places, key=lambda place: apart(onsets[place], at, line.beats))
        if apart(onsets[nearest], at, line.beats) <= _AT_PLACE:
            yield note.midi - line.notes[nearest].midi


# Over chords


def _off_by_chords(take: JudgedTake) -> int:
    if len(take.notes) < FEWEST_IMPROVISED or has_few_degrees(take):
        return 0
    counts = counted(kinds_laid(take, [0.0], range(12))[0]).sum(axis=0)

    def best_of(nats: Floats) -> tuple[int, Floats]:
        best = max(MISREADINGS, key=nats.__getitem__)
        return best, counts[best]

    best, nats = fitted(counts, best_of)
    is_clear = nats[best] - nats[0] >= CLEAR_NATS + NATS_A_NOTE * len(take.notes)
    if not is_clear or not is_best_bar(take, best):
        return 0
    return best - 12 if best > 6 else best
