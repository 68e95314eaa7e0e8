"""What did the band sound like that a take of the practice room was played to?

The page plays each part in stretches, and so they are laid after one another here. Where it comes
out of a loudspeaker the take has it too: it says how late the recording is, and is taken away
before the player is heard.

While a take grows its band is made as far as it sounded, and what is made is kept beside what was
heard (`BandFolder`): who makes the band of the whole is given the same sound, or makes it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from hashlib import sha256
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from halfstep.data.about_json import TakeAbout, read_about
from halfstep.errors import HalfstepError
from halfstep.files import write_whole
from halfstep.render.wav_file import write_wav
from halfstep.services.known_backing import KnownBacking
from halfstep.services.lesson_etude import opened_reply
from halfstep.services.opened_etude import opened_etude
from halfstep.services.room_piece import RoomWish, room_piece
from halfstep.services.room_sound import CLICK, COUNT_IN, PARTS, RoomSound, Stretch, StretchWish
from halfstep.version import VERSION

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.int16]
    Sums = npt.NDArray[np.int32]
    Floats = npt.NDArray[np.float32]

FILE = "band.wav"
LONGEST_S = 600.0
"""A band that played longer is not made again."""
BAND_FOLDER = "band"
"""Among what was heard of a recording."""
_ASKED_FILE = "asked.json"
_SOFTLY = 0.4
"""As loud as the page begins; it says nothing of how loud it was."""


class _Placed(NamedTuple):
    """Some parts of a stretch, and at which second after bar 1 their first beat is."""

    wishes: tuple[StretchWish, ...]
    at_s: float


class BandFolder:
    """What was made of the bands of a recording, found by what was asked for.

    A file is there whole or not at all; the folder may be removed at any moment.

    Parameters
    ----------
    folder : Path or None
        None holds them in memory.
    """

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder
        self._held: dict[str, Sums] = {}

    def sums(self, name: str) -> Sums | None:
        """The stretch of a name; None where it was not made before."""
        import numpy as np

        if self._folder is not None:
            with suppress(OSError, ValueError):
                return np.fromfile(self._folder / name, np.int32)
        return self._held.get(name)

    def keep(self, name: str, sums: Sums) -> None:
        """Write a stretch, or hold what there is no room for on the disk."""
        if self._folder is not None:
            with suppress(OSError, HalfstepError):
                write_whole(self._folder / name, sums.tobytes(), is_private=True)
                return
        self._held[name] = sums


@dataclass(frozen=True)
class PlayedBand:
    """A band as the page plays it, from its count-in on.

    Attributes
    ----------
    sound : RoomSound
    about : TakeAbout
    name : str
        By which it is known.
    folder : BandFolder
    length_s : float
        From bar 1 on.
    """

    sound: RoomSound
    about: TakeAbout
    name: str
    folder: BandFolder
    length_s: float

    @property
    def count_in_s(self) -> float:
        """Where bar 1 is after the count-in's first beat."""
        return self.sound.clock.seconds(self.sound.count_in_beats)

    @property
    def start_s(self) -> float:
        """Where in it bar 1 is."""
        from halfstep.render.sampler import FRAME_RATE
        from halfstep.render.stretch import LEAD

        return LEAD / FRAME_RATE + self.count_in_s

    def pieces(self) -> Iterator[Samples]:
        """Its sound, stretch by stretch, as soon as nothing more is laid over it."""
        import numpy as np

        from halfstep.render.sampler import FRAME_RATE
        from halfstep.render.stretch import LEAD

        begin_s = -self.count_in_s
        rest: Sums = np.zeros(0, dtype=np.int32)
        done = 0
        for placed in self._placed():
            first = round((placed.at_s - begin_s) * FRAME_RATE)
            yield _softly(_padded(rest, first - done))
            rest, done = rest[first - done :], first
            sums = self._made(placed.wishes)
            longer = max(len(rest), len(sums))
            rest = _padded(rest, longer) + _padded(sums, longer)
        yield _softly(_padded(rest, LEAD + ceil((self.length_s - begin_s) * FRAME_RATE) - done))

    def _made(self, wishes: tuple[StretchWish, ...]) -> Sums:
        """What some parts come to, both channels added up: whole numbers, in whatever order."""
        import numpy as np

        name = sha256(f"{self.name} {wishes}".encode()).hexdigest()
        known = self.folder.sums(name)
        if known is not None:
            return known
        sounds = [sound for sound in map(self.sound.samples, wishes) if sound is not None]
        sums = np.zeros(max(map(len, sounds), default=0), dtype=np.int32)
        for sound in sounds:
            sums[: len(sound)] += sound.sum(axis=1, dtype=np.int32)
        self.folder.keep(name, sums)
        return sums

    def _placed(self) -> Iterator[_Placed]:
        """All that sounded from the count-in on."""
        sound = self.sound
        yield _Placed((StretchWish(CLICK, COUNT_IN),), -self.count_in_s)
        stretches = tuple(_gone_round(sound, self.about.loop))
        start_s = sound.clock.seconds(stretches[0].start)
        round_s = _round_s(sound, self.about.loop)
        for number in range(ceil(self.length_s / round_s)):
            for stretch in stretches:
                at_s = number * round_s + sound.clock.seconds(stretch.start) - start_s
                if at_s < self.length_s:
                    chorus = number % sound.block + 1
                    yield _Placed(
                        tuple(
                            StretchWish(part, chorus, stretch.first, stretch.last)
                            for part in _sounding(self.about)
                        ),
                        at_s,
                    )


