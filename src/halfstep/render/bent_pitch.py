"""How does a note sound that is scooped into, or that falls off? Its sound read at a moving speed.

Sizes: common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from halfstep.played import Bend

if TYPE_CHECKING:
    import numpy.typing as npt

    Sound = npt.NDArray[Any]
    Floats = npt.NDArray[Any]

SCOOP_CENTS, SCOOP_S = -130.0, 0.13
"""How far below it a scoop begins, and how long it takes."""
FALL_CENTS, FALL_S = -500.0, 0.3
"""How far a fall goes, and how long it takes at most."""
_FALL_SHARE = 0.5
"""The part of a note that may fall."""
_FALL_DB = -18.0
DEEPEST_CENTS = {Bend.SCOOP: SCOOP_CENTS, Bend.FALL: FALL_CENTS}
CURVE_POINTS = 9
"""Of a bend that another program is told: steps of half a semitone and less."""
_MILLISECONDS = 1000


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
    moved_by = bend_shares(bend, frames, held, frame_rate)
    steps = 2.0 ** (DEEPEST_CENTS[bend] * moved_by**2 / 1200.0)
    places = np.cumsum(steps) - steps[:1]
    moved = np.interp(places, frames, sound)
    if bend is Bend.FALL:
        moved = moved * 10.0 ** (_FALL_DB / 20.0 * moved_by)
    return np.asarray(moved, np.float32)


def bend_shares(bend: Bend, frames: Floats, held: int, frame_rate: int) -> Floats:
    """How far off its pitch a note is, as a share whose square is that of the deepest.

    A fall that goes on after the note is let go passes 1, up to 2.

    Parameters
    ----------
    bend : Bend
    frames : numpy.ndarray
        Where it is asked for, from the note's beginning.
    held, frame_rate : int
        As `bent` has them.
    """
    import numpy as np

    if bend is Bend.SCOOP:
        return np.asarray(np.maximum(0.0, 1.0 - frames / (SCOOP_S * frame_rate)))
    length = max(1.0, min(FALL_S * frame_rate, _FALL_SHARE * held))
    return np.asarray(np.clip((frames - held + length) / length, 0.0, 2.0))


def bend_curve(bend: Bend, held_s: float) -> list[tuple[float, float]]:
    """How far off its pitch a note is as long as it is held: seconds from its beginning, cents.

    The first point is the beginning of the bend and the last one its end, `CURVE_POINTS` in all.
    """
    import numpy as np

    held = round(held_s * _MILLISECONDS)
    length = SCOOP_S if bend is Bend.SCOOP else min(FALL_S, _FALL_SHARE * held_s)
    begun = 0.0 if bend is Bend.SCOOP else held_s - length
    times = begun + np.linspace(0.0, length, CURVE_POINTS)
    shares = bend_shares(bend, times * _MILLISECONDS, held, _MILLISECONDS)
    return list(zip(times.tolist(), (DEEPEST_CENTS[bend] * shares**2).tolist(), strict=True))
