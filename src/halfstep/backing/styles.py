"""How does the band play? One row a style: what each player does, and how eighths fall.

Common practice, no source. General MIDI names the programs.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.backing import bass_styles, comping_styles
from halfstep.backing.band_time import (
    EVEN_TIME,
    SHUFFLE_TIME,
    SWING_TIME,
    SWUNG_SIXTEENTHS_TIME,
    BandTime,
)
from halfstep.backing.bass import BassStyle
from halfstep.backing.comping import CompingStyle
from halfstep.backing.drum_bar import SIXTEENTH
from halfstep.backing.drum_kit import BRUSH_KIT, CLOSED_HAT, KICK, RIDE, SLAP, SNARE
from halfstep.backing.drums import Answers, DrumStyle
from halfstep.backing.groove_drums import (
    backbeat,
    clave,
    even_hats,
    funk_backbeat,
    funk_hats,
    stick_answered,
)
from halfstep.backing.jazz_drums import (
    brushed,
    feathered,
    five_beat,
    hatted,
    heeled,
    in_two,
    ridden,
    shuffle_backbeat,
    shuffled,
    waltzed,
)
from halfstep.backing.line_time import EVEN_LINE, LEGATO_LINE, SWUNG_LINE, LineTime
from halfstep.meter import Feel, Meter


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
    stops : bool
        The written ending is one short stroke; else it rings.
    """

    name: str
    title: str
    feel: Feel
    drums: DrumStyle
    bass: BassStyle
    chords: CompingStyle
    time: BandTime
    line: LineTime
    stops: bool = False


_GHOSTS = Answers(((SNARE, 32), (SNARE, 28)), most=4, step=SIXTEENTH)
_MANY_GHOSTS = Answers(((SNARE, 32), (SNARE, 28), (SNARE, 38)), most=7, step=SIXTEENTH)
_SOFT_TAPS = Answers(((SNARE, 34), (SNARE, 42), (KICK, 36)), most=2)

