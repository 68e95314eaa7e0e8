"""How does the band play? One row a style: what each player does, and how eighths fall.

Common practice, no source. General MIDI names the programs.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.backing.band_time import EVEN_TIME, SWING_TIME, BandTime
from halfstep.backing.bass import BassStyle, groove, groove_duty, walked, walking_duty
from halfstep.backing.drums import CLOSED_HAT, RIDE, DrumStyle, ridden, stick_answered
from halfstep.backing.line_time import EVEN_LINE, SWUNG_LINE, LineTime
from halfstep.backing.voicing import CompingStyle, even_rhythms, off_beat_rhythms
from halfstep.meter import Feel


@dataclass(frozen=True, slots=True)
class Style:
    """A way for the band to play, in any metre.

    Attributes
    ----------
    name : str
        For good; what is typed and stored.
    title : str
        As a page shows it.
    feel : Feel
        How eighths fall.
    drums : DrumStyle
    bass : BassStyle
    chords : CompingStyle
    time : BandTime
        When its players play.
    line : LineTime
        How a soloist places a line over it.
    """

    name: str
    title: str
    feel: Feel
    drums: DrumStyle
    bass: BassStyle
    chords: CompingStyle
    time: BandTime
    line: LineTime


STYLES = (
    Style(
        name="swing",
        title="Swing",
        feel=Feel.SWING,
        drums=DrumStyle(pattern=ridden, cymbal=RIDE),
        bass=BassStyle(program=32, onsets=walked, duty=walking_duty),  # acoustic bass
        chords=CompingStyle(program=0, velocity=66, rhythms=off_beat_rhythms),  # grand piano
        time=SWING_TIME,
        line=SWUNG_LINE,
    ),
    Style(
        name="straight",
        title="Straight eighths",
        feel=Feel.STRAIGHT,
        drums=DrumStyle(pattern=stick_answered, cymbal=CLOSED_HAT),
        bass=BassStyle(program=33, onsets=groove, duty=groove_duty),  # fingered bass
        chords=CompingStyle(program=4, velocity=70, rhythms=even_rhythms),  # electric piano
        time=EVEN_TIME,
        line=EVEN_LINE,
    ),
)
"""Every style, in the order that they are shown in."""


def style_for(feel: Feel) -> Style:
    """The style that is played where only the feel is known: the first one with it."""
    return next(style for style in STYLES if style.feel is feel)
