"""How does a key sound that is held? One zone's recording at a pitch, struck hard and softly.

A held note is its recording read at another speed, through a low-pass, under an envelope. It is
made twice: as recorded, and *soft*, with the upper partials of a gentle stroke; what a velocity
sounds like is a mixture of both (`HeldNote.gains`).

Conventions
-----------
- Sound is float32, mono; a note starts on its first frame.
- The format lowers the low-pass with velocity, in a straight line by 2400 cents (8.4.2). Where a
  bank leaves its low-pass open at 20 kHz that is not heard. Here the low-pass of the soft copy
  stands where the recording's own spectrum is: half of its energy lies below.
- *Brightness* is how much of what the soft copy lacks is heard: 1 as recorded, at `PLAIN`, twice
  as much or half as much by a straight line of velocity, which is a line in decibels. It is as
  steep as `GENTLE` and `FIRM` strokes need to be alike by no more than `ALIKE`: a recording with
  few upper partials changes as audibly as one with many.
- Velocity is loudness: however dark or bright the mixture, it is as loud as the recording, half
  way in decibels between its power and its power under the K-weighting of BS.1770. Where both
  would come to lie farther apart than `APART_DB` on either side, the timbre changes less.

Source: SoundFont Technical Specification 2.04 (from memory), sections 8.1.3 and 8.4;
ITU-R BS.1770-4 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil, cos, log10, pi, sin, sqrt
from typing import TYPE_CHECKING, Any

from halfstep.render.soundbank import Bank, ModulationEnvelope, Zone

if TYPE_CHECKING:
    import numpy.typing as npt

    Sound = npt.NDArray[Any]

PLAIN, GENTLE, FIRM = 80.0, 40.0, 110.0
"""The velocity at which a note sounds as recorded, and two that are held against each other."""

ALIKE = 0.96
"""The correlation of gentle and firm strokes, at most: 1 for equal shapes."""

APART_DB = 0.48
"""How far power and loudness may be off the square of velocity, from `SOFTEST` to `FIRM`."""

SOFTEST = 30.0
_GENTLEST, _STEEPEST, _STEPS = 0.4, 2.0, 33  # doublings of brightness in 40 of velocity
_SOFT_SHARE = 0.5
AUDIBLE_DB = 70.0
"""How far a sound falls until it has gone."""

_WIDTH = 0.6  # banks pan drums hard, which is tiring on headphones
_OPEN_HZ = 19_000.0
_SHORTEST_RELEASE_S = 0.03  # a sudden end clicks
_LONGEST_RELEASE_S = 4.0
_JOINT_S = 0.01
_BLOCK = 1024
_LAST_RING_S = 0.5
_MEASURED_S = 1.0
_STILL_CENTS = 1.0


_Powers = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class HeldNote:
    """One zone of a key, held.

    Attributes
    ----------
    plain, soft : numpy.ndarray
        float32, shape (frames,): as recorded, and of the softest stroke.
    powers, heard : tuple of float
        The powers of ``plain``, of ``soft``, and of both together, and the same K-weighted.
    steepness : float
        How often brightness doubles in 40 of velocity.
    release_s : float
        From the end of the note until it has gone.
    """

    plain: Sound
    soft: Sound
    powers: _Powers
    heard: _Powers
    steepness: float
    release_s: float

    def frames(self, held_s: float, frame_rate: int, *, rings: bool) -> int:
        """How long a note sounds that is held for a time, or until it has rung out."""
        released = round(held_s * frame_rate) + round(self.release_s * frame_rate)
        return len(self.plain) if rings else min(len(self.plain), released)

    def gains(self, velocity: float) -> tuple[float, float]:
        """The gains of ``plain`` and ``soft`` that make a stroke as strong as the recording."""
        bright = _brightness(self.steepness, velocity)
        gain = (_made_up(self.powers, bright) * _made_up(self.heard, bright)) ** 0.25
        return bright * gain, (1.0 - bright) * gain

    @property
    def loudness(self) -> float:
        """Of a stroke like the recording: half way in decibels between both powers."""
        return sqrt(self.powers[0] * self.heard[0])


def _brightness(steepness: float, velocity: float) -> float:
    return float(2.0 ** (steepness * (velocity - PLAIN) / 40.0))


def _product(powers: _Powers, one: float, other: float) -> float:
    """The mean product of two mixtures, by their brightness."""
    plain, soft, both = powers
    crossed = one * (1.0 - other) + other * (1.0 - one)
    return one * other * plain + (1.0 - one) * (1.0 - other) * soft + crossed * both


def _made_up(powers: _Powers, bright: float) -> float:
    """What a mixture's power is multiplied by to be that of the recording."""
    power = _product(powers, bright, bright)
    return powers[0] / power if power > 0.0 else 1.0


