"""Takes made up of numbers: what was meant is known, and how it was played."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache

import numpy as np

from halfstep.feedback.form_places import FormPlaces, form_places
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_clock import TakeClock, clocked_notes
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.listen.heard_take import HeardNote
from halfstep.listen.known_errors import known_errors
from halfstep.meter import Feel
from halfstep.part.transposed_part import Part, part_for
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
    ``cents`` is how far notes scatter about their pitch, ``mistuned`` says by how much concert
    pitches are off.
    """

    bpm: float = 120.0
    meter: str = "4/4"
    half: float = 0.6
    lag: float = 0.0
    spread_s: float = 0.012
    late_s: float = 0.0
    faster: float = 0.0
    tempo: float = 1.0
    wander_s: float = 0.0
    cents: float = 3.0
    mistuned: tuple[tuple[int, float], ...] = ()

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


@cache
def _part(meter: str, instrument: str) -> Part:
    return part_for(analyse(chart_in(meter)), INSTRUMENTS[instrument])


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
    slower = slower + _wander(player, beats, rng)
    times = 2.0 + slower * player.quarter_s / player.tempo + player.late_s
    times = np.sort(times + rng.normal(0, player.spread_s, len(times)))
    ends = np.append(times[1:], times[-1:] + 0.3)
    return [
        _heard(player, rng, t, max(t + 0.03, min(e - 0.02, t + 0.5)))
        for t, e in zip(times, ends, strict=True)
    ]


_LINE = (60, 62, 64, 65, 67, 69, 71, 72)


def _heard(player: Player, rng: np.random.Generator, onset_s: float, offset_s: float) -> HeardNote:
    midi = int(rng.choice(_LINE))
    cents = dict(player.mistuned).get(midi, 0.0) + rng.normal(0, player.cents)
    return HeardNote(onset_s, offset_s, midi, cents, -20.0, 0.99, midi + cents / 100)


def take_by(
    player: Player,
    *,
    bars: int = 32,
    seed: int = 0,
    feel: Feel = Feel.SWING,
    is_offset_known: bool = True,
    has_backing: bool = True,
    instrument: str = "alto-sax",
) -> JudgedTake:
    """A take that the player plays, counted in beats."""
    notes = played(player, meant_places(player, bars, seed), seed)
    clock = TakeClock(player.quarter_s, 2.0, is_offset_known, has_backing)
    counted = clocked_notes(notes, clock, form=player.form, feel=feel)
    return JudgedTake(
        notes=counted,
        end=counted[-1].sounded + 1,
        clock=clock,
        part=_part(player.meter, instrument),
        form=player.form,
        level=Level.INTERMEDIATE,
        feel=feel,
        errors=known_errors(instrument),
    )


def _wander(player: Player, beats: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A player's clock that strays and comes back, over about eight beats, in beats."""
    knots = np.arange(-8, beats[-1] + 17, 8.0)
    strays = rng.normal(0, player.wander_s / player.quarter_s, len(knots))
    return np.interp(beats, knots, strays)


def _swung(player: Player, place: Fraction) -> float:
    if player.form.cell != 1:
        return float(place)
    whole, part = place // 1, place % 1
    if part.denominator == 3:
        return float(place)
    half = player.half
    bent = 2 * part * half if part < F(1, 2) else half + (2 * part - 1) * (1 - half)
    return float(whole) + float(bent) + player.lag * (part == 0)
