"""Which notes of a played line lead to another? Approaches and enclosures, by ear alone.

A note that is no tone of its chord is never wrong where it leads on:

- an *approach* goes by a half step, within a beat, to a tone of the chord that sounds then;
  two in a row that go the same way are both approaches;
- an *enclosure* is a note above and one below the chord tone on a beat that follows, each a
  step or a half step away, at least one of them a half step and at least one no chord tone.
  The last may itself be approached;
- a *passing* note stands between two notes a half step away, one above and one below.

Conventions
-----------
- Nothing is asked of scales, so that the same line is read alike whatever scale is chosen.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import StrEnum

from halfstep.harmony.chart_sounds import ChartSounds
from halfstep.harmony.line_over_chords import LineOverChords

_NEAR = 1e-6
_STEP = 2
"""Semitones."""


class Leading(StrEnum):
    """How a note leads to another."""

    NONE = ""
    APPROACH = "approach"
    ENCLOSURE = "enclosure"
    PASSING = "passing"


def leading_notes(laid: LineOverChords, sounds: ChartSounds) -> tuple[Leading, ...]:
    """How each note of a line leads on."""
    reader = _LeadReader(laid, sounds)
    return tuple(reader.leading(note) for note in range(len(laid.line)))


class _LeadReader:
    """Reads a line note by note; what is known of each is worked out once."""

    def __init__(self, laid: LineOverChords, sounds: ChartSounds) -> None:
        self._laid = laid
        self._midis = [note.midi for note in laid.line]
        self._is_tone = list(_tones(laid, sounds))
        self._moves = [self._moves_on(note) for note in range(len(self._midis))]
        self._enclosing = self._all_enclosing()

    def leading(self, note: int) -> Leading:
        if note in self._enclosing:
            return Leading.ENCLOSURE
        if self._is_tone[note]:
            return Leading.NONE
        if self._goal(note) is not None:
            return Leading.APPROACH
        passes = note > 0 and self._moves[note] and self._moves[note] == self._moves[note - 1]
        return Leading.PASSING if passes else Leading.NONE

    def _moves_on(self, note: int) -> int:
        """The half step to the next note, signed; 0 where that is farther, or no beat away."""
        if note + 1 == len(self._midis) or not self._within(note, note + 1, 1):
            return 0
        step = self._midis[note + 1] - self._midis[note]
        return step if abs(step) == 1 else 0

    def _within(self, note: int, goal: int, beats: int) -> bool:
        """True where the goal begins so many beats after the note at most."""
        onsets = self._laid.places.onsets
        return onsets[goal] - onsets[note] <= beats * self._laid.unit_at(note) + _NEAR

    def _goal(self, note: int) -> int | None:
        """The chord tone that a note goes to by one half step, or by two of them."""
        move = self._moves[note]
        if move and self._is_tone[note + 1]:
            return note + 1
        is_double = move and move == self._moves[note + 1] and self._within(note, note + 2, 1)
        return note + 2 if is_double and self._is_tone[note + 2] else None

    def _all_enclosing(self) -> set[int]:
        goals = (goal for goal in range(2, len(self._midis)) if self._is_goal(goal))
        return {note for goal in goals for note in self._around(goal)}

    def _is_goal(self, note: int) -> bool:
        return self._is_tone[note] and self._laid.is_on_beat(note)

    def _around(self, goal: int) -> tuple[int, ...]:
        """The notes of the enclosure of a chord tone; none where it has none."""
        inner = goal - 1
        above = self._midis[inner] - self._midis[goal]
        is_near = 0 < abs(above) <= _STEP and self._within(inner, goal, 1)
        if not is_near or self._is_repeated(goal):
            return ()
        outer = inner - 1
        if outer > 0 and self._goal(outer) == goal:  # the inner note is approached
            outer -= 1
        other = self._midis[outer] - self._midis[goal]
        encloses = above * other < 0 and abs(other) <= _STEP and self._within(outer, goal, 2)
        is_tight = 1 in {abs(above), abs(other)}
        notes = tuple(range(outer, goal))
        return notes if encloses and is_tight and not self._all_tones(notes) else ()

    def _is_repeated(self, goal: int) -> bool:
        return self._midis[goal - 2] == self._midis[goal]

    def _all_tones(self, notes: Sequence[int]) -> bool:
        return all(self._is_tone[note] for note in notes)


def _tones(laid: LineOverChords, sounds: ChartSounds) -> Iterator[bool]:
    """Whether each note is a tone of its chord."""
    for stretch, first, stop in zip(laid.stretches, laid.firsts, laid.firsts[1:], strict=False):
        chord = sounds.chords[stretch.chord]
        for note in laid.line[first:stop]:
            yield chord is not None and note.midi % 12 in chord.tones
