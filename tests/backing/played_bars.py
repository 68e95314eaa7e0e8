"""A part of a block, bar by bar, for tests that compare bars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random

from halfstep.backing import Style
from halfstep.backing.bar_layout import bar_layouts, chord_timeline
from halfstep.backing.drums import drums_part
from halfstep.meter import clock_for
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Chart

BLOCK = 4
"""Choruses that differ before the block is played again."""

Notes = tuple[PlayedNote, ...]


def drums_alone(
    chart: Chart, style: Style, *, seed: int, choruses: int, tempo_bpm: float
) -> PlayedPart:
    """The drums of the band, without the work of the others."""
    return drums_part(
        bar_layouts(chart, choruses),
        chord_timeline(chart, choruses),
        style=style.drums,
        random=Random(f"drums {seed}"),
        quarter_s=clock_for(chart.meter, tempo_bpm).beat_s,
    )


def drum_bars(
    chart: Chart, style: Style, *, seed: int = 0, choruses: int = BLOCK, tempo_bpm: float = 120
) -> list[Notes]:
    """The strokes of each bar of a block, counted from the bar's start."""
    drums = drums_alone(chart, style, seed=seed, choruses=choruses, tempo_bpm=tempo_bpm)
    bars, notes, place = [], drums.notes, 0
    for bar in bar_layouts(chart, choruses):
        first = place
        while place < len(notes) and notes[place].onset < bar.end:
            place += 1
        bars.append(tuple(replace(n, onset=n.onset - bar.start) for n in notes[first:place]))
    assert place == len(notes)
    return bars


def strokes(bar: Sequence[PlayedNote]) -> frozenset[tuple[object, int]]:
    """Places and keys, whatever the velocities."""
    return frozenset((note.onset, note.midi) for note in bar)