STYLES = (
    Style(
        name="swing",
        title="Swing",
        feel=Feel.SWING,
        drums=DrumStyle(ridden, feathered, RIDE, swings=True),
        bass=bass_styles.SWING_BASS,
        chords=comping_styles.SWING_COMPING,
        time=SWING_TIME,
        line=SWUNG_LINE,
    ),
    Style(
        name="ballad",
        title="Ballad with brushes",
        feel=Feel.SWING,
        drums=DrumStyle(
            brushed, heeled, RIDE,
            answer=SNARE, answers=_SOFT_TAPS, fill=(SNARE, SLAP), loud=56,
            kit=BRUSH_KIT, swings=True,
        ),
        bass=bass_styles.BALLAD_BASS,
        chords=comping_styles.BALLAD_COMPING,
        time=SWING_TIME,
        line=LEGATO_LINE,
    ),
    Style(
        name="shuffle",
        title="Shuffle",
        feel=Feel.SWING,
        drums=DrumStyle(
            shuffled, shuffle_backbeat, RIDE,
            answer=SNARE, answers=Answers(((SNARE, 34), (SNARE, 40)), most=2), loud=96,
            both_hands=True, swings=True,
        ),
        bass=bass_styles.SHUFFLE_BASS,
        chords=comping_styles.SHUFFLE_COMPING,
        time=SHUFFLE_TIME,
        line=SWUNG_LINE,
    ),
    Style(
        name="bossa-nova",
        title="Bossa nova",
        feel=Feel.STRAIGHT,
        drums=DrumStyle(
            even_hats, clave, CLOSED_HAT, answers=Answers(((KICK, 40), (SNARE, 30)), most=2),
            loud=70,
        ),
        bass=bass_styles.BOSSA_NOVA_BASS,
        chords=comping_styles.BOSSA_NOVA_COMPING,
        time=EVEN_TIME,
        line=EVEN_LINE,
    ),
    Style(
        name="straight",
        title="Straight eighths",
        feel=Feel.STRAIGHT,
        drums=DrumStyle(
            even_hats, stick_answered, CLOSED_HAT,
            answers=Answers(((SNARE, 34), (KICK, 44)), most=2), both_hands=True,
        ),
        bass=bass_styles.STRAIGHT_BASS,
        chords=comping_styles.STRAIGHT_COMPING,
        time=EVEN_TIME,
        line=EVEN_LINE,
    ),
    Style(
        name="funk",
        title="Funk",
        feel=Feel.STRAIGHT,
        drums=DrumStyle(
            funk_hats, funk_backbeat, CLOSED_HAT,
            answer=SNARE, answers=_GHOSTS, loud=104, both_hands=True,
        ),
        bass=bass_styles.FUNK_BASS,
        chords=comping_styles.FUNK_COMPING,
        time=EVEN_TIME,
        line=EVEN_LINE,
        stops=True,
    ),
    Style(
        name="swung-funk",
        title="Funk with swung sixteenths",
        feel=Feel.STRAIGHT,
        drums=DrumStyle(
            funk_hats, funk_backbeat, CLOSED_HAT,
            answer=SNARE, answers=_MANY_GHOSTS, loud=100, both_hands=True,
        ),
        bass=bass_styles.SWUNG_FUNK_BASS,
        chords=comping_styles.SWUNG_FUNK_COMPING,
        time=SWUNG_SIXTEENTHS_TIME,
        line=EVEN_LINE,
        stops=True,
    ),
    Style(
        name="jazz-waltz",
        title="Jazz waltz",
        feel=Feel.SWING,
        drums=DrumStyle(waltzed, feathered, RIDE, swings=True),
        bass=bass_styles.JAZZ_WALTZ_BASS,
        chords=comping_styles.JAZZ_WALTZ_COMPING,
        time=SWING_TIME,
        line=SWUNG_LINE,
    ),
    Style(
        name="six-eight",
        title="Six eight",
        feel=Feel.STRAIGHT,
        drums=DrumStyle(
            even_hats, backbeat, CLOSED_HAT,
            answer=SNARE, answers=Answers(((SNARE, 32), (KICK, 44)), most=2), both_hands=True,
        ),
        bass=bass_styles.SIX_EIGHT_BASS,
        chords=comping_styles.SIX_EIGHT_COMPING,
        time=EVEN_TIME,
        line=EVEN_LINE,
    ),
    Style(
        name="five",
        title="Five",
        feel=Feel.SWING,
        drums=DrumStyle(ridden, five_beat, RIDE, swings=True),
        bass=bass_styles.FIVE_BASS,
        chords=comping_styles.FIVE_COMPING,
        time=SWING_TIME,
        line=SWUNG_LINE,
    ),
    Style(
        name="seven",
        title="Seven",
        feel=Feel.STRAIGHT,
        drums=DrumStyle(
            even_hats, backbeat, CLOSED_HAT,
            answers=Answers(((SNARE, 34), (KICK, 46)), most=2), both_hands=True,
        ),
        bass=bass_styles.SEVEN_BASS,
        chords=comping_styles.SEVEN_COMPING,
        time=EVEN_TIME,
        line=EVEN_LINE,
    ),
    Style(
        name="two-beat",
        title="Two-beat",
        feel=Feel.SWING,
        drums=DrumStyle(
            hatted, in_two, CLOSED_HAT,
            answer=SNARE, answers=Answers(((SNARE, 34), (SNARE, 42)), most=2), loud=78, swings=True,
        ),
        bass=bass_styles.TWO_BEAT_BASS,
        chords=comping_styles.TWO_BEAT_COMPING,
        time=SWING_TIME,
        line=SWUNG_LINE,
        stops=True,
    ),
)  # fmt: skip
"""Every style, in the order that they are shown in."""

_OF_METRES = {
    Feel.SWING: {(3, 4): "jazz-waltz", (5, 4): "five"},
    Feel.STRAIGHT: {(7, 4): "seven", (7, 8): "seven"},
}

_BY_NAME = {style.name: style for style in STYLES}


def style_for(feel: Feel, meter: Meter | None = None) -> Style:
    """The style that is played where only the feel is known, and the metre.

    A metre has a style of its own where the trade has one with that feel: swing in three and
    in five, even eighths in seven and in compound metres. In all others the plain style of
    the feel goes by the groups of the bar.

    >>> style_for(Feel.SWING, Meter(3, 4)).name, style_for(Feel.STRAIGHT, Meter(6, 8)).name
    ('jazz-waltz', 'six-eight')
    """
    if meter and meter.compound and feel is Feel.STRAIGHT:
        return _BY_NAME["six-eight"]
    metre = (meter.count, meter.unit) if meter else (4, 4)
    return _BY_NAME[_OF_METRES[feel].get(metre, feel.value)]
