"""How is a line of runs kept where bars stand, and cut around them?"""

from __future__ import annotations

from collections.abc import Sequence

from halfstep.etude.chord_runs import ChordRun, RunShape
from halfstep.etude.etude_brief import Brief
from halfstep.etude.kept_bars import Bound, outside_bars, pinned_bars, standing_slots
from halfstep.etude.palette import Palette
from halfstep.etude.slots import Slot
from halfstep.harmony.analysis import Analysis


def runs_with_pins(
    runs: Sequence[ChordRun], analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None]
) -> list[ChordRun]:
    """The runs of a step, each cut where bars stand, and those bars as runs of one shape."""
    if not brief.pinned:
        return list(runs)
    bars = pinned_bars(analysis, brief.pinned)
    slots = [slot for run in runs for slot in run.slots]
    standing = [_one_shape(slot) for slot in standing_slots(slots, analysis, brief, palettes)]
    free = [part for run in runs for part in _parts(run, bars)]
    return sorted([*free, *standing], key=lambda run: run.slots[0].onset)


def _one_shape(slot: Slot) -> ChordRun:
    """A run of one note that is placed already, or a rest."""
    if slot.pin is None:
        return ChordRun((slot,))
    return ChordRun((slot,), (RunShape((0,)),), (slot.pin,))


def _parts(run: ChordRun, bars: Sequence[Bound]) -> list[ChordRun]:
    """What is left of a run outside the bars that stand."""
    parts: list[list[int]] = [[]]
    for place, slot in enumerate(run.slots):
        if outside_bars(slot, bars):
            parts[-1].append(place)
        elif parts[-1]:
            parts.append([])
    return [_part(run, places[0], places[-1] + 1, bars) for places in parts if places]


def _part(run: ChordRun, start: int, stop: int, bars: Sequence[Bound]) -> ChordRun:
    slots = tuple(part for slot in run.slots[start:stop] for part in outside_bars(slot, bars)[:1])
    shapes = []
    for shape in run.shapes:
        offsets = shape.offsets[start:stop]
        base = shape.base - start if start <= shape.base < stop else 0
        shapes.append(RunShape(offsets, offsets.index(0) if 0 in offsets else base, shape.cost))
    return run._replace(slots=slots, shapes=tuple(shapes))
