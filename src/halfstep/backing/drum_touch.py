"""How hard is each stroke? Never twice the same, and between the beats softer than on them.

The differences are dealt like cards, so that any dozen strokes have the same spread, a slow
chart's as well as a fast one's.

Source: common practice, no source: a spread of 4 to 8 in velocity on the ride.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from random import Random

from halfstep.backing.drum_bar import DrumBar
from halfstep.backing.drum_kit import Stroke, place_in_bar

_CARDS = (-1.83, -1.21, -0.86, -0.58, -0.34, -0.11, 0.11, 0.34, 0.58, 0.86, 1.21, 1.83)
"""The middles of twelve equal shares of a normal distribution, with a spread of one."""

_SPREAD = 5.0
_SOFTER = 4
"""How much softer than the stroke on the beat before it a stroke between the beats is."""


class DrumTouch:
    """A hand that never strikes twice alike."""

    def __init__(self, random: Random) -> None:
        self._random = random
        self._cards: dict[bool, list[float]] = {True: [], False: []}
        self._on_beat: dict[int, int] = {}

    def time(self, strokes: Iterable[Stroke], bar: DrumBar) -> Iterator[Stroke]:
        """Strokes that keep time, those between the beats softer than the last on one."""
        for stroke in sorted(strokes, key=place_in_bar):
            on_beat = bar.counts(stroke.at)
            velocity = self._varied(stroke.velocity, on_beat=on_beat)
            if on_beat:
                self._on_beat[stroke.key] = velocity
            elif stroke.key in self._on_beat:
                velocity = min(velocity, self._on_beat[stroke.key] - _SOFTER)
            yield stroke._replace(velocity=velocity)

    def free(self, strokes: Iterable[Stroke]) -> Iterator[Stroke]:
        """Strokes on the other drums."""
        for stroke in strokes:
            yield stroke._replace(velocity=self._varied(stroke.velocity, on_beat=False))

    def _varied(self, velocity: int, *, on_beat: bool) -> int:
        cards = self._cards[on_beat]
        if not cards:
            cards.extend(_CARDS)
            self._random.shuffle(cards)
        return min(127, max(1, round(velocity + _SPREAD * cards.pop())))
