"""What does the network say of each frame? Runs it over a sound of any length.

The network (`hears.onnx`, made by `training/`) thinks in pairs of frames and says something
of each frame. It looks 23 pairs back and ahead, so pieces overlap by `MARGIN`.

Shapes and meanings are those of `FrameEstimates`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from halfstep.listen.spectra import HOP, PAIR, spectra

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

MODEL = Path(__file__).with_name("hears.onnx")
MARGIN = 24
"""Pairs of frames that a piece is given on either side, and that are thrown away."""
PIECE = 300
"""Pairs that the network is run on at once: what it holds in between grows with them."""


@dataclass(frozen=True, slots=True)
class FrameEstimates:
    """What the network says of each frame.

    Attributes
    ----------
    pitch : float32 array, shape (frames, 62)
        Log-probabilities of the semitones from C2, silence last.
    onset : float32 array, shape (frames, 61)
        Logits of a beginning on each semitone.
    attack : float32 array, shape (frames,)
        Logits of any beginning.
    bend : float32 array, shape (frames, 61)
        Semitones from each semitone, if that one sounds.
    company : float32 array, shape (frames,)
        Logits of a second player.
    """

    pitch: Floats
    onset: Floats
    attack: Floats
    bend: Floats
    company: Floats

    @property
    def frames(self) -> int:
        """How many."""
        return len(self.pitch)


@lru_cache(maxsize=1)
def _session() -> Any:
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(
        MODEL.read_bytes(), options, providers=["CPUExecutionProvider"]
    )


def frame_estimates(
    sound: Floats,
    level: float,
    *,
    tuning_cents: float = 0.0,
    begun: FrameEstimates | None = None,
    most: int | None = None,
) -> FrameEstimates:
    """What the network says of a sound.

    Parameters
    ----------
    sound : float32 array, shape (samples,)
        At `spectra.RATE`.
    level : float
        The loudness of the take, as `spectra.level_of` gives it.
    tuning_cents : float
        How far the player's A lies from 440 Hz.
    begun : FrameEstimates, optional
        Its first frames, where they are known.
    most : int, optional
        How many frames from its beginning are asked for; all of them otherwise.
    """
    frames = len(sound) // HOP + 1
    wanted = frames if most is None else min(most, frames)
    known = begun.frames // 2 if begun else 0
    pieces = [] if begun is None else [_columns(begun, 2 * known)]
    until = (wanted + 1) // 2
    for first in range(known, until, PIECE):
        pairs = slice(first, min(first + PIECE, until))
        pieces.append(_estimated(sound, level, pairs, tuning_cents))
    pitch, onset, attack, bend, company = (
        np.concatenate(column)[:wanted] for column in zip(*pieces, strict=True)
    )
    return FrameEstimates(pitch, onset, attack[:, 0], bend, company[:, 0])


def _estimated(sound: Floats, level: float, pairs: slice, tuning_cents: float) -> list[Floats]:
    """What the network says of some pairs, a row for each frame."""
    begin = max(0, pairs.start - MARGIN)
    end = min(len(sound) // PAIR + 1, pairs.stop + MARGIN)
    harmonics, bands = spectra(
        sound, level, first=begin, pairs=end - begin, tuning_cents=tuning_cents
    )
    results = _session().run(None, {"harmonics": harmonics[None], "bands": bands[None]})
    kept = slice(2 * (pairs.start - begin), 2 * (pairs.stop - begin))
    return [result.reshape(-1, result.shape[-1])[kept] for result in results]


def _columns(of: FrameEstimates, frames: int) -> list[Floats]:
    columns = (of.pitch, of.onset, of.attack[:, None], of.bend, of.company[:, None])
    return [column[:frames] for column in columns]
