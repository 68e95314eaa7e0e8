"""Which written note is each heard note? The likeliest reading of a take by its etude.

A player leaves notes out, adds some, plays others, goes back, skips, starts again. Every
reading has a cost, and the cheapest of all is found exactly: each heard note is a written
one or an addition; between two that follow each other up to `FARTHEST` written notes may be
left out and `MOST_ADDED` heard ones added, and from any note a player may go to any other,
which costs a jump. The line comes round with the form.

What a note costs goes by its pitch, by the time since the note before it, and, faintly, by
the place where the clock has it, so that of two readings alike in notes the one in time wins.

Conventions: quarter notes from bar 1; pitches are concert MIDI numbers.

Source: alignment by least cost is Needleman and Wunsch's (1970, from memory); the costs are
common practice, no source, and were chosen on made-up playing (`tests/feedback`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfstep.harmony.line_over_chords import LineNote

FARTHEST, MOST_ADDED = 6, 3
"""Steps along the line from one heard note to the next, and heard notes from one that is
written to the next."""
OTHER_PITCH, OTHER_OCTAVE, FARTHER_PITCH = 2.4, 0.7, 0.05
"""For another note, the same in another octave, and for each semitone of a wrong one."""
LEFT_OUT, ADDED = 2.0, 2.0
JUMP, WITHIN_BAR = 6.5, 1.5
"""For going anywhere, and for going to a note that is not the first of a bar."""
NEAR_BEATS, NEAR_SHARE, LATEST = 0.2, 0.08, 3.0
"""How nearly notes follow each other in time, in beats and as a share of the time between
them; and what any other time costs at most."""
IN_TIME_BEATS, OUT_OF_TIME = 0.3, 0.5
"""How near to the clock a note may lie, and what any other place costs at most."""

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class LoopedLine:
    """A written line that comes round.

    Attributes
    ----------
    notes : tuple of LineNote
        Without rests, in order.
    beats : float
        Length of the form.
    entries : frozenset of int
        Notes that begin a bar: where a player who stops goes on.
    """

    notes: tuple[LineNote, ...]
    beats: float
    entries: frozenset[int]


@dataclass(frozen=True, slots=True)
class Match:
    """A heard note that is a written one.

    Attributes
    ----------
    heard : int
        Its place among the heard notes.
    written : int
        Its place in the line.
    chorus : int
        How often the line has come round before it, from 0.
    jumped : bool
        The player did not come to it from the note before it.
    """

    heard: int
    written: int
    chorus: int
    jumped: bool


@dataclass(frozen=True, slots=True)
class Alignment:
    """A take read by its line.

    Attributes
    ----------
    line : LoopedLine
    onsets : tuple of float
        Of the heard notes, in quarter notes.
    matches : tuple of Match
        In order; heard notes without one were added.
    """

    line: LoopedLine
    onsets: tuple[float, ...]
    matches: tuple[Match, ...]

    def meant(self, match: Match) -> float:
        """Where the clock has a written note, in quarter notes."""
        return float(self.line.notes[match.written].onset) + match.chorus * self.line.beats

    def late(self, match: Match) -> float:
        """Quarter notes from there to where it was heard."""
        return self.onsets[match.heard] - self.meant(match)

    @property
    def added(self) -> tuple[int, ...]:
        """Heard notes that are none of the line's."""
        matched = {match.heard for match in self.matches}
        return tuple(place for place in range(len(self.onsets)) if place not in matched)


def align(heard: Sequence[tuple[float, int]], line: LoopedLine) -> Alignment:
    """Read a take by its line.

    Parameters
    ----------
    heard : sequence of (float, int)
        Onset and pitch of each heard note.
    line : LoopedLine
        With at least one note.
    """
    onsets = tuple(onset for onset, _ in heard)
    if not heard:
        return Alignment(line, (), ())
    table = _Table(line, onsets, tuple(midi for _, midi in heard))
    return Alignment(line, onsets, tuple(_in_choruses(table.cheapest(), onsets, line)))


def _in_choruses(
    path: Sequence[tuple[int, int, bool]], onsets: Sequence[float], line: LoopedLine
) -> Iterator[Match]:
    """The notes of a path, each in the pass of the line that it was played in."""
    chorus, before = 0, -1
    for note, written, jumped in path:
        if jumped:
            late = onsets[note] - float(line.notes[written].onset)
            chorus = max(0, round(late / line.beats))
        elif written <= before:
            chorus += 1
        before = written
        yield Match(note, written, chorus, jumped)


