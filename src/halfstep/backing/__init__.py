"""Chart + feel -> drums, bass and chords as parts, one chorus that leads back to itself.

`grid` lays out each bar, `drums`, `bass` and `voicing` play on it, `path` searches for the
smoothest way through a player's choices and knows no music, `band` puts them together.
"""

from halfstep.backing.band import count_in, make_backing

__all__ = ["count_in", "make_backing"]
