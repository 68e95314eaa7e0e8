"""A take that is heard while it grows, held against the whole heard at once."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from tones import Sound, played

from halfstep.listen import network, spectra
from halfstep.listen.growing_take import EarlyNote, GrowingTake
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.listen.kept_estimates import EstimatesKept, EstimatesRead
from halfstep.listen.spectra import PAIR
from halfstep.listen.transcription import hear
from halfstep.listen.tuned_ear import player_range
from reference_files import DATA

RATE = 48_000
NOTES = [(1.0 + 0.35 * i, 0.3, 60 + (7 * i) % 13) for i in range(50)]
"""Eighteen seconds of playing."""


class GrowingFile:
    """A recording that grows piece by piece, and what is heard of it meanwhile."""

    def __init__(self, folder: Path, sound: Sound, rate: int = RATE) -> None:
        self.rate, self.kept = rate, folder / "kept"
        self._samples = np.clip(np.round(sound * 32767), -32768, 32767).astype("<i2")
        self._growing = folder / "growing.pcm"
        self.whole = folder / "whole.wav"
        soundfile.write(self.whole, self._samples, rate, subtype="PCM_16")

    def notes(self, piece_s: float) -> list[EarlyNote]:
        """The notes that are told while it grows, a piece at a time."""
        take = GrowingTake(self._growing, self.rate, player_range(0, 127), EstimatesKept(self.kept))
        return [note for _ in self._grown(piece_s) for note in take.listen()]

    def _grown(self, piece_s: float) -> Iterator[None]:
        size = round(piece_s * self.rate)
        self._growing.write_bytes(b"")
        for first in range(0, len(self._samples), size):
            with self._growing.open("ab") as file:
                file.write(self._samples[first : first + size].tobytes())
            yield

    def heard_after(self) -> HeardTake:
        """The whole, heard with what was kept."""
        return hear(self.whole, known=EstimatesRead(self.kept))


@pytest.fixture
def pairs_shown(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many pairs of frames the network is asked about, time by time."""
    counts: list[int] = []
    estimated = network._View.estimated

    def counted(view: network._View, pairs: slice) -> object:
        counts.append(pairs.stop - pairs.start)
        return estimated(view, pairs)

    monkeypatch.setattr(network._View, "estimated", counted)
    return counts


def of_the_whole(note: EarlyNote, notes: tuple[HeardNote, ...]) -> bool:
    return any(
        whole.midi == note.midi and abs(whole.onset_s - note.onset_s) < 0.05 for whole in notes
    )


@pytest.mark.slow
def test_the_whole_is_heard_exactly_the_same_and_only_its_end_is_new(
    tmp_path: Path, pairs_shown: list[int]
) -> None:
    """Over a minute, so that one stretch is over; floats and all."""
    turns = [
        (onset + 17.5 * turn, length, midi) for turn in range(4) for onset, length, midi in NOTES
    ]
    recording = GrowingFile(tmp_path, played(turns, 71.5, rate=RATE))
    recording.notes(piece_s=9.0)
    pairs_shown.clear()
    after = recording.heard_after()
    shown = sum(pairs_shown)
    assert after == hear(recording.whole)
    assert len(after.notes) == len(turns)
    assert shown * PAIR / spectra.RATE < 7.0


@pytest.mark.slow
def test_the_notes_told_meanwhile_are_those_of_the_whole(tmp_path: Path) -> None:
    recording = GrowingFile(tmp_path, played(NOTES[:14], 8.5, rate=RATE))
    notes = recording.notes(piece_s=0.5)
    assert [note.midi for note in notes] == [midi for _, _, midi in NOTES[:14]]
    assert all(of_the_whole(note, recording.heard_after().notes) for note in notes)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["clarinet-500", "saxophone-501"])
def test_recorded_players_are_heard_the_same_in_pieces(tmp_path: Path, name: str) -> None:
    """Source: lines of real instruments beside the repository, as their list names them."""
    if not (DATA / "real-lines").is_dir():
        pytest.skip("no lines of real players are beside the repository")
    sound, rate = soundfile.read(DATA / "real-lines" / f"{name}.flac")
    recording = GrowingFile(tmp_path, sound if sound.ndim == 1 else sound.mean(axis=1), rate)
    notes = recording.notes(piece_s=4.0)
    after = recording.heard_after()
    assert after == hear(recording.whole)
    shares = [of_the_whole(note, after.notes) for note in notes]
    assert np.mean(shares) > 0.95
    assert len(notes) > 0.9 * len(after.notes)


@pytest.mark.slow
def test_a_take_that_turns_louder_is_heard_the_same(tmp_path: Path) -> None:
    sound = played(NOTES[:20], 9.0, rate=RATE)
    sound[: 4 * RATE] *= 0.05
    recording = GrowingFile(tmp_path, sound)
    recording.notes(piece_s=1.5)
    assert recording.heard_after() == hear(recording.whole)


@pytest.mark.slow
def test_what_was_kept_of_another_take_changes_nothing(tmp_path: Path) -> None:
    one = GrowingFile(tmp_path, played(NOTES[:12], 5.5, rate=RATE))
    one.notes(piece_s=7.0)
    other = GrowingFile(
        tmp_path, played([(o, le, m + 1) for o, le, m in NOTES[:12]], 5.5, rate=RATE)
    )
    assert other.heard_after() == hear(other.whole)


@pytest.mark.slow
def test_a_damaged_piece_is_heard_anew(tmp_path: Path) -> None:
    recording = GrowingFile(tmp_path, played(NOTES[:12], 5.5, rate=RATE))
    recording.notes(piece_s=7.0)
    pieces = [*recording.kept.iterdir()]
    assert pieces
    for piece in pieces:
        piece.write_bytes(piece.read_bytes()[:1001])
    assert recording.heard_after() == hear(recording.whole)


def test_silence_tells_no_note(tmp_path: Path) -> None:
    assert GrowingFile(tmp_path, np.zeros(3 * RATE)).notes(piece_s=1.0) == []
