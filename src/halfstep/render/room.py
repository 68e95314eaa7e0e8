"""Where does the band play? A small room: what it gives back, and a mix with a firm bass.

Each part is heard as it is and, from one place in the room, by what the walls give back:
their first reflections, found by mirroring the player at them, and a short tail of seeded
noise that dies away faster the higher it is. Both are made here; no room was recorded.

Conventions
-----------
- A `Bus` is sound on its way into the room: ``dry``, shape (2, frames), the middle of left
  and right and their half difference; ``send``, shape (frames,), what the walls are told.
- `in_room` gives middle and side again, and the side of the walls for itself, since how wide
  a room is heard depends on how far apart the listener's microphones stand. Below `MONO_HZ`
  there is no side, so that a bass is in one place; below `LOWEST_HZ` there is nothing, so that
  no sound stands off the zero line.
- The room needs what was played in the `MEMORY` frames before.

Source: image sources, Allen and Berkley 1979 (from memory); a decay of half a second is that of a
furnished living room (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import TYPE_CHECKING, Any

from halfstep.render.sampler import FRAME_RATE

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Sound = npt.NDArray[np.float32]
    Values = npt.NDArray[Any]

DECAY_S = 0.45
"""How long the tail takes to fall by 60 dB."""
MONO_HZ, LOWEST_HZ = 150.0, 20.0
MEMORY = 20_000
"""Frames that the room remembers."""

_SIZE_M = (6.2, 4.7, 3.0)
_PLAYER_M, _LISTENER_M, _EARS_M = (2.1, 3.3, 1.3), (3.6, 1.5, 1.2), 0.09
_REFLECTED, _MOST_WALLS = 0.8, 2
_METRES_A_SECOND = 343.0
_TAIL_FROM_S, _TAIL_DB = 0.012, 1.0
_BANDS_HZ = ((0.0, 1.0), (1000.0, 0.95), (4000.0, 0.8), (9000.0, 0.6))
"""From where each band goes, and its share of `DECAY_S`."""
_ROOM_LOWEST_HZ = 160.0
_SEED = 1770
_FFT = 5 << 14  # a length that transforms fast, and holds little of the memory


@dataclass(frozen=True, slots=True)
class Bus:
    """Sound on its way into the room.

    Attributes
    ----------
    dry : numpy.ndarray
        Shape (2, frames): middle and side.
    send : numpy.ndarray
        Shape (frames,).
    share : float, optional
        What the send is of the middle, where it is nothing else: a transform is saved.
    """

    dry: Sound
    send: Sound
    share: float | None = None

    def __add__(self, other: Bus) -> Bus:
        """Both together, as long as the longer one."""
        return Bus(added(self.dry, other.dry), added(self.send, other.send))

    @property
    def frames(self) -> int:
        """Its length."""
        return int(self.send.shape[-1])

    def last(self, frames: int, *, end: int | None = None) -> Bus:
        """The frames before one, its own end where none is named, as if it were repeated."""
        end = self.frames if end is None else end
        places = range(end - frames, end)
        return Bus(
            self.dry.take(places, axis=-1, mode="wrap"),
            self.send.take(places, axis=-1, mode="wrap"),
            self.share,
        )


def added(one: Sound, other: Sound) -> Sound:
    """Two sounds from the same frame on, as long as the longer one."""
    longer, shorter = (one, other) if one.shape[-1] >= other.shape[-1] else (other, one)
    both = longer.copy()
    both[..., : shorter.shape[-1]] += shorter
    return both


def in_room(
    bus: Bus, before: Bus | None = None, *, width: float | None = None, out: Sound | None = None
) -> Sound:
    """What is heard of a bus, shape (3, frames): middle, side, and the side of the walls alone.

    Parameters
    ----------
    bus : Bus
    before : Bus, optional
        `MEMORY` frames that precede it; silence where there is none. Its share is the bus's.
    width : float, optional
        The side of the walls, so many times, is added to the side; the shape is (2, frames) then.
    out : numpy.ndarray, optional
        Where it is put.
    """
    import numpy as np

    count = 3 if width is None else 2
    sound = np.empty((count, bus.frames), np.float32) if out is None else out
    lanes: Values = np.empty((3, _FFT), np.float32)
    spectra: Values = np.empty((4, _FFT // 2 + 1), np.complex64)  # the last is for reckoning
    for start in range(0, bus.frames, _FFT - MEMORY):
        _fill(lanes, bus, before, start - MEMORY)
        _transform(lanes, spectra, bus.share)
        _pass_through(spectra, width)
        piece = sound[:, start : start + _FFT - MEMORY]
        for lane, spectrum, row in zip(lanes, spectra, piece, strict=False):
            np.fft.irfft(spectrum, _FFT, out=lane)
            row[:] = lane[MEMORY : MEMORY + len(row)]
    return sound


def _transform(lanes: Values, spectra: Values, share: float | None) -> None:
    """The spectra of dry and send, one by one: together they would take new memory each time."""
    import numpy as np

    for lane, spectrum in zip(lanes if share is None else lanes[:2], spectra, strict=False):
        if lane.any():  # a part in the middle has no side, and a line is silent in the count-in
            np.fft.rfft(lane, out=spectrum)
        else:
            spectrum[:] = 0.0
    if share is not None:
        np.multiply(spectra[0], np.float32(share), out=spectra[2])


def _pass_through(spectra: Values, width: float | None) -> None:
    """What the room makes of dry and send, in place: see `in_room`."""
    import numpy as np

    through, walls = _responses()
    spectra[:2] *= through
    spectra[0] += np.multiply(spectra[2], walls[0], out=spectra[3])
    spectra[2] *= walls[1]
    if width is not None:
        spectra[2] *= width
        spectra[1] += spectra[2]


def _fill(lanes: Sound, bus: Bus, before: Bus | None, first: int) -> None:
    """The frames of a bus from one on that may lie before it, and silence behind it."""
    lead = max(0, -first)
    lanes[:, :lead] = 0.0
    if before and lead:
        lanes[:2, :lead], lanes[2, :lead] = before.dry, before.send
    start, frames = first + lead, lanes.shape[1] - lead
    filled = lead + min(frames, bus.frames - start)
    lanes[:2, lead:filled] = bus.dry[:, start : start + frames]
    lanes[2, lead:filled] = bus.send[start : start + frames]
    lanes[:, filled:] = 0.0


@lru_cache(maxsize=1)
def _responses() -> tuple[Values, Values]:
    """What middle and side pass through, and what the walls add to each; shape (2, bins)."""
    import numpy as np

    hz = np.fft.rfftfreq(_FFT, 1.0 / FRAME_RATE)
    firm = _high_pass(hz, MONO_HZ) ** 2
    lowest = _high_pass(hz, LOWEST_HZ)
    left, right = room_response()
    walls = np.fft.rfft(np.stack([left + right, left - right]) / 2.0, _FFT)
    through = np.stack([lowest, lowest * firm])
    return through.astype(np.complex64), (walls * [np.ones_like(firm), firm]).astype(np.complex64)


def _high_pass(hz: Values, corner_hz: float) -> Values:
    """A Butterworth high-pass of second order at each frequency, 0 at 0 (bilinear transform)."""
    import numpy as np

    back = np.exp(-2j * np.pi * hz / FRAME_RATE)
    tangent = np.tan(np.pi * corner_hz / FRAME_RATE)
    over, under = (1.0 - back) / tangent, 1.0 + back
    return np.asarray(over**2 / (over**2 + np.sqrt(2.0) * over * under + under**2))


def room_response() -> tuple[Values, Values]:
    """What left and right ear get back from the walls for one click, each of energy 1."""
    import numpy as np

    chance = np.random.default_rng(_SEED)
    ears = [early + _tail(chance) for early in _first_reflections()]
    fade = np.ones(MEMORY)
    fade[-MEMORY // 8 :] = np.linspace(1.0, 0.0, MEMORY // 8)
    return tuple(_firm(ear) * fade / _root_energy(_firm(ear) * fade) for ear in ears)  # type: ignore[return-value]


def _firm(response: Values) -> Values:
    """A response without the lows, which would make a small room boom."""
    import numpy as np

    hz = np.fft.rfftfreq(2 * MEMORY, 1.0 / FRAME_RATE)
    return np.fft.irfft(np.fft.rfft(response, 2 * MEMORY) * _high_pass(hz, _ROOM_LOWEST_HZ))[
        :MEMORY
    ]


def _root_energy(response: Values) -> float:
    import numpy as np

    return float(np.sqrt(np.square(response).sum()))


def _first_reflections() -> tuple[Values, Values]:
    """Clicks from the mirror images of the player, for either ear, behind the direct sound."""
    import numpy as np

    ears = (np.zeros(MEMORY), np.zeros(MEMORY))
    direct_m = _distance_m(_PLAYER_M, 0.0)
    for image_m, walls in _images():
        for ear, side_m in zip(ears, (-_EARS_M, _EARS_M), strict=True):
            distance_m = _distance_m(image_m, side_m)
            frame = round((distance_m - direct_m) / _METRES_A_SECOND * FRAME_RATE)
            ear[frame] += _REFLECTED**walls * direct_m / distance_m * (-1.0) ** walls
    return ears


def _images() -> list[tuple[tuple[float, ...], int]]:
    """The player mirrored at one wall or two, and at how many."""
    axes = [
        [(place, 0), (-place, 1), (2 * size - place, 1), (place + 2 * size, 2)]
        for place, size in zip(_PLAYER_M, _SIZE_M, strict=True)
    ]
    images = [
        (tuple(place for place, _ in image), sum(walls for _, walls in image))
        for image in product(*axes)
    ]
    return [image for image in images if 1 <= image[1] <= _MOST_WALLS]


def _distance_m(place_m: tuple[float, ...], side_m: float) -> float:
    ear_m = (_LISTENER_M[0] + side_m, *_LISTENER_M[1:])
    return float(sum((a - b) ** 2 for a, b in zip(place_m, ear_m, strict=True)) ** 0.5)


def _tail(chance: np.random.Generator) -> Values:
    """Noise that dies away, the higher the faster, as loud as `_TAIL_DB` over the reflections."""
    import numpy as np

    noise = np.fft.rfft(chance.standard_normal(MEMORY))
    hz = np.fft.rfftfreq(MEMORY, 1.0 / FRAME_RATE)
    time_s = np.arange(MEMORY) / FRAME_RATE
    ends_hz = [band_hz for band_hz, _ in _BANDS_HZ[1:]] + [FRAME_RATE]
    tail = np.zeros(MEMORY)
    for (from_hz, share), to_hz in zip(_BANDS_HZ, ends_hz, strict=True):
        band = np.fft.irfft(np.where((hz >= from_hz) & (hz < to_hz), noise, 0.0), MEMORY)
        tail += band * 10.0 ** (-3.0 * time_s / (share * DECAY_S))
    tail *= np.clip(time_s / _TAIL_FROM_S, 0.0, 1.0)
    return np.asarray(tail * 10.0 ** (_TAIL_DB / 20.0) / _root_energy(tail))
