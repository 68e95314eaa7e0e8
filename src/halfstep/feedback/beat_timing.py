"""How does a player place notes about the beat, through a whole take?

Conventions
-----------
- Milliseconds, later is positive.
- Counted are notes on the beat and on its half, in metres that count in eighths those on
  the eighths.
- Where a written line is played its notes say what was meant, else the nearest places do.
- Drift is what changes slowly through the take.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from halfstep.feedback.beat_following import smooth_leads
from halfstep.feedback.estimate import Estimate, Floats, curve_estimates, middle_of
from halfstep.feedback.judged_take import JudgedTake

_HALF = Fraction(1, 2)
_BLOCK = 8
"""Quarter notes in which a player has one habit."""
_FEWEST_BLOCKS = 5
_FEWEST_IN_BLOCK = 2


@dataclass(frozen=True, slots=True, eq=False)
class BeatTiming:
    """The counted notes of a take.

    Attributes
    ----------
    beats : float array, shape (notes,)
        Where each sounds, in quarter notes.
    on_beat : bool array, shape (notes,)
    late : float array, shape (notes,)
        After the place on the clock of the take, in quarter notes; a slip of the form makes no
        note late.
    cell, quarter_ms : float
        Quarter notes in what is counted, and how long one is.
    """

    beats: Floats
    on_beat: npt.NDArray[np.bool_]
    late: Floats
    cell: float
    quarter_ms: float

    def __len__(self) -> int:
        return len(self.beats)

    @property
    def blocks(self) -> npt.NDArray[np.int64]:
        """The stretch that each note stands in."""
        return np.asarray(self.beats // _BLOCK, dtype=np.int64)

    @property
    def drift_ms(self) -> Floats:
        """How late the player's clock is at each note."""
        places, late = self.beats / self.cell, (self.late - self._habits()) / self.cell
        drift = smooth_leads(places, late)
        return (drift + smooth_leads(places, late - drift)) * self.cell * self.quarter_ms

    def _habits(self) -> Floats:
        """What the player is late by on the beat or off it, a drift left out."""
        rough = self.late - self.cell * smooth_leads(self.beats / self.cell, self.late / self.cell)
        habits = np.zeros(len(self))
        for kind in (self.on_beat, ~self.on_beat):
            if kind.any():
                habits[kind] = np.median(rough[kind])
        return habits

    @property
    def habit_free_ms(self) -> Floats:
        """Lateness without the player's habit on the beat and off it."""
        return self.quarter_ms * (self.late - self._habits())

    @property
    def steady_ms(self) -> Floats:
        """The same without the drift."""
        return self.habit_free_ms - self.drift_ms

    def on_beat_ms(self) -> Estimate:
        """How late notes on the beat are."""
        late = self.quarter_ms * self.late[self.on_beat]
        return middle_of(late, self.blocks[self.on_beat].tolist())

    def off_beat_ms(self) -> float | None:
        """How late those on its half are; None where there is none."""
        late = self.late[~self.on_beat]
        return self.quarter_ms * float(np.median(late)) if len(late) else None


def beat_timing(take: JudgedTake) -> BeatTiming:
    """The counted notes of a take, and how each is placed."""
    cell = take.form.cell
    inside = {Fraction(0), _HALF} if cell == 1 else {Fraction(0)}
    counted = [
        (note.sounded, place)
        for note, place in zip(take.notes, meant_places(take), strict=True)
        if place % cell in inside
    ]
    beats = np.array([sounded for sounded, _ in counted])
    # a slip of the form moves a place by whole beats
    late = np.unwrap(beats - np.array([float(place) for _, place in counted]), period=1.0)
    if counted:
        late -= np.round(np.median(late))
    on_beat = np.array([place % cell == 0 for _, place in counted], dtype=np.bool_)
    return BeatTiming(beats, on_beat, late, float(cell), 1000 * take.clock.quarter_s)


def meant_places(take: JudgedTake) -> list[Fraction]:
    """The place of each note: that of the written note it is, or else the nearest."""
    places = [note.place for note in take.notes]
    if take.alignment is not None:
        line = take.alignment.line
        for match in take.alignment.matches:
            meant = Fraction(line.notes[match.written].onset) + match.chorus * Fraction(line.beats)
            if abs(meant - places[match.heard]) <= _HALF:
                places[match.heard] = meant
    return places


def drift_curve(timing: BeatTiming) -> tuple[Estimate, ...] | None:
    """The player's clock against that of the take as a parabola; None for too short a take.

    Returns
    -------
    tuple of Estimate or None
        In milliseconds, lowest power first, over the take's length counted from -0.5 to 0.5.
    """
    late, beats = timing.habit_free_ms, timing.beats
    counts = np.unique(timing.blocks, return_counts=True)
    blocks = [block for block, count in zip(*counts, strict=True) if count >= _FEWEST_IN_BLOCK]
    if len(blocks) < _FEWEST_BLOCKS:
        return None
    kinds = [timing.blocks == block for block in blocks]
    places = np.array([beats[kind].mean() for kind in kinds])
    middles = np.array([np.median(late[kind]) for kind in kinds])
    weights = np.array([min(8.0, float(kind.sum())) for kind in kinds])
    along = (places - beats[0]) / (beats[-1] - beats[0]) - 0.5
    return curve_estimates(along, middles, weights)


def eighth_pairs(take: JudgedTake) -> Floats:
    """Where the second of two eighths falls between two beats, 0 to 1, pair by pair."""
    triples = zip(take.notes, take.notes[1:], take.notes[2:], strict=False)
    return np.array(
        [
            (half.sounded - beat.sounded) / (following.sounded - beat.sounded)
            for beat, half, following in triples
            if beat.place.denominator == 1
            and half.place - beat.place == _HALF
            and following.place - beat.place == 1
            and following.sounded > beat.sounded
        ]
    )
