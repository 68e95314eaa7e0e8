"""Where is a line highest? Past the middle of the form, and once.

A high point is planned before the line is searched: a note, and the place where it stands;
every other note lies below. The place is the crest of the contour, which seed and chart have
drawn, or as near to it as the rules of the step allow.

Conventions
-----------
- Only steps with the rule `HIGH_POINT` have one: those whose line goes over the form. Arpeggios,
  scales and cells have the heights that their chords give them, guide tones those of nearest
  voice leading; one note, root and third are no line; calls are phrases of their own.
- "Past the middle" is from 55 to 90 % of the form. Common practice, no source.
- Notes that stand already count: the line stays above them, or has its high point among them.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cache, partial
from itertools import islice, repeat

import numpy as np

from halfstep.etude.etude_line import EtudeLine, Notice
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.palette import Midis
from halfstep.etude.rules import palette_at
from halfstep.etude.slots import LAST_AROUND, Leads, Slot
from halfstep.harmony.analysis import Analysis
from halfstep.search import Costs

EARLIEST, LATEST = Fraction(55, 100), Fraction(90, 100)
"""Of the form, where the high point may stand."""
MOST_PLANS = 24
"""Plans that are tried."""
FAR, LOW, UNTOLD = 0.7, 0.4, 1.2
"""What a plan costs for each beat from the crest, for each semitone from the ideal, and for
each nat that its note leaves untold of the chord."""
WEAK = 1.0
"""And for a high point on a weak beat, where it leads to no other note."""


def high_points(slots: Sequence[Slot], ideal: float) -> Iterator[tuple[int, list[Slot]]]:
    """Places of high points with the slots of a line that has it, the best one first.

    Parameters
    ----------
    slots : sequence of Slot
        With a contour.
    ideal : float
        MIDI number that the high point should be near.
    """
    below = cache(partial(_below, slots))
    for top, place in islice(_plans(slots, ideal), MOST_PLANS):
        plan = below(top).copy()
        plan[place] = plan[place]._replace(peaks=True)
        yield place, plan


def _below(slots: Sequence[Slot], top: int) -> list[Slot]:
    """The slots with a high point that none of them reaches yet."""
    return [s._replace(high_point=top, peaks=False) if s.palette else s for s in slots]


def _plans(slots: Sequence[Slot], ideal: float) -> Iterator[tuple[int, int]]:
    """The notes that may be highest, and where."""
    places = _places(slots)
    floor = max((slot.pin for slot in slots if slot.stands and slot.pin is not None), default=0)
    standing = [n for n, slot in enumerate(slots) if slot.pin == floor]
    if len(standing) == 1 and standing[0] in places:
        yield floor, standing[0]
    crest = slots[max(places, key=lambda n: slots[n].target)].onset if places else Fraction(0)
    plans: list[tuple[float, int, int]] = []
    known: dict[tuple[object, ...], tuple[Costs, list[int]]] = {}
    for n in places:
        slot = slots[n]
        if not slot.stands:
            # palettes of chords that are alike share their arrays
            alike = id(palette_at(slot).gain), slot.weight, slot.strong, slot.leads
            if alike not in known:
                tops = _tops(slot)
                tops = tops[tops > floor]
                known[alike] = _prices(slot, tops, ideal), tops.tolist()
            prices, midis = known[alike]
            far = FAR * abs(float(slot.onset - crest))
            plans += zip((prices + far).tolist(), midis, repeat(n), strict=False)
    yield from ((top, n) for _, top, n in sorted(plans))


def _places(slots: Sequence[Slot]) -> list[int]:
    """Where the high point may stand: a note that is enclosed has a higher one before it."""
    total = slots[-1].onset + slots[-1].beats
    onsets = [slot.onset for slot in slots]
    first, stop = bisect_left(onsets, EARLIEST * total), bisect_right(onsets, LATEST * total)
    return [
        n
        for n, slot in enumerate(slots[first:stop], first)
        if slot.palette and not slot.last and slots[n - 1].leads not in LAST_AROUND
    ]


def _prices(slot: Slot, tops: Midis, ideal: float) -> Costs:
    """What it costs to have each high point there, apart from how far the crest is."""
    gains = palette_at(slot).gain[slot.weight]
    weak = not slot.strong and slot.leads is Leads.NOT
    untold = gains.max() - gains[tops]
    return np.asarray(LOW * np.abs(tops - ideal) + UNTOLD * untold + WEAK * weak)


_SCALE_AROUND = (Leads.SCALE_AROUND_FIRST, Leads.SCALE_AROUND_SECOND)


def _tops(slot: Slot) -> Midis:
    """The notes that may be highest there."""
    palette = palette_at(slot)
    free = slot.leads not in {Leads.NOT, Leads.SCALE_NEIGHBOUR, *_SCALE_AROUND}
    return np.flatnonzero(palette.open if free else palette.scale)


def high_point_notices(etude: EtudeLine) -> list[Notice]:
    """Where the rules of a step leave no high point; nothing of a line with bars that stand."""
    if etude.brief.pinned or has_high_point(etude.analysis, etude.notes):
        return []
    text = "the line has no single high point past the middle: the rules of the step leave none"
    return [Notice(0, text)]


def has_high_point(analysis: Analysis, notes: Sequence[EtudeNote]) -> bool:
    """True for notes whose highest stands once, past the middle, and for a line of rests."""
    top = max((note.pitch.midi for note in notes if note.pitch), default=0)
    total = analysis.chart.beats
    tops = [note for note in notes if note.pitch and note.pitch.midi == top]
    past = (EARLIEST * total <= note.onset <= LATEST * total for note in tops)
    return not tops or (len(tops) == 1 and all(past))
