"""Takes with known notes, for `listening.py`: recorded instruments joined into lines.

Every note is a recording from a sound bank, played alone, or a tone by frequency
modulation; notes are joined so that never two sound, and mixed with a room, noise, or a
backing that the program rendered. None of these sounds, and none of this code, has a part
in training.

A note's onset is where its own recording, alone, has risen to a tenth of what it reaches
in its first 150 ms: recordings begin with silences of their own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from halfstep.backing import count_in, make_backing
from halfstep.backing.styles import style_for
from halfstep.meter import Clock, Feel
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.render.mixdown import band_sound
from halfstep.render.sampler import FRAME_RATE, Sampler
from halfstep.render.soundbank import opened_bank

RATE = FRAME_RATE
HORNS = {
    "soprano-sax": (64, 56, 84),
    "alto-sax": (65, 49, 80),
    "tenor-sax": (66, 44, 75),
    "baritone-sax": (67, 37, 66),
}
OTHERS = {
    "trumpet": (56, 54, 80),
    "trombone": (57, 40, 70),
    "clarinet": (71, 50, 84),
    "flute": (73, 60, 90),
    "voice": (53, 55, 76),
    "guitar": (26, 45, 76),
}
"""General MIDI program, and the lowest and highest note asked for."""
MODULATED = {"modulated brass": (128, 45, 80), "modulated reed": (129, 45, 80)}
"""Tones that no bank has: frequency modulation, one that brightens as it grows and one of odd
partials. Chowning, The Synthesis of Complex Audio Spectra by Means of Frequency Modulation,
1973; its ratios and indices from memory."""
BEYOND = 12
"""Semitones that altissimo goes over the highest note; banks stretch their recordings there."""

BACKINGS = (
    "tempo: 132\nfeel: swing\n| Dm7 | G7 | Cmaj7 | A7 | Fm7 | Bb7 | Ebmaj7 | G7alt |",
    "tempo: 96\nfeel: straight\n| Am7 | D7 | Gmaj7 | Cmaj7 | F#m7b5 | B7 | Em7 | E7 |",
    "tempo: 184\nfeel: swing\n| Bb7 | Eb7 | Bb7 | % | Eb7 | Edim7 "
    "| Bb7 | G7 | Cm7 | F7 | Bb7 | F7 |",
)

Sound = Any


@dataclass(frozen=True, slots=True)
class Note:
    """One true note: times in seconds, pitch as MIDI number, what kind it is."""

    onset_s: float
    offset_s: float
    midi: float
    kind: str


@dataclass(frozen=True, slots=True)
class Take:
    """Mono sound at `RATE`, and its notes."""

    name: str
    source: str
    sound: Sound
    notes: tuple[Note, ...]


@cache
def sampler(bank: Path) -> Sampler:
    return Sampler(opened_bank(bank))


def _written(rng: np.random.Generator, low: int, high: int, *, repeats: float) -> list[Any]:
    """Onset, length and pitch of each note of a line of some ten seconds, and its kind."""
    tempo = rng.uniform(70, 240)
    eighth = 30 / tempo
    swing = rng.choice([0.5, 0.58, 0.64])
    now, pitch, notes = 0.3, float(rng.integers(low + 5, high - 4)), []
    direction = 1
    while now < 10:
        for part in (swing, 1 - swing):
            length = 2 * eighth * part
            roll = rng.random()
            if roll < 0.12:
                now += length
                continue
            longer = length * (2 if rng.random() < 0.12 else 1)
            if roll < 0.12 + 0.06 and eighth > 0.16:
                longer, lengths = length, (length / 2, length / 2)
            else:
                lengths = (longer,)
            for length_s in lengths:
                kind = "repeated" if rng.random() < repeats and notes else "step"
                if kind == "step":
                    size = rng.choice([1, 2, 3, 4, 5, 7], p=[0.3, 0.34, 0.14, 0.1, 0.07, 0.05])
                    if rng.random() < 0.3 or not low <= pitch + direction * size <= high:
                        direction = -direction
                    if low <= pitch + direction * size <= high:
                        pitch += direction * size
                        kind = "leap" if size > 2 else "step"
                    else:
                        kind = "repeated"
                notes.append((now, length_s, int(pitch), kind))
                now += length_s
    return notes


@cache
def rise_s(bank: Path, program: int, midi: int) -> float:
    """When a note's own recording has risen to a tenth."""
    sound = np.abs(_alone(bank, program, midi, 0.3))
    smooth = np.convolve(sound, np.ones(88) / 88, mode="same")[: int(0.15 * RATE)]
    return float(np.argmax(smooth > 0.1 * smooth.max()) / RATE)


def _alone(bank: Path, program: int, midi: int, length_s: float, velocity: int = 100) -> Sound:
    if program > 127:
        return _modulated(program, midi, length_s, velocity)
    player = sampler(bank)
    preset, _ = player.bank.preset(program)
    return player.note(preset, midi, velocity, length_s, rings=False).mean(axis=1)


