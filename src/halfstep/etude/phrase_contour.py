"""Where does a phrase go? Heights and directions, planned before its notes are.

Each phrase has its highest and its lowest note in fourths that are drawn by their share, and a
compass; of some rows of runs, each drawn by its length, the one is taken that comes nearest to
that. The phrases rise towards a high point past the middle of the form and fall after it.

Source: shares of transcribed solos (`halfstep.etude.solo_counts`).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate
from math import exp

from halfstep.etude.etude_brief import Brief
from halfstep.etude.layouts import stretches
from halfstep.etude.slots import Slot
from halfstep.etude.solo_counts import COMPASS_CLASS, solo_shares
from halfstep.random_stream import RandomStream

STEP_SEMITONES = 2.3
"""How far a note lies from the one before, as a mean."""
ROWS = 3
"""Rows of runs that are drawn for a phrase."""
PEAK = (0.6, 0.8)
"""Of the form, where the phrases are highest."""
REACH = 26
"""Semitones of a range that are used at most."""


def with_contours(slots: Sequence[Slot], brief: Brief, rng: RandomStream) -> list[Slot]:
    """The slots with the height that each is led to, and the direction into it."""
    low, high = brief.concert_low, brief.concert_high
    middle, reach = (low + high) / 2, min(high - low, REACH) / 2
    peak, total = rng.uniform(*PEAK), float(slots[-1].onset) or 1.0
    planned = list(slots)
    for start, stop in stretches(slots):
        at = float(slots[start].onset + slots[stop - 1].onset) / 2 / total
        arch = exp(-(((at - peak) / 0.18) ** 2))
        centre = middle + reach * (0.5 * arch - 0.15 + rng.uniform(-0.25, 0.25) * (1 - arch))
        wanted = _contour(stop - start, reach, rng)
        ways = _ways(wanted, rng)
        for n in range(start, stop):
            height = min(max(centre + wanted[n - start], low), high)
            planned[n] = slots[n]._replace(target=height, way=ways[n - start])
    return planned


def _contour(count: int, reach: float, rng: RandomStream) -> list[float]:
    """Heights from the middle of a phrase, in semitones, straight between top and bottom."""
    shares = solo_shares()
    top, bottom = divmod(rng.choice(range(16), shares.shapes.ravel().tolist()), 4)
    compass = COMPASS_CLASS * (
        0.5 + rng.choice(range(len(shares.compasses)), shares.compasses.tolist())
    )
    half = min(compass, 2 * reach, STEP_SEMITONES * count) / 2
    knots = sorted([
        ((top + rng.random()) / 4 * (count - 1), half),
        ((bottom + rng.random()) / 4 * (count - 1), -half),
    ])  # fmt: skip
    (left, first), (right, second) = knots
    heights = []
    for n in range(count):
        if n <= left:
            share = (left - n) / max(left, 1.0)
            heights.append(first * (1 - min(1.0, share * left / 4)))
        elif n >= right:
            share = (n - right) / max(count - 1 - right, 1.0)
            heights.append(second * (1 - min(1.0, share * (count - 1 - right) / 4)))
        else:
            heights.append(first + (second - first) * (n - left) / (right - left))
    return heights


def _ways(wanted: Sequence[float], rng: RandomStream) -> list[int]:
    """The direction into each note of a phrase, 0 into the first."""
    rows = [_row_of_runs(len(wanted) - 1, rng) for _ in range(ROWS)]
    return [0, *min(rows, key=lambda row: _distance(row, wanted))]


def _row_of_runs(count: int, rng: RandomStream) -> list[int]:
    """Directions of so many intervals, one run after another."""
    runs = solo_shares().runs.tolist()
    up = rng.integers(2)
    row: list[int] = []
    while len(row) < count:
        row += [2 * up - 1] * (1 + rng.choice(range(len(runs[up])), runs[up]))
        up = 1 - up
    return row[:count]


def _distance(row: Sequence[int], wanted: Sequence[float]) -> float:
    """How far a line that goes so would lie from those heights."""
    path = list(accumulate((way * STEP_SEMITONES for way in row), initial=0.0))
    shift = sum(path) / len(path) - sum(wanted) / len(wanted)
    return sum((a - shift - b) ** 2 for a, b in zip(path, wanted, strict=True))
