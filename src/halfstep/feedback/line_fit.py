"""Is a take one of its written line at all, or of another over the same chords?

A reading of another line jumps about. Where the line leaves bars to the player it hides what
does not fit there besides: it takes the player to be in other bars than the band plays, calls for
answers, and passes over the calls of its own. So who is elsewhere must play what stands there.

Source: the bounds were chosen on takes of lines of twelve steps over charts made up for tests, as
they stand, with answers, slips, jumps and wrong notes, read by their own line and by others of
the same steps. Of lines without open bars others fell short in 264 of 264 pairs; of lines with
them 8 in 360 others pass, and 14 in 2,160 of their own fall short.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from itertools import pairwise

from halfstep.feedback.form_slips import steady_stretches
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.line_alignment import APART_BEATS, Alignment, LoopedLine

LEAST_OF_LINE = 0.5
"""The share of notes that are the written ones, in a take of that line."""
BY_CHANCE, BY_CHANCE_BETWEEN = 2, 3
"""So many notes fit any line wherever a player is taken to have jumped, and are not counted; more
where the line leaves bars to the player."""
_BEFORE = 0.3
"""How far before the next stretch a note must be due to be missing, in quarter notes."""


def fits_line(take: JudgedTake) -> bool:
    """False where a take, read by a line, is of another.

    Octaves aside, and what is played in bars that the line leaves to the player; True where only
    that is played.
    """
    alignment = take.alignment
    if alignment is None:
        return True
    asked = len(alignment.onsets) - len(alignment.own)
    if alignment.own:
        asked = asked and max(asked, _due(alignment))
    return not asked or _right(take, alignment) >= LEAST_OF_LINE * asked


def _right(take: JudgedTake, alignment: Alignment) -> int:
    """How many notes are the written ones, without those that are so by chance."""
    line, matches = alignment.line, alignment.matches
    pairs = ((line.notes[match.written].midi, take.notes[match.heard].midi) for match in matches)
    same = sum((meant - midi) % 12 == 0 for meant, midi in pairs)
    jumps = sum(match.jumped for match in matches[1:])
    return same - (BY_CHANCE_BETWEEN if line.left else BY_CHANCE) * jumps


def _due(alignment: Alignment) -> int:
    """How many written notes there were to play.

    With the band those that were played: who leaves out a call has heard it. Elsewhere all.
    """
    return sum(_due_in_stretches(alignment))


def _due_in_stretches(alignment: Alignment) -> Iterator[int]:
    end = alignment.onsets[-1] + 2 * _BEFORE
    for (late, matches), (_, following) in pairwise([*steady_stretches(alignment), (0.0, [])]):
        until = alignment.onsets[following[0].heard] if following else end
        passed = _notes_before(alignment.line, until - late - _BEFORE)
        passed -= matches[0].chorus * len(alignment.line.notes) + matches[0].written
        yield max(len(matches), passed) if abs(late) > APART_BEATS else len(matches)


def _notes_before(line: LoopedLine, beats: float) -> int:
    """How many notes a line that comes round has before a place."""
    turns, rest = divmod(beats, line.beats)
    return int(turns) * len(line.notes) + bisect_left([float(n.onset) for n in line.notes], rest)
