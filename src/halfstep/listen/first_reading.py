"""What does the first reading of a take show, before its notes are heard?

Its length, its loudness, its faults, and where the backing lies in it: with a backing that
is found in it at another rate only, the take is read once more at that one.

Conventions are those of `halfstep.listen.audio`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from halfstep.errors import TakeError
from halfstep.listen.audio import FULL, Recording
from halfstep.listen.backing_delay import (
    CLEAR_AT_OTHER_RATE,
    BackingDelay,
    backing_delay,
    is_clearly_in,
    true_rate_ratio,
)
from halfstep.listen.backing_glance import AT_FIRST, CLOSELY, may_be_by_print, may_be_in
from halfstep.listen.excerpts import SPARSE_RATE, another_eighth, both, excerpts
from halfstep.listen.kept_recording import KeptRecording, kept_recording
from halfstep.listen.sound_print import SoundPrint, is_print_of
from halfstep.listen.spectra import BRIEF, RATE, frame_levels
from halfstep.listen.take_notice import TakeNotice, Trouble
from halfstep.listen.thin_sound import ThinSound, thin_sound

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Halves = npt.NDArray[np.float16]

LEAST_LEVEL = 10 ** (-66 / 20)
"""Under this a take is silent."""
LEAST_OF_PEAK = 0.05
"""A take is at least as loud as this share of its loudest moment, however seldom it sounds."""
GLANCED_S = 8.0
"""From this length on of a take, a part of its backing is looked for first."""
PRINTED_S = 5.0
"""From this length on it is held against the print of its backing."""
CACHED_S = 600.0
"""Excerpts of a longer backing are not kept for the next take."""


@dataclass(frozen=True, slots=True)
class Survey:
    """A take's length and loudness.

    Attributes
    ----------
    samples : int
    level : float
        The RMS of its loud frames.
    clipped : float
        The share of what sounds that is at full scale.
    """

    samples: int
    level: float
    clipped: float

    def faults(self) -> Iterator[TakeNotice]:
        """What was wrong when it was recorded."""
        if self.clipped > 0.002:
            yield TakeNotice(
                Trouble.CLIPPED,
                "the recording is clipped: move the microphone away or turn it down",
            )
        if self.level < 10 ** (-50 / 20):
            yield TakeNotice(
                Trouble.QUIET,
                "the recording is very quiet: move the microphone nearer or turn it up",
            )


@dataclass(frozen=True, slots=True, eq=False)
class Accompaniment:
    """The backing of a take, and where it lies in it."""

    backing: KeptRecording
    place: BackingDelay


@dataclass(frozen=True, slots=True, eq=False)
class FirstReading:
    """What a take shows before its notes are heard.

    Attributes
    ----------
    sound : KeptRecording
        The take, at its true rate.
    survey : Survey
    backing : Path or None
        The file that was played to, as far as one is known.
    accompaniment : Accompaniment or None
        Where it is found in the take.
    """

    sound: KeptRecording
    survey: Survey
    backing: Path | None = None
    accompaniment: Accompaniment | None = None

    @property
    def recording(self) -> Recording:
        """The file of the take, and its true rate."""
        return self.sound.recording

    def notices(self) -> Iterator[TakeNotice]:
        """What should be said of the file, the recording and the backing."""
        yield from self.sound.damage.notices()
        yield from self.survey.faults()
        if self.backing is not None:
            yield from self._of_the_backing(self.backing.name)

    def _of_the_backing(self, name: str) -> Iterator[TakeNotice]:
        if self.accompaniment is None:
            yield TakeNotice(
                Trouble.BACKING_ABSENT,
                f"{name} is not heard in the take, so its delay is not known",
            )
            return
        ratio, step_s = self.recording.rate_ratio, self.accompaniment.place.modulo_s
        if ratio != 1:
            yield TakeNotice(
                Trouble.WRONG_RATE,
                f"the file's rate is wrong by {ratio:.4f}: heard at the true one",
            )
        if step_s is not None:
            yield TakeNotice(
                Trouble.BACKING_REPEATS,
                f"{name} sounds alike every {step_s:.2f} s as far as it "
                "is in the take: which time through it is, is not known",
            )


def first_reading(
    take: Path | KeptRecording,
    backing: Path | KeptRecording | None = None,
    backing_print: SoundPrint | None = None,
) -> FirstReading:
    """What a take shows before its notes are heard.

    Parameters
    ----------
    take : Path or KeptRecording
    backing : Path or KeptRecording, optional
        The file that was played to.
    backing_print : SoundPrint, optional
        That of the backing, where it is known.

    Raises
    ------
    TakeError
        If a file cannot be read, or nothing sounds in the take.
    """
    sound = kept_recording(take)
    if backing is None:
        return FirstReading(sound, _survey(sound))
    return _accompanied(sound, kept_recording(backing), backing_print)


def _accompanied(
    sound: KeptRecording, backing: KeptRecording, backing_print: SoundPrint | None
) -> FirstReading:
    """The take at its true rate, and where in it the backing lies."""
    survey, thin_take = _thin_survey(sound)
    path = backing.recording.path
    alone = FirstReading(sound, survey, path)
    declared = sound.recording.declared_rate
    if _is_absent_by_print(thin_take, path, backing_print, declared):
        return alone
    kept = backing.kept_thin
    if (kept is None or not is_clearly_in(thin_take, kept)) and _is_absent(
        thin_take, path, declared
    ):
        return alone
    thin_backing = backing.thin()
    place = backing_delay(thin_take, thin_backing)
    if place is not None:
        return replace(alone, accompaniment=Accompaniment(backing, place))
    ratio = true_rate_ratio(thin_take, thin_backing, declared)
    if ratio is None:
        return alone
    true_sound = KeptRecording(replace(sound.recording, rate_ratio=ratio))
    true_survey, true_take = _thin_survey(true_sound)
    place = backing_delay(true_take, thin_backing)
    if place is None or place.clearness < CLEAR_AT_OTHER_RATE:
        return alone
    return FirstReading(true_sound, true_survey, path, Accompaniment(backing, place))


def _is_absent_by_print(
    thin_take: ThinSound, path: Path, backing_print: SoundPrint | None, declared: int
) -> bool:
    """True where the print of the backing, if it is that, shows that it is not in the take."""
    return (
        backing_print is not None
        and thin_take.length_s >= PRINTED_S
        and not may_be_by_print(thin_take, backing_print, declared)
        and is_print_of(backing_print, Recording(path))
    )


def _is_absent(thin_take: ThinSound, path: Path, declared: int) -> bool:
    """True where a part of the backing is enough to know that it is not in the take."""
    if thin_take.length_s < GLANCED_S:
        return False
    sparse = _last_excerpts(_file_state(path))
    if sparse is None:
        return False
    if len(sparse) > CACHED_S * SPARSE_RATE:
        _last_excerpts.cache_clear()
    if not may_be_in(thin_take, sparse, declared, least=AT_FIRST):
        return True
    between = excerpts(Recording(path), another_eighth)
    if between is None:
        return False
    return not may_be_in(thin_take, both(sparse, between), declared, least=CLOSELY)


@dataclass(frozen=True, slots=True)
class _FileState:
    """A file as it is now, told from what it was before."""

    path: Path
    changed_ns: int = 0
    size: int = 0


def _file_state(path: Path) -> _FileState:
    try:
        status = path.stat()
    except OSError:
        return _FileState(path)
    return _FileState(path, status.st_mtime_ns, status.st_size)


@lru_cache(maxsize=1)
def _last_excerpts(file: _FileState) -> Halves | None:
    """Excerpts of a backing, kept for the next take: a class plays to one."""
    return excerpts(Recording(file.path))


def loudness(levels: Floats) -> float:
    """How loud a take is, by the levels of its frames as `frame_levels` gives them."""
    return max(float(np.percentile(levels, 95)), LEAST_OF_PEAK * float(levels.max()))


class _Gauge:
    """Measures a take while its blocks pass by."""

    def __init__(self, recording: KeptRecording) -> None:
        self._recording = recording
        self._levels: list[Floats] = []
        self._samples = self._clipped = 0

    def blocks(self) -> Iterator[Floats]:
        """The take, once."""
        for block in self._recording.blocks():
            self._samples += len(block)
            self._clipped += int(np.count_nonzero(np.abs(block) >= FULL))
            self._levels.append(frame_levels(block))
            yield block

    def survey(self) -> Survey:
        """What was found in all of them.

        Raises
        ------
        TakeError
            When they are too few or silent.
        """
        name = self._recording.recording.path.name
        if self._samples < RATE // 10:
            raise TakeError(f"{name}: it is too short to hold a note")
        levels = np.concatenate(self._levels)
        level = loudness(levels)
        if level < LEAST_LEVEL:
            raise TakeError(f"{name}: it is silent; was the microphone on?")
        sounding = int(np.count_nonzero(levels > level / 10)) * BRIEF
        return Survey(self._samples, level, self._clipped / max(sounding, 1))


def _survey(recording: KeptRecording) -> Survey:
    gauge = _Gauge(recording)
    for _ in gauge.blocks():
        pass
    return gauge.survey()


def _thin_survey(recording: KeptRecording) -> tuple[Survey, ThinSound]:
    if recording.kept_thin is not None:
        return _survey(recording), recording.kept_thin
    gauge = _Gauge(recording)
    thin_take = thin_sound(gauge.blocks())
    return gauge.survey(), thin_take
