"""Chart + style -> drums, bass and chords as parts, a block of choruses that leads back to itself.

`bar_layout` lays out each bar, `drums`, `bass` and `comping` play on it as the row of
`styles` says, `halfstep.search` finds the smoothest way through a player's choices,
`band` puts them together. `count_in` and `band_intro` come before the first chorus,
`band_ending` is played once, behind the last; a click or a `drone` may stand for the band.
"""

from halfstep.backing.band import make_backing
from halfstep.backing.band_ending import BandEnding, band_ending
from halfstep.backing.band_intro import BandIntro, band_intro
from halfstep.backing.count_in import click_part, count_in, count_in_bars
from halfstep.backing.drone import drone_part
from halfstep.backing.styles import STYLES, Style, style_for

__all__ = [
    "STYLES",
    "BandEnding",
    "BandIntro",
    "Style",
    "band_ending",
    "band_intro",
    "click_part",
    "count_in",
    "count_in_bars",
    "drone_part",
    "make_backing",
    "style_for",
]
