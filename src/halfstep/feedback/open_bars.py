"""Which bars does a line leave to the player, and what would be an echo there?

A call leaves its answer, and an echo the bars to play it back in. The bars are counted from where
the player is in the line: who is a bar late answers a bar late.

Conventions: places are quarter notes from bar 1, and come round with the form.

Source: common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.played_back import answers
from halfstep.feedback.form_places import FormPlaces

LEAST_OPEN = 0.3
"""The share of bars without a note from which on a line leaves them to the player, as a call
leaves its answer; fewer are rests of the line."""
ECHO_BEATS = 0.6
"""How far from its place a note may be played back, in quarter notes."""
_RINGS_OVER = 0.25
"""How far into a bar a note may ring that belongs to the one before, in quarter notes."""
_BEFORE_BAR = 0.5
"""How early an answer may begin."""
_NEAR = 1e-6

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


class Echo(NamedTuple):
    """Where in the form a note is played back, in quarter notes, and its concert MIDI number."""

    place: float
    midi: int


@dataclass(frozen=True, slots=True)
class OpenBars:
    """The bars of a form that a line leaves to the player.

    Attributes
    ----------
    beats : float
        Length of the form.
    starts : tuple of float
        Of each bar.
    numbers : frozenset of int
        Those that are left, from 1.
    echoes : tuple of Echo
        What is played back where each call before is echoed as it was.
    """

    beats: float
    starts: tuple[float, ...]
    numbers: frozenset[int]
    echoes: tuple[Echo, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.numbers)

    def hold(self, places: Floats) -> Bools:
        """Whether each place lies in an open bar, or so shortly before that an answer may begin."""
        held: Bools = self._are_inside(places) | self._are_inside(places + _BEFORE_BAR)
        return held

    def _are_inside(self, places: Floats) -> Bools:
        flags = np.array([number in self.numbers for number in range(len(self.starts) + 1)])
        inside: Bools = flags[np.searchsorted(self.starts, (places + _NEAR) % self.beats, "right")]
        return inside

    def echo(self, places: Floats, midi: int) -> Bools:
        """Whether a pitch would be a note played back at each place, octaves aside."""
        asked = np.array([echo.place for echo in self.echoes if (echo.midi - midi) % 12 == 0])
        away = np.abs((places % self.beats)[..., None] - asked)
        near: Bools = (away <= ECHO_BEATS).any(axis=-1)
        return near


def open_bars(line: Sequence[EtudeNote], form: FormPlaces) -> OpenBars:
    """The bars of a form that a line leaves to the player; none where those are rests."""
    count = len(form.bar_starts)
    silent = set(range(1, count + 1))
    for note in (note for note in line if note.pitch):
        end = float(note.onset + note.beats) - _RINGS_OVER
        silent -= set(range(form.place_at(float(note.onset)).bar, form.place_at(end).bar + 1))
    if len(silent) < LEAST_OPEN * count:
        return OpenBars(form.beats, form.bar_starts, frozenset())
    echoes = _echoes(line, form, silent)
    return OpenBars(form.beats, form.bar_starts, frozenset(silent), echoes)


def _echoes(line: Sequence[EtudeNote], form: FormPlaces, silent: set[int]) -> tuple[Echo, ...]:
    """The notes of each bar that is played, where that is played back."""
    notes: dict[int, list[Echo]] = defaultdict(list)
    for place, midi in ((float(n.onset), n.pitch.midi) for n in line if n.pitch):
        notes[form.place_at(place).bar].append(Echo(place, midi))
    starts, count = form.bar_starts, len(form.bar_starts)
    backs = answers(set(range(1, count + 1)) - silent, count)
    return tuple(
        Echo(place - starts[bar - 1] + starts[back - 1], midi)
        for bar, back in backs.items()
        for place, midi in notes[bar]
    )
