"""In which octave does a player play a given line? Whole where it can be, else by phrases.

The line sounds as it stands where the player has all its notes, else in the nearest octave in
which most of them lie. Where some lie beyond the range even there, the phrases they stand in
are moved, whole; what still lies beyond it is left, and said.

Conventions
-----------
- A phrase ends where nothing sounds for a beat or more.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_words import bars_in_words
from halfstep.harmony.line_over_chords import LineNote
from halfstep.progression.chart import Chart

_NEAREST_FIRST = sorted(range(-6, 7), key=lambda octaves: (abs(octaves), octaves))

Phrase = tuple[LineNote, ...]


@dataclass(frozen=True, slots=True)
class LineInRange:
    """A line in one player's range.

    Attributes
    ----------
    notes : tuple of LineNote
    notices : tuple of str
        What was moved, and what lies beyond the range all the same.
    """

    notes: tuple[LineNote, ...]
    notices: tuple[str, ...]


def line_in_range(notes: Sequence[LineNote], brief: Brief, chart: Chart) -> LineInRange:
    """A line of concert notes where a player has most of them.

    Parameters
    ----------
    notes : sequence of LineNote
        At least one.
    brief : Brief
        Whose range it is.
    chart : Chart
        Whose bars are named.
    """
    whole = _octaves(notes, brief, 0)
    phrases = phrases_of(notes, float(chart.meter.tempo_beats))
    octaves = [_octaves(phrase, brief, whole) for phrase in phrases]
    moved = [_raised(phrase, count) for phrase, count in zip(phrases, octaves, strict=True)]
    others = [phrase for phrase, count in zip(moved, octaves, strict=True) if count != whole]
    line = tuple(note for phrase in moved for note in phrase)
    beyond = [note for note in line if not brief.has(note.midi)]
    return LineInRange(line, tuple(_notices(whole, others, beyond, brief, bar_finder(chart))))


def phrases_of(notes: Sequence[LineNote], beat: float) -> list[Phrase]:
    """A line cut where nothing sounds for a beat or more."""
    cuts = [
        place
        for place, (note, following) in enumerate(pairwise(notes), start=1)
        if following.onset - (note.onset + note.beats) >= beat
    ]
    edges = [0, *cuts, len(notes)]
    return [tuple(notes[first:stop]) for first, stop in pairwise(edges)]


def bar_finder(chart: Chart) -> Callable[[LineNote], int]:
    """Gives the number of the bar in which a note begins; what is before bar 1 is in it."""
    bars = [(start, bar.number) for bar, start in chart.placed() if bar.number >= 1]
    starts = [start for start, _ in bars]
    return lambda note: bars[max(0, bisect_right(starts, note.onset) - 1)][1]


def _octaves(notes: Sequence[LineNote], brief: Brief, usual: int) -> int:
    """How many octaves up most of the notes lie in the range; the nearest to the usual one."""

    def beyond(octaves: int) -> int:
        return sum(not brief.has(note.midi + 12 * octaves) for note in notes)

    return min((usual + octaves for octaves in _NEAREST_FIRST), key=beyond)


def _raised(phrase: Phrase, octaves: int) -> Phrase:
    return tuple(note._replace(midi=note.midi + 12 * octaves) for note in phrase)


def _notices(
    whole: int,
    others: Sequence[Phrase],
    beyond: Sequence[LineNote],
    brief: Brief,
    bar_of: Callable[[LineNote], int],
) -> Iterator[str]:
    """What the teacher should know of a line that was moved."""
    if whole:
        side = "higher" if whole > 0 else "lower"
        many = "an octave" if abs(whole) == 1 else f"{abs(whole)} octaves"
        yield f"sounds {many} {side} than the line itself"
    if others:
        bars = bars_in_words(bar_of(note) for phrase in others for note in phrase)
        yield f"the phrase in {bars} is moved by octaves: the whole is too wide for the range"
    if beyond:
        bars = bars_in_words(map(bar_of, beyond))
        notes, verb = ("notes", "lie") if len(beyond) > 1 else ("note", "lies")
        yield f"{len(beyond)} {notes} in {bars} {verb} beyond the range of the level, {brief.level}"
