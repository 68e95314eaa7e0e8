"""Where bar 1 begins under notes: found in the etude that was read, refused where unclear.

Takes are made from etudes: begun at any place, swung, a twentieth of a beat uneven, one note
in fourteen left out and one in nine a half step off.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest
from briefs_over_charts import brief_over
from step_lines import CHARTS, line_of

from halfstep.harmony.first_bar import (
    LEAST_NOTES,
    ExpectedStart,
    FirstBar,
    first_bar_over_chart,
)
from halfstep.harmony.first_bar_by_line import first_bar_by_line
from halfstep.harmony.line_figures import plain_arpeggio
from halfstep.harmony.line_over_chords import LineNote
from typed_charts import read_chart_text

STEPS_TRIED = ("arpeggio", "scale", "one-line", "cells", "approach-notes", "chorus")
LONG = "key: F\n| Fmaj7 | Em7b5 A7 | Dm7 G7 | Cm7 F7 | Bbmaj7 | Bbm7 Eb7 | Abmaj7 | Gm7 C7 |"


def written(step: str, chart: str) -> tuple[list[LineNote], float]:
    etude = line_of(step, brief_over(chart))
    line = [LineNote(n.onset, n.beats, n.pitch.midi) for n in etude.notes if n.pitch]
    return line, float(etude.analysis.chart.beats)


def as_played(line: Sequence[LineNote], start: float, seed: int) -> list[LineNote]:
    """The line from a place in the recording, by a player who is no machine."""
    chance = random.Random(seed)
    return [
        LineNote(
            float(n.onset) + 0.14 * (n.onset % 1 == 0.5) + start + chance.gauss(0, 0.05),
            n.beats,
            n.midi + (chance.random() < 1 / 9),
        )
        for n in line
        if chance.random() > 1 / 14
    ]


def away(place: FirstBar, start: float, form: float) -> float:
    """Beats from the true beginning, of whichever chorus."""
    return abs((place.beats - start + form / 2) % form - form / 2)


@pytest.mark.sampled
@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("step", STEPS_TRIED)
def test_a_line_that_was_read_is_found_and_never_in_a_wrong_place(step: str, chart: str) -> None:
    line, form = written(step, chart)
    for seed, start in enumerate((0.3, 5.85, 17.4)):
        place = first_bar_by_line(as_played(line, start, seed), line, form)
        if place and place.is_clear:
            assert away(place, start, form) < 0.4


@pytest.mark.slow
def test_most_lines_are_found() -> None:
    clear = total = 0
    for seed, step in enumerate(STEPS_TRIED * 3):
        line, form = written(step, CHARTS[seed % 3])
        place = first_bar_by_line(as_played(line, 7.2, seed), line, form)
        total += 1
        clear += bool(place and place.is_clear)
    assert clear / total > 0.8


def test_the_place_is_the_last_before_the_first_note() -> None:
    """Who begins in the second chorus of a backing is told of bar 1 of that chorus."""
    line, form = written("scale", CHARTS[0])
    place = first_bar_by_line(as_played(line, 4 + form, 1), line, form)
    assert place
    assert place.beats == pytest.approx(4 + form, abs=0.3)
    late = [note for note in as_played(line, 4, 1) if note.onset > 20]
    place = first_bar_by_line(late, line, form)
    assert place
    assert place.beats == pytest.approx(4, abs=0.3)


def test_notes_of_another_line_are_refused() -> None:
    line, form = written("scale", CHARTS[0])
    other, _ = written("chorus", LONG)
    place = first_bar_by_line(as_played(other, 3, 2), line, form)
    assert place
    assert not place.is_clear


def test_few_notes_say_nothing() -> None:
    line, form = written("scale", CHARTS[0])
    few = as_played(line, 2, 3)[: LEAST_NOTES - 1]
    assert first_bar_by_line(few, line, form) is None
    assert first_bar_over_chart(few, read_chart_text(CHARTS[0])) is None


def test_a_long_line_that_spells_the_chords_is_found_over_the_chart_alone() -> None:
    """Four choruses of the plain arpeggio; what is improvised is mostly refused."""
    chart = read_chart_text(LONG)
    form = float(chart.beats)
    one = plain_arpeggio(chart)
    line = [note._replace(onset=float(note.onset) + form * n) for n in range(4) for note in one]
    place = first_bar_over_chart(as_played(line, 9.25, 4), chart)
    assert place
    assert place.is_clear
    assert away(place, 9.25, form) < 0.4


@pytest.mark.slow
def test_notes_without_a_plan_are_not_placed_over_a_chart() -> None:
    chance = random.Random(6)
    chart = read_chart_text(LONG)
    for _ in range(10):
        notes = [LineNote(n / 2 + 3, 0.5, chance.randint(55, 79)) for n in range(64)]
        place = first_bar_over_chart(notes, chart)
        assert place
        assert not place.is_clear


def test_over_a_chart_an_expected_place_needs_less_and_is_not_taken_against_the_notes() -> None:
    """Two choruses of the plain arpeggio say too little alone, and enough against a wrong place."""
    chart = read_chart_text(LONG)
    form = float(chart.beats)
    one = plain_arpeggio(chart)
    two = [*one, *(note._replace(onset=float(note.onset) + form) for note in one)]
    notes = as_played(two, 8.3, 4)
    alone = first_bar_over_chart(notes, chart)
    expected = first_bar_over_chart(notes, chart, ExpectedStart(8.0, 9.0))
    elsewhere = first_bar_over_chart(notes, chart, ExpectedStart(14.0, 15.0))
    assert alone
    assert expected
    assert not alone.is_clear
    assert expected.is_clear
    assert expected.is_expected
    assert away(expected, 8.3, form) < 0.4
    assert elsewhere == alone


def test_a_form_that_repeats_itself_is_one_place() -> None:
    """Four bars written four times cannot be told apart, and need not be."""
    once, often = "| Am7 | D7 | Gmaj7 | E7 |", "| Am7 | D7 | Gmaj7 | E7 " * 4 + "|"
    notes = as_played(plain_arpeggio(read_chart_text(often)), 6, 5)
    first, again = (first_bar_over_chart(notes, read_chart_text(text)) for text in (once, often))
    assert first
    assert again
    assert first.beats == again.beats
    assert first.confidence == pytest.approx(again.confidence)
