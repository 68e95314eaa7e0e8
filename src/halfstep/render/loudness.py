"""How loud is it? Integrated loudness, to balance parts against each other.

Sound is weighed by frequency as the ear does (*K-weighting*), cut into blocks, and the
blocks that are quiet are left out, so that rests do not count.

Conventions
-----------
- Loudness is in LUFS: 0 is a full-scale sine in the front left and right, minus is softer.
- Sound is float, 1.0 at full scale, shape (frames, 2), 44 100 frames a second.

Source: ITU-R BS.1770-4 (from memory); the filters are written in their analogue form, so
that they fit any rate, and are held against pyloudnorm in the tests.
"""

from __future__ import annotations

from functools import lru_cache
from math import cos, pi, sin, sqrt
from typing import TYPE_CHECKING, Any

from halfstep.render.sampler import FRAME_RATE

if TYPE_CHECKING:
    import numpy.typing as npt

    Values = npt.NDArray[Any]

STEP = 4410
"""Frames from one block to the next: 0.1 s."""
_STEPS_IN_BLOCK = 4
_AT_ONCE = 16
"""Steps that are weighed at once: as many as stay in the processor's cache."""
_ABSOLUTE_GATE_LUFS = -70.0
_RELATIVE_GATE_LU = -10.0
_OFFSET_LU = -0.691


def loudness_lufs(sound: Values) -> float:
    """Integrated loudness (ITU-R BS.1770-4); minus infinity for silence.

    Parameters
    ----------
    sound : numpy.ndarray
        Float, 1.0 at full scale, shape (frames, 2).
    """
    return lufs_of(step_powers(sound.T))


def step_powers(sound: Values) -> Values:
    """The weighted power of every tenth of a second, the channels added.

    Each is weighed by its spectrum, which is much faster than the standard's running filter.

    Parameters
    ----------
    sound : numpy.ndarray
        Shape (channels, frames).
    """
    import numpy as np

    powers = np.zeros(-(-sound.shape[-1] // STEP))
    weights = np.repeat(_weights(), 2) * np.float32(2.0 / STEP**2)
    steps = np.empty((_AT_ONCE, STEP), np.float32)
    spectrum: Values = np.empty((_AT_ONCE, len(weights) // 2), np.complex64)
    for channel in sound:
        for first in range(0, len(powers), _AT_ONCE):
            piece = channel[first * STEP : (first + _AT_ONCE) * STEP]
            steps.ravel()[: len(piece)], steps.ravel()[len(piece) :] = piece, 0.0
            parts = np.fft.rfft(steps, out=spectrum).view(np.float32)
            np.square(parts, out=parts)
            weighed = np.einsum("ij,j->i", parts, weights)
            powers[first : first + _AT_ONCE] += weighed[: len(powers) - first]
    return powers


def lufs_of(powers: Values) -> float:
    """The integrated loudness of `step_powers`: blocks of 0.4 s that begin every 0.1 s."""
    import numpy as np

    if not len(powers):
        return float("-inf")
    window = np.ones(min(_STEPS_IN_BLOCK, len(powers)))
    blocks = np.convolve(powers, window / len(window), "valid")
    loud = blocks[blocks > 10.0 ** ((_ABSOLUTE_GATE_LUFS - _OFFSET_LU) / 10.0)]
    if not len(loud):
        return float("-inf")
    loud = loud[loud > loud.mean() * 10.0 ** (_RELATIVE_GATE_LU / 10.0)]
    return float(_OFFSET_LU + 10.0 * np.log10(loud.mean()))


@lru_cache(maxsize=1)
def _weights() -> Values:
    """The K-weighting's power at each frequency: a high shelf of 4 dB and a high-pass."""
    import numpy as np

    hz = np.fft.rfftfreq(STEP, 1.0 / FRAME_RATE)
    weights = np.ones(len(hz))
    for numerator, denominator in (_shelf(), _high_pass()):
        response = _response(numerator, hz) / _response(denominator, hz)
        weights *= np.abs(response) ** 2
    weights[0] = 0.0
    return weights.astype(np.float32)


_Biquad = tuple[tuple[float, float, float], tuple[float, float, float]]


def _shelf() -> _Biquad:
    """BS.1770's first filter, from its analogue form, for 44.1 kHz."""
    gain, quality, hz = 10.0 ** (4.0 / 40.0), 1.0 / sqrt(2.0), 1500.0
    turn = 2.0 * pi * hz / FRAME_RATE
    alpha, cosine = sin(turn) / (2.0 * quality), cos(turn)
    root = 2.0 * sqrt(gain) * alpha
    return (
        (
            gain * (gain + 1 + (gain - 1) * cosine + root),
            -2 * gain * (gain - 1 + (gain + 1) * cosine),
            gain * (gain + 1 + (gain - 1) * cosine - root),
        ),
        (
            gain + 1 - (gain - 1) * cosine + root,
            2 * (gain - 1 - (gain + 1) * cosine),
            gain + 1 - (gain - 1) * cosine - root,
        ),
    )


def _high_pass() -> _Biquad:
    """BS.1770's second filter, for 44.1 kHz."""
    turn = 2.0 * pi * 38.0 / FRAME_RATE
    alpha, cosine = sin(turn) / (2.0 * 0.5), cos(turn)
    return (
        ((1 + cosine) / 2, -(1 + cosine), (1 + cosine) / 2),
        (1 + alpha, -2 * cosine, 1 - alpha),
    )


def _response(polynomial: tuple[float, float, float], hz: Values) -> Values:
    import numpy as np

    delay = np.exp(-2j * np.pi * hz / FRAME_RATE)
    return np.asarray(polynomial[0] + polynomial[1] * delay + polynomial[2] * delay**2)
