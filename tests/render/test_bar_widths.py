"""A bar is as wide as its bounds say, and lines break by them as they do by measuring."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from halfstep.render import score_pictures
from halfstep.render.bar_widths import width_bounds
from halfstep.render.engraved_systems import natural_widths
from halfstep.render.mei import mei_bars
from halfstep.score import Score, ScoreBar
from written_scores import COMMON, line, part, symbol, whole_scores


@pytest.mark.slow
@settings(max_examples=20, suppress_health_check=[HealthCheck.too_slow])
@given(whole_scores(max_bars=4))
def test_a_measured_bar_lies_between_its_bounds(score: Score):
    """Some tenths of a staff space are allowed where degrees stand closer than chord symbols."""
    bars = mei_bars(score, score_pictures.kept_width)
    head, widths = natural_widths(bars)
    head_bounds, bounds = width_bounds(bars)
    assert head_bounds.least <= head <= head_bounds.most
    for width, (least, most) in zip(widths, bounds, strict=True):
        assert 0.95 * least <= width <= 1.05 * most


PLAIN = {
    "eighths": ("C5 D5 E5 G5 F5 E5 D5 C5", Fraction(1, 2)),
    "altered eighths": ("C#5 D5 E5 G#5 F5 Eb5 D5 C5", Fraction(1, 2)),
    "quarters": ("C5 E5 G5 B5", Fraction(1)),
    "a whole note": ("Ab4", Fraction(4)),
    "sixteenths": ("C5 D5 E5 G5 " * 4, Fraction(1, 4)),
    "triplets": ("C5 D5 E5 " * 4, Fraction(1, 3)),
}


@pytest.mark.parametrize("notes", PLAIN.values(), ids=list(PLAIN))
def test_bounds_of_common_bars_are_near_enough_to_break_lines_by(notes: tuple[str, Fraction]):
    """Within a fifth of the width of a bar with a symbol, so that few lines must be measured."""
    bar = ScoreBar(1, COMMON, line(*notes), chords=(symbol("Bb", "7"),))
    bars = mei_bars(part(bar, ScoreBar(2, COMMON, line(*notes))), score_pictures.kept_width)
    for width, (least, most) in zip(natural_widths(bars)[1], width_bounds(bars)[1], strict=True):
        assert least <= width <= most
        assert most - least < 0.4 * width


@pytest.mark.slow
@settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow])
@given(whole_scores(max_bars=8))
def test_lines_break_where_measuring_would_break_them(score: Score):
    bars = mei_bars(score, score_pictures.kept_width)
    for width in (9_000.0, 14_000.0, 19_000.0):
        measured = score_pictures._systems(score, natural_widths(bars), width, 4)
        assert score_pictures._broken_lines(bars, width, 4) == measured
