"""What did the network say of sound that it was shown before? Kept, to be found by the sound.

What it says of a piece hangs on nothing but the samples that it is shown, their level and the
tuning: a piece is found by a digest of these. So whoever hears a take again, or a longer one that
begins the same, is given the very floats that were kept, or works them out.

Conventions
-----------
- A piece is a file, called by its digest, of 32-bit floats of the machine, a row for each frame.
- A folder is one process's to write; others may read in it at any moment: a file that is not
  whole has too few rows, and is as good as none.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from functools import lru_cache
from hashlib import blake2b
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import numpy as np

from halfstep.listen.spectra import SEMITONES

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

MODEL = Path(__file__).with_name("hears.onnx")
"""The network."""
WIDTHS = (SEMITONES + 1, SEMITONES, 1, SEMITONES, 1)
"""Columns of what it says of a frame: pitch, onset, attack, bend, company."""
MOST_PIECES = 200
"""No more are kept, 90 MB: twenty minutes of sound."""
LEVELS_KEPT = 2
ESTIMATES_FOLDER = "estimates"
"""Among what was heard of a recording."""


class KnownEstimates(Protocol):
    """Whatever knows what the network said of a piece."""

    def rows(self, digest: bytes) -> Floats | None:
        """What it said, shape (frames, columns); None where that is not known."""

    def keep(self, digest: bytes, rows: Floats) -> None:
        """Take down what it said of a piece whose sound will not change any more."""


class NoEstimates:
    """Nothing was heard before, and nothing is kept."""

    def rows(self, digest: bytes) -> Floats | None:
        """None."""

    def keep(self, digest: bytes, rows: Floats) -> None:
        """Do nothing."""


class EstimatesRead:
    """What a folder holds, for those who hear the take again.

    Parameters
    ----------
    folder : Path
        One that is not there holds nothing.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def rows(self, digest: bytes) -> Floats | None:
        """What the network said of a piece; None where it is not known, or cannot be read."""
        with suppress(OSError, ValueError):
            values = np.fromfile(self._folder / digest.hex(), dtype=np.float32)
            return values.reshape(-1, sum(WIDTHS))
        return None

    def keep(self, digest: bytes, rows: Floats) -> None:
        """Do nothing: the folder is another's to write."""


class EstimatesKept(EstimatesRead):
    """A folder that is written to while a take grows.

    Parameters
    ----------
    folder : Path
        Made when there is something to keep; what was left in it is removed.
    """

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._turns: list[tuple[float, list[Path]]] = []
        with suppress(OSError):
            _remove(folder.iterdir())

    def turn_to(self, level: float) -> None:
        """Keep pieces of a level from now on, and no longer those of the one before the last.

        The loudness of a take may go to and fro over the edge of a step.
        """
        turns = sorted(self._turns, key=lambda turn: turn[0] == level)
        self._turns = turns if turns and turns[-1][0] == level else [*turns, (level, [])]
        for _, paths in self._turns[:-LEVELS_KEPT]:
            _remove(paths)
        self._turns = self._turns[-LEVELS_KEPT:]

    def keep(self, digest: bytes, rows: Floats) -> None:
        """Write a piece; what the disk has no room for is not kept."""
        _, paths = self._turns[-1]
        if len(paths) >= MOST_PIECES:
            return
        with suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            path = self._folder / digest.hex()
            path.write_bytes(rows.tobytes())
            paths.append(path)


def _remove(paths: Iterable[Path]) -> None:
    for path in paths:
        path.unlink(missing_ok=True)


def piece_digest(sound: Floats, numbers: Sequence[float]) -> bytes:
    """By what a piece is known: the samples that are shown, and what else decides.

    Parameters
    ----------
    sound : float32 array, shape (samples,)
    numbers : sequence of float
        Level, tuning, and which of its frames are asked for.
    """
    digest = blake2b(_network(), digest_size=16)
    digest.update(np.array(numbers, dtype=np.float64).tobytes())
    digest.update(sound.tobytes())
    return digest.digest()


@lru_cache(maxsize=1)
def _network() -> bytes:
    """Which network, run by which libraries, says it: another says other floats."""
    import onnxruntime

    versions = f"{onnxruntime.__version__} {np.__version__} {WIDTHS}"
    return blake2b(MODEL.read_bytes() + versions.encode()).digest()