def _modulated(program: int, midi: int, length_s: float, velocity: int) -> Sound:
    """A tone by frequency modulation, with a release of 30 ms."""
    time = np.arange(round((length_s + 0.03) * RATE)) / RATE
    hertz = 440 * 2 ** ((midi - 69) / 12)
    rise = np.clip(time / 0.04, 0, 1) * (1 - 0.25 * np.clip((time - 0.04) / 0.1, 0, 1))
    envelope = rise * np.clip((length_s + 0.03 - time) / 0.03, 0, 1)
    if program == 128:
        carrier, modulator, index = 1, 1, 5 * envelope * velocity / 120
    else:
        carrier, modulator, index = 3, 2, 4 - 2 * np.clip(time / 0.1, 0, 1)  # odd partials
    swing = index * np.sin(2 * np.pi * modulator * hertz * time)
    return velocity / 120 * envelope * np.sin(2 * np.pi * carrier * hertz * time + swing)


def take(
    bank: Path,
    source: str,
    seed: int,
    *,
    repeats: float = 0.1,
    cents: float = 0.0,
    altissimo: bool = False,
) -> Take:
    """One line of one instrument."""
    program, low, high = (HORNS | OTHERS | MODULATED)[source]
    if altissimo:
        low, high = high - 2, high + BEYOND
    rng = np.random.default_rng([seed, program])
    written = _written(rng, low, high, repeats=repeats)
    sound = np.zeros(int((written[-1][0] + written[-1][1] + 1.0) * RATE))
    notes = []
    short = rng.uniform(0, 0.5)
    for index, (onset, length, midi, kind) in enumerate(written):
        following = written[index + 1][0] if index + 1 < len(written) else onset + length + 1
        held = length * (rng.uniform(0.5, 0.9) if rng.random() < short else 1.0)
        velocity = int(rng.integers(60, 120))
        begin = round(onset * RATE)
        note = _alone(bank, program, midi, held, velocity)
        until = max(round((following - onset) * RATE), 1)
        tail = note[: until + 220].copy()
        if len(note) > until:
            tail[until:] *= np.linspace(1, 0, len(tail) - until)
        tail = tail[: len(sound) - begin]
        sound[begin : begin + len(tail)] += tail
        rise = rise_s(bank, program, midi)
        notes.append(Note(onset + rise, max(onset + held, onset + rise + 0.02), midi, kind))
    if cents:
        ratio = 2 ** (cents / 1200)
        places = np.arange(0, len(sound) - 1, ratio)
        sound = np.interp(places, np.arange(len(sound)), sound)
        notes = [
            Note(n.onset_s / ratio, n.offset_s / ratio, n.midi + cents / 100, n.kind) for n in notes
        ]
    sound = sound / np.abs(sound).max() * 0.5
    return Take(f"{source}-{bank.stem}-{seed}", source, sound, tuple(notes))


# --- around it ---------------------------------------------------------------------------


def with_noise(taken: Take, snr_db: float, seed: int) -> Take:
    """White noise under the take."""
    noise = np.random.default_rng([seed, 7]).normal(size=len(taken.sound))
    return replace(taken, sound=taken.sound + noise * _rms(taken.sound) * 10 ** (-snr_db / 20))


def growling(taken: Take, seed: int) -> Take:
    """With a voice in the horn: loudness that beats some dozen times a second, deeply."""
    rng = np.random.default_rng([seed, 7])
    hertz = rng.uniform(30, 80)
    time = np.arange(len(taken.sound)) / RATE
    beat = 1 + 0.7 * np.sin(2 * np.pi * (hertz * time + 0.4 * np.sin(2 * np.pi * 3 * time)))
    return replace(taken, sound=taken.sound * beat / 1.7)


def in_room(taken: Take, rt60_s: float, ratio_db: float, seed: int) -> Take:
    """In a room of exponentially dying noise, after direct sound."""
    rng = np.random.default_rng([seed, 8])
    time = np.arange(int(rt60_s * 1.2 * RATE)) / RATE
    tail = rng.normal(size=len(time)) * 10 ** (-3 * time / rt60_s) * (time > 0.003)
    tail *= 10 ** (-ratio_db / 20) / np.sqrt(np.sum(tail**2))
    tail[0] += 1
    size = 1 << int(np.ceil(np.log2(len(taken.sound) + len(tail))))
    sounding = np.fft.irfft(np.fft.rfft(taken.sound, size) * np.fft.rfft(tail, size), size)
    return replace(taken, sound=sounding[: len(taken.sound)])


@cache
def band(seed: int = 0) -> Sound:
    """A backing of an invented chart, rendered by the program: two choruses, mono."""
    text = BACKINGS[seed % len(BACKINGS)]
    chart = played(read_sheet_text(text))
    swing = 1.0 if chart.feel is Feel.STRAIGHT else 1.7
    clock = Clock(chart.tempo_bpm or 120.0, swing)
    sound = band_sound(
        make_backing(chart, style=style_for(chart.feel or Feel.SWING), seed=seed),
        count_in=count_in(chart.meter),
        clock=clock,
        count_in_beats=chart.meter.bar_beats,
        beats=chart.beats,
        choruses=2,
        stems=False,
    )
    return sound.tiled(sound.mix_once).mean(axis=1) / 32768


def with_backing(taken: Take, backing: Sound, level_db: float, delay_s: float) -> Take:
    """Over a backing at a level against the player, late by the delay."""
    late = round(delay_s * RATE)
    under = np.zeros(len(taken.sound))
    piece = backing[: max(0, len(under) - late)]
    under[late : late + len(piece)] = piece
    gain = 10 ** (level_db / 20) * _rms(taken.sound) / _rms(backing)
    return replace(taken, sound=taken.sound + under * gain)


def _rms(sound: Sound) -> float:
    return float(np.sqrt(np.mean(np.square(sound))))
