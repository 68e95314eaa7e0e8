"""Which written note is each heard note? The likeliest reading of a take by its etude.

A player leaves notes out, adds some, plays others, goes back, skips, starts again. Every
reading has a cost, and the cheapest of all is found exactly: each heard note is a written
one or an addition; between two that follow each other up to `FARTHEST` written notes may be
left out and `MOST_ADDED` heard ones added, and from any note a player may go to any other,
which costs a jump, less where it goes back a little: who stumbles begins the bar again. The
line comes round with the form.

What a note costs goes by its pitch, by the time since the note before it, and, faintly, by
the place where the clock has it, so that of two readings alike in notes the one in time wins.
In a line with open bars the place counts only where a player begins or jumps: who is in other
bars than the band plays on there, and answers of his own would cost less.

Bars that the line leaves to the player are counted from the note played last: what is played
there costs little, and hardly anything where it echoes what was played before; but a player who
answers in time goes on with the line, so a line that is not gone on with costs by its notes, and
going on at another time costs more than elsewhere. A quotation in its place is thus an answer,
and a line that is played a few bars late no string of echoes.

Conventions: quarter notes from bar 1; pitches are concert MIDI numbers.

Source: alignment by least cost is Needleman and Wunsch's (1970, from memory); the costs are
common practice, no source, and were chosen on made-up playing (`tests/feedback`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from halfstep.feedback.open_bars import OpenBars
from halfstep.harmony.line_over_chords import LineNote

FARTHEST, MOST_ADDED = 6, 3
"""Steps along the line from one heard note to the next, and heard notes from one that is
written to the next."""
OTHER_PITCH, OTHER_OCTAVE, FARTHER_PITCH = 2.4, 0.7, 0.05
"""For another note, the same in another octave, and for each semitone of a wrong one."""
LEFT_OUT, ADDED = 2.0, 3.0
"""An addition costs more: that it has the pitch of a written note by chance is unlikely."""
OWN, ECHOED, STOPPED = 0.5, 0.2, 1.0
"""For a note of the player's own, for one that echoes the line, and for each written note of a
line with open bars that is not played though its time has come. An echo costs something, so that
a line that is taken up in open bars is taken up there, not where its echo would end."""
MOST_OWN = 32
"""Heard notes from one that is written to the next, in open bars."""
JUMP, BACK, WITHIN_BAR = 6.5, 4.5, 1.5
"""For going anywhere, for going back a little, and for going to a note that is not the first of
a bar."""
BACK_NOTES = 16
"""So many notes of the line, the last one played among them, are a little."""
NEAR_BEATS, NEAR_SHARE, LATEST, LATEST_BETWEEN = 0.2, 0.08, 3.0, 6.0
"""How nearly notes follow each other in time, in beats and as a share of the time between
them; and what any other time costs at most, in lines without open bars and with them."""
IN_TIME_BEATS, OUT_OF_TIME, ELSEWHERE = 0.3, 0.5, 1.0
"""How near to the clock a note may lie; what any other place costs at most, each note in a line
without open bars, and in one with them where the player begins or jumps."""

APART_BEATS = 0.75
"""A player who is so much farther from the clock than a note before is in another place."""

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
_Ways = tuple[Floats, Ints]
"""What it costs to come to each note of the line, and the cheapest way there."""


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
    left : OpenBars or None
        The bars that it leaves to the player, where there are any.
    """

    notes: tuple[LineNote, ...]
    beats: float
    entries: frozenset[int]
    left: OpenBars | None = None


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
        In order; heard notes without one were added, or are the player's own.
    own : frozenset of int
        Places of heard notes in bars that the line leaves to the player.
    """

    line: LoopedLine
    onsets: tuple[float, ...]
    matches: tuple[Match, ...]
    own: frozenset[int] = frozenset()

    def meant(self, match: Match) -> float:
        """Where the clock has a written note, in quarter notes."""
        return float(self.line.notes[match.written].onset) + match.chorus * self.line.beats

    def late(self, match: Match) -> float:
        """Quarter notes from there to where it was heard."""
        return self.onsets[match.heard] - self.meant(match)

    @property
    def added(self) -> tuple[int, ...]:
        """Heard notes that are none of the line's, where that has notes."""
        known = {match.heard for match in self.matches} | self.own
        return tuple(place for place in range(len(self.onsets)) if place not in known)


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
    if line.left and line.left.hold(np.array(onsets)).all():
        return Alignment(line, onsets, (), frozenset(range(len(onsets))))
    table = _Table(line, onsets, tuple(midi for _, midi in heard))
    read = tuple(_in_choruses(table.cheapest(), onsets, line))
    matches = tuple(_unless_own(read, heard, line)) if line.left else read
    return Alignment(line, onsets, matches, _own_notes(onsets, matches, line))


