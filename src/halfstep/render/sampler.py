"""What does one note sound like? Plays the zones of a sound bank, one note at a time.

A note is its recording read at another speed, through a low-pass, under an envelope.
Velocity only scales it, so a held note is made once for a key and kept; its end is cut
to length with the release of its zone. `Sampler.note` answers the question.

Conventions
-----------
- Sound is float32, shape (frames, 2), at `FRAME_RATE`; a note starts on its first frame.
- Gain is the square of velocity over 127, the curve of the SoundFont format.
- Percussion rings out: the length of a stroke does not shorten it.

Source: SoundFont Technical Specification 2.04 (from memory), sections 8.1.3 and 8.4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, sqrt
from typing import TYPE_CHECKING, Any

from halfstep.render.soundbank import Bank, ModulationEnvelope, Zone

if TYPE_CHECKING:
    import numpy.typing as npt

    Sound = npt.NDArray[Any]

FRAME_RATE = 44_100
"""Frames of sound a second."""

RING_S = 4.0
"""The longest that percussion rings, in seconds."""

_WIDTH = 0.6  # banks pan drums hard, which is tiring on headphones
_OPEN_HZ = 19_000.0
_SHORTEST_RELEASE_S = 0.03  # a sudden end clicks
_AUDIBLE_DB = 70.0
_FADE_S = 0.01
_BLOCK = 1024
_KEPT = 200  # held sounds, about half a megabyte each
_PERIODS = 12
_IN_TUNE = 0.8


@dataclass(frozen=True, slots=True)
class _HeldZone:
    """One zone of a key, held: mono sound, its gains, and how it is released."""

    sound: Sound
    left: float
    right: float
    release_s: float


class Sampler:
    """Plays notes from a bank and keeps what it has made.

    Parameters
    ----------
    bank : Bank
    """

    def __init__(self, bank: Bank) -> None:
        self.bank = bank
        self._held: dict[tuple[int, int, tuple[Zone, ...]], tuple[_HeldZone, ...]] = {}
        self._notes: dict[tuple[int, int, tuple[Zone, ...]], Sound] = {}
        self._tunings: dict[Zone, float] = {}

    def note(self, preset: int, key: int, velocity: int, length_s: float, *, rings: bool) -> Sound:
        """One note with its tail.

        Parameters
        ----------
        preset : int
            As `Bank.preset` numbers it.
        key, velocity : int
            MIDI numbers.
        length_s : float
            How long it is held, in seconds.
        rings : bool
            True for percussion: held until it has rung out.

        Returns
        -------
        numpy.ndarray
            float32, shape (frames, 2).
        """
        held_s = RING_S if rings else length_s
        place = (key, round(held_s * FRAME_RATE), self._serving(preset, key, velocity))
        if place not in self._notes:
            _make_room(self._notes)
            self._notes[place] = _released(self._zones(key, place[2], held_s), held_s)
        return (velocity / 127.0) ** 2 * self._notes[place]

    def _zones(self, key: int, zones: tuple[Zone, ...], held_s: float) -> tuple[_HeldZone, ...]:
        whole_s = ceil(held_s)  # so that notes of many lengths share one sound
        place = (key, whole_s, zones)
        if place not in self._held:
            _make_room(self._held)
            self._held[place] = tuple(
                _held(self.bank, zone, key, held_s=whole_s, tuning=self._tuning(zone))
                for zone in zones
            )
        return self._held[place]

    def _serving(self, preset: int, key: int, velocity: int) -> tuple[Zone, ...]:
        """The zones of a key; outside the preset's compass the nearest one is stretched."""
        every = self.bank.zones(preset)
        serving = tuple(zone for zone in every if zone.serves(key, velocity))
        if serving or not every:
            return serving
        return (min(every, key=lambda zone: max(zone.keys[0] - key, key - zone.keys[1])),)

    def _tuning(self, zone: Zone) -> float:
        """What puts a zone in tune, in factors of speed; measured once."""
        if zone not in self._tunings:
            self._tunings[zone] = 2.0 ** (-_error_cents(self.bank, zone) / 1200.0)
        return self._tunings[zone]


