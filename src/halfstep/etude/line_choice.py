"""Which of the lines that are drawn tells its chords? The first that does so enough.

A line drawn by chance lies near the best one in its costs, and over a few bars of one key
it may still keep to the notes that all the chords share. So it is measured as a listener's
program would (`halfstep.harmony.line_figures`) and drawn again; where none suffices the best
one stands. The shorter the line, the more chance has to do with it, and the more are drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache, partial

from halfstep.etude.prior_notes import (
    IN_VAIN,
    Line,
    Note,
    PriorNotes,
    never_thrice,
    place_of,
)
from halfstep.etude.slots import Slot
from halfstep.harmony.line_figures import whole_figures
from halfstep.harmony.line_over_chords import LineNote
from halfstep.progression.chart import Chart

MOST_DRAWN = 1000
"""Notes and rests that are drawn in all: a bound on the work, not on the time."""
KNOWN = 16
"""Lines whose outline is known: those of one search."""
Told = Callable[[Sequence[int | None]], float | None]
"""The relative outline of a line; None where it cannot be said."""


def best_drawn(
    least: float | None,
    draw: Callable[[Sequence[PriorNotes]], Line],
    redraw: Callable[[Line, Sequence[PriorNotes]], Line],
    slots: Sequence[Slot],
    chart: Chart,
    told: Told,
) -> Line:
    """A line that tells enough, if that is asked, and has no bar three times.

    Parameters
    ----------
    least : float or None
        The relative outline asked for.
    draw : function
        Returns a concert MIDI number for each slot, None for a rest, unlike the notes it is given.
    redraw : function
        Returns a line with other notes where the last of those it is given stand, the rest as it
        was.
    slots : sequence of Slot
    chart : Chart
    told : function
        Returns the relative outline of a line, as `outline_of_lines` does.
    """

    def tells(line: Line, least: float) -> bool:
        outlined = told(line)
        return outlined is None or outlined >= least

    def telling(priors: Sequence[PriorNotes]) -> Line:
        if least is None:
            return draw(priors)
        return first_that_tells(least, partial(draw, priors), told)

    def unlike(line: Line, priors: Sequence[PriorNotes]) -> Line:
        other = redraw(line, priors)
        if least is None or tells(other, min(least, told(line) or least)):
            return other
        return line

    places = [place_of(slot) for slot in slots]

    def sounds(line: Line) -> list[Note]:
        pairs = zip(places, line, strict=True)
        return [(*place, midi) for place, midi in pairs if midi is not None]

    first = telling(())
    bars = [start for _, start in chart.placed()]
    in_vain = IN_VAIN if least is None or tells(first, least) else 1  # another layout is next
    return never_thrice(first, telling, unlike, sounds, bars, in_vain)


def first_that_tells(least: float, draw: Callable[[], Line], told: Told) -> Line:
    """The first drawn line whose relative outline is ``least`` or more, or the best one.

    Parameters
    ----------
    least : float
    draw : function
        Returns a concert MIDI number for each slot, None for a rest.
    told : function
        Returns the relative outline of a line.
    """
    line = draw()
    outlined = told(line)
    for _ in range(MOST_DRAWN // len(line) - 1):
        if outlined is None or outlined >= least:
            break
        other = draw()
        now = told(other)
        if now is not None and now > outlined:
            line, outlined = other, now
    return line


def outline_of_lines(slots: Sequence[Slot], chart: Chart) -> Told:
    """What lines in these slots tell: of the last few it is known, however often it is asked."""
    known = lru_cache(KNOWN)(lambda line: relative_outline(slots, line, chart))
    return lambda line: known(tuple(line))


def relative_outline(
    slots: Sequence[Slot], line: Sequence[int | None], chart: Chart
) -> float | None:
    """How well a line tells the chords, over the plain arpeggio; None where it cannot be said."""
    notes = [
        LineNote(slot.onset, slot.beats, midi)
        for slot, midi in zip(slots, line, strict=True)
        if midi is not None
    ]
    if not notes or len(slots) > MOST_DRAWN:
        return None
    return whole_figures(notes, chart).relative
