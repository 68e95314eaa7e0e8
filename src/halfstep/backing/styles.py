"""How does the band play? One row a style: what each player does, and how eighths fall.

Common practice, no source. General MIDI names the programs.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.backing.bass import BassStyle, groove, groove_duty, walked, walking_duty
from halfstep.backing.drums import CLOSED_HAT, RIDE, DrumStyle, ridden, stick_answered
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
    """

    name: str
    title: str
    feel: Feel
    drums: DrumStyle
    bass: BassStyle
    chords: CompingStyle


STYLES = (
    Style(
        name="swing",
        title="Swing",
        feel=Feel.SWING,
        drums=DrumStyle(pattern=ridden, cymbal=RIDE),
        bass=BassStyle(program=32, onsets=walked, duty=walking_duty),  # acoustic bass
        chords=CompingStyle(program=0, velocity=66, rhythms=off_beat_rhythms),  # grand piano
    ),
    Style(
        name="straight",
        title="Straight eighths",
        feel=Feel.STRAIGHT,
        drums=DrumStyle(pattern=stick_answered, cymbal=CLOSED_HAT),
        bass=BassStyle(program=33, onsets=groove, duty=groove_duty),  # fingered bass
        chords=CompingStyle(program=4, velocity=70, rhythms=even_rhythms),  # electric piano
    ),
)
"""Every style, in the order that they are shown in."""


def style_for(feel: Feel) -> Style:
    """The style that is played where only the feel is known: the first one with it."""
    return next(style for style in STYLES if style.feel is feel)
