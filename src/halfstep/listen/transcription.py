"""Which notes does a recording hold? A recording goes in, notes come out.

The file is read twice, a block at a time: once for its loudness and faults, once for its
notes. In between, its first minute says where the backing lies, whether the file's rate is
true, and how the player is tuned. Nothing here knows of chords.

Conventions are those of `halfstep.listen.heard_take`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from halfstep.errors import TakeError
from halfstep.listen.audio import FULL, Recording, Stretches
from halfstep.listen.backing_leak import LEAD_S, Agreement, Leak, agreement, leak, leaked_backing
from halfstep.listen.decode import as_played, best_path
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.listen.network import FrameEstimates, frame_estimates
from halfstep.listen.spectra import BRIEF, HOP, LOW, RATE, SEMITONES, frame_levels

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]

Progress = Callable[[float], None]
"""Told how much is done, 0 to 1."""

FIRST_S, TUNED_S = 60.0, 12.0
"""How much of a take is heard to find the backing, and the tuning."""
PIECE_S, MARGIN_S = 60.0, 2.0
"""A take is heard in pieces of this length, with so much more on either side."""
_RATES = (48_000, 44_100, 32_000, 22_050, 16_000)
RATIOS: tuple[float, ...] = tuple(
    true / declared for true in _RATES for declared in _RATES if true != declared
)
"""What a wrongly declared rate may be wrong by."""
LEAST_LEVEL = 10 ** (-66 / 20)
"""Under this a take is silent."""
CANCELLED_DB = -17.0
"""A backing that is louder than this against the player is taken away."""
OVER_LEAK = 6.0
"""Where the backing is too soft to be taken away, a note has at least so much more power."""
LEFT_OF_LEAK = 0.5
"""What is quieter than this share of the backing that was taken away is taken for its rest."""
LOUD_LEAK_DB = -3.0
DOUBT, DOUBT_A_DB, DOUBT_FROM_DB = 0.5, 0.02, 8.0
"""A note must be surer than the first, and surer by the second for each decibel that it lies
further under the loudness of the take than the third; chosen on made-up lines."""
COMPANY = 0.15
"""The share of frames with a second player from which on more than one note sounds."""
RETUNED_CENTS = 15.0
"""From here on the spectra are tuned to the player."""


@dataclass(frozen=True, slots=True)
class _Survey:
    """What the first reading finds: length, loudness, faults."""

    samples: int
    level: float
    clipped: float


def hear(
    take: str | Path,
    *,
    backing: str | Path | None = None,
    low_midi: int = LOW,
    high_midi: int = LOW + SEMITONES - 1,
    progress: Progress = lambda _: None,
) -> HeardTake:
    """The notes of a take.

    Parameters
    ----------
    take : str or Path
        Any file of sound that libav decodes.
    backing : str or Path, optional
        The file that was played to; the take began with it.
    low_midi, high_midi : int
        The concert range of the player, which guards against a wrong octave.
    progress : callable
        Told how much is done, 0 to 1.

    Raises
    ------
    TakeError
        If a file cannot be read, or nothing sounds in it.
    """
    recording = Recording(Path(take))
    survey = _survey(recording)
    notices = list(_faults(survey))
    backing_match: Agreement | None = None
    accompaniment = None
    if backing is not None:
        accompaniment = Recording(Path(backing))
        recording, backing_match = _aligned(recording, accompaniment)
        if recording.rate_ratio != 1:
            notices.append(
                f"the file's rate is wrong by {recording.rate_ratio:.4f}: heard at the true one"
            )
            survey = replace(survey, samples=round(survey.samples / recording.rate_ratio))
        if not backing_match.is_clear:
            name = accompaniment.path.name
            notices.append(f"{name} is not heard in the take, so its delay is not known")
            backing_match = accompaniment = None
    listener = _Listener(recording, accompaniment, backing_match, survey, (low_midi, high_midi))
    notes = tuple(listener.notes(progress))
    notices += listener.doubts(notes)
    return HeardTake(
        notes=notes,
        length_s=survey.samples / RATE,
        tuning_cents=listener.tuning_cents,
        delay_s=backing_match.delay_s if backing_match else None,
        leak_db=listener.leak_db,
        rate_ratio=recording.rate_ratio,
        notices=tuple(notices),
    )


def _survey(recording: Recording) -> _Survey:
    levels: list[Floats] = []
    clipped = samples = 0
    for block in recording.blocks():
        samples += len(block)
        clipped += int(np.count_nonzero(np.abs(block) >= FULL))
        levels.append(frame_levels(block))
    if samples < RATE // 10:
        raise TakeError(f"{recording.path.name}: it is too short to hold a note")
    every = np.concatenate(levels)
    level = float(np.percentile(every, 95))
    if level < LEAST_LEVEL:
        raise TakeError(f"{recording.path.name}: it is silent; was the microphone on?")
    sounding = int(np.count_nonzero(every > level / 10)) * BRIEF
    return _Survey(samples, level, clipped / max(sounding, 1))


def _faults(survey: _Survey) -> Iterator[str]:
    if survey.clipped > 0.002:
        yield "the recording is clipped: move the microphone away or turn it down"
    if survey.level < 10 ** (-50 / 20):
        yield "the recording is very quiet: move the microphone nearer or turn it up"


def _aligned(recording: Recording, backing: Recording) -> tuple[Recording, Agreement]:
    """The take at its true rate, and how it agrees with the backing."""
    samples = round(FIRST_S * RATE)
    known = Stretches(backing).stretch(0, samples)
    best = agreement(Stretches(recording).stretch(0, samples), known)
    if best.is_clear:
        return recording, best
    others = [replace(recording, rate_ratio=ratio) for ratio in RATIOS]
    for other in others:
        match = agreement(Stretches(other).stretch(0, samples // 2), known[: samples // 2])
        if match.is_clear and match.clearness > best.clearness:
            recording, best = other, match
    return recording, best


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A piece of the take.

    Attributes
    ----------
    start_s : float
        Where it begins, without its margin.
    sound, leaked : float32 arrays
        What is heard, and what the backing adds or added to it.
    share : float
        A note with less than this share of the backing's power is the backing's.
    """

    start_s: float
    sound: Floats
    leaked: Floats
    share: float

    def is_backing(self, piece: slice, power: float) -> bool:
        """True where a note of that power is no louder than the backing explains."""
        leaked = self.leaked[piece]
        return len(leaked) > 0 and power < self.share * float(np.mean(np.square(leaked)))


