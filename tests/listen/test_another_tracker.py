"""Another program's answer on the same file: SwiftF0, a general pitch tracker (swift-f0, MIT).

It knows no notes, so it is asked for the pitch in the middle of those that we heard. Flutes
are left out: it hears one in five of their notes an octave off.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from halfstep.listen.audio import Recording, Stretches
from halfstep.listen.spectra import RATE
from halfstep.listen.transcription import hear

swift_f0 = pytest.importorskip("swift_f0")
SURE = 0.5


@pytest.fixture(scope="module")
def tracker():
    return swift_f0.SwiftF0(threads=1)


@pytest.mark.slow
@pytest.mark.parametrize(("source", "seed"), [("alto-sax", 5), ("tenor-sax", 8), ("trumpet", 6)])
@pytest.mark.parametrize("cents", [0.0, 40.0])
def test_the_pitch_of_each_note_is_that_of_another_tracker(
    takes,
    bank,
    tracker,
    tmp_path: Path,
    source: str,
    seed: int,
    cents: float,
) -> None:
    """In the middle of nearly every note the tracker is sure enough, and says the same.

    It hears a window in twenty of the tenor an octave off, in notes written as we hear them.
    """
    line = takes.take(bank, source, seed, cents=cents)
    path = tmp_path / "take.wav"
    soundfile.write(path, line.sound.astype("f4"), takes.RATE, subtype="FLOAT")
    heard = hear(path)
    whole = Stretches(Recording(path)).stretch(0, int(RATE * len(line.sound) / takes.RATE))
    found = tracker.detect(whole, RATE)
    semitones = 69 + 12 * np.log2(np.asarray(found.pitch_hz) / 440)
    sure = np.asarray(found.confidence) > SURE
    away, octaves = [], []
    for note in heard.notes:
        edge = 0.3 * (note.offset_s - note.onset_s)
        inside = (found.timestamps > note.onset_s + edge) & (
            found.timestamps < note.offset_s - edge
        )
        if np.count_nonzero(inside & sure) >= 2:
            apart = np.abs(semitones[inside & sure] - note.pitch_midi)
            octave = np.abs(apart - 12) < 0.35
            octaves += octave.tolist()
            away.append(float(np.median(apart[~octave])) if (~octave).any() else 0.0)
    assert len(away) > 0.9 * len(line.notes)
    assert np.mean(octaves) < 0.1
    assert np.mean(np.array(away) < 0.35) >= 0.97
    assert np.median(away) < 0.06


def test_a_glide_between_two_notes_ends_where_another_tracker_hears_it(
    tracker, tmp_path: Path
) -> None:
    """A second of A4, a glide of 80 ms, a second of D5."""
    time = np.arange(2 * RATE) / RATE
    pitch = 69 + 5 * np.clip((time - 0.96) / 0.08, 0, 1)
    cycles = np.cumsum(440 * 2 ** ((pitch - 69) / 12)) / RATE
    sound = sum(np.sin(2 * np.pi * n * cycles) / n for n in range(1, 8)) * 0.2
    sound = (sound * np.clip(time / 0.02, 0, 1)).astype("f4")
    path = tmp_path / "glide.wav"
    soundfile.write(path, sound, RATE, subtype="FLOAT")
    notes = hear(path).notes
    assert [note.midi for note in notes] == [69, 74]
    found = tracker.detect(sound, RATE)
    semitones = 69 + 12 * np.log2(np.asarray(found.pitch_hz) / 440)
    crossing = found.timestamps[np.argmax(semitones > 71.5)]
    assert abs(notes[1].onset_s - crossing) < 0.05