def _held(bank: Bank, zone: Zone, key: int, *, held_s: float, tuning: float) -> _HeldZone:
    """A key held for ``held_s`` and for the length of its release."""
    import numpy as np

    release_s = max(_SHORTEST_RELEASE_S, zone.envelope.release_s * _AUDIBLE_DB / 100.0)
    frames = round((held_s + min(release_s, RING_S)) * FRAME_RATE)
    time_s = np.arange(frames, dtype=np.float32) / FRAME_RATE
    moved = _moved(zone.movement, time_s)
    sound = _resampled(bank, zone, zone.step(key, FRAME_RATE) * tuning, moved)
    time_s, moved = time_s[: len(sound)], moved[: len(sound)]
    sound = _low_passed(sound, zone, moved) * _loudness(zone, time_s)
    angle = (1.0 + _WIDTH * zone.pan) * np.pi / 4.0
    gain = sqrt(2.0) * 10.0 ** (-zone.attenuation_db / 20.0)
    return _HeldZone(sound, float(gain * np.cos(angle)), float(gain * np.sin(angle)), release_s)


def _moved(movement: ModulationEnvelope, time_s: Sound) -> Sound:
    """The envelope of pitch and low-pass at each frame, 0 to 1."""
    import numpy as np

    top_s = movement.delay_s + movement.attack_s
    fall_s = top_s + movement.hold_s
    rise = (time_s - movement.delay_s) / movement.attack_s
    fall = 1.0 - (time_s - fall_s) / movement.decay_s
    moved = np.where(time_s < fall_s, np.minimum(rise, 1.0), np.maximum(fall, movement.sustain))
    return np.asarray(np.maximum(moved, 0.0), np.float32)


def _error_cents(bank: Bank, zone: Zone) -> float:
    """How far a looped recording stands above the pitch that its zone states.

    Banks are a few cents off here and there. The loop repeated is compared with itself
    twelve periods later (autocorrelation), 40 cents either way; where the match is poor
    the stated pitch is believed.
    """
    import numpy as np

    if not zone.looped or zone.loop_end <= zone.loop_start:
        return 0.0
    stated_hz = 440.0 * 2.0 ** ((zone.root - zone.tune_cents / 100.0 - 69) / 12.0)
    lag = _PERIODS * zone.rate / stated_hz
    loop = bank.samples[zone.loop_start : zone.loop_end].astype(np.float64)
    loop = np.tile(loop, ceil(max(4.0 * lag, 4096.0) / len(loop)))
    low, high = int(lag * 2.0 ** (-40.0 / 1200.0)), ceil(lag * 2.0 ** (40.0 / 1200.0))
    lags = range(low - 1, high + 2)
    window = len(loop) - high - 2
    first = loop[:window]
    match = np.array([_likeness(first, loop[shift : shift + window]) for shift in lags])
    best = int(match.argmax())
    if match[best] < _IN_TUNE or best in (0, len(match) - 1):
        return 0.0
    before, middle, after = match[best - 1 : best + 2]
    peak = low - 1 + best + 0.5 * (before - after) / (before - 2 * middle + after)
    return float(1200.0 * np.log2(lag / peak))


def _likeness(first: Sound, second: Sound) -> float:
    """1 for equal shapes, 0 for strangers."""
    import numpy as np

    power = float(np.einsum("i,i", first, first) * np.einsum("i,i", second, second))
    return float(np.einsum("i,i", first, second)) / sqrt(power) if power else 0.0


def _resampled(bank: Bank, zone: Zone, step: float, moved: Sound) -> Sound:
    """The recording read ``step`` samples a frame; shorter than asked where it ends.

    Between samples the curve is a cubic through its four neighbours (Catmull-Rom).
    """
    import numpy as np

    steps = step * 2.0 ** (moved.astype(np.float64) * zone.movement.bend_cents / 1200.0)
    places = np.cumsum(steps) - steps[0]
    recording = _unrolled(bank, zone, ceil(places[-1]) + 3)
    places = places[places < len(recording) - 3]
    whole = places.astype(np.int64)
    part = (places - whole).astype(np.float32)
    before, start, end, beyond = (recording[whole + k] for k in range(4))
    curve = start + 0.5 * part * (
        end
        - before
        + part
        * (2 * before - 5 * start + 4 * end - beyond + part * (3 * (start - end) + beyond - before))
    )
    return np.asarray(curve, np.float32)


