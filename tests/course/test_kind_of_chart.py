"""Which unit a chart belongs to: our own progressions in any key, like ones, and unlike ones.

What is like what is common practice, no source.
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from halfstep.course.course_folder import our_course
from halfstep.course.kind_of_chart import chord_kind, kind_of_chart, unit_charts
from halfstep.course.unit import Course, CourseUnit
from halfstep.pitch import Interval
from halfstep.progression.chart import Chart
from halfstep.progression.symbol import parse_symbol
from typed_charts import read_chart_text

COURSE = our_course()
CHARTS = [(unit, chart) for unit in COURSE.units for chart in unit_charts(unit)]
KEYS = [Interval(letters, semitones) for letters, semitones in ((1, 1), (2, 4), (3, 6), (-1, -2))]


def kind_of(text: str) -> str | None:
    kind = kind_of_chart(read_chart_text(text), COURSE)
    return kind.unit.name if kind else None


@pytest.mark.slow
@pytest.mark.parametrize("key", KEYS, ids=str)
def test_our_own_progressions_are_known_in_any_key(key: Interval) -> None:
    for unit, chart in CHARTS:
        kind = kind_of_chart(chart.moved(key), COURSE)
        assert kind is not None
        assert (kind.unit, kind.likeness) == (unit, 1.0)
        assert unit_charts(unit)[kind.progression or 0] == chart
        assert kind.tonic == (key.fifths + 5) % 12 - 5


@pytest.mark.parametrize(
    ("text", "progression", "tonic"),
    [
        ("| Am9 | D13 | G6 | G6 |", 0, 1),
        ("| Am9 | D13 | G6 | G6 | Am7 | D7b9 | Gmaj7 | Gmaj7 |", 0, 1),
        ("| Fm7 Bb13 | Ebmaj9 | Fm9 Bb7 | Eb6 |", 1, -3),
        ("| Am7 | D7 | Gmaj7 | Gm7 |", None, None),
    ],
    ids=["coloured", "twice, not alike", "another", "with a chord of its own"],
)
def test_a_progression_is_known_with_other_colours_and_however_often(
    text: str, progression: int | None, tonic: int | None
) -> None:
    kind = kind_of_chart(read_chart_text(text), COURSE)
    assert kind is not None
    assert kind.unit.name == "two-five-one"
    assert (kind.progression, kind.tonic) == (progression, tonic)


def test_a_progression_is_known_by_its_chords_alone() -> None:
    """Another title, no key, another spelling, played twice through."""
    assert kind_of("| D#7 | D#7 | G#7 | G#7 | D#7 | D#7 | G#7 | D#7 |") == "two-dominants"
    assert kind_of("| Am7 | D7 | Gmaj7 | Gmaj7 | Am7 | D7 | Gmaj7 | Gmaj7 |") == "two-five-one"


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("| F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | D7 | Gm7 | C7 | F7 D7 | Gm7 C7 |",
         "blues-with-two-fives"),
        ("| G7 | G7 | G7 | G7 | C7 | C7 | G7 | G7 | D7 | C7 | G7 | D7 |", "major-blues"),
        ("| Em7b5 | A7b9 | Dm6 | Dm6 | Em7b5 | A7b9 | Dm6 | Dm7 |", "minor-two-five-one"),
        ("| F6 | F6 | Bbm7 | Eb7 | F6 | F6 | Gm7 C7 | F6 |", "back-door"),
        ("| F#7 | F#7 | B7 | B7 | E7 | E7 | A7 | A7 |", "chain-of-dominants"),
        ("| Dm | Dm(maj7) | Dm7 | Dm6 | Gm7 | Em7b5 | A7 | Dm6 |", "line-cliche"),
        ("| Em7 | Eb7 | Dmaj9 | Dmaj9 | Em9 | Eb13 | D6 | B7 |", "tritone-substitute"),
        ("meter: 3/4\n| Gmaj7 | Gmaj7 | Gm7 | C7 | Fmaj7 | % | D7 | % |", "waltz"),
        ("meter: 7/4\n| Bm7 | Em7 | Bm7 | F#7 |", "seven-in-a-bar"),
    ],
)  # fmt: skip
def test_a_teachers_own_chart_is_matched(text: str, name: str) -> None:
    assert kind_of(text) == name


@pytest.mark.parametrize(
    "text",
    ["| N.C. | % |", "| Cdim7 | Ebmaj7 | F#sus4 | Bm |", "meter: 6/8\n| Cm | Fm | Cm | Bb |"],
    ids=["no chord", "like nothing", "a metre of no unit"],
)
def test_a_chart_unlike_them_all_has_no_kind(text: str) -> None:
    assert kind_of(text) is None


@pytest.mark.slow
def test_chance_has_no_kind() -> None:
    """Chords drawn by lot: in a hundred charts at most two are like something."""
    rng = random.Random(4)
    roots = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"]
    suffixes = ["7", "m7", "maj7", "m7b5", "6", "dim7", "7sus4", "m6", ""]
    texts = (
        " | ".join(rng.choice(roots) + rng.choice(suffixes) for _ in range(8)) for _ in range(100)
    )
    assert sum(kind_of(f"| {text} |") is not None for text in texts) <= 2


def without(unit: CourseUnit, chart: Chart) -> Course:
    """The course without one progression."""
    kept = tuple(
        progression
        for progression, other in zip(unit.progressions, unit_charts(unit), strict=True)
        if other is not chart
    )
    rest = replace(unit, progressions=kept)
    return Course("Rest", tuple(rest if u is unit else u for u in COURSE.units))


@pytest.mark.slow
def test_most_progressions_are_known_by_the_others_of_their_unit() -> None:
    """51 of 80 when this was written: two or three others are all that there is to go by."""
    kinds = [(unit, kind_of_chart(chart, without(unit, chart))) for unit, chart in CHARTS]
    known = [kind is not None and kind.unit.name == unit.name for unit, kind in kinds]
    assert sum(known) >= 0.6 * len(known)


def test_a_chart_is_most_like_itself() -> None:
    """Colours of chords aside, which are another chart, and nearly as like."""
    for unit, chart in CHARTS[::5]:
        coloured = chart_with(chart, {"Cmaj7": "C6", "G7": "G13", "Dm7": "Dm9", "C7": "C9"})
        kind = kind_of_chart(coloured, COURSE)
        assert kind
        assert kind.unit.name == unit.name
        assert kind.likeness >= 0.99


def chart_with(chart: Chart, colours: dict[str, str]) -> Chart:
    """A chart with some chords written otherwise."""
    bars = (
        bar._replace(
            chords=tuple(
                c._replace(symbol=parse_symbol(colours.get(c.symbol.ascii, c.symbol.ascii)))
                for c in bar.chords
            ),
        )
        for bar in chart.bars
    )
    return replace(chart, bars=tuple(bars))


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("C", "major"), ("C6/9", "major"), ("C+", "major"), ("C7alt", "dominant"),
        ("CmMaj7", "minor"), ("Cm11", "minor"), ("C9sus4", "suspended"), ("Cdim", "diminished"),
    ],
)  # fmt: skip
def test_colours_leave_a_chord_of_its_kind(text: str, kind: str) -> None:
    assert chord_kind(parse_symbol(text)) == kind
