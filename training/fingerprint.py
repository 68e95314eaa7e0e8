"""What the network is shown, in a few numbers that any change of the spectra changes.

The model carries those it was trained with, and a test holds them against the program's.
"""

from __future__ import annotations

import numpy as np

from halfstep.listen import spectra


def fingerprint() -> list[float]:
    """How the spectra of a sweep look on average: another number for any other spectra.

    A second that climbs from 110 to 880 Hz with seven partials, and grows.
    """
    time = np.arange(spectra.RATE) / spectra.RATE
    cycles = 110 * (8**time - 1) / np.log(8)
    waves = [np.sin(2 * np.pi * number * cycles) / number for number in range(1, 8)]
    sound = np.asarray(time * np.sum(waves, axis=0), dtype=np.float32)
    shown = spectra.spectra(sound, 0.5, first=0, pairs=50)
    means = np.concatenate([of.reshape(-1, of.shape[-1]).mean(axis=0) for of in shown])
    thirds = [part.mean() for part in np.split(shown[0], 3, axis=1)]
    return [round(float(value), 4) for value in np.concatenate([means, thirds])]