def _unless_own(
    matches: Sequence[Match], heard: Sequence[tuple[float, int]], line: LoopedLine
) -> Iterator[Match]:
    """The matches without notes of an answer that were taken for wrong ones of the line.

    Where a player goes on elsewhere, an answer ends beside the line, and its last note or its
    first may seem to be the nearest one of the line, by its time alone.
    """
    beside, jumped = (None, *matches, None), False
    for before, match, after in zip(beside, matches, beside[2:], strict=False):
        jumped = jumped or match.jumped
        if not _is_own(match, (before, after), heard, line):
            yield replace(match, jumped=jumped)
            jumped = False


def _is_own(
    match: Match,
    beside: tuple[Match | None, Match | None],
    heard: Sequence[tuple[float, int]],
    line: LoopedLine,
) -> bool:
    """True for another pitch than is written, in an open bar for who is where a neighbour is."""
    onset, midi = heard[match.heard]
    if (midi - line.notes[match.written].midi) % 12 == 0 or line.left is None:
        return False
    late = onset - float(line.notes[match.written].onset)
    lates = [heard[m.heard][0] - float(line.notes[m.written].onset) for m in beside if m]
    elsewhere = [other for other in lates if apart(other, late, line.beats) > APART_BEATS]
    return any(line.left.hold(np.array([onset - other])).all() for other in elsewhere)


def apart(first: float, second: float, around: float) -> float:
    """How far two places lie apart in what comes round, all in quarter notes."""
    away = abs(first - second) % around
    return min(away, around - away)


def _own_notes(
    onsets: Sequence[float], matches: Sequence[Match], line: LoopedLine
) -> frozenset[int]:
    """The heard notes in open bars, counted from the written note before or after, or by the clock.

    Who answers and goes on elsewhere may have answered there or here.
    """
    if not line.left:
        return frozenset()
    written = {match.heard: match.written for match in matches}
    places = range(len(onsets))
    forward = list(_lates(onsets, places, written, line, 0.0))
    backward = list(_lates(onsets, places[::-1], written, line, forward[-1]))[::-1]
    return frozenset(
        place
        for place, onset in enumerate(onsets)
        if place not in written
        and line.left.hold(np.array([onset - forward[place], onset - backward[place]])).any()
    )


def _lates(
    onsets: Sequence[float],
    places: Iterable[int],
    written: Mapping[int, int],
    line: LoopedLine,
    late: float,
) -> Iterator[float]:
    """How late the line is at each heard note, by the written one that was passed last."""
    for place in places:
        if place in written:
            late = onsets[place] - float(line.notes[written[place]].onset)
        yield late


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


_NEAR = 1e-6
_STARTED = -1
"""Where a note came from that nothing led to."""


