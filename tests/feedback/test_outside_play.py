"""Who means to go outside? Not who moves one figure from root to root, whatever the chords."""

from __future__ import annotations

import pytest

from halfstep.feedback.findings import FindingKind
from halfstep.feedback.judge import Feedback, judge
from halfstep.feedback.laid_take import laid_take
from halfstep.feedback.outside_play import outside_play
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.harmony.line_over_chords import LineNote
from halfstep.level import Level
from halfstep.pitch import parse_name
from name_intervals import ascending
from typed_charts import read_chart_text
from typed_takes import take_of

CHART = "key: F\n| Fmaj7 | Gm7 C7 | Am7 D7 | Gm7 C7 | Bbmaj7 | Eb7 | Am7 D7 | Gm7 C7 |"
ROOTS = (65, 67, 69, 67, 70, 63, 69, 67)
"""Of the chords that bars begin with, in concert."""
MISSED_BAR, MISSED_BEAT = 6, 20
FIGURES = {
    "root, fifth, ninth, fifth": (0, 7, 2, 7),
    "three notes": (0, 4, 7),
    "up and a leap": (0, 2, 7, 5),
    "a minor chord": (0, 3, 7, 10),
    "five notes": (0, 7, 4, 2, 7),
}
KEYS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


def over(key: str) -> tuple[Analysis, int]:
    """The chart in a key, and how many semitones above F that is."""
    interval = ascending(parse_name("F"), parse_name(key))
    return analyse(read_chart_text(CHART).moved(interval)), interval.semitones


def figure_line(figure: tuple[int, ...], semitones: int) -> list[LineNote]:
    """Two passes of a figure from the root in eighths; once bar 6 is of the chord of bar 5."""
    bars = [[root + step for step in figure] for root in ROOTS] * 2
    bars[MISSED_BAR - 1] = [74, 77, 76, 69]
    return [
        LineNote(4 * bar + place / 2, 0.5, midi + semitones)
        for bar, midis in enumerate(bars)
        for place, midi in enumerate(midis)
    ]


def missed_at(feedback: Feedback) -> list[int]:
    missed = FindingKind.CHANGE_MISSED
    return [finding.place.bar for finding in feedback.findings if finding.kind is missed]


@pytest.mark.parametrize("level", [Level.INTERMEDIATE, Level.ADVANCED])
@pytest.mark.parametrize("figure", FIGURES)
def test_one_missed_change_is_told_of_a_figure_that_goes_through_all_chords(
    figure: str, level: Level
) -> None:
    analysis, semitones = over("F")
    feedback = judge(take_of(figure_line(FIGURES[figure], semitones), analysis, level=level))
    assert MISSED_BAR in missed_at(feedback)


@pytest.mark.parametrize("key", KEYS)
def test_it_is_told_in_every_key(key: str) -> None:
    analysis, semitones = over(key)
    line = figure_line(FIGURES["root, fifth, ninth, fifth"], semitones)
    assert missed_at(judge(take_of(line, analysis))) == [MISSED_BAR]


def test_a_figure_is_no_choice_and_single_notes_are() -> None:
    """The ninth over the third degree belongs to a figure; half steps here and there to none."""
    analysis, _ = over("F")
    one_figure = laid_take(take_of(figure_line((0, 7, 2, 7), 0), analysis))
    strays = [
        note._replace(midi=note.midi + (1 if place % 7 == 3 else 0))
        for place, note in enumerate(figure_line((0, 7, 12, 7), 0))
    ]
    assert outside_play(one_figure).inside == 1.0
    assert outside_play(laid_take(take_of(strays, analysis))).inside < 0.9
