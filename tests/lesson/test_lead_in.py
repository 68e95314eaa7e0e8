"""What precedes bar 1: bars of clicks by tempo and pickup, and an intro behind them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from halfstep.backing import STYLES
from halfstep.lesson.lead_in import lead_in
from halfstep.progression.chart import Bar, Chart
from typed_charts import read_chart_text

CHART = read_chart_text("| Dm7 | G7 | Em7b5 | A7b9 |")


def with_pickup(beats: int) -> Chart:
    """The chart with a bar before bar 1."""
    pickup = Bar(0, CHART.meter, Fraction(beats), (), 0)
    return replace(CHART, bars=(pickup, *CHART.bars)) if beats else CHART


@pytest.mark.parametrize(
    ("pickup", "tempo_bpm", "intro_bars", "beats", "soft"),
    [
        (0, 120, 0, 4, 0), (1, 120, 0, 4, 1), (2, 120, 0, 8, 2), (2, 120, 2, 12, 0),
        (0, 240, 0, 8, 0), (0, 240, 4, 24, 0),
    ],
)  # fmt: skip
def test_a_chart_is_counted_in_by_its_tempo_pickup_and_intro(
    pickup: int, tempo_bpm: float, intro_bars: int, beats: int, soft: int
) -> None:
    """A pickup lies in the intro where there is one, and is not counted under."""
    before = lead_in(
        with_pickup(pickup), style=STYLES[0], tempo_bpm=tempo_bpm, seed=1, intro_bars=intro_bars
    )
    clicks = [note for note in before.clicks.notes if note.midi == 37]
    assert before.beats == beats
    assert min(click.onset for click in clicks) == -beats
    assert max(click.onset for click in clicks) == -4 * intro_bars - 1
    assert sum(click.velocity < 92 for click in clicks) == soft
    assert bool(before.intro) == bool(intro_bars)
