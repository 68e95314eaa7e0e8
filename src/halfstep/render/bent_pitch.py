"""How does a note sound that is scooped into, or that falls off? Its sound read at a moving speed.

Sizes: common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from halfstep.played import Bend

if TYPE_CHECKING:
    import numpy.typing as npt

    Sound = npt.NDArray[Any]

SCOOP_CENTS, SCOOP_S = -130.0, 0.13
"""How far below it a scoop begins, and how long it takes."""
FALL_CENTS, FALL_S = -500.0, 0.3
"""How far a fall goes, and how long it takes at most."""
_FALL_SHARE = 0.5
"""The part of a note that may fall."""
_FALL_DB = -18.0


def bent(sound: Sound, bend: Bend, held: int, frame_rate: int) -> Sound:
    """A note with its pitch moved.

    Parameters
    ----------
    sound : numpy.ndarray
        Shape (frames,), float32.
    bend : Bend
    held : int
        The frame on which it is let go.
    frame_rate : int
        Frames a second.
    """
    import numpy as np

    frames = np.arange(len(sound), dtype=np.float64)
    if bend is Bend.SCOOP:
        left = np.maximum(0.0, 1.0 - frames / (SCOOP_S * frame_rate))
        cents, loudness = SCOOP_CENTS * left**2, None
    else:
        length = max(1.0, min(FALL_S * frame_rate, _FALL_SHARE * held))
        fallen = np.clip((frames - held + length) / length, 0.0, 2.0)
        cents, loudness = FALL_CENTS * fallen**2, 10.0 ** (_FALL_DB / 20.0 * fallen)
    steps = 2.0 ** (cents / 1200.0)
    places = np.cumsum(steps) - steps[:1]
    moved = np.interp(places, frames, sound)
    return np.asarray(moved if loudness is None else moved * loudness, np.float32)