def _steepness(powers: _Powers, heard: _Powers) -> float:
    """The least that makes gentle and firm strokes differ enough, or the most that may be."""
    steps = [_GENTLEST + 0.05 * step for step in range(_STEPS)]
    lawful = [step for step in steps if _apart_db(powers, heard, step) <= APART_DB] or steps[:1]
    return next((step for step in lawful if _likeness(powers, step) <= ALIKE), lawful[-1])


def _apart_db(powers: _Powers, heard: _Powers, steepness: float) -> float:
    """How far a gentle stroke is off the square of velocity, by power and by loudness alike."""
    softest, firm = (_brightness(steepness, velocity) for velocity in (SOFTEST, FIRM))
    made_up = [_made_up(both, softest) / _made_up(both, firm) for both in (powers, heard)]
    return abs(5.0 * log10(made_up[0] / made_up[1]))


def _likeness(powers: _Powers, steepness: float) -> float:
    """The correlation of gentle and firm strokes."""
    gentle, firm = (_brightness(steepness, velocity) for velocity in (GENTLE, FIRM))
    product = _product(powers, gentle, gentle) * _product(powers, firm, firm)
    return _product(powers, gentle, firm) / sqrt(product) if product > 0.0 else 0.0


def held_note(
    bank: Bank, zone: Zone, key: int, *, held_s: float, frame_rate: int, tuning: float
) -> HeldNote:
    """A key held for a time and for the length of its release.

    Parameters
    ----------
    bank : Bank
    zone : Zone
    key : int
        MIDI number.
    held_s : float
    frame_rate : int
        Frames a second.
    tuning : float
        A factor of speed that puts the zone in tune.
    """
    release_s = _release_s(zone)
    plain = plain_note(bank, zone, key, held_s + release_s, frame_rate=frame_rate, tuning=tuning)
    return _copies(plain, frame_rate, release_s)


def plain_note(
    bank: Bank, zone: Zone, key: int, length_s: float, *, frame_rate: int, tuning: float = 1.0
) -> Sound:
    """A key held for a time, as recorded: shape (frames,), float32.

    Parameters
    ----------
    bank : Bank
    zone : Zone
    key : int
        MIDI number.
    length_s : float
    frame_rate : int
        Frames a second.
    tuning : float, default 1.0
        A factor of speed that puts the zone in tune.
    """
    import numpy as np

    time_s = np.arange(round(length_s * frame_rate), dtype=np.float32) / frame_rate
    moved = _moved(zone.movement, time_s)
    sound = _resampled(bank, zone, zone.step(key, frame_rate) * tuning, moved)
    time_s, moved = time_s[: len(sound)], moved[: len(sound)]
    gain = np.float32(10.0 ** (-zone.attenuation_db / 20.0))
    sound = sound * (gain * _loudness(zone, time_s))
    return _through_low_pass(sound, zone, moved, frame_rate)


def _release_s(zone: Zone) -> float:
    """From the end of a zone's note until it has gone."""
    release_s = max(_SHORTEST_RELEASE_S, zone.envelope.release_s * AUDIBLE_DB / 100.0)
    return min(release_s, _LONGEST_RELEASE_S)