def _unrolled(bank: Bank, zone: Zone, samples: int) -> Sound:
    """The recording with its loop repeated to ``samples``, one sample of silence before it."""
    import numpy as np

    loop = zone.loop_end - zone.loop_start
    end = zone.loop_end if zone.looped and loop > 0 else zone.end
    parts = [bank.samples[zone.start : end]]
    if zone.looped and loop > 0:
        times = max(0, ceil((samples - len(parts[0])) / loop))
        parts.append(np.tile(bank.samples[zone.loop_start : zone.loop_end], times + 1))
    joined = np.concatenate(parts)[: samples + 1]
    return np.pad(joined.astype(np.float32) / 32768.0, (1, 3))


def _low_passed(sound: Sound, zone: Zone, moved: Sound) -> Sound:
    """The sound through a two-pole low-pass whose cutoff moves.

    Filtered block by block in the frequency domain, with overlapping Hann windows, so
    that nothing recursive is needed.
    """
    import numpy as np

    swept = zone.cutoff_hz * 2.0 ** (moved * zone.movement.sweep_cents / 1200.0)
    if not len(sound) or swept.min() >= _OPEN_HZ:
        return sound
    hop = _BLOCK // 2
    blocks = len(sound) // hop + 2
    padded = np.zeros((blocks + 1) * hop, np.float32)
    padded[hop : hop + len(sound)] = sound
    window = np.hanning(_BLOCK + 1)[:_BLOCK].astype(np.float32)
    places = np.arange(blocks) * hop
    framed = np.lib.stride_tricks.sliding_window_view(padded, _BLOCK)[::hop][:blocks] * window
    centres = np.maximum(places, hop // 4)  # by then an attack has opened the filter
    cutoff_hz = np.minimum(swept[np.clip(centres, 0, len(sound) - 1)], _OPEN_HZ)
    ratio = np.fft.rfftfreq(_BLOCK, 1.0 / FRAME_RATE)[None, :] / cutoff_hz[:, None]
    quality = 10.0 ** ((zone.resonance_db - 3.01) / 20.0)
    response = 1.0 / np.sqrt((1.0 - ratio**2) ** 2 + (ratio / quality) ** 2)
    response *= 10.0 ** (-zone.resonance_db / 40.0)
    filtered = np.fft.irfft(np.fft.rfft(framed) * response, _BLOCK)
    out = np.zeros(len(padded), np.float32)
    out[: blocks * hop] += filtered[:, :hop].reshape(-1).astype(np.float32)
    out[hop:] += filtered[:, hop:].reshape(-1).astype(np.float32)
    return out[hop : hop + len(sound)]


def _loudness(zone: Zone, time_s: Sound) -> Sound:
    """The envelope of loudness at each frame: straight up, then down in decibels."""
    import numpy as np

    shape = zone.envelope
    fall_s = shape.delay_s + shape.attack_s + shape.hold_s
    rise = np.clip((time_s - shape.delay_s) / shape.attack_s, 0.0, 1.0)
    fallen_db = np.clip((time_s - fall_s) * 100.0 / shape.decay_s, 0.0, shape.sustain_db)
    return np.asarray(rise * 10.0 ** (-fallen_db / 20.0), np.float32)


def _released(zones: Sequence[_HeldZone], held_s: float) -> Sound:
    """The first ``held_s`` of the zones of a key with their releases, in stereo."""
    import numpy as np

    off = round(held_s * FRAME_RATE)
    lengths = [
        min(len(held.sound), off + round(min(held.release_s, RING_S) * FRAME_RATE))
        for held in zones
    ]
    mixed = np.zeros((max(lengths, default=0), 2), np.float32)
    for held, frames in zip(zones, lengths, strict=True):
        sound = held.sound[:frames].copy()
        tail = np.arange(max(0, frames - off), dtype=np.float32) / FRAME_RATE
        sound[off:] *= 10.0 ** (-tail * _AUDIBLE_DB / (20.0 * held.release_s))
        fade = min(frames, round(_FADE_S * FRAME_RATE))
        if fade:
            sound[-fade:] *= np.linspace(1.0, 0.0, fade, dtype=np.float32)
        mixed[:frames, 0] += held.left * sound
        mixed[:frames, 1] += held.right * sound
    return mixed


def _make_room(cache: dict[Any, Any]) -> None:
    """Let the oldest entries go."""
    while len(cache) >= _KEPT:
        cache.pop(next(iter(cache)))
