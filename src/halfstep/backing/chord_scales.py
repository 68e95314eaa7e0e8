"""Which notes lie between the tones of a chord? The scale that a student is given over it.

The band plays out of the scale that the lesson teaches, so that no colour of the chords and
no passing note of the bass argues with the line.
"""

from __future__ import annotations

from collections.abc import Sequence

from halfstep.backing.bar_layout import ChordTimeline
from halfstep.harmony.analysis import analyse
from halfstep.progression.chart import Chart

PitchClasses = frozenset[int]
"""What sounds, 0 for C to 11 for B."""


def chord_scales(chart: Chart, chords: ChordTimeline) -> Sequence[PitchClasses]:
    """The scale over each chord of a block; empty where none sounds.

    Parameters
    ----------
    chart : Chart
    chords : ChordTimeline
        The chart's chords, as often as the form is played.
    """
    if all(span.symbol.silent for span in chords.spans):
        return [frozenset()] * len(chords.spans)
    scales = [
        frozenset[int]() if chord.silent else chord.scale.pitch_classes
        for chord in analyse(chart).chords
    ]
    return scales * (len(chords.spans) // len(scales))