_STARTED, _JUMPED = -1, -2
"""Where a note came from that no step of the line led to: from nowhere, or, counted down, by
a jump from a heard note."""


class _Table:
    """The least cost of each heard note as each note of the line."""

    def __init__(self, line: LoopedLine, onsets: Sequence[float], midis: Sequence[int]) -> None:
        notes, self.count = line.notes, len(line.notes)
        self.onsets = np.array(onsets)
        self.places = np.array([float(note.onset) for note in notes])
        self.form = line.beats
        self.pitch_costs = _pitch_costs(midis, [note.midi for note in notes])
        entries = [place in line.entries for place in range(self.count)]
        self.jump_costs = JUMP + np.where(entries, 0.0, WITHIN_BAR)
        steps = np.arange(1, min(FARTHEST, self.count) + 1)
        self.before = (np.arange(self.count) - steps[:, None]) % self.count
        gaps = (self.places - self.places[self.before]) % self.form
        self.gaps = np.where(gaps <= 0, self.form, gaps)
        self.reach = NEAR_BEATS + NEAR_SHARE * np.minimum(self.gaps, 8.0)
        self.left_out = LEFT_OUT * (steps - 1)[:, None]

    def cheapest(self) -> list[tuple[int, int, bool]]:
        """The heard notes that are written ones: which they are, and whether by a jump."""
        total = len(self.onsets)
        costs = np.full((total, self.count), np.inf)
        froms = np.zeros((total, self.count), dtype=np.int64)
        best, best_at = np.inf, -1  # of all readings up to the note before, the rest added
        for place in range(total):
            jump = best + self.jump_costs
            start = np.full(self.count, ADDED * place)
            step, step_from = self._steps(place, costs)
            way = np.where(step <= jump, step_from, _JUMPED - best_at)
            froms[place] = np.where(start < np.minimum(step, jump), _STARTED, way)
            costs[place] = np.minimum(np.minimum(step, jump), start) + self._note_costs(place)
            least = float(costs[place].min())
            best, best_at = (least, place) if least <= best + ADDED else (best + ADDED, best_at)
        return self._path(costs, froms, best_at)

    def _note_costs(self, place: int) -> Floats:
        """What it costs that a heard note is each of the line, whatever came before."""
        away = (self.onsets[place] - self.places + self.form / 2) % self.form - self.form / 2
        untimely: Floats = np.minimum(OUT_OF_TIME, 0.5 * np.square(away / IN_TIME_BEATS))
        costs: Floats = self.pitch_costs[place] + untimely
        return costs

    def _steps(self, place: int, costs: Floats) -> tuple[Floats, Ints]:
        """The cheapest way to each note of the line from one shortly before it, and from which.

        A way is a number: the heard note it comes from times the notes of the line, and that
        note of the line.
        """
        first = max(0, place - MOST_ADDED - 1)
        if first == place:
            return np.full(self.count, np.inf), np.zeros(self.count, dtype=np.int64)
        earlier = np.arange(first, place)
        since = (self.onsets[place] - self.onsets[earlier])[:, None, None]
        early = 0.5 * np.square((since - self.gaps) / self.reach)
        totals = costs[earlier][:, self.before] + np.minimum(early, LATEST) + self.left_out
        totals += (ADDED * (place - 1 - earlier))[:, None, None]
        flat = totals.reshape(-1, self.count)
        choice = flat.argmin(axis=0)
        origin, step = np.divmod(choice, len(self.before))
        columns = np.arange(self.count)
        return flat[choice, columns], earlier[origin] * self.count + self.before[step, columns]

    def _path(self, costs: Floats, froms: Ints, last: int) -> list[tuple[int, int, bool]]:
        path: list[tuple[int, int, bool]] = []
        place, written = last, int(costs[last].argmin())
        while True:
            came_from = int(froms[place, written])
            path.append((place, written, came_from < 0))
            if came_from == _STARTED:
                return path[::-1]
            if came_from <= _JUMPED:
                place = _JUMPED - came_from
                written = int(costs[place].argmin())
            else:
                place, written = divmod(came_from, self.count)


def _pitch_costs(heard: Sequence[int], written: Sequence[int]) -> Floats:
    away = np.abs(np.array(heard)[:, None] - np.array(written))
    wrong = OTHER_PITCH + FARTHER_PITCH * np.minimum(away, 12)
    return np.where(away == 0, 0.0, np.where(away % 12 == 0, OTHER_OCTAVE, wrong))
