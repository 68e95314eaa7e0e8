"""Is a take of its written line, or of another over the same chords?"""

from __future__ import annotations

from itertools import permutations

import pytest

from feedback.played_takes import PlayedTone, line_of, moved, played, take_of
from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.line_fit import fits_line
from halfstep.feedback.written_line import read_by_line
from halfstep.harmony.analysis import Analysis

CHARTS = ("evening class", "twelve bars", "minor", "waltz")
BETWEEN = ("call-and-response", "echo")
MOST_PASSED = 0.05
"""The share of other lines that may seem the own: two that share half their calls cannot be told
apart."""


def fits(tones: list[PlayedTone], analysis: Analysis, line: tuple[EtudeNote, ...]) -> bool:
    return fits_line(read_by_line(take_of(tones, analysis, line=line)))


@pytest.mark.slow
def test_a_take_of_another_line_with_open_bars_is_not_of_this_one() -> None:
    passed, pairs = [], 0
    for chart in CHARTS:
        lines = [line_of(step, chart, seed=seed) for step in BETWEEN for seed in (4, 5)]
        for (analysis, one), (_, other) in permutations(lines, 2):
            pairs += 1
            if fits(played(analysis, one, passes=2), analysis, other):
                passed.append(chart)
    assert pairs == 48
    assert len(passed) <= MOST_PASSED * pairs


@pytest.mark.parametrize("late", [-1, 1, 2])
@pytest.mark.parametrize("step", BETWEEN)
@pytest.mark.parametrize("chart", CHARTS)
def test_who_slips_in_the_form_plays_the_line_still(chart: str, step: str, late: int) -> None:
    analysis, line = line_of(step, chart, seed=2)
    tones = played(analysis, line, passes=2)
    bar = float(analysis.chart.meter.bar_beats)
    first = next(n for n, tone in enumerate(tones) if tone.onset >= 4 * bar)
    slipped = [
        tone for tone in moved(tones, first, late * bar) if tone.onset < 2 * _beats(analysis)
    ]
    assert fits(slipped, analysis, line)


def _beats(analysis: Analysis) -> float:
    return float(analysis.chart.beats)


@pytest.mark.parametrize("step", BETWEEN)
def test_who_leaves_the_calls_to_others_and_answers_alone_plays_the_line(step: str) -> None:
    """One call of his own, and an answer in every bar that is left to him."""
    analysis, line = line_of(step, "evening class", seed=2)
    take = read_by_line(take_of(played(analysis, line), analysis, line=line))
    assert take.alignment
    assert take.alignment.line.left
    starts, numbers = take.form.bar_starts, sorted(take.alignment.line.left.numbers)
    answers = [
        PlayedTone(starts[number - 1] + at, 0.9, 65) for number in numbers for at in (0.0, 1.0, 2.0)
    ]
    calls = [tone for tone in played(analysis, line) if tone.onset < starts[1]]
    tones = sorted([*calls, *answers], key=lambda tone: tone.onset)
    assert fits(tones, analysis, line)
