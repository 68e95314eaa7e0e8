"""How far is a recording off the pitch that it states?

Banks are a few cents off here and there, and some zones by thirty. Window after window the first
partials are looked up where the stated pitch has them; each says how far it is off, and counts by
its power and its number, half way from a spectrum's highest peak to a waveform's period. The
median window tells, so that vibrato and the scoop of an attack do not.

Conventions
-----------
- Sound is float32, mono; pitch is in hertz, its error in cents, above the stated pitch positive.
- The partials of a string lie wider than whole numbers: its pitch is between theirs.
- `SEARCHED_CENTS` either way are searched. Where little of the sound is found there it has no
  pitch to speak of, and the stated one is believed: 0.

Source: a peak between the bins of a spectrum by a parabola through logarithms (J. O. Smith and
X. Serra, 1987, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy.typing as npt

    Sound = npt.NDArray[Any]

SEARCHED_CENTS = 45.0
"""How far off a recording may be."""

HEARD_S = 2.0
"""How much of a held note is listened to."""

_ATTACK_S = 0.18
_WINDOW_S, _WINDOW_PERIODS, _HOP_S = 0.12, 8.0, 0.04
_PARTIALS = 6
_FINER = 4  # bins for each one that the window can tell apart
_PITCHED_SHARE = 0.15
_QUIET = 1e-4


@dataclass(frozen=True, slots=True)
class PitchCourse:
    """How far a held note stands above a pitch as it goes on.

    Attributes
    ----------
    times_s, cents : numpy.ndarray
        The middle of each window, and its error.
    powers : numpy.ndarray
        The mean power of each window.
    pitched : numpy.ndarray
        True where the pitch is found; elsewhere the error says nothing.
    window_s : float
        How long a window is.
    """

    times_s: Sound
    cents: Sound
    powers: Sound
    pitched: Sound
    window_s: float

    def opening(self, length_s: float = HEARD_S) -> tuple[Sound, Sound]:
        """The times and errors of a note's first seconds; none where the sound has no pitch."""
        begun = self.times_s + 0.5 * self.window_s <= length_s + 1e-9
        loud = begun & (self.powers > _QUIET * self.powers[begun].max(initial=0.0))
        pitched = loud & self.pitched
        if 2 * pitched.sum() < max(loud.sum(), 1):
            return self.times_s[:0], self.times_s[:0]
        return self.times_s[pitched], self.cents[pitched]

    def error_cents(self, length_s: float = HEARD_S) -> float:
        """How far a note of that length stands above the pitch; 0 where it has none."""
        import numpy as np

        times_s, cents = self.opening(length_s)
        behind = cents[times_s > _ATTACK_S]
        return float(np.median(behind)) if len(behind) else 0.0


def pitch_course(sound: Sound, rate: int, stated_hz: float) -> PitchCourse:
    """How far a held note stands above a pitch as it goes on.

    Parameters
    ----------
    sound : numpy.ndarray
        Shape (samples,), from the note's beginning; `HEARD_S` of it are listened to.
    rate : int
        Samples a second.
    stated_hz : float
    """
    import numpy as np

    times_s, windows = _windows(sound[: round(HEARD_S * rate)], rate, stated_hz)
    size = _FINER << (windows.shape[1] - 1).bit_length()
    spectra = np.fft.rfft(windows * np.hanning(windows.shape[1]), size)
    power = spectra.real**2 + spectra.imag**2 + 1e-20
    reach = 2.0 ** (SEARCHED_CENTS / 1200.0)
    last = min(_PARTIALS, int(0.5 * rate / (stated_hz * reach**2)))
    bins = [stated_hz * partial * size / rate for partial in range(1, last + 1)]
    bands = [power[:, int(centre / reach) : int(centre * reach) + 2] for centre in bins]
    peaks = [
        _peak(band, bins[partial - 1], reach, partial) for partial, band in enumerate(bands, 1)
    ]
    weights = sum((weight for _, weight in peaks), start=np.zeros(len(windows)))
    sums = [band.sum(axis=1) * (peak[1] > 0) for band, peak in zip(bands, peaks, strict=True)]
    pitched = sum(sums, start=weights * 0.0) > _PITCHED_SHARE * power.sum(axis=1)
    summed = sum((cents * weight for cents, weight in peaks), start=weights * 0.0)
    cents = np.divide(summed, weights, out=np.zeros_like(summed), where=pitched)
    powers = (windows**2).mean(axis=1)
    return PitchCourse(times_s, cents, powers, pitched, windows.shape[1] / rate)


def _windows(sound: Sound, rate: int, hz: float) -> tuple[Sound, Sound]:
    """Middles of stretches, and the stretches."""
    import numpy as np

    length = round(max(_WINDOW_S, _WINDOW_PERIODS / hz) * rate)
    hop = round(_HOP_S * rate)
    if len(sound) < length:
        return np.zeros(0), np.zeros((0, length))
    held = np.asarray(sound, np.float64)
    windows = np.lib.stride_tricks.sliding_window_view(held, length)[::hop]
    return (np.arange(len(windows)) * hop + 0.5 * length) / rate, windows


def _peak(band: Sound, centre: float, reach: float, partial: int) -> tuple[Sound, Sound]:
    """How far a band's peak is off its centre, in cents, and its weight; 0 where it has none.

    Parameters
    ----------
    band : numpy.ndarray
        Shape (windows, bins); the first bin is that of ``centre / reach``.
    """
    import numpy as np

    places = band.argmax(axis=1)
    inner = (places > 0) & (places < band.shape[1] - 1)
    middle = np.clip(places, 1, band.shape[1] - 2)
    rows = np.arange(len(band))
    below, top, above = (np.log(band[rows, middle + k]) for k in (-1, 0, 1))
    bend = np.where(inner, below - 2.0 * top + above, -1.0)
    shift = np.where(inner, 0.5 * (below - above) / bend, 0.0)
    peaks = int(centre / reach) + middle + shift
    return 1200.0 * np.log2(peaks / centre), np.where(inner, partial * band[rows, middle], 0.0)
