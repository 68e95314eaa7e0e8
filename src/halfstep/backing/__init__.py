"""Chart + style -> drums, bass and chords as parts, one chorus that leads back to itself.

`bar_layout` lays out each bar, `drums`, `bass` and `comping` play on it as the row of
`styles` says, `halfstep.search` finds the smoothest way through a player's choices,
`band` puts them together; `band_ending` is played once, behind the last chorus.
"""

from halfstep.backing.band import make_backing
from halfstep.backing.band_ending import BandEnding, band_ending
from halfstep.backing.count_in import count_in
from halfstep.backing.styles import STYLES, Style, style_for

__all__ = [
    "STYLES",
    "BandEnding",
    "Style",
    "band_ending",
    "count_in",
    "make_backing",
    "style_for",
]
