"""Which notes were played so far, while the take is still recorded?

The file of its samples grows; as far as it is there it is heard as the whole will be, in the same
pieces, and what the network says of them is kept. So at the end only the last seconds are new to
who hears the whole. The notes that are told meanwhile are for the eye: one is told soon after it
began, and stays.

Conventions
-----------
- The file holds mono samples of 16 bits, the lower byte first, and nothing else.
- Times are those of `halfstep.listen.heard_take`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.audio import BlockSource, Resampler
from halfstep.listen.backing_delay import BackingDelay, backing_delay
from halfstep.listen.backing_leak import Freeing, freeing
from halfstep.listen.first_reading import LEAST_LEVEL, loudness
from halfstep.listen.kept_estimates import EstimatesKept
from halfstep.listen.network import FrameEstimates
from halfstep.listen.spectra import BRIEF, HOP, LOW, RATE, frame_levels, stepped_level
from halfstep.listen.thin_sound import thin_sound
from halfstep.listen.transcription import MARGIN_S, PIECE_S, is_doubtful
from halfstep.listen.tuned_ear import (
    TUNING_S,
    Beginnings,
    PlayerRange,
    TunedBeginning,
    TunedEar,
    certainty_of,
)

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

FULL_SCALE = 32768
READ_S = 10.0
"""So much of the file is read at once."""
LEAST_S = 1.5
"""So much must be new before it is heard on: the end of what is there is heard each time anew."""
HOLD_FRAMES = 60
"""A note is told when so much is heard from its beginning on: the network looks half a second
ahead."""
SAME_FRAMES = 4
"""A note that begins no later after the last one that was told is that one."""
LOOKS_AT_S = (21.0, 42.0)
"""When so much is there its backing is looked for: the first stretches are freed together."""
MORE_S = 5.0
"""So much more of the backing is held against it."""
BEGUN_S = TUNING_S[-1] + 1.0
"""When so much is there the player's tuning is known for good."""


@dataclass(frozen=True, slots=True)
class EarlyNote:
    """A note that was heard while its take is recorded.

    Attributes
    ----------
    onset_s : float
    midi : int
        The nearest concert note at the player's own tuning.
    certainty : float
        0 to 1, so far.
    """

    onset_s: float
    midi: int
    certainty: float


class GrowingTake:
    """A take that is heard while it is recorded.

    Parameters
    ----------
    path : Path
        The file that grows.
    rate : int
        Its samples a second.
    compass : PlayerRange
        What the player can play.
    kept : EstimatesKept
        Where what the network said is kept for who hears the whole.
    backing : BlockSource or None
        What is played to out of a loudspeaker, from its beginning on.
    told_s : float
        The onset of the last note that was told of it before; below 0 for none.
    """

    def __init__(
        self,
        path: Path,
        rate: int,
        compass: PlayerRange,
        kept: EstimatesKept,
        *,
        backing: BlockSource | None = None,
        told_s: float = -1.0,
    ) -> None:
        self._source = _GrowingSound(path, rate)
        self._compass, self._kept = compass, kept
        self._ear = TunedEar(0.0, compass, kept)
        self._stretch = _GrowingStretch()
        self._begun: TunedBeginning | None = None
        self._backing, self._looks_at_s = backing, list(LOOKS_AT_S)
        self._place: BackingDelay | None = None
        self._freeing: Freeing | None = None
        self._told_s = told_s

    def listen(self) -> tuple[EarlyNote, ...]:
        """Hear on, ten seconds at most, and return the notes that are new; none of too little.

        Raises
        ------
        OSError
            When the file cannot be read.
        """
        if not self._source.is_behind:
            return ()
        self._read_on()
        if self._source.level < LEAST_LEVEL:
            return ()
        self._look_for_backing()
        if stepped_level(self._source.level) != self._ear.level:
            self._begin_again(stepped_level(self._source.level))
        stretch = self._stretch
        if not len(stretch.sound):
            return ()
        is_whole = stretch.is_full
        estimates = self._ear.estimates(stretch.sound, self._tuned(), is_whole=is_whole)
        notes = tuple(self._new_notes(estimates))
        if is_whole:
            stretch.turn()
        return notes

    @property
    def is_behind(self) -> bool:
        """True while there is enough more to hear than was heard."""
        return self._source.is_behind

    def _read_on(self) -> None:
        """Take in more of the file, without the backing where that is known."""
        sound = self._source.more()
        if self._freeing is None:
            self._stretch.add(sound)
            return
        for part in self._freeing.freed(sound):
            self._stretch.add(part.sound)

    def _begin_again(self, level: float) -> None:
        """Show all of it to the network at another level, when that of the take has changed."""
        self._kept.turn_to(level)
        self._ear, self._begun = TunedEar(level, self._compass, self._kept), None
        if self._stretch.number:
            self._read_again()

    def _read_again(self) -> None:
        self._source.rewind()
        self._stretch, self._begun = _GrowingStretch(), None
        if self._backing is not None and self._place is not None:
            self._freeing = freeing(self._backing, self._place)
        self._read_on()

    def _look_for_backing(self) -> None:
        """Look whether the backing is in the take, when so much of that is there; free it then."""
        length_s = len(self._stretch.sound) / RATE
        if self._backing is None or not self._looks_at_s or length_s < self._looks_at_s[0]:
            return
        del self._looks_at_s[0]
        thin_backing = thin_sound(_beginning(self._backing, length_s + MORE_S))
        self._place = backing_delay(thin_sound([self._stretch.sound]), thin_backing)
        if self._place is not None:
            self._looks_at_s.clear()
            self._read_again()

    def _tuned(self) -> TunedBeginning:
        """How the stretch is begun; by the first seconds of the take the tuning is known."""
        if self._begun is None:
            begun = self._ear.beginning(self._stretch.sound)
            if len(self._stretch.sound) >= BEGUN_S * RATE:
                self._begun = begun
            return begun
        return replace(self._begun, estimates=None) if self._stretch.number else self._begun

    def _new_notes(self, estimates: FrameEstimates) -> Iterator[EarlyNote]:
        begin_s = self._stretch.begin_s
        first_frame = max(0, round((self._told_s - begin_s) * RATE / HOP))
        if first_frame >= estimates.frames:
            return
        rest = _from(estimates, first_frame)
        rest_s = begin_s + first_frame * HOP / RATE
        beginnings = Beginnings(rest)
        for note, first, end in self._ear.path(rest):
            if first + HOLD_FRAMES > rest.frames:
                return
            onset_s = rest_s + beginnings.onset_s(note, first)
            if onset_s <= self._told_s + SAME_FRAMES * HOP / RATE:
                continue
            certainty = certainty_of(rest, note, first, end)
            samples = slice((first_frame + first) * HOP, (first_frame + end) * HOP)
            level_db = self._stretch.level_db(samples)
            if not is_doubtful(certainty, level_db, self._source.level):
                self._told_s = onset_s
                yield EarlyNote(onset_s, LOW + note, certainty)