def _copies(plain: Sound, frame_rate: int, release_s: float) -> HeldNote:
    """A sound with its soft copy: filtered without a change of phase, so that both mix.

    What the copy lacks and how strong it is are measured in the first second, so that notes of
    all lengths begin alike.
    """
    import numpy as np

    measured = slice(round(_MEASURED_S * frame_rate))
    hz, spectrum = _spectrum(plain[measured], frame_rate)
    soft_hz = _soft_hz(_product_of(spectrum, spectrum), hz)
    soft = _filtered(plain, lambda hz: _response(hz / soft_hz, 0.0), frame_rate)
    _, soft_spectrum = _spectrum(soft[measured], frame_rate)
    weights = (np.ones_like(hz), _ear_weights(len(hz), float(hz[1])))
    powers, heard = (_powers(spectrum, soft_spectrum, weight) for weight in weights)
    return HeldNote(plain, soft, powers, heard, _steepness(powers, heard), release_s)


def _filtered(sound: Sound, gains: Callable[[Sound], Sound], frame_rate: int) -> Sound:
    """A sound with a gain for each frequency."""
    import numpy as np

    size = _fast_size(len(sound) + _BLOCK)
    spectrum = np.fft.rfft(sound, size) * gains(np.fft.rfftfreq(size, 1.0 / frame_rate))
    return np.fft.irfft(spectrum, size)[: len(sound)].astype(np.float32)


def _spectrum(sound: Sound, frame_rate: int) -> tuple[Sound, Sound]:
    """Frequencies, and the complex spectrum at each."""
    import numpy as np

    size = _fast_size(len(sound))
    return np.fft.rfftfreq(size, 1.0 / frame_rate), np.fft.rfft(sound, size)


def _product_of(one: Sound, other: Sound) -> Sound:
    """What two spectra have in common at each frequency: with itself, a sound's energy."""
    import numpy as np

    return np.asarray(one.real * other.real + one.imag * other.imag)


def side_gains(pan: float) -> tuple[float, float]:
    """The gains to left and right of a sound that stands at ``pan``, -1 to 1; 1 in the middle."""
    angle = (1.0 + _WIDTH * pan) * pi / 4.0
    return sqrt(2.0) * cos(angle), sqrt(2.0) * sin(angle)


