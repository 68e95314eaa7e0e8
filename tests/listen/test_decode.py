"""The path of notes is the best there is: held against every path on small cases."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from halfstep.listen.decode import SHORTEST, best_path, log_sigmoid
from halfstep.listen.spectra import SEMITONES

SMALL = (20, 21)
"""The two semitones that are allowed."""

Path = list[tuple[int, int, int]]


def made_up(seed: int, frames: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    pitch = rng.normal(-3, 2, (frames, SEMITONES + 1)).astype(np.float32)
    onset = rng.normal(-1, 2, (frames, SEMITONES)).astype(np.float32)
    return pitch, onset, rng.normal(-1, 2, frames).astype(np.float32)


def worth(path: Path, pitch: np.ndarray, onset: np.ndarray, attack: np.ndarray) -> float:
    """The total that the path is chosen by, added up note by note."""
    silent = pitch[:, SEMITONES] + log_sigmoid(-attack)
    total, until = 0.0, 0
    for note, first, end in path:
        total += float(silent[until:first].sum())
        begins = log_sigmoid(onset[first : first + 1, note])[0] + 0.5 * pitch[first, note]
        total += float(begins)
        held = slice(first + 1, end)
        total += float((pitch[held, note] + log_sigmoid(-onset[held, note])).sum())
        until = end
    return total + float(silent[until:].sum())


def every_path(frames: int) -> list[Path]:
    """All divisions of the frames into silence and notes of at least the shortest length."""
    found: list[Path] = []
    for kinds in product("-ab", repeat=frames):  # the frame's sound; capital: begins anew
        for anew in product((False, True), repeat=frames):
            path = _path(kinds, anew)
            if path is not None:
                found.append(path)
    return [list(each) for each in {tuple(path) for path in found}]


def _path(kinds: tuple[str, ...], anew: tuple[bool, ...]) -> Path | None:
    path: Path = []
    for frame, (kind, new) in enumerate(zip(kinds, anew, strict=True)):
        before = kinds[frame - 1] if frame else "-"
        if kind == "-":
            if new:
                return None
            continue
        note = SMALL["ab".index(kind)]
        if new:
            path.append((note, frame, frame + 1))
        elif before != kind:
            return None
        else:
            path[-1] = (note, path[-1][1], frame + 1)
    return path if all(end - first >= SHORTEST for _, first, end in path) else None


PATHS = every_path(8)


@pytest.mark.parametrize("seed", range(30))
def test_the_best_path_is_the_best_of_all(seed: int) -> None:
    """Of every path over eight frames of two semitones; the last note may be cut short."""
    seen = made_up(seed, 8)
    found = best_path(*seen, low=SMALL[0], high=SMALL[1])
    best = max(worth(path, *seen) for path in PATHS)
    assert worth(found, *seen) == pytest.approx(best, abs=1e-3)


def test_an_empty_take_has_no_notes() -> None:
    pitch = np.full((50, SEMITONES + 1), -9, dtype=np.float32)
    pitch[:, SEMITONES] = 0
    quiet = np.full((50, SEMITONES), -9, dtype=np.float32)
    assert best_path(pitch, quiet, quiet[:, 0]) == []
