"""How far does each ending of a score reach, and which time is it for?

Programs write brackets that stop before their repeat sign, and second endings that are
numbered 1 again; a player reads both from what stands beside them.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from halfstep.progression.sheet import Marks


def settled_endings(marks: Sequence[Marks]) -> tuple[tuple[Marks, ...], tuple[str, ...]]:
    """The marks of all bars with endings as a player reads them, and what was guessed.

    - An ending whose bracket stops short of the repeat sign before the next ending reaches
      as far as that sign.
    - An ending after a repeat that names no later time than the one before is for the next.

    Parameters
    ----------
    marks : sequence of Marks
        Bar by bar.

    Examples
    --------
    >>> first = Marks(ending=(1,), ending_stops=True)
    >>> settled, notices = settled_endings([Marks(), first, Marks(backward=2), first])
    >>> [mark.ending_stops for mark in settled], settled[3].ending
    ([False, False, True, True], (2,))
    >>> notices
    ('the ending in bar 2 is read as far as its repeat', 'ending 1 in bar 4 is read as ending 2')
    """
    settled, notices = list(marks), []
    starts = [place for place, mark in enumerate(marks) if mark.ending and not mark.forward]
    for start, following in pairwise(starts):
        stop = _stop(settled, start, following)
        if not settled[following - 1].backward or _opens(settled, start + 1, following):
            continue
        if stop < following - 1:
            settled[stop] = settled[stop]._replace(ending_stops=False)
            settled[following - 1] = settled[following - 1]._replace(ending_stops=True)
            notices.append(f"the ending in bar {start + 1} is read as far as its repeat")
        latest, later = max(settled[start].ending), settled[following].ending
        if max(later) <= latest:
            settled[following] = settled[following]._replace(ending=(latest + 1,))
            read = f"ending {max(later)} in bar {following + 1} is read as ending {latest + 1}"
            notices.append(read)
    return tuple(settled), tuple(notices)


def _stop(marks: Sequence[Marks], start: int, following: int) -> int:
    """Where the bracket stops; before the next ending at the latest."""
    places = range(start, following - 1)
    return next((p for p in places if marks[p].ending_stops or marks[p].backward), following - 1)


def _opens(marks: Sequence[Marks], first: int, end: int) -> bool:
    """True where another passage is repeated in between."""
    return any(mark.forward for mark in marks[first:end]) or any(
        mark.backward for mark in marks[first - 1 : end - 1]
    )