def _beginning(backing: BlockSource, length_s: float) -> Iterator[Floats]:
    """The first seconds of a backing, or a little more."""
    samples = 0
    for block in backing.blocks():
        yield block
        samples += len(block)
        if samples >= length_s * RATE:
            return


def _from(estimates: FrameEstimates, first: int) -> FrameEstimates:
    """What the network says from a frame on."""
    kept = slice(first, None)
    return FrameEstimates(
        estimates.pitch[kept],
        estimates.onset[kept],
        estimates.attack[kept],
        estimates.bend[kept],
        estimates.company[kept],
    )


class _GrowingSound:
    """Reads a file that grows, at the rate of the ear, and knows how loud it was so far."""

    def __init__(self, path: Path, rate: int) -> None:
        self._path, self._rate = path, rate
        self._levels: list[Floats] = []
        self._rest = np.zeros(0, dtype=np.float32)
        self._measured = 0
        self.level = 0.0
        self.rewind()

    def rewind(self) -> None:
        """Read it from its beginning again; what is known of its level stays."""
        self._read = 0
        self._resampler = Resampler(RATE)
        self._samples = 0

    @property
    def is_behind(self) -> bool:
        """True where there is enough more in the file than was read."""
        return self._path.stat().st_size - self._read >= 2 * LEAST_S * self._rate

    def more(self) -> Floats:
        """What follows, as far as it is there."""
        with self._path.open("rb") as file:
            file.seek(self._read)
            data = file.read(2 * round(READ_S * self._rate))
        whole = np.frombuffer(data[: len(data) // 2 * 2], dtype="<i2")
        self._read += 2 * len(whole)
        if not len(whole):
            return np.zeros(0, dtype=np.float32)
        parts = self._resampler.resampled(
            whole.astype(np.float32) / np.float32(FULL_SCALE), self._rate
        )
        sound = np.concatenate([np.zeros(0, dtype=np.float32), *parts])
        self._measure(sound)
        return sound

    def _measure(self, sound: Floats) -> None:
        """Take the loudness of what was not measured before."""
        self._samples += len(sound)
        fresh = sound[len(sound) - max(0, min(len(sound), self._samples - self._measured)) :]
        self._measured = max(self._measured, self._samples)
        rest = np.concatenate([self._rest, fresh])
        whole = len(rest) // BRIEF * BRIEF
        self._rest = rest[whole:]
        if whole:
            self._levels.append(frame_levels(rest[:whole]))
            self.level = loudness(np.concatenate(self._levels))


class _GrowingStretch:
    """What is heard at once of a take, cut as `halfstep.listen.transcription` cuts the whole.

    Attributes
    ----------
    number : int
        How many are before it.
    """

    def __init__(self) -> None:
        self.number = 0
        self._sound = np.zeros(0, dtype=np.float32)

    def add(self, sound: Floats) -> None:
        """Take in what follows."""
        self._sound = np.concatenate([self._sound, sound])

    @property
    def begin_s(self) -> float:
        """Where it begins in the take, its margin before it."""
        return self.number * PIECE_S - self._before_s

    @property
    def _before_s(self) -> float:
        return MARGIN_S if self.number else 0.0

    @property
    def _full(self) -> int:
        return round((self._before_s + PIECE_S + MARGIN_S) * RATE)

    @property
    def is_full(self) -> bool:
        """True where it is there with its margins, and will not change any more."""
        return len(self._sound) >= self._full

    @property
    def sound(self) -> Floats:
        """As far as it is there."""
        return self._sound[: self._full]

    def level_db(self, samples: slice) -> float:
        """The RMS of some of its samples under full scale."""
        return 10 * float(np.log10(np.mean(np.square(self.sound[samples])) + 1e-12))

    def turn(self) -> None:
        """Go on to the next."""
        past = round((self._before_s + PIECE_S - MARGIN_S) * RATE)
        self._sound = self._sound[past:].copy()
        self.number += 1
