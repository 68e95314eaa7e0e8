"""What was played over other chords is not judged over these; solos of players are."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from played_takes import CHARTS, PlayedTone, line_of, played, take_of

from halfstep.errors import ReadError
from halfstep.feedback.chart_fit import fits_chart
from halfstep.feedback.judge import OTHER_CHORDS, judge
from halfstep.feedback.meant_pitch import read_right
from halfstep.harmony.analysis import analyse
from master_solos import master_solos, needs_masters
from typed_charts import read_chart_text

STEPS = ("one-line", "cells", "turning-scale", "chorus", "arpeggio")
OTHERS = (
    "key: Eb\n| Ebmaj7 | Cm7 | Fm7 | Bb7 | Gm7 | C7 | Fm7 | Bb7 |",
    "key: A\n| A | F#m7 | Bm7 | E7 | A | D | E7 | A |",
    "key: B\n| Bmaj7 | G#m7 | C#m7 | F#7 | Emaj7 | Em7 A7 | D#m7 G#7 | C#m7 F#7 |",
)


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("chart", CHARTS)
def test_a_line_fits_the_chords_it_was_written_over(step: str, chart: str) -> None:
    analysis, line = line_of(step, chart)
    take = take_of(played(analysis, line, passes=2), analysis)
    assert fits_chart(take, take)


@pytest.mark.parametrize("semitones", [-3, -2, 2])
@pytest.mark.parametrize("step", STEPS)
def test_a_line_that_is_read_in_another_transposition_fits_once_it_is_put_right(
    step: str, semitones: int
) -> None:
    analysis, line = line_of(step, "evening class")
    tones = played(analysis, line, passes=2)
    take = take_of([replace(tone, midi=tone.midi + semitones) for tone in tones], analysis)
    assert not fits_chart(take, take)
    assert fits_chart(take, read_right(take)[0])


@pytest.mark.slow
def test_a_line_over_other_chords_of_the_same_key_is_not_judged() -> None:
    tones = played(*line_of("approach-notes", "evening class"), passes=2)
    other = "key: F\n| Fmaj7 | Bb7 | Am7 D7 | Gm7 C7 | Bbmaj7 | Bbm7 Eb7 | Am7 D7 | Gm7 C7 |"
    feedback = judge(take_of(tones, analyse(read_chart_text(other))))
    assert not feedback.is_judged


@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("figure", [(0, 7, 2, 7), (0, 7, 12, 7), (0, 3, 7)])
def test_who_follows_the_roots_with_one_figure_plays_over_these_chords(
    figure: tuple[int, ...], chart: str
) -> None:
    """The root and the fifth are as well the fourth and the root of other chords."""
    analysis, _ = line_of("one-line", chart)
    tones = [
        PlayedTone(float(chord.span.start) + n / 2, 0.45, 60 + root + step)
        for chord in analysis.chords
        for root in [chord.span.symbol.root.pitch_class]
        for n, step in enumerate(figure)
    ]
    take = take_of(tones, analysis)
    assert fits_chart(take, take)
    assert read_right(take)[1] == ()


@pytest.mark.slow
def test_most_lines_over_other_chords_are_not_judged() -> None:
    counts: Counter[bool] = Counter()
    for step in STEPS:
        for chart in ("evening class", "twelve bars", "minor"):
            tones = played(*line_of(step, chart), passes=2)
            for other in OTHERS:
                findings = judge(take_of(tones, analyse(read_chart_text(other)))).findings
                counts[OTHER_CHORDS in {finding.reason for finding in findings}] += 1
    assert counts[True] >= 0.75 * counts.total()


@needs_masters
@pytest.mark.slow
def test_solos_of_players_are_judged() -> None:
    counts: Counter[bool] = Counter()
    for solo in master_solos():
        try:
            analysis = analyse(solo.chart)
        except ReadError:
            continue
        tones = [PlayedTone(float(on), float(beats), midi) for on, beats, midi in solo.notes]
        take = take_of(tones, analysis)
        counts[fits_chart(take, take)] += 1
    assert counts[True] >= 0.97 * counts.total()
