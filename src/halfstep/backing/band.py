"""Who plays in the band? Three parts for a block of choruses.

Conventions
-----------
- Parts cover a block: the form so many times, from beat 0; the pickup is left to the line.
- The last bar leads back to beat 0, so that the block can follow itself.
- The same chart, style and seed give the same notes.
"""

from __future__ import annotations

from random import Random

from halfstep.backing.bar_layout import bar_layouts, chord_timeline
from halfstep.backing.bass import bass_part
from halfstep.backing.chord_scales import chord_scales
from halfstep.backing.comping import chords_part
from halfstep.backing.drums import drums_part
from halfstep.backing.styles import Style
from halfstep.meter import DEFAULT_BPM, clock_for
from halfstep.played import PlayedPart
from halfstep.progression.chart import Chart


def make_backing(
    chart: Chart,
    *,
    style: Style,
    seed: int = 0,
    choruses: int = 1,
    tempo_bpm: float = DEFAULT_BPM,
) -> tuple[PlayedPart, PlayedPart, PlayedPart]:
    """Drums, bass and chords for a block of choruses.

    Parameters
    ----------
    chart : Chart
    style : Style
    seed : int
        Chooses among what is equally good.
    choruses : int
        How many the block has, at least 1.
    tempo_bpm : float
        Pulses a minute: what is too quick for a hand is left out.

    Returns
    -------
    tuple of PlayedPart
        ``drums``, ``bass``, ``chords``, in concert pitch.
    """
    quarter_s = clock_for(chart.meter, tempo_bpm).beat_s
    bars, chords = bar_layouts(chart, choruses), chord_timeline(chart, choruses)
    scales = chord_scales(chart, chords)
    return (
        drums_part(
            bars,
            chords,
            style=style.drums,
            random=Random(f"drums {seed}"),
            quarter_s=quarter_s,
        ),
        bass_part(
            bars,
            chords,
            scales,
            style=style.bass,
            random=Random(f"bass {seed}"),
            quarter_s=quarter_s,
        ),
        chords_part(
            bars,
            chords,
            scales,
            style=style.chords,
            random=Random(f"chords {seed}"),
            quarter_s=quarter_s,
        ),
    )
