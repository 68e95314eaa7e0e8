"""What did the band sound like that a take of the practice room was played to?

The page plays each part in stretches, and so they are laid after one another here. Where it comes
out of a loudspeaker the take has it too: it says how late the recording is, and is taken away
before the player is heard.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from halfstep.data.about_json import TakeAbout
from halfstep.errors import HalfstepError
from halfstep.render.wav_file import write_wav
from halfstep.services.known_backing import KnownBacking
from halfstep.services.lesson_etude import opened_reply
from halfstep.services.opened_etude import opened_etude
from halfstep.services.room_piece import RoomWish, room_piece
from halfstep.services.room_sound import CLICK, COUNT_IN, PARTS, RoomSound, Stretch, StretchWish

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.int16]
    Floats = npt.NDArray[np.float32]

FILE = "band.wav"
LONGEST_S = 600.0
"""A band that played longer is not made again."""
_SOFTLY = 0.4
"""As loud as the page begins; it says nothing of how loud it was."""


class _Placed(NamedTuple):
    """A sound of a part, and at which second after bar 1 its first beat is."""

    wish: StretchWish
    at_s: float


def room_band(etude: str, about: TakeAbout, folder: Path) -> KnownBacking | None:
    """The band of a take as a file; None where it played to nobody's loudspeaker, or too long.

    Parameters
    ----------
    etude : str
        Whose band it was, as data.
    about : TakeAbout
    folder : Path
        Where the file is written.
    """
    length_s = about.last_beat_at - about.first_beat_at
    parts = tuple(part for part in about.parts if part in PARTS)
    if about.headphones or not parts or not 0 < length_s <= LONGEST_S:
        return None
    try:
        wish = RoomWish(about.tempo_bpm, about.key, about.feel)
        sound = RoomSound(room_piece(opened_reply(opened_etude(etude)), wish))
        return _written(sound, tuple(_placed(sound, about, parts, length_s)), length_s, folder)
    except (HalfstepError, OSError):  # then the take is heard as it is
        return None


def _placed(
    sound: RoomSound, about: TakeAbout, parts: tuple[str, ...], length_s: float
) -> Iterator[_Placed]:
    """All that sounded from the count-in on."""
    count_in_s = sound.clock.seconds(sound.count_in_beats)
    yield _Placed(StretchWish(CLICK, COUNT_IN), -count_in_s)
    stretches = tuple(_gone_round(sound, about.loop))
    start_s = sound.clock.seconds(stretches[0].start)
    round_s = sound.clock.seconds(stretches[-1].end) - start_s
    for number in range(ceil(length_s / round_s)):
        for stretch in stretches:
            at_s = number * round_s + sound.clock.seconds(stretch.start) - start_s
            if at_s < length_s:
                chorus = number % sound.block + 1
                wishes = (StretchWish(part, chorus, stretch.first, stretch.last) for part in parts)
                yield from (_Placed(wish, at_s) for wish in wishes)


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


def _written(
    sound: RoomSound, placed: tuple[_Placed, ...], length_s: float, folder: Path
) -> KnownBacking:
    import numpy as np

    from halfstep.render.sampler import FRAME_RATE
    from halfstep.render.stretch import LEAD

    begin_s = min(one.at_s for one in placed)
    mix: Floats = np.zeros(LEAD + ceil((length_s - begin_s) * FRAME_RATE), dtype=np.float32)
    made = lru_cache(None)(sound.samples)
    for wish, at_s in placed:
        samples = made(wish)
        if samples is not None:
            first = round((at_s - begin_s) * FRAME_RATE)
            piece = samples.mean(axis=1)[: len(mix) - first]
            mix[first : first + len(piece)] += _SOFTLY * piece
    path = folder / FILE
    with path.open("wb") as file:
        write_wav(file, np.clip(np.rint(mix), -32768, 32767).astype(np.int16)[:, None])
    return KnownBacking(path, start_s=LEAD / FRAME_RATE - begin_s)
