"""What do notes sound like? Plays the zones of a sound bank.

`Sampler.note` answers for one note, `Sampler.part` lays out many. A held key is made once and
kept; its end is cut to length with the release of its zone. Threads may share a sampler; their
parts are laid out one after the other.

Conventions
-----------
- Sound is float32, shape (frames, 2), at the sampler's rate; a note starts on its first frame.
- Gain is the square of velocity over 127, the curve of the SoundFont format; timbre follows
  velocity as `halfstep.render.held_note` says.
- No two strokes in a row are alike: by its number each is a little softer or harder in timbre and
  a little louder or quieter. The stroke of number 0 is as it is written.
- A note that goes on from the one before begins behind the attack of its recording, and both cross
  over in `JOINT_S` around its start: with no gap, no second attack and no click.
- Percussion rings out: the length of a stroke does not shorten it. What ends it is a later stroke
  of its exclusive class (8.1.2, generator 57): a hi-hat that is closed rings no longer.

Source: SoundFont Technical Specification 2.04 (from memory), section 8.4.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil, inf, log
from threading import RLock
from typing import TYPE_CHECKING, Any

from halfstep.played import Bend, Slur
from halfstep.render.bent_pitch import bent
from halfstep.render.held_note import (
    AUDIBLE_DB,
    HeldNote,
    held_note,
    rung_out,
    side_gains,
    unrolled,
)
from halfstep.render.recording_pitch import HEARD_S, pitch_course
from halfstep.render.soundbank import Bank, Zone

if TYPE_CHECKING:
    import numpy.typing as npt

    Sound = npt.NDArray[Any]

FRAME_RATE = 44_100
"""Frames of sound a second."""

RING_S = 6.0
"""The longest that percussion rings, in seconds."""

STROKE_DB, STROKE_TIMBRE = 0.25, 7.0
"""How far a stroke may be off its own level, and off its own timbre, in velocity."""

JOINT_S = 0.024
"""How long two slurred notes cross over."""

_ATTACK_S = 0.1
"""What a slurred note leaves out of its recording."""
_RISING_S, _HEARD = 0.08, 0.2
"""A note is heard from a fifth of the steepest of its beginning on: a pluck before its tone."""
_MOST_RISE_S = 0.02  # a reed swells for longer, and is heard before
_FADE_FRAMES = 441
_CHOKED_S = 0.03  # two cymbals that come together are not silent at once
_RELEASED_NEPERS = AUDIBLE_DB * log(10.0) / 20.0
_ROOM_FRAMES = 10 * FRAME_RATE
_KEPT_FRAMES = 20_000_000  # of held keys, eight bytes each
_STEPS = (0.6180339887, 0.7548776662)  # of sequences that never repeat and spread evenly


@dataclass(frozen=True, slots=True)
class SampledNote:
    """A note to be played.

    Attributes
    ----------
    start : int
        Its first frame.
    key, velocity : int
        MIDI numbers.
    length_s : float
        How long it is held, in seconds.
    slur : Slur
        How it is joined to its neighbours.
    bend : Bend or None
        How its pitch moves.
    """

    start: int
    key: int
    velocity: int
    length_s: float
    slur: Slur = Slur.NONE
    bend: Bend | None = None


@dataclass(frozen=True, slots=True)
class _Voice:
    """One zone of a stroke: mono, its first frame, and where it stands from -1 to 1."""

    start: int
    sound: Sound
    pan: float


class Sampler:
    """Plays notes from a bank and keeps what it has made.

    Parameters
    ----------
    bank : Bank
    frame_rate : int
        Frames a second.
    """

    def __init__(self, bank: Bank, *, frame_rate: int = FRAME_RATE) -> None:
        self.bank = bank
        self.frame_rate = frame_rate
        self._held: dict[tuple[Zone, int, int], HeldNote] = {}
        self._kept_frames = 0
        self._tunings: dict[Zone, float] = {}
        self._rises: dict[tuple[Zone, int], int] = {}
        self._room: Sound | None = None
        self._joint = round(JOINT_S * frame_rate)
        self._at_work = RLock()  # all notes are reckoned in one room

    def note(
        self, preset: int, key: int, velocity: int, length_s: float, *, rings: bool, number: int = 0
    ) -> Sound:
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
        number : int
            The stroke's number in its part, from which its small differences come.

        Returns
        -------
        numpy.ndarray
            float32, shape (frames, 2).
        """
        stroke = SampledNote(0, key, velocity, length_s)
        return _laid_out(self._voices(preset, stroke, number, rings=rings), frames=0)

    def part(
        self, preset: int, strokes: Iterable[SampledNote], *, rings: bool, frames: int = 0
    ) -> Sound:
        """Many notes with their tails, numbered in their order.

        Parameters
        ----------
        preset : int
            As `Bank.preset` numbers it.
        strokes : iterable of SampledNote
        rings : bool
            True for percussion: held until it has rung out.
        frames : int
            The least length of the sound.

        Returns
        -------
        numpy.ndarray
            float32, shape (frames, 2); longer where a tail is.
        """
        with self._at_work:
            return self._part(preset, tuple(strokes), rings=rings, frames=frames)

    def _part(
        self, preset: int, several: tuple[SampledNote, ...], *, rings: bool, frames: int
    ) -> Sound:
        ends = self._choke_frames(preset, several)
        voices = (
            self._choked(voice, ends[number])
            for number, stroke in enumerate(several)
            for voice in self._voices(preset, stroke, number, rings=rings)
        )
        return _laid_out(voices, frames=frames)

    def _choke_frames(self, preset: int, strokes: Sequence[SampledNote]) -> list[float]:
        """The frame on which each stroke is ended by a later one of its class; inf for none."""
        if not any(zone.exclusive for zone in self.bank.zones(preset)):
            return [inf] * len(strokes)
        classes = [self._classes(preset, stroke) for stroke in strokes]
        starts: dict[int, list[int]] = {}
        for stroke, several in sorted(zip(strokes, classes, strict=True), key=_by_start):
            for number in several:
                starts.setdefault(number, []).append(stroke.start)
        return [
            min((_next(starts[number], stroke.start) for number in several), default=inf)
            for stroke, several in zip(strokes, classes, strict=True)
        ]

    def _classes(self, preset: int, stroke: SampledNote) -> set[int]:
        zones = self.bank.serving(preset, stroke.key, stroke.velocity)
        return {zone.exclusive for zone in zones} - {0}

    def _choked(self, voice: _Voice, end: float) -> _Voice:
        """A voice that is damped from a frame on."""
        import numpy as np

        held = max(0, min(len(voice.sound), end - voice.start))
        if held == len(voice.sound):
            return voice
        fade = np.linspace(1.0, 0.0, round(_CHOKED_S * self.frame_rate), dtype=np.float32)
        sound = voice.sound[: int(held) + len(fade)]
        sound[int(held) :] *= fade[: len(sound) - int(held)]
        return replace(voice, sound=sound)

    def rise(self, preset: int, key: int, velocity: int) -> int:
        """Frames from the beginning of a note that is not percussion until it is heard.

        A reed or a string speaks some milliseconds after it is set going.
        """
        zones = self.bank.serving(preset, key, velocity)
        with self._at_work:
            return min((self._rise(zone, key) for zone in zones), default=0)

    def _rise(self, zone: Zone, key: int) -> int:
        place = (zone, key)
        if place not in self._rises:
            held = self.held(zone, key, _RISING_S)
            self._rises[place] = rise_frames(held.plain, self.frame_rate)
        return self._rises[place]

    def _voices(
        self, preset: int, stroke: SampledNote, number: int, *, rings: bool
    ) -> Iterator[_Voice]:
        import numpy as np

        level, timbre = _touch(stroke.velocity, number)
        held_s = RING_S if rings else stroke.length_s
        skipped_s = _ATTACK_S if Slur.FROM in stroke.slur else 0.0
        for zone in self.bank.serving(preset, stroke.key, stroke.velocity):
            held = self.held(zone, stroke.key, skipped_s + held_s, rings=rings)
            plain, soft = (np.float32(level * gain) for gain in held.gains(timbre))
            begin = round(skipped_s * self.frame_rate)
            end = begin + held.frames(held_s, self.frame_rate, rings=rings)
            sound = np.multiply(held.plain[begin:end], plain)
            sound += np.multiply(held.soft[begin:end], soft, out=self._scratch(len(sound)))
            if stroke.bend:
                sound = bent(sound, stroke.bend, round(held_s * self.frame_rate), self.frame_rate)
            if Slur.FROM in stroke.slur:
                sound[: self._joint] *= _joining(self._joint)[: len(sound)]
            if Slur.INTO in stroke.slur:
                sound = _joined_on(sound, round(held_s * self.frame_rate), self._joint)
            elif not rings:
                _release(sound, round(held_s * self.frame_rate), held.release_s * self.frame_rate)
            yield _Voice(stroke.start, sound, zone.pan)

    def _scratch(self, frames: int) -> Sound:
        """Room to reckon in, which is not asked of the system again for every note."""
        import numpy as np

        if self._room is None or len(self._room) < frames:
            self._room = np.empty(frames + _ROOM_FRAMES, np.float32)
        return self._room[:frames]

    def held(self, zone: Zone, key: int, held_s: float, *, rings: bool = False) -> HeldNote:
        """A key held for a time, rounded up to whole seconds; made once."""
        whole_s = ceil(held_s)  # so that notes of many lengths share one sound
        place = (zone, key, whole_s)
        if place not in self._held:
            note = held_note(
                self.bank,
                zone,
                key,
                held_s=whole_s,
                frame_rate=self.frame_rate,
                tuning=self._tuning(zone),
            )
            self._keep(place, rung_out(note, self.frame_rate) if rings else note)
        return self._held[place]

    def _keep(self, place: tuple[Zone, int, int], note: HeldNote) -> None:
        """Keep a held note, and let the oldest ones go."""
        self._held[place] = note
        self._kept_frames += len(note.plain)
        while self._kept_frames > _KEPT_FRAMES and len(self._held) > 1:
            oldest = self._held.pop(next(iter(self._held)))
            self._kept_frames -= len(oldest.plain)

    def _tuning(self, zone: Zone) -> float:
        """What puts a zone in tune, in factors of speed; measured once, where the bank is not."""
        if self.bank.tuned:
            return 1.0
        if zone not in self._tunings:
            self._tunings[zone] = 2.0 ** (-zone_error_cents(self.bank, zone) / 1200.0)
        return self._tunings[zone]


