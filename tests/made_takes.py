"""Takes made up of numbers: what was meant is known, and how it was played."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache

import numpy as np

from halfstep.feedback.form_places import FormPlaces, form_places
from halfstep.harmony.analysis import analyse
from halfstep.listen.heard_take import HeardNote
from halfstep.progression.chart import Chart
from typed_charts import read_chart_text

F = Fraction
QUARTER_RHYTHMS = (
    ((F(0),), 4),
    ((F(0), F(1, 2)), 8),
    ((F(1, 2),), 2),
    ((), 3),
    ((F(0), F(1, 3), F(2, 3)), 1),
    ((F(0), F(1, 4), F(1, 2), F(3, 4)), 1),
)
"""Rhythms of a quarter note, and how often each is played."""
EIGHTH_RHYTHMS = (((F(0),), 8), ((), 3), ((F(0), F(1, 2)), 1))
_FASTEST_S = 0.085
"""Nobody plays notes that are nearer together."""


@dataclass(frozen=True)
class Player:
    """How a player plays.

    ``lag`` is in beats, for notes on the beat where eighths swing; ``faster`` is by how much
    the tempo rises over the take, and ``tempo`` a constant factor.
    """

    bpm: float = 120.0
    meter: str = "4/4"
    half: float = 0.6
    lag: float = 0.0
    spread_s: float = 0.012
    late_s: float = 0.0
    faster: float = 0.0
    tempo: float = 1.0

    @property
    def form(self) -> FormPlaces:
        return _form(self.meter)

    @property
    def quarter_s(self) -> float:
        return 60 / self.bpm


@cache
def chart_in(meter: str) -> Chart:
    return read_chart_text(f"meter: {meter}\n" + " | ".join(["C", "Am7", "Dm7", "G7"] * 2))


@cache
def _form(meter: str) -> FormPlaces:
    return form_places(analyse(chart_in(meter)))


def meant_places(player: Player, bars: int, seed: int) -> list[Fraction]:
    """Places in quarter notes, rhythm after rhythm."""
    rng = np.random.default_rng(seed)
    cell = player.form.cell
    rhythms = QUARTER_RHYTHMS if cell == 1 else EIGHTH_RHYTHMS
    shares = np.array([share for _, share in rhythms], dtype=float)
    cells = int(bars * chart_in(player.meter).meter.bar_beats / cell)
    places = []
    for number in range(cells):
        rhythm = rhythms[rng.choice(len(rhythms), p=shares / shares.sum())][0]
        if len(rhythm) > 1 and float(cell) * player.quarter_s / len(rhythm) < _FASTEST_S:
            rhythm = rhythm[:1]
        places += [cell * (number + place) for place in rhythm]
    return places


def played(player: Player, places: list[Fraction], seed: int) -> list[HeardNote]:
    """The notes as the player plays them, bar 1 at 2 s."""
    rng = np.random.default_rng(seed + 1000)
    beats = np.array([_swung(player, place) for place in places])
    last = beats[-1] if len(beats) else 1.0
    slower = beats - player.faster * beats**2 / (2 * last)
    times = 2.0 + slower * player.quarter_s / player.tempo + player.late_s
    times = np.sort(times + rng.normal(0, player.spread_s, len(times)))
    ends = np.append(times[1:], times[-1:] + 0.3)
    return [
        HeardNote(t, max(t + 0.03, min(e - 0.02, t + 0.5)), 60, 0.0, -20.0, 0.99, 60.0)
        for t, e in zip(times, ends, strict=True)
    ]


def _swung(player: Player, place: Fraction) -> float:
    if player.form.cell != 1:
        return float(place)
    whole, part = place // 1, place % 1
    if part.denominator == 3:
        return float(place)
    half = player.half
    bent = 2 * part * half if part < F(1, 2) else half + (2 * part - 1) * (1 - half)
    return float(whole) + float(bent) + player.lag * (part == 0)
