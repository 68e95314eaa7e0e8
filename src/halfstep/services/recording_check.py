"""Is a file a recording, whole and of bearable length? It is decoded to its end to know."""

from __future__ import annotations

from pathlib import Path

from halfstep.errors import TakeError

LONGEST_S = 3600.0
"""Of a recording that is sent."""
RATES = range(4000, 384_001)
"""Samples a second: at others a resampler asks for memory without measure."""


def demand_recording(path: Path, longest_s: float = LONGEST_S) -> None:
    """Refuse what has no sound in it that can be read, or too much.

    The length that a file states is believed where it is too great, and not where it is small.

    Parameters
    ----------
    path : Path
    longest_s : float

    Raises
    ------
    TakeError
        With what is wrong, and what can be read, in one line.
    """
    from halfstep.listen.audio import Damage, Recording, SoundStream  # it loads what decodes
    from halfstep.listen.spectra import RATE

    recording = Recording(path)
    with recording.opened(mended=False) as container:
        rate = int(container.streams.audio[0].rate)
        stated_s = SoundStream(path, container, Damage()).stated_s or 0.0
    if rate not in RATES:
        raise TakeError(
            f"{path.name}: {rate} samples a second; send one of {RATES[0]} to {RATES[-1]}"
        )
    left = longest_s * RATE if stated_s <= longest_s else 0.0
    for block in recording.blocks() if left else ():
        left -= len(block)
        if left < 0:
            break
    if left <= 0:
        raise TakeError(
            f"{path.name}: longer than {longest_s / 60:.0f} minutes; send the part that you play"
        )
