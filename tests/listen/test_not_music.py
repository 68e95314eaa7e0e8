"""A metronome, a voice that speaks and a backing alone are told; hard playing is not."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from heard_recordings import heard_once
from tones import RATE, Sound, band, played, tone, write

from halfstep.listen.audio import Recording
from halfstep.listen.not_music import are_clicks
from halfstep.listen.transcription import hear

CLICKS, SPEECH, BACKING = "only clicks", "sounds like speech", "only the backing"
DATA = Path(__file__).parents[3] / "shared" / "data"


def room(sound: Sound, reverb_s: float) -> Sound:
    """The sound in a made-up room whose echoes are 6 dB under it."""
    time = np.arange(round(reverb_s * RATE)) / RATE
    echo = np.random.default_rng(0).normal(size=len(time)) * np.exp(-6.9 * time / reverb_s)
    echo *= 0.5 / np.sqrt(np.sum(echo**2))
    echo[0] += 1
    return np.convolve(sound, echo)[: len(sound)]


def click(kind: str, hertz: float) -> Sound:
    time = np.arange(round(0.15 * RATE)) / RATE
    wave = np.sin(2 * np.pi * hertz * time)
    shapes = {
        "beep": wave * (time < 0.03),
        "long beep": wave * np.clip(time / 0.002, 0, 1) * np.clip((0.06 - time) / 0.005, 0, 1),
        "wood": wave * np.exp(-time / 0.012),
        "tick": np.random.default_rng(1).normal(size=len(time)) * np.exp(-time / 0.004),
        "bell": wave * np.exp(-time / 0.03),
    }
    return shapes[kind]


def metronome(kind: str, bpm: float, length_s: float = 12.0) -> Sound:
    sound = np.zeros(round(length_s * RATE))
    for beat in range(int((length_s - 0.4) * bpm / 60)):
        begin = round((0.05 + beat * 60 / bpm) * RATE)
        stroke = click(kind, 1500 if beat % 4 == 0 else 1000)
        sound[begin : begin + len(stroke)] += 0.3 * stroke[: len(sound) - begin]
    return sound + 1e-4 * np.random.default_rng(2).normal(size=len(sound))


def says(path: Path, words: str, **options: Path) -> bool:
    return any(
        words in notice.text for notice in hear(path, backing=options.get("backing")).notices
    )


@pytest.mark.sampled
@pytest.mark.parametrize("bpm", [40, 120, 208])
@pytest.mark.parametrize("kind", ["beep", "long beep", "wood", "tick", "bell"])
def test_a_metronome_is_told(kind: str, bpm: float) -> None:
    assert are_clicks(metronome(kind, bpm).astype(np.float32))


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("kind", ["beep", "long beep", "wood", "tick", "bell"])
def test_a_metronome_in_a_room_is_told(kind: str) -> None:
    assert are_clicks(room(metronome(kind, 100), 0.5).astype(np.float32))


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["long beep", "tick"])
def test_a_take_of_a_metronome_says_so(tmp_path: Path, kind: str) -> None:
    assert says(write(tmp_path / "take.wav", metronome(kind, 120)), CLICKS)


def speech(seed: int, length_s: float = 12.0) -> Sound:
    """Syllables whose pitch glides, with hisses between them: nobody's voice."""
    rng = np.random.default_rng(seed)
    parts: list[Sound] = []
    while sum(map(len, parts)) < length_s * RATE:
        syllable_s = rng.uniform(0.12, 0.3)
        middle, way = rng.uniform(45, 55), rng.uniform(-4, 4)
        course = middle + way * np.linspace(-0.5, 0.5, round(syllable_s * RATE)) ** 3 * 4
        course += way * np.linspace(-0.5, 0.5, len(course))
        parts.append(tone(course, syllable_s, partials=14, attack_s=0.03))
        hiss = 0.03 * rng.normal(size=round(rng.uniform(0.03, 0.12) * RATE))
        parts.append(hiss * np.hanning(len(hiss)))
        if rng.random() < 0.2:
            parts.append(np.zeros(round(0.3 * RATE)))
    return np.concatenate(parts)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("seed", range(3))
def test_made_up_speech_is_told(tmp_path: Path, seed: int) -> None:
    assert says(write(tmp_path / "take.wav", speech(seed)), SPEECH)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("voice", ["en", "en+f3", "de"])
def test_a_reading_voice_is_told(tmp_path: Path, voice: str) -> None:
    """The voices of eSpeak NG (GPL-3.0), where it is installed."""
    program = shutil.which("espeak-ng")
    if program is None:
        pytest.skip("espeak-ng is not installed")
    words = (
        "Good evening. Tonight we begin with the third bar; I say the notes slowly, twice, and "
        "then it is your turn. Breathe where the slur ends, and count the two bars before you "
        "come in. Does anybody have a question about the second chord?"
    )
    path = tmp_path / "take.wav"
    subprocess.run([program, "-v", voice, "-w", str(path), words], check=True)
    assert says(path, SPEECH)


@pytest.mark.slow
def test_a_backing_alone_is_told(tmp_path: Path) -> None:
    backing = write(tmp_path / "backing.wav", band(12.0))
    take = write(tmp_path / "take.wav", 0.3 * np.concatenate([np.zeros(2000), band(12.0)]))
    assert says(take, BACKING, backing=backing)


@pytest.mark.slow
def test_a_player_over_the_backing_is_not_taken_for_the_backing_alone(tmp_path: Path) -> None:
    under = band(12.0)
    line = played([(0.5 * i + 0.4, 0.4, 60 + 3 * i % 12) for i in range(20)], 12.0)
    line *= np.sqrt(np.mean(under**2) / np.mean(line**2))
    backing = write(tmp_path / "backing.wav", under)
    assert not says(write(tmp_path / "take.wav", line + under), BACKING, backing=backing)


@pytest.mark.slow
def test_short_notes_of_one_pitch_are_no_metronome(tmp_path: Path) -> None:
    rng = np.random.default_rng(0)
    notes = [(0.3 + 0.4 * i + rng.normal(0, 0.012), 0.09, 65) for i in range(24)]
    assert not says(write(tmp_path / "take.wav", played(notes, 10.5)), CLICKS)


@pytest.mark.slow
def test_wide_vibrato_scoops_and_glides_are_no_speech(tmp_path: Path) -> None:
    time = np.arange(round(0.6 * RATE)) / RATE
    sway = 0.5 * np.sin(2 * np.pi * 5.5 * time) - 1.5 * np.exp(-time / 0.05)
    line = np.concatenate([tone(pitch + sway, 0.6) for pitch in (60, 64, 67, 71, 72, 69, 65) * 3])
    assert not says(write(tmp_path / "take.wav", line), SPEECH)


@pytest.mark.slow
def test_no_recorded_phrase_is_taken_for_clicks_or_speech() -> None:
    """Staccato, flutter, tremolo and glissando of a saxophonist: sax-phrases, real-lines."""
    paths = [*sorted(DATA.glob("sax-phrases/*.mp3")), *sorted(DATA.glob("real-lines/*.flac"))]
    if not paths:
        pytest.skip("the recordings are not here")
    notices = [(path.name, heard_once(path).notices) for path in paths]
    wrong = [(name, line) for name, lines in notices for line in lines if "no notes" in line.text]
    assert wrong == []
    assert Recording(paths[0]).path.exists()