class _Table:
    """The least cost of each heard note as each note of the line.

    A way to a note is a number: the heard note it comes from times the notes of the line, and
    that note of the line; a jump is counted on behind all steps. ``passed`` is what all later
    notes cost as none of the line's, and ``unread`` the same of all so far.
    """

    def __init__(self, line: LoopedLine, onsets: Sequence[float], midis: Sequence[int]) -> None:
        notes, self.count = line.notes, len(line.notes)
        self.left, self.midis = line.left, midis
        self.costs = np.full((len(onsets), self.count), np.inf)
        self.passed, self.unread = np.zeros_like(self.costs), 0.0
        self.farthest = MOST_ADDED + (MOST_OWN if line.left else 0)
        self.latest = LATEST_BETWEEN if line.left else LATEST
        self.clocked, self.out_of_time = (1, ELSEWHERE) if line.left else (0, OUT_OF_TIME)
        self.columns = np.arange(self.count)
        self.onsets = np.array(onsets)
        self.jumps = len(onsets) * self.count
        self.places = np.array([float(note.onset) for note in notes])
        self.form = line.beats
        self.pitch_costs = _pitch_costs(midis, [note.midi for note in notes])
        entries = [place in line.entries for place in range(self.count)]
        self.inside = np.where(entries, 0.0, WITHIN_BAR)
        steps = np.arange(1, min(FARTHEST, self.count) + 1)
        self.steps = steps[:, None]
        self.before = (self.columns - steps[:, None]) % self.count
        behind = np.arange(min(BACK_NOTES, self.count))
        self.behind = (self.columns + behind[:, None]) % self.count
        gaps = (self.places - self.places[self.before]) % self.form
        self.gaps = np.where(gaps <= 0, self.form, gaps)
        self.reach = NEAR_BEATS + NEAR_SHARE * np.minimum(self.gaps, 8.0)
        self.left_out = LEFT_OUT * (steps - 1)[:, None]

    def cheapest(self) -> list[tuple[int, int, bool]]:
        """The heard notes that are written ones: which they are, and whether by a jump."""
        froms = np.zeros_like(self.costs, dtype=np.int64)
        last = _LastNotes(*self._nowhere())
        for place in range(len(self.onsets)):
            behind = self._left_behind(place, last)
            froms[place] = self._come_to(place, last, behind)
            since = self._passing(place, self._places_since(place, last))
            ways = place * self.count + self.columns
            last = last.then(self.costs[place], ways, since, behind)
            self._pass(place)
        return self._path(froms, int(last.ways[self._left_behind(-1, last).argmin()]))

    def _come_to(self, place: int, last: _LastNotes, behind: Floats) -> Ints:
        """The cheapest way to a heard note as each of the line's; its cost is kept.

        ``behind`` is what it costs to leave the line after each last note.
        """
        ways = (self._steps(place), self._jumps(last, behind), self._starts())
        costs = np.stack([cost for cost, _ in ways])
        costs[self.clocked :] += self._untimely(place)
        choice = costs.argmin(axis=0)
        self.costs[place] = costs.min(axis=0) + self.pitch_costs[place]
        cheapest: Ints = np.stack([way for _, way in ways])[choice, self.columns]
        return cheapest

    def _pass(self, place: int) -> None:
        """Count a heard note as none of the line's, behind each that may come before it."""
        earlier = self._earlier(place)
        self.passed[earlier] += self._passing(place, self._places_after(place, earlier))
        self.unread += float(self._passing(place, self.onsets[[place]])[0])

    def _earlier(self, place: int) -> Ints:
        """The heard notes that one may follow."""
        return np.arange(max(0, place - self.farthest - 1), place)

    def _places_after(self, place: int, earlier: Ints) -> Floats:
        """Where in the line a heard note lies, were each earlier one each of the line's."""
        since: Floats = (self.onsets[place] - self.onsets[earlier])[:, None] + self.places
        return since

    def _places_since(self, place: int, last: _LastNotes) -> Floats:
        """The same, counted from where each note of the line was heard last."""
        since: Floats = self.onsets[place] - self.onsets[last.ways // self.count] + self.places
        return since

    def _passing(self, place: int, places: Floats) -> Floats:
        """What it costs that a heard note is none of the line's, at each place in it."""
        if not self.left:
            return np.full(places.shape, ADDED)
        midi = self.midis[place]
        own = np.where(self.left.echo(places, midi), ECHOED, OWN)
        return np.where(self.left.hold(places), own, ADDED)

    def _unplayed(self, places: Floats) -> Floats:
        """How many of the line's notes, last axis, are passed over up to a little before places.

        None count in a line without open bars: there what is heard instead costs enough.
        """
        if not self.left:
            return np.zeros(places.shape)
        turns, rest = np.divmod(places - IN_TIME_BEATS, self.form)
        until = turns * self.count + np.searchsorted(self.places, rest)
        unplayed: Floats = np.maximum(0.0, until - 1 - self.columns)
        return unplayed

    def _left_behind(self, place: int, last: _LastNotes) -> Floats:
        """The cost of each last note, and of not having gone on with the line from there."""
        costs: Floats = last.costs + STOPPED * self._unplayed(self._places_since(place, last))
        return costs

    def _untimely(self, place: int) -> Floats:
        """What it costs that a heard note is each of the line, for its place in time."""
        away = (self.onsets[place] - self.places + self.form / 2) % self.form - self.form / 2
        untimely: Floats = self.out_of_time * np.minimum(1.0, np.square(away / IN_TIME_BEATS))
        return untimely

    def _nowhere(self) -> _Ways:
        """No way to any note."""
        return np.full(self.count, np.inf), np.zeros(self.count, dtype=np.int64)

    def _starts(self) -> _Ways:
        """What it costs that a heard note is the first of the line's."""
        return np.full(self.count, self.unread), np.full(self.count, _STARTED)

    def _jumps(self, last: _LastNotes, costs: Floats) -> _Ways:
        """The cheapest way to each note of the line from one that it does not follow.

        ``costs`` are those of each last note with the line that was not gone on with.
        """
        far = int(costs.argmin())
        behind = costs[self.behind]
        choice = behind.argmin(axis=0)
        near = self.behind[choice, self.columns]
        far_cost, near_cost = costs[far] + JUMP, behind[choice, self.columns] + BACK
        is_near = near_cost < far_cost
        cost: Floats = np.where(is_near, near_cost, far_cost) + self.inside
        return cost, self.jumps + last.ways[np.where(is_near, near, far)]

    def _steps(self, place: int) -> _Ways:
        """The cheapest way to each note of the line from one shortly before it."""
        earlier = self._earlier(place)
        if not len(earlier):
            return self._nowhere()
        since = (self.onsets[place] - self.onsets[earlier])[:, None, None]
        early = 0.5 * np.square((since - self.gaps) / self.reach)
        totals = (self.costs[earlier] + self.passed[earlier])[:, self.before]
        totals += np.minimum(early, self.latest) + self.left_out
        if self.left:
            unplayed = self._unplayed(self._places_after(place, earlier))[:, self.before]
            totals += STOPPED * np.maximum(0.0, unplayed - self.steps)
        flat = totals.reshape(-1, self.count)
        choice = flat.argmin(axis=0)
        origin, step = np.divmod(choice, len(self.before))
        way = earlier[origin] * self.count + self.before[step, self.columns]
        return flat[choice, self.columns], way

    def _path(self, froms: Ints, way: int) -> list[tuple[int, int, bool]]:
        """From the last note of the cheapest reading back to its first."""
        path: list[tuple[int, int, bool]] = []
        while way != _STARTED:
            place, written = divmod(way % self.jumps, self.count)
            way = int(froms[place, written])
            path.append((place, written, way == _STARTED or way >= self.jumps))
        return path[::-1]


@dataclass(frozen=True, slots=True, eq=False)
class _LastNotes:
    """By each note of the line: the least cost of reading all so far with it as the last one.

    Attributes
    ----------
    costs : float array, shape (notes of the line,)
        Whatever was heard since is added, or the player's own.
    ways : int array, shape (notes of the line,)
        Where that note was heard, as a way.
    """

    costs: Floats
    ways: Ints

    def then(self, costs: Floats, ways: Ints, passed: Floats, behind: Floats) -> _LastNotes:
        """After one more heard note, which costs ``passed`` where it is none of the line's.

        ``behind`` is what each last note costs with the line that was not gone on with: it
        counts in each choice, and is not kept, since it grows with time.
        """
        stays, is_new = self.costs + passed, costs <= behind + passed
        return _LastNotes(np.where(is_new, costs, stays), np.where(is_new, ways, self.ways))


def _pitch_costs(heard: Sequence[int], written: Sequence[int]) -> Floats:
    away = np.abs(np.array(heard)[:, None] - np.array(written))
    wrong = OTHER_PITCH + FARTHER_PITCH * np.minimum(away, 12)
    return np.where(away == 0, 0.0, np.where(away % 12 == 0, OTHER_OCTAVE, wrong))