def _by_start(stroke: tuple[SampledNote, set[int]]) -> int:
    return stroke[0].start


def _next(starts: Sequence[int], start: int) -> float:
    """The first start behind one; inf for none."""
    place = bisect_right(starts, start)
    return starts[place] if place < len(starts) else inf


def rise_frames(sound: Sound, frame_rate: int) -> int:
    """When a note is heard, in frames from its beginning."""
    import numpy as np

    smooth = max(1, frame_rate // 500)
    start = np.square(np.diff(sound[: round(_RISING_S * frame_rate)], prepend=np.float32(0.0)))
    power = np.convolve(start, np.ones(smooth, np.float32) / smooth)[: len(start)]
    highest = float(power.max(initial=0.0))
    rise = int(np.argmax(power >= _HEARD**2 * highest)) if highest else 0
    return min(rise, round(_MOST_RISE_S * frame_rate))


def zone_error_cents(bank: Bank, zone: Zone) -> float:
    """How far a zone stands above the pitch that it states; 0 where it has no loop, or no pitch."""
    if not zone.looped:
        return 0.0
    held = unrolled(bank, zone, round(HEARD_S * zone.rate))[1:]
    return pitch_course(held, zone.rate, zone.stated_hz).error_cents()


def _touch(velocity: int, number: int) -> tuple[float, float]:
    """A stroke's gain, and the velocity of its timbre, with the small differences of its number."""
    level, timbre = (2.0 * ((number * step + 0.5) % 1.0) - 1.0 for step in _STEPS)
    gain = (velocity / 127.0) ** 2 * 10.0 ** (STROKE_DB * level / 20.0)
    return gain, velocity + STROKE_TIMBRE * timbre


def _release(sound: Sound, off: int, release_frames: float) -> None:
    """Let a sound die away from frame ``off``, and end in silence."""
    tail = max(0, len(sound) - off)
    if tail:
        sound[off:] *= _dying(release_frames, ceil(tail / FRAME_RATE) * FRAME_RATE)[:tail]
    fade = min(len(sound), _FADE_FRAMES)
    if fade:
        sound[-fade:] *= _fade(fade)


def _joined_on(sound: Sound, off: int, joint: int) -> Sound:
    """A sound that gives way to the next note around frame ``off``."""
    end = min(len(sound), off + joint // 2)
    fade = min(joint, end)
    if fade:
        sound[end - fade : end] *= _joining(joint)[:fade][::-1]
    return sound[:end]


@lru_cache(maxsize=4)
def _joining(frames: int) -> Sound:
    """From 0 to 1 so that two that cross over are as strong as one."""
    import numpy as np

    return np.sin(np.linspace(0.0, np.pi / 2.0, frames, dtype=np.float32))


@lru_cache(maxsize=32)
def _dying(release_frames: float, frames: int) -> Sound:
    """The gain of each frame behind the end of a note."""
    import numpy as np

    tail = np.arange(frames, dtype=np.float32)
    return np.asarray(np.exp(tail * np.float32(-_RELEASED_NEPERS / release_frames)))


@lru_cache(maxsize=4)
def _fade(frames: int) -> Sound:
    """From 1 to 0 in a straight line."""
    import numpy as np

    return np.linspace(1.0, 0.0, frames, dtype=np.float32)


def _laid_out(voices: Iterable[_Voice], *, frames: int) -> Sound:
    """Voices added up; those from one direction before they are given to both sides."""
    import numpy as np

    sides: dict[float, Sound] = {}
    length = frames
    for voice in voices:
        end = max(0, voice.start + len(voice.sound))
        length = max(length, end)
        side = _long_enough(sides.get(voice.pan), end, frames)
        start = max(0, voice.start)
        side[start:end] += voice.sound[start - voice.start :]
        sides[voice.pan] = side
    out = np.zeros((2, length), np.float32)
    for pan, side in sides.items():
        for row, gain in zip(out, side_gains(pan), strict=True):
            row[: len(side)] += np.float32(gain) * side[:length]
    return out.T


def _long_enough(side: Sound | None, end: int, frames: int) -> Sound:
    """A sum with room for ``end`` frames, and for more to come."""
    import numpy as np

    if side is not None and end <= len(side):
        return side
    longer = np.zeros(max(frames, end + _ROOM_FRAMES), np.float32)
    if side is not None:
        longer[: len(side)] = side
    return longer
