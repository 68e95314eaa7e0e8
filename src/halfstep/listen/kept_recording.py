"""How is a recording read twice, but a short one decoded only once?

The ear reads a take for its loudness and for its notes. What is short enough is kept in
between, and its thin sound; what is longer is read from its file again, so that memory stays flat.

Conventions: those of `halfstep.listen.audio`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.listen.audio import Damage, Recording
from halfstep.listen.spectra import RATE
from halfstep.listen.thin_sound import ThinSound, thin_sound

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

KEPT_S = 120.0
"""A recording up to that long is kept."""


class KeptRecording:
    """A recording that is decoded once if it is short.

    Parameters
    ----------
    recording : Recording

    Attributes
    ----------
    damage : Damage
        What the last reading of the file could not read.
    """

    def __init__(self, recording: Recording) -> None:
        self.recording = recording
        self.damage = Damage()
        self._kept: tuple[Floats, ...] | None = None
        self._thin: ThinSound | None = None

    @property
    def kept_thin(self) -> ThinSound | None:
        """Its thin sound, where that was made before and is kept."""
        return self._thin

    def thin(self) -> ThinSound:
        """Its thin sound, made once if it is short.

        Raises
        ------
        TakeError
            As in `blocks`.
        """
        thin = self._thin or thin_sound(self.blocks())
        if self._kept is not None:
            self._thin = thin
        return thin

    def blocks(self) -> Iterator[Floats]:
        """The sound, as `Recording.blocks` gives it.

        Raises
        ------
        TakeError
            As there.
        """
        if self._kept is not None:
            yield from self._kept
            return
        kept: list[Floats] = []
        samples = 0
        self.damage = Damage()
        for block in self.recording.blocks(self.damage):
            samples += len(block)
            if samples <= KEPT_S * RATE:
                kept.append(block)
            yield block
        if samples <= KEPT_S * RATE:
            self._kept = tuple(kept)


def kept_recording(sound: Path | KeptRecording) -> KeptRecording:
    """A file, or one that may have been read before."""
    return KeptRecording(Recording(sound)) if isinstance(sound, Path) else sound
