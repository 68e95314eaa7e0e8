"""How far outside the chords does a player go by choice?

A player who often plays notes of no chord that lead nowhere does so on purpose; then a note
of the chord before is no mistake either. Whoever stays inside but for a few notes of old
scales has missed those changes. A beginner seldom chooses to go outside.

Conventions
-----------
- What a figure carries outside that comes again and again is no choice: who moves one shape from
  root to root, whatever the chords, does not mean to go outside.
- Outside is what has weight, leads nowhere, is in no scale of the chord that is first choice,
  no blue note, and not of the chord before. By chance as many notes of the chord before
  would be met as its share among all that are outside.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from halfstep.feedback.laid_take import LaidTake
from halfstep.feedback.repeated_figures import figures_of, is_run
from halfstep.feedback.take_note import TakeNote
from halfstep.harmony.chart_sounds import ChangeSounds
from halfstep.level import Level

_PRIOR_KEPT = 1.0
"""Old notes that are taken for mistakes before any is counted."""
_BY_CHOICE = {Level.BEGINNER: 0.25, Level.INTERMEDIATE: 0.6, Level.ADVANCED: 1.0}
"""How likely a note outside is played by choice."""
_OUTSIDE_WEIGHT = 8.0
"""How fast trust in a fault falls with the share of notes outside that are."""
FIGURE_NOTES, FIGURE_TIMES, FIGURE_SHARE = 3, 4, 0.15
"""A figure of so many notes comes again and again where it comes so often and has so much of all
notes: in 75 solos of players none has more than 0.12."""


@dataclass(frozen=True, slots=True)
class OutsidePlay:
    """How a take goes outside.

    Attributes
    ----------
    mistaken : float
        How likely a note of an old scale is a mistake and no way of playing, 0 to 1.
    inside : float
        1 where nothing is outside by choice, falling with the share of what is.
    """

    mistaken: float
    inside: float


def outside_play(taken: LaidTake) -> OutsidePlay:
    """How far outside a take goes by choice."""
    by_choice = _BY_CHOICE[taken.take.level]
    chances = list(_chances(taken))
    kept = sum(len(arrival.kept) for arrival in taken.arrivals) + _PRIOR_KEPT
    outside = by_choice * len(chances) / max(len(taken.notes), 1)
    inside = 1 / (1 + _OUTSIDE_WEIGHT * outside)
    return OutsidePlay(inside * kept / (kept + by_choice * sum(chances)), inside)


def _chances(taken: LaidTake) -> Iterator[float]:
    """For each note outside by choice, how many notes of the old chord would be met by chance."""
    laid, carried = taken.laid, _carried(taken.notes)
    for place in range(1, len(laid.stretches)):
        old, new = laid.stretches[place - 1 : place + 1]
        change = taken.sounds.change(old.chord, new.chord)
        if change is None:
            continue
        chance = _chance(change)
        for note in range(laid.firsts[place], laid.firsts[place + 1]):
            if note not in carried and _is_outside(taken, note, change):
                yield chance


def _carried(notes: Sequence[TakeNote]) -> frozenset[int]:
    """The notes of figures that come again and again."""
    figures = figures_of(notes, FIGURE_NOTES)
    least = max(FIGURE_TIMES, FIGURE_SHARE * len(notes) / FIGURE_NOTES)
    common = {f for f, count in Counter(figures).items() if count >= least and not is_run(f)}
    starts = [start for start, figure in enumerate(figures) if figure in common]
    return frozenset(start + step for start in starts for step in range(FIGURE_NOTES))


def _chance(change: ChangeSounds) -> float:
    """Notes of the old chord alone for each other note outside the new one."""
    old = len(change.leaving - change.blue)
    others = 12 - len(change.new.scale | change.leaving)
    return old / max(others, 1)


def _is_outside(taken: LaidTake, note: int, change: ChangeSounds) -> bool:
    pitch_class = taken.laid.line[note].midi % 12
    is_sounding = pitch_class in change.new.scale | change.leaving | taken.sounds.blue
    return not is_sounding and taken.laid.has_weight(note) and not taken.leading[note]
