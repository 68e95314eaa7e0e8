"""Which voicing follows which? The exact search for near voices under a top line that sings.

A voicing is chosen anew for each chord and for each bar that it lasts. A symbol that
returns takes its voicings from two halves in turns, so that it never comes back as it was;
the top line wanders after a drawn height, mostly by step and never by more than a fifth
while there is another way.

Source: common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from random import Random

import numpy as np

from halfstep.backing.chord_scales import PitchClasses
from halfstep.backing.voicings import Hands, Voicing, voicings
from halfstep.progression.symbol import ChordSymbol
from halfstep.search import Chain, Costs, Lazy, best_loop

_WHIM = 1.5
_HEIGHT = 3.0  # semitones of the top note from the wanted height that cost 1
_TURNS = ((62, 65), (68, 71))
_CHORDS_TO_TURN = (3, 6)
_TOP_COSTS = (1.6, 0.0, 0.0, 0.8, 1.0, 1.6, 3.0, 3.0)
_TOO_WIDE = 40.0
_SAME = 20.0
_MOTION = 0.25
_STUCK = 6.0


@dataclass(frozen=True, slots=True)
class LaidChord:
    """A chord to be laid: its symbol, and the scale over it."""

    symbol: ChordSymbol
    scale: PitchClasses


Layer = tuple[tuple[Voicing, ...], Costs]
"""The voicings of a chord, and what speaks against each."""


def voiced(laid_chords: Sequence[LaidChord], *, hands: Hands, random: Random) -> list[Voicing]:
    """A voicing for each of the chords, which follow one another in a loop."""
    if not laid_chords:
        return []
    heights = _heights(len(laid_chords), random)
    times: Counter[ChordSymbol] = Counter()
    layers = []
    for chord, height in zip(laid_chords, heights, strict=True):
        options = _half(chord, hands, times[chord.symbol] % 2)
        times[chord.symbol] += 1
        costs = [
            cost + ((notes[-1] - height) / _HEIGHT) ** 2 + _WHIM * random.random()
            for notes, cost in options
        ]
        layers.append((tuple(notes for notes, _ in options), np.array(costs)))
    layers[0] = _cheapest(layers[0])
    states = best_loop(_loop(layers))
    return [options[state] for (options, _), state in zip(layers, states, strict=True)]


def _cheapest(layer: Layer) -> Layer:
    """One voicing of the first chord, so that the loop is closed in one search."""
    best = int(np.argmin(layer[1]))
    return (layer[0][best],), layer[1][best : best + 1]


@lru_cache(maxsize=4096)
def _half(chord: LaidChord, hands: Hands, turn: int) -> tuple[tuple[Voicing, float], ...]:
    """Every second of a chord's voicings, from the lowest top note up."""
    options = sorted(
        voicings(chord.symbol, chord.scale, hands), key=lambda laid: (laid[0][-1], laid[1], laid[0])
    )
    return tuple(options[turn::2] or options)


def _heights(count: int, random: Random) -> list[float]:
    """Where the top note would like to be: high and low in turns, straight between."""
    places, midi = [0.0], [float(random.randint(64, 68))]
    is_low = random.random() < 0.5
    while places[-1] < count:
        places.append(places[-1] + random.randint(*_CHORDS_TO_TURN))
        midi.append(float(random.randint(*_TURNS[not is_low])))
        is_low = not is_low
    return list(map(float, np.interp(range(count), places, midi)))


def _loop(layers: Sequence[Layer]) -> Chain:
    """The chain of the chords and, behind the last, the first one again."""
    count = len(layers)
    closed = [*(options for options, _ in layers), layers[0][0]]
    ones = [*(costs for _, costs in layers), np.zeros(len(layers[0][0]))]

    def twos(place: int) -> Costs | None:
        return _between(closed[place - 1], closed[place]) if place else None

    def threes(place: int) -> Costs | None:
        return _stuck(*closed[place - 2 : place + 1]) if place > 1 else None

    return Chain(ones, Lazy(count + 1, twos), Lazy(count + 1, threes))


@lru_cache(maxsize=4096)
def _between(old: tuple[Voicing, ...], new: tuple[Voicing, ...]) -> Costs:
    """The cost of each step from the voicings of one chord to those of the next."""
    leaps = np.abs(np.subtract.outer([notes[-1] for notes in old], [notes[-1] for notes in new]))
    tops = np.where(
        leaps < len(_TOP_COSTS),
        np.take(_TOP_COSTS, np.minimum(leaps, len(_TOP_COSTS) - 1)),
        _TOO_WIDE + leaps,
    )
    same = np.array([[a == b for b in new] for a in old])
    return np.asarray(tops + _MOTION * _motions(old, new) + _SAME * same)


def _motions(old: tuple[Voicing, ...], new: tuple[Voicing, ...]) -> Costs:
    """Semitones from each note of a voicing to the nearest one of the other, both ways' mean."""
    a, b = _padded(old), _padded(new)
    distances = np.abs(a[:, None, :, None] - b[None, :, None, :])
    there, back = np.fmin.reduce(distances, axis=3), np.fmin.reduce(distances, axis=2)
    return np.asarray((np.nansum(there, axis=2) + np.nansum(back, axis=2)) / 2)


def _padded(options: tuple[Voicing, ...]) -> Costs:
    """Voicings as rows of one length."""
    size = max(map(len, options))
    return np.array([[*notes, *[np.nan] * (size - len(notes))] for notes in options])


@lru_cache(maxsize=1024)
def _stuck(one: tuple[Voicing, ...], two: tuple[Voicing, ...], three: tuple[Voicing, ...]) -> Costs:
    """What it costs to have one top note three times."""
    tops = ([notes[-1] for notes in options] for options in (one, two, three))
    a, b, c = np.ix_(*tops)
    return np.where((a == b) & (b == c), _STUCK, 0.0)
