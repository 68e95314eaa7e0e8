"""Which notes does a recording hold? A recording goes in, notes come out.

The file is read twice, a block at a time: once for what `first_reading` finds, once for its
notes. Nothing here knows of chords.

Conventions are those of `halfstep.listen.heard_take`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import tee
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.audio import Stretches
from halfstep.listen.backing_delay import BackingDelay
from halfstep.listen.backing_leak import FreedSound, freeing
from halfstep.listen.first_reading import Accompaniment, FirstReading, first_reading
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.listen.kept_estimates import KnownEstimates
from halfstep.listen.kept_recording import KeptRecording
from halfstep.listen.network import NOTHING_KNOWN, FrameEstimates
from halfstep.listen.not_music import SpeechSigns, are_clicks
from halfstep.listen.pitch_prior import PitchPrior, PriorMaker, TakeTimes
from halfstep.listen.sound_print import SoundPrint
from halfstep.listen.spectra import HOP, LOW, RATE, SEMITONES, stepped_level
from halfstep.listen.take_notice import TakeNotice, Trouble
from halfstep.listen.tuned_ear import (
    Beginnings,
    TunedBeginning,
    TunedEar,
    certainty_of,
    middle_cents,
    player_range,
    settled,
)

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

Progress = Callable[[float], None]
"""Told how much is done, 0 to 1."""

PIECE_S, MARGIN_S = 60.0, 2.0
"""A take is heard in pieces of this length, with so much more on either side."""
LOUD_LEAK_DB = -3.0
ONLY_BACKING_DB = 12.0
"""From here on no player is heard over the backing."""
DOUBT, DOUBT_A_DB, DOUBT_FROM_DB = 0.5, 0.02, 8.0
"""A note must be surer than the first, and surer by the second for each decibel that it lies
further under the loudness of the take than the third; chosen on made-up lines."""
COMPANY = 0.15
"""The share of frames with a second player from which on more than one note sounds."""


def hear(
    take: str | Path | KeptRecording,
    *,
    backing: str | Path | KeptRecording | None = None,
    backing_print: SoundPrint | None = None,
    low_midi: int = LOW,
    high_midi: int = LOW + SEMITONES - 1,
    tuning_cents: float | None = None,
    prior_maker: PriorMaker = lambda _: None,
    known: KnownEstimates = NOTHING_KNOWN,
    progress: Progress = lambda _: None,
) -> HeardTake:
    """The notes of a take.

    Parameters
    ----------
    take : str, Path or KeptRecording
        Any file of sound that libav decodes.
    backing : str, Path or KeptRecording, optional
        The file that was played to; it may begin anywhere in the take, or before it.
    backing_print : SoundPrint, optional
        What that file says of its sound: a take without it is then known at little cost.
    low_midi, high_midi : int
        The concert range of the player, which guards against a wrong octave.
    tuning_cents : float, optional
        How far the player's A lies from 440 Hz, where that is known.
    prior_maker : callable
        Says what is likely to be played, once it is known where in the take the backing lies.
    known : KnownEstimates
        What the network said of some of its pieces before, while it was recorded.
    progress : callable
        Told how much is done, 0 to 1.

    Raises
    ------
    TakeError
        If a file cannot be read, or nothing sounds in it.
    """
    take = Path(take) if isinstance(take, str) else take
    backing = Path(backing) if isinstance(backing, str) else backing
    reading = first_reading(take, backing, backing_print)
    accompaniment = reading.accompaniment
    place = accompaniment.place if accompaniment else BackingDelay(0.0)
    times = TakeTimes(
        length_s=reading.survey.samples / RATE / place.clock_ratio,
        delay_s=place.delay_s if accompaniment else None,
        delay_modulo_s=place.modulo_s,
    )
    ear = TunedEar(stepped_level(reading.survey.level), player_range(low_midi, high_midi), known)
    listener = _Listener(reading, ear, tuning_cents, prior_maker(times))
    notes = tuple(listener.notes(progress))
    take_heard = HeardTake(
        notes=notes,
        length_s=times.length_s,
        tuning_cents=0.0,
        delay_s=times.delay_s,
        leak_db=listener.leak_db,
        rate_ratio=reading.recording.rate_ratio * place.clock_ratio,
        notices=(*reading.notices(), *listener.doubts(notes)),
        delay_modulo_s=times.delay_modulo_s,
    )
    return take_heard.named(_tuning_of(notes) if tuning_cents is None else tuning_cents)


def _tuning_of(notes: tuple[HeardNote, ...]) -> float:
    """How far the player's A lies from 440 Hz, in cents: the middle of all notes, -50 to 50."""
    return middle_cents(
        np.array([note.pitch_midi for note in notes]),
        np.array([note.offset_s - note.onset_s for note in notes]),
    )


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A piece of the take.

    Attributes
    ----------
    start_s : float
        Where it begins, without its margin.
    sound, covering : float32 arrays
        What is heard, and how loud a note must be that is not the backing's.
    """

    start_s: float
    sound: Floats
    covering: Floats

    def is_backing(self, piece: slice, power: float) -> bool:
        """True where a note of that power is no louder than the backing explains."""
        covering = self.covering[piece]
        return len(covering) > 0 and power < float(np.mean(np.square(covering)))


class _Listener:
    """Hears one take, with or without its backing."""

    def __init__(
        self,
        reading: FirstReading,
        ear: TunedEar,
        tuning_cents: float | None,
        prior: PitchPrior | None,
    ) -> None:
        self._recording, self._accompaniment = reading.sound, reading.accompaniment
        self._clock_ratio = self._accompaniment.place.clock_ratio if self._accompaniment else 1.0
        self._survey = reading.survey
        self._ear = ear
        self._leaks_db: list[float] = []
        self._level = reading.survey.level
        self._accompanied = self._sounding = 0
        self._speech_signs = SpeechSigns()
        self._clicks = False
        self._tuning_cents, self._prior = tuning_cents, prior

    @property
    def leak_db(self) -> float | None:
        """The backing against the player, in the middle of all stretches."""
        return float(np.median(self._leaks_db)) if self._leaks_db else None

    def notes(self, progress: Progress) -> Iterator[HeardNote]:
        """Every note, in order."""
        before: HeardNote | None = None
        begun = TunedBeginning(_within_a_semitone(self._tuning_cents or 0.0))
        for stretch in self._stretches():
            start_s = stretch.start_s
            if start_s == 0:
                self._clicks = are_clicks(stretch.sound)
                if self._tuning_cents is None:
                    begun = self._ear.beginning(stretch.sound)
            estimates = self._ear.estimates(stretch.sound, begun)
            begun = replace(begun, estimates=None)
            margin_s = MARGIN_S if start_s else 0.0
            for note in self._in_piece(estimates, stretch, begun.cents):
                if not margin_s <= note.onset_s < margin_s + PIECE_S:
                    continue
                onset_s = (note.onset_s + start_s - margin_s) / self._clock_ratio
                offset_s = (note.offset_s + start_s - margin_s) / self._clock_ratio
                if before is not None:
                    yield replace(before, offset_s=min(before.offset_s, onset_s))
                before = replace(note, onset_s=onset_s, offset_s=offset_s)
            progress(min(1.0, (start_s + PIECE_S) * RATE / self._survey.samples))
        if before is not None:
            yield before

    def doubts(self, notes: tuple[HeardNote, ...]) -> Iterator[TakeNotice]:
        """What makes the take hard to hear."""
        if self.leak_db is not None and self.leak_db > ONLY_BACKING_DB:
            yield TakeNotice(
                Trouble.ONLY_BACKING,
                "only the backing is heard: was the player near the microphone?",
            )
        elif self._clicks:
            yield TakeNotice(
                Trouble.ONLY_CLICKS, "only clicks are heard, as of a metronome: they are no notes"
            )
        elif not notes:
            yield TakeNotice(Trouble.NO_NOTE, "no note is heard")
        elif self._speech_signs.are_of_speech():
            yield TakeNotice(
                Trouble.SPEECH, "it sounds like speech: what is heard of it are no notes"
            )
        elif self._accompanied > COMPANY * self._sounding:
            yield TakeNotice(
                Trouble.SEVERAL_NOTES,
                "several notes seem to sound at once: record one instrument alone",
            )
        if self.leak_db is not None and LOUD_LEAK_DB < self.leak_db <= ONLY_BACKING_DB:
            yield TakeNotice(
                Trouble.LOUD_BACKING,
                "the backing is as loud as the player: use headphones or turn it down",
            )

    def _stretches(self) -> Iterator[_Stretch]:
        """Each piece with its margins."""
        if self._accompaniment is None:
            take, covering = Stretches(self._recording), None
        else:
            freed, covered = tee(self._freed(self._accompaniment))
            take = Stretches(_Blocks(part.sound for part in freed))
            covering = Stretches(_Blocks(part.covering for part in covered))
        length, margin = round(PIECE_S * RATE), round(MARGIN_S * RATE)
        for start in range(0, self._survey.samples, length):
            first = max(0, start - margin)
            size = min(start + length + margin, self._survey.samples) - first
            yield _Stretch(
                start / RATE,
                take.stretch(first, size),
                np.zeros(1, np.float32) if covering is None else covering.stretch(first, size),
            )

    def _freed(self, accompaniment: Accompaniment) -> Iterator[FreedSound]:
        """The take without its backing, a part at a time."""
        freed = freeing(accompaniment.backing, accompaniment.place)
        for part in freed.parts(self._recording.blocks()):
            if part.leak_db is not None:
                self._leaks_db.append(part.leak_db)
            yield part

    def _likely(self, first_s: float, frames: int) -> Floats | None:
        """What is likely to be played from a time of the take on."""
        if self._prior is None:
            return None
        return self._prior.by_frame(
            first_s / self._clock_ratio, frames, HOP / RATE / self._clock_ratio
        )

    def _in_piece(
        self, estimates: FrameEstimates, stretch: _Stretch, tuned_cents: float
    ) -> Iterator[HeardNote]:
        beginnings = Beginnings(estimates)
        first_s = max(0.0, stretch.start_s - MARGIN_S)
        prior = self._likely(first_s, estimates.frames)
        for note, first, end in self._ear.path(estimates, prior):
            certainty = certainty_of(estimates, note, first, end)
            bend = estimates.bend[settled(first, end), note]
            self._speech_signs.add(bend, certainty, RATE / HOP)
            self._sounding += end - first
            self._accompanied += int(np.count_nonzero(estimates.company[first:end] > 0))
            piece = slice(first * HOP, end * HOP)
            power = float(np.mean(np.square(stretch.sound[piece]))) + 1e-12
            level_db = 10 * float(np.log10(power))
            if is_doubtful(certainty, level_db, self._level) or stretch.is_backing(piece, power):
                continue
            yield HeardNote(
                onset_s=beginnings.onset_s(note, first),
                offset_s=end * HOP / RATE,
                midi=LOW + note,
                cents=0.0,
                level_db=level_db,
                certainty=certainty,
                pitch_midi=LOW + note + float(np.median(bend)) + tuned_cents / 100,
            )


def is_doubtful(certainty: float, level_db: float, level: float) -> bool:
    """True where a note is not sure enough to be one, by how soft it is.

    Parameters
    ----------
    certainty : float
    level_db : float
        The note's, under full scale.
    level : float
        The take's, as an amplitude.
    """
    below_db = max(0.0, 20 * float(np.log10(level)) - level_db - DOUBT_FROM_DB)
    return certainty < DOUBT + DOUBT_A_DB * below_db


@dataclass(frozen=True, slots=True)
class _Blocks:
    """Blocks of a sound that come once."""

    parts: Iterator[Floats]

    def blocks(self) -> Iterator[Floats]:
        """Them."""
        return self.parts


def _within_a_semitone(cents: float) -> float:
    """The same tuning but for whole semitones, -50 to 50.

    >>> _within_a_semitone(-80.0), _within_a_semitone(30.0)
    (20.0, 30.0)
    """
    return (cents + 50) % 100 - 50
