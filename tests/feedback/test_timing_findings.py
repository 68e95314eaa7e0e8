"""Is a player's time told as it is? Faults are planted in made-up takes, and natural ones are not.

Sources, as in the module: the lateness by custom was counted on 12,619 pairs of eighths in
tables of transcribed solos (MIT); soloists swing 1.3:1 on average (Corcoran & Frieler 2021,
abstract); a tendency is heard from 12 ms, a tempo that changes from about 2 % on (Drake &
Botte 1993, from memory).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from halfstep.feedback.findings import Finding, Unit
from halfstep.feedback.timing_findings import timing_findings
from halfstep.meter import Feel
from made_takes import Player, take_by

TEMPI = (50, 90, 140, 200)
ALONE = {"is_offset_known": False, "has_backing": False}


def findings(player: Player, seed: int = 1, **settings: Any) -> dict[str, Finding]:
    told = timing_findings(take_by(player, seed=seed, **settings))
    return {finding.kind.value: finding for finding in told}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("bpm", [*TEMPI, 250])
@pytest.mark.parametrize("meter", ["4/4", "3/4", "5/4", "6/8"])
def test_a_good_player_is_told_nothing(meter: str, bpm: int, seed: int) -> None:
    player = Player(bpm=bpm, meter=meter, spread_s=0.02, wander_s=0.015)
    assert findings(player, seed) == {}
    assert findings(player, seed, **ALONE) == {}


@pytest.mark.parametrize("settings", [{}, ALONE], ids=["backing", "alone"])
@pytest.mark.parametrize("bpm", TEMPI)
def test_a_soloist_who_is_late_on_the_beat_by_custom_is_told_nothing(
    bpm: int, settings: dict[str, bool]
) -> None:
    assert findings(Player(bpm=bpm, lag=0.1, half=0.62, spread_s=0.02), **settings) == {}


@pytest.mark.parametrize("late_s", [-0.06, -0.035, 0.035, 0.06])
@pytest.mark.parametrize("bpm", TEMPI)
def test_who_is_late_or_early_where_eighths_are_even_is_told_by_how_much(
    bpm: int, late_s: float
) -> None:
    player = Player(bpm=bpm, half=0.5, late_s=late_s, spread_s=0.015)
    offset = findings(player, feel=Feel.STRAIGHT)["offset"]
    assert offset.unit is Unit.MS
    assert offset.amount == pytest.approx(1000 * late_s, abs=10)
    assert offset.interval is not None
    assert offset.interval[0] < 1000 * late_s < offset.interval[1]
    assert offset.certainty > 0.9


@pytest.mark.parametrize(("bpm", "late_s"), [(60, 0.14), (120, 0.1), (160, 0.07), (240, 0.05)])
def test_who_is_later_than_by_custom_is_told(bpm: int, late_s: float) -> None:
    assert findings(Player(bpm=bpm, late_s=late_s))["offset"].amount == pytest.approx(
        1000 * late_s, abs=10
    )


def test_an_offset_that_nobody_knows_is_not_told() -> None:
    player = Player(half=0.5, late_s=-0.06)
    assert findings(player, feel=Feel.STRAIGHT, is_offset_known=False) == {}


@pytest.mark.parametrize(("kind", "sign"), [("rushing", 1), ("dragging", -1)])
@pytest.mark.parametrize("bpm", TEMPI)
def test_a_tempo_that_drifts_is_told(kind: str, sign: int, bpm: int) -> None:
    player = Player(bpm=bpm, faster=sign * 0.04, spread_s=0.02)
    alone = findings(player, **ALONE)
    assert [*alone] == [kind]
    assert alone[kind].amount == pytest.approx(4 * sign, abs=0.6)
    beside_a_band = findings(Player(bpm=bpm, tempo=1 + 0.01 * sign, spread_s=0.02))
    assert [*beside_a_band] == [kind]
    assert beside_a_band[kind].amount == pytest.approx(sign, abs=0.2)


@pytest.mark.slow
@pytest.mark.parametrize("bpm", [70, 100, 120])
def test_a_beginners_spread_is_uneven_and_a_good_players_is_not(bpm: int) -> None:
    spread_s = max(0.065, 0.085 * 60 / bpm)
    uneven = findings(Player(bpm=bpm, spread_s=spread_s), bars=48)["uneven"]
    assert uneven.amount == pytest.approx(1000 * spread_s, rel=0.3)
    assert "uneven" not in findings(Player(bpm=bpm, spread_s=0.03), bars=48)


@pytest.mark.slow
@pytest.mark.parametrize("bpm", [70, 100, 140])
@pytest.mark.parametrize("settings", [{}, ALONE], ids=["backing", "alone"])
def test_even_eighths_where_the_feel_swings_are_told(bpm: int, settings: dict[str, bool]) -> None:
    straight = findings(Player(bpm=bpm, half=0.5), **settings)["straight"]
    assert straight.amount == pytest.approx(50, abs=1)
    assert findings(Player(bpm=bpm, half=0.57), **settings) == {}


def test_the_ears_error_of_swing_is_one_of_the_ratio() -> None:
    """Even eighths have the ratio 1, and dp = dr / (1 + r)²: a place is off by a quarter of it."""
    take = take_by(Player(bpm=100, half=0.5))
    reaches = []
    for swing_sd in (0.0, 0.05):
        errors = replace(take.errors, swing_sd_slow=swing_sd)
        told = timing_findings(replace(take, errors=errors))
        low, high = next(f.interval for f in told if f.kind == "straight") or (0.0, 0.0)
        reaches.append((high - low) / 2)
    exact, by_ear = reaches
    assert math.sqrt(by_ear**2 - exact**2) == pytest.approx(1.96 * 100 * 0.05 / 4, abs=0.2)


@pytest.mark.parametrize("bpm", [70, 100, 140, 180])
def test_swung_eighths_where_the_feel_is_even_are_told(bpm: int) -> None:
    assert findings(Player(bpm=bpm, half=0.62), feel=Feel.STRAIGHT)["swung"].fault
    assert "swung" not in findings(Player(bpm=bpm, half=0.53), feel=Feel.STRAIGHT)


@pytest.mark.parametrize("bpm", [220, 260, 300])
def test_even_eighths_are_the_custom_at_a_fast_tempo(bpm: int) -> None:
    assert findings(Player(bpm=bpm, half=0.5)) == {}


def test_a_few_notes_say_nothing() -> None:
    assert findings(Player(half=0.5, late_s=0.2, spread_s=0.08), bars=2) == {}


def test_an_offset_that_may_be_another_place_is_not_told() -> None:
    wide = Player(bpm=160, half=0.5, late_s=0.11, spread_s=0.04)
    close = Player(bpm=160, half=0.5, late_s=0.11, spread_s=0.01)
    assert "offset" not in findings(wide, feel=Feel.STRAIGHT)
    assert "offset" in findings(close, feel=Feel.STRAIGHT)