class _Listener:
    """Hears one take, with or without its backing."""

    def __init__(
        self,
        recording: Recording,
        backing: Recording | None,
        match: Agreement | None,
        survey: _Survey,
        compass: tuple[int, int],
    ) -> None:
        self._recording, self._backing, self._agreement = recording, backing, match
        self._survey = survey
        self._low = min(max(0, compass[0] - LOW), SEMITONES - 1)
        self._high = max(self._low, min(SEMITONES - 1, compass[1] - LOW))
        self._leaks: list[Leak] = []
        self._level = survey.level
        self._accompanied = self._sounding = 0
        self.tuning_cents = 0.0

    @property
    def leak_db(self) -> float | None:
        """The backing against the player, in the middle of all stretches."""
        if self._agreement is None or not self._leaks:
            return None
        return float(np.median([stretch_leak.db for stretch_leak in self._leaks]))

    def notes(self, progress: Progress) -> Iterator[HeardNote]:
        """Every note, in order; after the first one `tuning_cents` is known."""
        before: HeardNote | None = None
        retuned = 0.0
        for stretch in self._stretches():
            start_s = stretch.start_s
            begun: FrameEstimates | None = None
            if start_s == 0:
                begun = frame_estimates(
                    stretch.sound, self._level, most=round(TUNED_S * RATE / HOP)
                )
                self.tuning_cents = self._tuning(begun)
                if abs(self.tuning_cents) >= RETUNED_CENTS:
                    begun, retuned = None, self.tuning_cents
            estimates = frame_estimates(
                stretch.sound, self._level, tuning_cents=retuned, begun=begun
            )
            margin_s = MARGIN_S if start_s else 0.0
            for note in self._in_piece(estimates, stretch):
                if not margin_s <= note.onset_s < margin_s + PIECE_S:
                    continue
                onset_s = note.onset_s + start_s - margin_s
                offset_s = note.offset_s + start_s - margin_s
                if before is not None:
                    yield replace(before, offset_s=min(before.offset_s, onset_s))
                cents = note.cents - (self.tuning_cents - retuned)
                before = replace(note, onset_s=onset_s, offset_s=offset_s, cents=cents)
            progress(min(1.0, (start_s + PIECE_S) * RATE / self._survey.samples))
        if before is not None:
            yield before

    def _tuning(self, estimates: FrameEstimates) -> float:
        """How far the player's A lies from 440 Hz, in cents."""
        bends = [
            np.full(end - first, np.median(estimates.bend[first:end, note]))
            for note, first, end in self._path(estimates)
        ]
        if not bends:
            return 0.0
        turned = np.exp(2j * np.pi * np.concatenate(bends)).mean()
        return float(100 * np.angle(turned) / (2 * np.pi))

    def doubts(self, notes: tuple[HeardNote, ...]) -> Iterator[str]:
        """What makes the take hard to hear."""
        if not notes:
            yield "no note is heard"
        elif self._accompanied > COMPANY * self._sounding:
            yield "several notes seem to sound at once: record one instrument alone"
        if self.leak_db is not None and self.leak_db > LOUD_LEAK_DB:
            yield "the backing is as loud as the player: use headphones or turn it down"

    def _stretches(self) -> Iterator[_Stretch]:
        """Each piece with its margins."""
        take = Stretches(self._recording)
        known = Stretches(self._backing) if self._backing else None
        late = round(((self._agreement.delay_s if self._agreement else 0.0) - LEAD_S) * RATE)
        length, margin = round(PIECE_S * RATE), round(MARGIN_S * RATE)
        for start in range(0, self._survey.samples, length):
            first = max(0, start - margin)
            size = min(start + length + margin, self._survey.samples) - first
            sound = take.stretch(first, size)
            under = None if known is None else known.stretch(first - late, size)
            yield self._freed(start / RATE, sound, under)

    def _freed(self, start_s: float, sound: Floats, under: Floats | None) -> _Stretch:
        """The piece, with its backing taken away where that is loud enough to be known."""
        if under is None:
            return _Stretch(start_s, sound, np.zeros(1, dtype=np.float32), 0.0)
        stretch_leak = leak(sound, under)
        self._leaks.append(stretch_leak)
        leaked = leaked_backing(under, stretch_leak)
        if stretch_leak.db > CANCELLED_DB:
            return _Stretch(start_s, sound - leaked, leaked, LEFT_OF_LEAK)
        return _Stretch(start_s, sound, leaked, OVER_LEAK)

    def _path(self, estimates: FrameEstimates) -> list[tuple[int, int, int]]:
        path = best_path(
            estimates.pitch, estimates.onset, estimates.attack, low=self._low, high=self._high
        )
        return as_played(path)

    def _in_piece(self, estimates: FrameEstimates, stretch: _Stretch) -> Iterator[HeardNote]:
        begins = (_chance(estimates.onset), _chance(estimates.attack))
        for note, first, end in self._path(estimates):
            near = np.asarray((begins[0][:, note] + begins[1]) / 2, dtype=np.float32)
            settled = slice(first + min(4, (end - first) // 3), end)
            likely = np.exp(estimates.pitch[settled, note])
            self._sounding += end - first
            self._accompanied += int(np.count_nonzero(estimates.company[first:end] > 0))
            piece = slice(first * HOP, end * HOP)
            power = float(np.mean(np.square(stretch.sound[piece]))) + 1e-12
            level_db = 10 * float(np.log10(power))
            below_db = max(0.0, 20 * np.log10(self._level) - level_db - DOUBT_FROM_DB)
            doubtful = np.mean(likely) < DOUBT + DOUBT_A_DB * below_db
            if doubtful or stretch.is_backing(piece, power):
                continue
            yield HeardNote(
                onset_s=(first + _place(near, first)) * HOP / RATE,
                offset_s=end * HOP / RATE,
                midi=LOW + note,
                cents=float(100 * np.median(estimates.bend[settled, note])),
                level_db=level_db,
                certainty=float(np.mean(likely)),
            )


def _chance(logits: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-logits)), dtype=np.float32)


def _place(near: Floats, frame: int) -> float:
    """Where between frames a beginning lies: the network draws a roof with slopes of a half."""
    before, after = near[max(0, frame - 1)], near[min(len(near) - 1, frame + 1)]
    return float(np.clip(after - before, -0.5, 0.5))
