"""What does a recording sound like to people? Both sides of it, as it was recorded.

What listens to a take makes it mono and thin (`halfstep.listen.audio`); who plays it to somebody
takes it from here. What cannot be read of a damaged file is silence as long as it was.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from halfstep.listen.audio import Damage, Gap, Recording, SoundStream

if TYPE_CHECKING:
    from pathlib import Path

    import numpy.typing as npt

    Samples = npt.NDArray[np.int16]


def stereo_sound(path: Path, rate: int) -> Samples:
    """The sound of a file.

    Parameters
    ----------
    path : Path
    rate : int
        Samples a second that are wanted.

    Returns
    -------
    numpy.ndarray
        Shape (frames, 2).

    Raises
    ------
    TakeError
        When it cannot be opened or holds no sound.
    """
    damage = Damage()
    with Recording(path).opened(damage) as container:
        pieces = list(_pieces(SoundStream(path, container, damage).parts(), rate))
    return np.concatenate([np.zeros((0, 2), np.int16), *pieces])


def _pieces(parts: Iterator[Any], rate: int) -> Iterator[Samples]:
    import av

    resampler = av.AudioResampler("s16", layout="stereo", rate=rate)
    begun = False
    for part in parts:
        if isinstance(part, Gap):
            if begun:
                yield from map(_of_frame, resampler.resample(None))
            yield np.zeros((round(part.length_s * rate), 2), np.int16)
            resampler, begun = av.AudioResampler("s16", layout="stereo", rate=rate), False
            continue
        part.pts, begun = None, True
        yield from map(_of_frame, resampler.resample(part))
    if begun:
        yield from map(_of_frame, resampler.resample(None))


def _of_frame(frame: Any) -> Samples:
    return np.ascontiguousarray(frame.to_ndarray().reshape(-1, 2))
