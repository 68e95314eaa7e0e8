"""How high does sound rise between its samples, and how is it kept from rising too high?

A sound is lowered where it would come above a ceiling: smoothly, from before the peak to
behind it, and never cut off. Elsewhere it stays as it is, to the sample.

Conventions
-----------
- Sound is float32, 1.0 at full scale, shape (channels, frames).
- Peaks are those at four times the rate.

Source: ITU-R BS.1770-4, Annex 2 (from memory): oversampling by four; the filter is a
windowed sinc of our own.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy.typing as npt

    Values = npt.NDArray[Any]

OVERSAMPLED = 4
_HALF = 12
"""Samples on either side that a value between two of them is made of."""
_NEAR = 0.5
"""A sample under so much of the ceiling has no peak beside it that is over it."""
_AT_ONCE = 1 << 13
"""Frames that are looked at at once: as many as stay in the processor's cache."""
SMOOTH = 882
"""Frames before a peak in which a sound is lowered, and behind it in which it rises: 20 ms."""


def true_peaks(sound: Values, near: float) -> tuple[Values, Values]:
    """Frames that have a sample of ``near`` or more, and the highest peak from each to the next.

    Parameters
    ----------
    sound : numpy.ndarray
    near : float
        Only samples as high as that are looked at.
    """
    import numpy as np

    padded = np.pad(sound, ((0, 0), (_HALF, _HALF)))
    places = _places(sound, near)
    places = np.unique(np.concatenate([np.maximum(places - 1, 0), places]))
    peaks = np.zeros(len(places), np.float32)
    for channel in padded:
        around = channel[places[:, None] + np.arange(2 * _HALF)]
        between = np.abs(np.einsum("nk,qk->qn", around, _between())).max(axis=0, initial=0.0)
        peaks = np.maximum(peaks, between)
    return places, peaks


def _places(sound: Values, near: float) -> Values:
    """Frames that have a sample of ``near`` or more, looked for stretch by stretch."""
    import numpy as np

    starts = range(0, sound.shape[-1], _AT_ONCE)
    stretches = ((start, sound[:, start : start + _AT_ONCE]) for start in starts)
    places = [
        start + np.flatnonzero((np.abs(stretch) >= near).any(axis=0))
        for start, stretch in stretches
        if max(stretch.max(), -stretch.min()) >= near
    ]
    return np.concatenate([np.zeros(0, np.intp), *places])


def true_peak(sound: Values) -> float:
    """The highest peak of a sound at four times its rate; 0 for silence."""
    import numpy as np

    highest = float(np.abs(sound).max(initial=0.0))
    if not highest:
        return 0.0
    return max(highest, float(true_peaks(sound, _NEAR * highest)[1].max(initial=0.0)))


@lru_cache(maxsize=1)
def _between() -> Values:
    """What gives the values at a sample and a quarter, a half and three quarters behind it.

    Shape (`OVERSAMPLED`, 2 * `_HALF`), over the samples from `_HALF` before on.
    """
    import numpy as np

    shares = np.arange(OVERSAMPLED) / OVERSAMPLED
    away = np.arange(2 * _HALF)[:, None] - _HALF - shares[None, :]
    window = np.cos(np.pi * away / (2 * _HALF + 2)) ** 2
    taps = np.sinc(away) * window
    return np.ascontiguousarray((taps / taps.sum(axis=0)).T, np.float32)


def needed_gain(sound: Values, ceiling: float) -> Values | None:
    """What each frame may be multiplied by to stay under a ceiling; None where nothing must."""
    import numpy as np

    places, peaks = true_peaks(sound, _NEAR * ceiling)
    over = peaks > ceiling
    if not over.any():
        return None
    gain = np.ones(sound.shape[-1] + 1, np.float32)
    lowered = np.float32(ceiling) / peaks[over]
    for beside in (0, 1):  # a peak lies between two frames
        np.minimum.at(gain, places[over] + beside, lowered)
    return gain[:-1]


def smoothed(gain: Values) -> Values:
    """A gain that falls and rises smoothly and is nowhere over the one that is needed."""
    import numpy as np

    low = np.flatnonzero(gain < 1.0)
    smooth = np.ones(len(gain), np.float32)
    for first, last in _stretches(low, 4 * SMOOTH):
        start, end = max(0, first - 2 * SMOOTH), min(len(gain), last + 2 * SMOOTH + 1)
        piece = np.pad(gain[start:end], 2 * SMOOTH, constant_values=1.0)
        lowest = np.lib.stride_tricks.sliding_window_view(piece, 2 * SMOOTH + 1).min(axis=1)
        window = np.hanning(2 * SMOOTH + 3)[1:-1]
        smooth[start:end] = np.convolve(lowest, window / window.sum(), "valid")
    return smooth


def _stretches(places: Values, apart: int) -> list[tuple[int, int]]:
    """First and last of the places of each group that lies ``apart`` from the next."""
    import numpy as np

    groups = np.split(places, np.flatnonzero(np.diff(places) > apart) + 1)
    return [(int(group[0]), int(group[-1])) for group in groups if len(group)]