def rung_out(note: HeldNote, frame_rate: int) -> HeldNote:
    """A held note up to where it has gone; what still rings at its end is faded, not cut."""
    import numpy as np

    level = np.abs(note.plain)
    audible = level > level.max(initial=0.0) * 10.0 ** (-AUDIBLE_DB / 20.0)
    frames = len(level) - int(audible[::-1].argmax()) if audible.any() else 0
    faded = min(frames // 4, round(_LAST_RING_S * frame_rate))  # a short drum keeps its shape
    fade = np.linspace(1.0, 0.0, faded, dtype=np.float32)
    plain, soft = note.plain[:frames].copy(), note.soft[:frames].copy()
    for sound in (plain, soft):
        sound[frames - len(fade) :] *= fade
    return replace(note, plain=plain, soft=soft)


def _powers(plain: Sound, soft: Sound, weights: Sound) -> _Powers:
    """The weighed powers of two spectra, and of both together."""
    return (
        float((_product_of(plain, plain) * weights).sum()),
        float((_product_of(soft, soft) * weights).sum()),
        float((_product_of(plain, soft) * weights).sum()),
    )


@lru_cache(maxsize=8)
def _ear_weights(count: int, apart_hz: float) -> Sound:
    """The K-weighting's power at evenly spaced frequencies from 0 on.

    It is a high shelf of 4 dB and a high-pass.
    """
    import numpy as np

    hz = apart_hz * np.arange(count)
    gain = 10.0 ** (4.0 / 40.0)
    turn = 1j * hz / 1500.0
    width = sqrt(2.0 * gain) * turn
    shelf = gain * (gain * turn**2 + width + 1.0) / (turn**2 + width + gain)
    return np.asarray((np.abs(shelf) * hz**2 / (hz**2 + 38.0**2)) ** 2, np.float32)


def _moved(movement: ModulationEnvelope, time_s: Sound) -> Sound:
    """The envelope of pitch and low-pass at each frame, 0 to 1."""
    import numpy as np

    if not movement.bend_cents and not movement.sweep_cents:
        return np.zeros_like(time_s)
    top_s = movement.delay_s + movement.attack_s
    fall_s = top_s + movement.hold_s
    rise = (time_s - movement.delay_s) / movement.attack_s
    fall = 1.0 - (time_s - fall_s) / movement.decay_s
    moved = np.where(time_s < fall_s, np.minimum(rise, 1.0), np.maximum(fall, movement.sustain))
    return np.asarray(np.maximum(moved, 0.0), np.float32)


# The recording at a pitch


def _resampled(bank: Bank, zone: Zone, step: float, moved: Sound) -> Sound:
    """The recording read ``step`` samples a frame; shorter than asked where it ends.

    Between samples the curve is a cubic through its four neighbours (Catmull-Rom).
    """
    import numpy as np

    places = _places(zone, step, moved)
    recording = unrolled(bank, zone, ceil(places[-1]) + 3 if len(places) else 3)
    places = places[: np.searchsorted(places, len(recording) - 3)]
    whole = places.astype(np.intp)
    if step == 1.0 and not zone.movement.bend_cents:
        return recording[1 : 1 + len(places)]
    part = (places - whole).astype(np.float32)
    before, start, end, beyond = (recording[k:].take(whole) for k in range(4))
    cubic = 3.0 * (start - end) + beyond - before
    square = 2.0 * before - 5.0 * start + 4.0 * end - beyond
    curve = start + 0.5 * part * (end - before + part * (square + part * cubic))
    return np.asarray(curve, np.float32)


def _places(zone: Zone, step: float, moved: Sound) -> Sound:
    """Where each frame is read in the recording, in samples."""
    import numpy as np

    if not zone.movement.bend_cents:
        return step * np.arange(len(moved), dtype=np.float64)
    steps = step * 2.0 ** (moved.astype(np.float64) * zone.movement.bend_cents / 1200.0)
    return np.asarray(np.cumsum(steps) - steps[:1])


def unrolled(bank: Bank, zone: Zone, samples: int) -> Sound:
    """A recording with its loop repeated to ``samples``, one sample of silence before it.

    The loop's end is blended into what stands before its beginning, so that no joint clicks, and
    what does not swing about zero is put there.
    """
    import numpy as np

    recording = bank.recording(zone.sample)
    first, last = zone.start, len(recording) + zone.end
    if zone.looped and first <= zone.loop_start < zone.loop_end <= len(recording):
        loop = _joined(recording, zone)
        level = loop.mean()
        times = max(0, ceil((samples - (zone.loop_start - first)) / len(loop)))
        parts = [recording[first : zone.loop_start], *[loop] * (times + 1)]
        joined = np.concatenate(parts)[: samples + 1] - level
    else:
        joined = recording[first:last][: samples + 1]
    return np.pad(joined, (1, 3))


def _joined(recording: Sound, zone: Zone) -> Sound:
    """A loop whose last frames go over into those before its first."""
    import numpy as np

    loop = recording[zone.loop_start : zone.loop_end].copy()
    room = zone.loop_start - zone.start
    frames = min(round(_JOINT_S * zone.rate), len(loop) // 2, room)
    if frames:
        weights = np.linspace(0.0, 1.0, frames, dtype=np.float32)
        before = recording[zone.loop_start - frames : zone.loop_start]
        loop[-frames:] += weights * (before - loop[-frames:])
    return loop


# Low-passes


def _through_low_pass(sound: Sound, zone: Zone, moved: Sound, frame_rate: int) -> Sound:
    """The sound through its zone's low-pass."""
    import numpy as np

    if not len(sound):
        return sound
    open_hz = min(_OPEN_HZ, 0.43 * frame_rate)
    swept = moved if zone.movement.sweep_cents else moved[:1]
    cutoffs_hz = zone.cutoff_hz * 2.0 ** (swept * zone.movement.sweep_cents / 1200.0)
    if cutoffs_hz.min() >= open_hz:
        return sound
    if cutoffs_hz.max() > cutoffs_hz.min() * 2.0 ** (_STILL_CENTS / 1200.0):
        return _swept(sound, zone, np.minimum(cutoffs_hz, open_hz), frame_rate)
    cutoff_hz = float(cutoffs_hz[0])
    return _filtered(sound, lambda hz: _response(hz / cutoff_hz, zone.resonance_db), frame_rate)


def _soft_hz(energy: Sound, hz: Sound) -> float:
    """The frequency below which half of the energy lies."""
    import numpy as np

    below = np.cumsum(energy)
    place = int(np.searchsorted(below, _SOFT_SHARE * below[-1]))
    return float(max(hz[min(place, len(hz) - 1)], hz[1]))


def _fast_size(frames: int) -> int:
    """A length not below ``frames`` that transforms quickly: 2, 3 or 5 times a power of two."""
    power = 1 << max(3, (frames - 1).bit_length())
    return min(size for size in (power, power * 5 // 8, power * 3 // 4) if size >= frames)


def _response(ratio: Sound, resonance_db: float) -> Sound:
    """The gain of a two-pole low-pass at frequencies over its cutoff."""
    import numpy as np

    quality = 10.0 ** ((resonance_db - 3.01) / 20.0)
    gain = 10.0 ** (-resonance_db / 40.0) / np.sqrt((1.0 - ratio**2) ** 2 + (ratio / quality) ** 2)
    return np.asarray(gain, np.float32)


def _swept(sound: Sound, zone: Zone, cutoffs_hz: Sound, frame_rate: int) -> Sound:
    """The sound through a low-pass whose cutoff moves, block by block under Hann windows."""
    import numpy as np

    hop = _BLOCK // 2
    blocks = len(sound) // hop + 2
    padded = np.zeros((blocks + 1) * hop, np.float32)
    padded[hop : hop + len(sound)] = sound
    window = np.hanning(_BLOCK + 1)[:_BLOCK].astype(np.float32)
    places = np.arange(blocks) * hop
    framed = np.lib.stride_tricks.sliding_window_view(padded, _BLOCK)[::hop][:blocks] * window
    centres = np.maximum(places, hop // 4)  # by then an attack has opened the filter
    centred_hz = cutoffs_hz[np.clip(centres, 0, len(sound) - 1)]
    ratio = np.fft.rfftfreq(_BLOCK, 1.0 / frame_rate)[None, :] / centred_hz[:, None]
    filtered = np.fft.irfft(np.fft.rfft(framed) * _response(ratio, zone.resonance_db), _BLOCK)
    out = np.zeros(len(padded), np.float32)
    out[: blocks * hop] += filtered[:, :hop].reshape(-1).astype(np.float32)
    out[hop:] += filtered[:, hop:].reshape(-1).astype(np.float32)
    return np.asarray(out[hop : hop + len(sound)])


def _loudness(zone: Zone, time_s: Sound) -> Sound:
    """The envelope of loudness at each frame: straight up, then down in decibels."""
    import numpy as np

    shape = zone.envelope
    fall_s = shape.delay_s + shape.attack_s + shape.hold_s
    rise = np.clip((time_s - shape.delay_s) / shape.attack_s, 0.0, 1.0)
    fallen_db = np.clip((time_s - fall_s) * 100.0 / shape.decay_s, 0.0, shape.sustain_db)
    return np.asarray(rise * 10.0 ** (-fallen_db / 20.0), np.float32)
