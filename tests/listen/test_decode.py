"""The path of notes is the best there is: held against every path on small cases."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from halfstep.listen.decode import SHORTEST, as_played, best_path, log_sigmoid
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


def every_path(frames: int, first: int = 0) -> Iterator[Path]:
    """All divisions of the frames from ``first`` on into silence and notes of any length.

    None is shorter than the shortest note.
    """
    if first == frames:
        yield []
        return
    yield from every_path(frames, first + 1)  # a silent frame
    for end in range(first + SHORTEST, frames + 1):
        for later in every_path(frames, end):
            for note in SMALL:
                yield [(note, first, end), *later]


PATHS = list(every_path(8))


@pytest.mark.parametrize("seed", range(30))
def test_the_best_path_is_the_best_of_all(seed: int) -> None:
    """Of every path over eight frames of two semitones; the last note may be cut short."""
    outputs = made_up(seed, 8)
    path = best_path(*outputs, low=SMALL[0], high=SMALL[1])
    best = max(worth(other, *outputs) for other in PATHS)
    assert worth(path, *outputs) == pytest.approx(best, abs=1e-3)


def test_an_empty_take_has_no_notes() -> None:
    pitch = np.full((50, SEMITONES + 1), -9, dtype=np.float32)
    pitch[:, SEMITONES] = 0
    quiet = np.full((50, SEMITONES), -9, dtype=np.float32)
    assert best_path(pitch, quiet, quiet[:, 0]) == []


@pytest.mark.parametrize(
    ("path", "played"),
    [
        # the same note again: one attack where the first lasts nine frames, two where ten
        ([(20, 0, 9), (20, 9, 30)], [(20, 0, 30)]),
        ([(20, 0, 10), (20, 10, 30)], [(20, 0, 10), (20, 10, 30)]),
        ([(20, 5, 14), (20, 14, 30)], [(20, 5, 30)]),
        # an octave off before it speaks: seven frames are a crack, eight are a note
        ([(8, 0, 7), (20, 7, 30)], [(20, 0, 30)]),
        ([(32, 0, 7), (20, 7, 30)], [(20, 0, 30)]),
        ([(8, 0, 8), (20, 8, 30)], [(8, 0, 8), (20, 8, 30)]),
        ([(9, 0, 7), (20, 7, 30)], [(9, 0, 7), (20, 7, 30)]),
        # silence between leaves both
        ([(20, 0, 7), (20, 8, 30)], [(20, 0, 7), (20, 8, 30)]),
        ([], []),
    ],
)
def test_what_no_player_can_do_is_one_note(path: Path, played: Path) -> None:
    """In frames of ten milliseconds; common practice, no source."""
    assert as_played(path) == played


def sure(frames: int, *notes: tuple[int, int, int]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """What a network would say of these notes without a doubt."""
    pitch = np.full((frames, SEMITONES + 1), -9, dtype=np.float32)
    onset = np.full((frames, SEMITONES), -9, dtype=np.float32)
    pitch[:, SEMITONES] = 0
    for note, first, end in notes:
        pitch[first:end, SEMITONES], pitch[first:end, note] = -9, 0
        onset[first, note] = 9
    return pitch, onset, onset.max(axis=1)


@pytest.mark.parametrize(
    "path",
    [
        [(0, 3, 12), (60, 12, 20), (30, 25, 40)],
        [(30, 0, 4), (30, 4, 8), (31, 8, 12)],
        [(30, 10, 14)],
        [(12, 0, 40)],
    ],
)
def test_notes_without_a_doubt_are_the_path(path: Path) -> None:
    assert best_path(*sure(40, *path)) == path


def test_only_what_the_player_can_play_is_in_the_path() -> None:
    """Both ends of the compass are the player's; what lies outside them is not heard."""
    outputs = sure(60, (19, 5, 15), (20, 20, 30), (25, 30, 40), (26, 45, 55))
    outputs[0][:15, SEMITONES] = outputs[0][45:, SEMITONES] = 0
    assert best_path(*outputs, low=20, high=25) == [(20, 20, 30), (25, 30, 40)]


def test_the_logistic_function_is_safe_for_large_logits() -> None:
    """-log(1 + exp(-x)), which goes to 0 on one side and to x on the other."""
    logits = np.array([-1000, 0, 1000], dtype=np.float32)
    assert log_sigmoid(logits) == pytest.approx([-1000, -np.log(2), 0])
