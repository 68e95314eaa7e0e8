"""What the figures of a line say: words for a player, never a figure."""

from __future__ import annotations

import re

import pytest

from halfstep.harmony.line_figures import Figures, plain_arpeggio
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import outline
from halfstep.services.outline_words import clearness, summary, window_rows
from typed_charts import read_chart_text

CHART = "| Dm7 | G7 | Cmaj7 | A7 | Fm7 | Bb7 | Ebmaj7 | A7 |"


@pytest.mark.parametrize(
    ("relative", "words"),
    [
        (1.3, "clearer"),
        (1.0, "as clear"),
        (0.8, "nearly as clear"),
        (0.65, "two thirds as clear"),
        (0.5, "half as clear"),
        (0.33, "a third as clear"),
        (0.25, "a quarter as clear"),
        (0.1, "a tenth as clear"),
        (0.0, "the notes do not follow the chords"),
        (-0.4, "the notes do not follow the chords"),
    ],
)
def test_a_figure_is_called_by_the_fraction_nearest_to_it(relative: float, words: str) -> None:
    assert clearness(Figures(1, 8, 40, relative, 1.0, relative)) == words


def test_the_whole_line_is_one_sentence_without_figures_of_ours() -> None:
    chart = read_chart_text(CHART)
    (sentence,) = summary(outline(plain_arpeggio(chart), chart))
    assert sentence == "as clear as the plain arpeggio; 3 of 3 changes heard"
    for row in window_rows(outline(plain_arpeggio(chart), chart), chart):
        assert not re.search(r"\d\.\d|nats", " ".join(row))


def test_one_note_all_through_follows_no_chord() -> None:
    chart = read_chart_text(CHART)
    line = [LineNote(n / 2, 0.5, 61) for n in range(64)]
    (sentence,) = summary(outline(line, chart))
    assert sentence.startswith("the notes do not follow the chords; ")


def test_what_is_too_short_is_not_judged() -> None:
    chart = read_chart_text("| C7 | F7 |")
    (sentence,) = summary(outline([LineNote(0, 1, 60), LineNote(1, 1, 64)], chart))
    assert sentence == "cannot be said (fewer than 4 bars); no change that can be judged"
