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
    Place,
    PriorNotes,
    never_thrice,
    place_of,
)
from halfstep.etude.slots import Slot
from halfstep.harmony.line_figures import whole_figures
from halfstep.harmony.line_over_chords import LineNote
from halfstep.progression.chart import Chart

MOST_DRAWN, MOST_OF_LAYOUT = 1000, 600
"""Notes and rests after which no more lines are drawn, in all and of one of several layouts: bounds
on the work, not on the time."""
KNOWN = 16
"""Lines whose outline is known: those of one search."""
Told = Callable[[Sequence[int | None]], float | None]
"""The relative outline of a line; None where it cannot be said."""


class Work:
    """How many notes and rests were drawn for an etude.

    Parameters
    ----------
    of_layout : int
        After so many another layout is tried.
    """

    def __init__(self, of_layout: int = MOST_DRAWN) -> None:
        self._of_layout = of_layout
        self._drawn = self._before = 0

    @property
    def is_done(self) -> bool:
        """True where it is enough in all."""
        return self._drawn >= MOST_DRAWN

    @property
    def is_done_here(self) -> bool:
        """True where it is enough of this layout."""
        return self.is_done or self._drawn - self._before >= self._of_layout

    def add(self, line: Sequence[int | None]) -> None:
        """One more line."""
        self._drawn += len(line)

    def begin_layout(self) -> None:
        """From here on it is another layout."""
        self._before = self._drawn


def best_drawn(
    least: float | None,
    draw: Callable[[Sequence[PriorNotes]], Line],
    redraw: Callable[[Line, Sequence[PriorNotes]], Line],
    slots: Sequence[Slot],
    chart: Chart,
    told: Told,
    work: Work,
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
    work : Work
        What was drawn before.
    """

    def tells(line: Line, least: float) -> bool:
        outlined = told(line)
        return outlined is None or outlined >= least

    def telling(priors: Sequence[PriorNotes]) -> Line:
        if least is None:
            return draw(priors)
        return first_that_tells(least, partial(draw, priors), told, work)

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


def first_that_tells(least: float, draw: Callable[[], Line], told: Told, work: Work) -> Line:
    """The first drawn line whose relative outline is ``least`` or more, or the best one.

    One is drawn, and more as long as there is work left.

    Parameters
    ----------
    least : float
    draw : function
        Returns a concert MIDI number for each slot, None for a rest.
    told : function
        Returns the relative outline of a line.
    work : Work
        What was drawn before.
    """
    line = draw()
    work.add(line)
    outlined = told(line)
    while outlined is not None and outlined < least and not work.is_done_here:
        other = draw()
        work.add(other)
        now = told(other)
        if now is not None and now > outlined:
            line, outlined = other, now
    return line


def outline_of_lines(slots: Sequence[Slot], chart: Chart) -> Told:
    """What lines in these slots tell: of the last few it is known, however often it is asked."""
    places = [place_of(slot) for slot in slots]
    known = lru_cache(KNOWN)(lambda line: _relative_outline(places, line, chart))
    return lambda line: known(tuple(line))


def _relative_outline(
    places: Sequence[Place], line: Sequence[int | None], chart: Chart
) -> float | None:
    """How well a line tells the chords, over the plain arpeggio; None where it cannot be said."""
    notes = [
        LineNote(*place, midi) for place, midi in zip(places, line, strict=True) if midi is not None
    ]
    if not notes or len(places) > MOST_DRAWN:
        return None
    return whole_figures(notes, chart).relative
