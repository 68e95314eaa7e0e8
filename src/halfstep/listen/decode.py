"""Which notes explain best what the network saw? One path, found exactly.

In each frame one thing sounds: silence, or a note that has just begun, or goes on. The
path with the greatest total of log-probabilities is found by dynamic programming; a note
lasts at least `SHORTEST` frames, and one that is played again begins anew. Where a note
begins is then read between frames.

Source: Viterbi 1967, as any handbook gives it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.spectra import SEMITONES

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

SHORTEST = 4
"""Frames."""
FASTEST_REPEAT = 10
"""Frames within which nobody strikes the same note again: what sounds like it is one attack."""
CRACK = 8
"""Frames for which a note may speak an octave off before it sounds."""


def as_played(path: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """The notes of a path, with what no player can do made one note.

    Source: common practice, no source (a single tongue manages about ten strokes a second).

    >>> as_played([(20, 0, 7), (20, 7, 30), (8, 30, 34), (20, 34, 60)])
    [(20, 0, 30), (20, 30, 60)]
    """
    notes: list[tuple[int, int, int]] = []
    for note, first, end in path:
        if notes:
            last, begun, until = notes[-1]
            short = until - begun
            again = note == last and short < FASTEST_REPEAT
            cracked = abs(note - last) == 12 and short < CRACK
            if first == until and (again or cracked):
                notes[-1] = (note, begun, end)
                continue
        notes.append((note, first, end))
    return notes


def log_sigmoid(logits: Floats) -> Floats:
    """Log of the logistic function, safe for large logits."""
    return np.asarray(-np.logaddexp(0, -logits))


def best_path(
    pitch: Floats,
    onset: Floats,
    attack: Floats,
    *,
    low: int = 0,
    high: int = SEMITONES - 1,
    prior: Floats | None = None,
) -> list[tuple[int, int, int]]:
    """The notes of the best path.

    Parameters
    ----------
    pitch : float32 array, shape (frames, SEMITONES + 1)
        Log-probabilities, silence last.
    onset : float32 array, shape (frames, SEMITONES)
    attack : float32 array, shape (frames,)
        Logits of a beginning.
    low, high : int
        The semitones that the player can play, both included.
    prior : float32 array, shape (frames, SEMITONES), optional
        What is added for a note that begins, in nats.

    Returns
    -------
    list of (semitone, first frame, frame after the last)
    """
    frames = len(pitch)
    kept = slice(low, high + 1)
    begins = log_sigmoid(onset[:, kept]) + 0.5 * pitch[:, kept]
    if prior is not None:
        begins = begins + prior[:, kept]
    goes_on = pitch[:, kept] + log_sigmoid(-onset[:, kept])
    silent = pitch[:, SEMITONES] + log_sigmoid(-attack)
    count = high - low + 1
    never = np.full(count, -np.inf, dtype=np.float32)
    chain = [never.copy() for _ in range(SHORTEST - 1)]  # begun 1, 2, ... frames ago
    held, still = never.copy(), np.float32(0.0)
    # where a beginning and a silence come from: a held semitone, or count for silence
    origins = np.empty(frames, dtype=np.int16)
    fresh = np.empty((frames, count), dtype=bool)
    for frame in range(frames):
        loudest = int(held.argmax())
        from_held = held[loudest] > still
        best = held[loudest] if from_held else still
        origins[frame] = loudest if from_held else count
        on = goes_on[frame]
        fresh[frame] = chain[-1] > held
        held = np.maximum(chain[-1], held) + on
        for place in range(SHORTEST - 2, 0, -1):
            chain[place] = chain[place - 1] + on
        chain[0] = begins[frame] + best
        still = best + silent[frame]
    path = _walked(origins, fresh, held, still)
    return [(low + note, first, end) for note, first, end in path]


def _walked(
    origins: npt.NDArray[np.int16],
    fresh: npt.NDArray[np.bool_],
    held: Floats,
    still: np.float32,
) -> list[tuple[int, int, int]]:
    """The path back from its end."""
    count = fresh.shape[1]
    notes = []
    note = int(held.argmax()) if held.max() > still else count
    frame = end = len(origins)
    while frame > 0:
        frame -= 1
        if note == count:
            note = int(origins[frame])
            end = frame
        elif fresh[frame, note]:
            frame -= SHORTEST - 1
            notes.append((note, frame, end))
            note = int(origins[frame])
            end = frame
    return notes[::-1]
