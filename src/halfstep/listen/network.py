"""What does the network say of each frame? Runs it over a sound of any length.

The network (`hears.onnx`, made by `training/`) thinks in pairs of frames and says something
of each frame. It looks 23 pairs back and ahead, so pieces overlap by `MARGIN`. What it said of a
piece before is looked up in `halfstep.listen.kept_estimates`.

Shapes and meanings are those of `FrameEstimates`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from halfstep.listen.kept_estimates import (
    MODEL,
    WIDTHS,
    KnownEstimates,
    NoEstimates,
    piece_digest,
)
from halfstep.listen.spectra import HOP, LONG, PAIR, shown_samples, spectra

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

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


NOTHING_KNOWN = NoEstimates()


def frame_estimates(
    sound: Floats,
    level: float,
    *,
    tuning_cents: float = 0.0,
    begun: FrameEstimates | None = None,
    most: int | None = None,
    known: KnownEstimates = NOTHING_KNOWN,
    is_whole: bool = True,
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
    known : KnownEstimates
        What it said of some of its pieces before, and where pieces are kept.
    is_whole : bool
        No more sound will follow, so that what is said of its end is kept as well.
    """
    frames = len(sound) // HOP + 1
    wanted = frames if most is None else min(most, frames)
    first = begun.frames // 2 if begun else 0
    until = (wanted + 1) // 2
    view = _View(sound, level, tuning_cents, is_whole)
    pieces = [slice(start, min(start + PIECE, until)) for start in range(first, until, PIECE)]
    rows = [] if begun is None else [_rows(begun, 2 * first)]
    rows += [_looked_up(view, pairs, known) for pairs in pieces]
    return _estimates(np.concatenate(rows)[:wanted])


@dataclass(frozen=True, slots=True)
class _View:
    """A sound as it is shown to the network."""

    sound: Floats
    level: float
    tuning_cents: float
    is_whole: bool

    def estimated(self, pairs: slice) -> Floats:
        """What the network says of some pairs, a row for each frame."""
        shown = self.shown(pairs)
        harmonics, bands = spectra(
            self.sound,
            self.level,
            first=shown.start,
            pairs=shown.stop - shown.start,
            tuning_cents=self.tuning_cents,
        )
        results = _session().run(None, {"harmonics": harmonics[None], "bands": bands[None]})
        kept = slice(2 * (pairs.start - shown.start), 2 * (pairs.stop - shown.start))
        columns = [result.reshape(-1, result.shape[-1])[kept] for result in results]
        return np.concatenate(columns, axis=1)

    def shown(self, pairs: slice) -> slice:
        """The pairs that it is shown to say something of these."""
        last = len(self.sound) // PAIR + 1
        return slice(max(0, pairs.start - MARGIN), min(last, pairs.stop + MARGIN))

    def digest(self, pairs: slice) -> bytes:
        """By what these pairs are known."""
        shown = self.shown(pairs)
        samples = shown_samples(self.sound, shown.start, shown.stop - shown.start)
        places = (pairs.start - shown.start, pairs.stop - pairs.start)
        return piece_digest(samples, (self.level, self.tuning_cents, *places))

    def is_settled(self, pairs: slice) -> bool:
        """True where nothing that the network is shown of these pairs will change."""
        return self.is_whole or bool((pairs.stop + MARGIN + SEEN_BEHIND) * PAIR <= len(self.sound))


SEEN_BEHIND = LONG // PAIR + 1
"""Pairs behind the last one that is shown in which its windows reach."""


def _looked_up(view: _View, pairs: slice, known: KnownEstimates) -> Floats:
    """What the network says of some pairs, or said of them before."""
    if isinstance(known, NoEstimates):
        return view.estimated(pairs)
    digest = view.digest(pairs)
    rows = known.rows(digest)
    if rows is None or len(rows) != 2 * (pairs.stop - pairs.start):
        rows = view.estimated(pairs)
        if view.is_settled(pairs):
            known.keep(digest, rows)
    return rows


def _estimates(rows: Floats) -> FrameEstimates:
    pitch, onset, attack, bend, company = np.split(rows, np.cumsum(WIDTHS)[:-1], axis=1)
    return FrameEstimates(pitch, onset, attack[:, 0], bend, company[:, 0])


def _rows(of: FrameEstimates, frames: int) -> Floats:
    columns = (of.pitch, of.onset, of.attack[:, None], of.bend, of.company[:, None])
    return np.concatenate([column[:frames] for column in columns], axis=1)
