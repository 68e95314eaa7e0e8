"""How is a piece of one player's sound heard? At that player's level, range and tuning.

The whole of a take is heard so, and a take that still grows: what the one finds of its beginning
the other finds again.

Conventions are those of `halfstep.listen.network`; a path is that of `halfstep.listen.decode`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from halfstep.listen.decode import as_played, best_path
from halfstep.listen.kept_estimates import KnownEstimates
from halfstep.listen.network import NOTHING_KNOWN, FrameEstimates, frame_estimates
from halfstep.listen.spectra import HOP, LOW, RATE, SEMITONES

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Doubles = npt.NDArray[np.floating[Any]]

TUNING_S = (4.0, 8.0, 12.0)
"""How much of a take is heard to find the tuning: more where little sounds in it."""
TUNED_FRAMES = 300
"""So many frames of notes are enough for it."""
RETUNED_CENTS = 15.0
"""From here on the spectra are tuned to the player."""
LATE_S = 0.004
"""How late the network hears a beginning: the median on a line each of five real instruments."""


@dataclass(frozen=True, slots=True)
class PlayerRange:
    """The semitones over `LOW` that a player can play, both ends included.

    Raises
    ------
    ValueError
        If they are none that is heard.
    """

    low: int = 0
    high: int = SEMITONES - 1

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.high < SEMITONES:
            raise ValueError(f"semitones from 0 to {SEMITONES - 1}, in order")


def player_range(low_midi: int, high_midi: int) -> PlayerRange:
    """What is heard of a concert range."""
    low = min(max(0, low_midi - LOW), SEMITONES - 1)
    return PlayerRange(low, max(low, min(SEMITONES - 1, high_midi - LOW)))


@dataclass(frozen=True, slots=True)
class TunedBeginning:
    """How the first piece of a take is begun.

    Attributes
    ----------
    cents : float
        To which tuning all its pieces are heard.
    estimates : FrameEstimates or None
        Of its first frames at that tuning, where they are there.
    """

    cents: float = 0.0
    estimates: FrameEstimates | None = None


@dataclass(frozen=True, slots=True)
class TunedEar:
    """Hears pieces of one take.

    Attributes
    ----------
    level : float
        The take's, as `halfstep.listen.spectra.stepped_level` gives it.
    compass : PlayerRange
    known : KnownEstimates
        What the network said of some pieces before.
    """

    level: float
    compass: PlayerRange = field(default_factory=PlayerRange)
    known: KnownEstimates = NOTHING_KNOWN

    def beginning(self, sound: Floats) -> TunedBeginning:
        """The first seconds of a take, by which the player's tuning is known."""
        estimates = self._begun(sound, TUNING_S[0])
        for length_s in TUNING_S[1:]:
            if len(self._bends(estimates)) >= TUNED_FRAMES:
                break
            estimates = self._begun(sound, length_s, estimates)
        bends = self._bends(estimates)
        cents = middle_cents(bends, np.ones(len(bends)))
        return (
            TunedBeginning(0.0, estimates) if abs(cents) < RETUNED_CENTS else TunedBeginning(cents)
        )

    def estimates(
        self, sound: Floats, begun: TunedBeginning, *, is_whole: bool = True
    ) -> FrameEstimates:
        """What the network says of a piece.

        Parameters
        ----------
        sound : float32 array, shape (samples,)
        begun : TunedBeginning
            Without estimates for all but the first piece.
        is_whole : bool
            No more sound will follow in it.
        """
        return frame_estimates(
            sound,
            self.level,
            tuning_cents=begun.cents,
            begun=begun.estimates,
            known=self.known,
            is_whole=is_whole,
        )

    def path(
        self, estimates: FrameEstimates, prior: Floats | None = None
    ) -> list[tuple[int, int, int]]:
        """The notes that explain it best: semitone, first frame, frame after the last."""
        path = best_path(
            estimates.pitch,
            estimates.onset,
            estimates.attack,
            low=self.compass.low,
            high=self.compass.high,
            prior=prior,
        )
        return as_played(path)

    def _begun(
        self, sound: Floats, length_s: float, begun: FrameEstimates | None = None
    ) -> FrameEstimates:
        most = round(length_s * RATE / HOP)
        return frame_estimates(
            sound, self.level, begun=begun, most=most, known=self.known, is_whole=False
        )

    def _bends(self, estimates: FrameEstimates) -> Floats:
        """How far each frame of a note lies from it, in semitones, the same through a note."""
        bends = [
            np.full(end - first, np.median(estimates.bend[first:end, note]))
            for note, first, end in self.path(estimates)
        ]
        return np.concatenate(bends) if bends else np.zeros(0, dtype=np.float32)


def middle_cents(semitones: Doubles, weights: Doubles) -> float:
    """The weighed middle of what lies on a circle of a semitone; 0 where there is nothing."""
    if not len(semitones):
        return 0.0
    turned = np.sum(weights * np.exp(2j * np.pi * semitones))
    return float(100 * np.angle(turned) / (2 * np.pi))


class Beginnings:
    """Where the notes of a piece begin, between its frames.

    Parameters
    ----------
    estimates : FrameEstimates
    """

    def __init__(self, estimates: FrameEstimates) -> None:
        self._begins = (_chance(estimates.onset), _chance(estimates.attack))

    def onset_s(self, note: int, first: int) -> float:
        """When a note begins in the piece, by its semitone and its first frame."""
        near = np.asarray((self._begins[0][:, note] + self._begins[1]) / 2, dtype=np.float32)
        return max(0.0, (first + _place(near, first)) * HOP / RATE - LATE_S)


def certainty_of(estimates: FrameEstimates, note: int, first: int, end: int) -> float:
    """How likely the network holds the pitch of a note to be, once it has settled: 0 to 1."""
    return float(np.mean(np.exp(estimates.pitch[settled(first, end), note])))


def settled(first: int, end: int) -> slice:
    """The frames of a note without its attack."""
    return slice(first + min(4, (end - first) // 3), end)


def _chance(logits: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-logits)), dtype=np.float32)


def _place(near: Floats, frame: int) -> float:
    """Where between frames a beginning lies: the network draws a roof with slopes of a half."""
    before, after = near[max(0, frame - 1)], near[min(len(near) - 1, frame + 1)]
    return float(np.clip(after - before, -0.5, 0.5))
