"""How is a sound made so that no frequency and no moment of it decides?

What is to be found again in a take may be far softer than the player. Its frequencies are
brought near to one loudness a quarter of a second at a time, and what is loud for a moment
only, as a drum is, counts no more than the rest: with little to compare, two strokes would
pass for an agreement.

Conventions: sounds are float32, shape (samples,).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.thin_sound import flattened

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

_FRAME_S = 0.256
_MOST_LOUD = 2.0
"""A sample is at most so many times as loud as the mean."""
_HALVING_TAPS = 33


def even(sound: Floats, rate: int, power: float) -> Floats:
    """Sound whose frequencies and moments are all about as loud; silence stays silent.

    Parameters
    ----------
    sound : float32 array
    rate : int
        Its samples a second.
    power : float
        How much its frequencies are brought together: `WHOLLY` or `BY_HALF`.

    Returns
    -------
    float32 array
        As long, or up to half a frame longer.
    """
    frame = round(_FRAME_S * rate / 2) * 2
    half = frame // 2
    length = -(-len(sound) // half) * half
    flat = flattened(np.pad(sound, (half, half + length - len(sound))), frame, power)
    sounding = np.count_nonzero(flat)
    most = _MOST_LOUD * float(np.sqrt(np.sum(np.square(flat)) / max(1, sounding)))
    return np.asarray(np.clip(flat, -most, most))


def halved(sound: Floats) -> Floats:
    """Every second sample of a sound without its upper half."""
    place = np.arange(_HALVING_TAPS) - _HALVING_TAPS // 2
    taps = (np.sinc(place / 2) * np.hamming(_HALVING_TAPS)).astype(np.float32)
    padded = np.pad(sound, _HALVING_TAPS // 2)
    windows = np.lib.stride_tricks.sliding_window_view(padded, _HALVING_TAPS)[::2]
    return np.asarray(windows @ (taps / taps.sum()))