def _sounding(about: TakeAbout) -> tuple[str, ...]:
    """The parts that sounded out of a loudspeaker."""
    return () if about.headphones else tuple(part for part in about.parts if part in PARTS)


def _padded(sums: Sums, frames: int) -> Sums:
    """So many of them, silent where there are none."""
    import numpy as np

    return np.pad(sums[:frames], (0, max(0, frames - len(sums))))


def _softly(sums: Sums) -> Samples:
    """Both channels in one, as loud as the page begins."""
    import numpy as np

    rounded = np.clip(np.rint(_SOFTLY / 2 * sums), -32768, 32767)
    return np.asarray(rounded, dtype=np.int16)


def _band(etude: str, about: TakeAbout, folder: BandFolder) -> PlayedBand | None:
    """The band of an etude, for all the rounds that are meant; None where none can be heard."""
    if not _sounding(about):
        return None
    try:
        wish = RoomWish(about.tempo_bpm, about.key, about.feel)
        sound = RoomSound(room_piece(opened_reply(opened_etude(etude)), wish))
        meant_s = max(1, about.choruses) * _round_s(sound, about.loop)
    except HalfstepError:  # then the take is heard as it is
        return None
    name = json.dumps([VERSION, etude, about.tempo_bpm, about.key, about.feel])
    return PlayedBand(sound, about, name, folder, min(meant_s, LONGEST_S))


def room_band(
    etude: str, about: TakeAbout, folder: Path, early: Path | None = None
) -> KnownBacking | None:
    """The band of a take as a file; None where it played to nobody's loudspeaker, or too long.

    Parameters
    ----------
    etude : str
        Whose band it was, as data.
    about : TakeAbout
    folder : Path
        Where the file is written.
    early : Path or None
        The folder of what was heard while it was recorded.
    """
    length_s = about.last_beat_at - about.first_beat_at
    if not 0 < length_s <= LONGEST_S:
        return None
    band = _band(etude, about, BandFolder(early and early / BAND_FOLDER))
    try:
        return None if band is None else _written(replace(band, length_s=length_s), folder)
    except (HalfstepError, OSError):
        return None


def _written(band: PlayedBand, folder: Path) -> KnownBacking:
    import numpy as np

    path = folder / FILE
    with path.open("wb") as file:
        write_wav(file, np.concatenate([*band.pieces()])[:, None])
    return KnownBacking(path, start_s=band.start_s)


def ask_early_band(early: Path, etude: str, about: TakeAbout) -> None:
    """Have the band of a recording made while it grows; nothing comes of it where that fails.

    Parameters
    ----------
    early : Path
        The folder of what is heard of it.
    etude : str
        Whose band it is, as data.
    about : TakeAbout
        As far as it is known.
    """
    if _sounding(about):
        with suppress(OSError, HalfstepError):
            folder = early / BAND_FOLDER
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            asked = json.dumps([etude, about.text])
            write_whole(folder / _ASKED_FILE, asked.encode(), is_private=True)


class EarlyBand:
    """The band of a recording as the ear lays it under: made as it is asked for.

    Parameters
    ----------
    band : PlayedBand
    """

    def __init__(self, band: PlayedBand) -> None:
        self._band = band

    def blocks(self) -> Iterator[Floats]:
        """Its sound, at the rate of the ear and as `Recording.blocks` gives that of a file."""
        import numpy as np

        from halfstep.listen.audio import Resampler
        from halfstep.listen.spectra import RATE
        from halfstep.render.sampler import FRAME_RATE

        resampler = Resampler(RATE)
        for piece in self._band.pieces():
            if len(piece):
                sound = piece.astype(np.float32) / np.float32(32768)
                yield from resampler.resampled(sound, FRAME_RATE)
        yield from resampler.rest()


def asked_band(early: Path) -> EarlyBand | None:
    """The band of a recording that grows; None where none was asked for, or none can be made."""
    folder = early / BAND_FOLDER
    try:
        etude, about = json.loads((folder / _ASKED_FILE).read_text())
        band = _band(etude, read_about(about), BandFolder(folder))
    except (OSError, ValueError, HalfstepError):
        return None
    return None if band is None else EarlyBand(band)


def _round_s(sound: RoomSound, loop: tuple[int, ...]) -> float:
    """How long the bars last that go round."""
    stretches = tuple(_gone_round(sound, loop))
    return sound.clock.seconds(stretches[-1].end) - sound.clock.seconds(stretches[0].start)


def _gone_round(sound: RoomSound, loop: tuple[int, ...]) -> Iterator[Stretch]:
    """The stretches of the bars that went round."""
    form = sound.chart.form
    first, last = loop if len(loop) == 2 else (1, len(form))
    for stretch in sound.stretches:
        inside = max(first, stretch.first), min(last, stretch.last)
        if inside[0] <= inside[1]:
            before = (bar.beats for bar in form[stretch.first - 1 : inside[0] - 1])
            bars = (bar.beats for bar in form[inside[0] - 1 : inside[1]])
            start = sum(before, stretch.start)
            yield Stretch(*inside, start, sum(bars, start))
