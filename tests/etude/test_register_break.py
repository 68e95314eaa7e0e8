"""A beginner does not cross the register break in a hurry; common practice, no source.

On saxophones the break lies between written C sharp 5 and D5, on the clarinet between A4 and B4.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from briefs_over_charts import brief_over
from etude_charts import INVENTED, NAMES_OF_STEPS, chart_named
from step_lines import line_of

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import _break_notices, write_etude
from halfstep.etude.run_notices import hurried_crossings, missing_tones
from halfstep.etude.steps import find_step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.brief import LessonBrief, Player
from halfstep.lesson.make import make_lesson
from halfstep.level import Level
from halfstep.meter import EIGHTH
from halfstep.pitch import Interval
from typed_charts import read_chart_text

SAXES = ("alto-sax", "tenor-sax", "soprano-sax", "baritone-sax", "clarinet")
INTERVALS = (
    (0, 0), (1, 1), (1, 2), (2, 3), (2, 4), (3, 5), (3, 6), (4, 7), (5, 8), (5, 9), (6, 10),
    (6, 11),
)  # fmt: skip
"""Up from the key of a chart to each of the twelve, in letters and semitones."""
CHART = "key: F\n| Gm7 | C7 | Fmaj7 | D7 | Bbmaj7 | Am7 | Gm7 C7 | F6 |"


def written_pairs(etude: Etude) -> Iterator[tuple[Fraction, int, int]]:
    """Length and written MIDI number of each note, and the number of the next where none rests."""
    rise = etude.brief.instrument.rise
    for old, new in pairwise(etude.notes):
        if old.pitch and new.pitch:
            yield old.beats, (old.pitch + rise).midi, (new.pitch + rise).midi


@pytest.mark.slow
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
def test_a_beginner_never_crosses_the_break_after_an_eighth(step: str) -> None:
    """In plain code: the last written note below the break is C sharp 5, or B flat 4.

    Every other chart, in keys and for players that go round, so that all meet.
    """
    turn = NAMES_OF_STEPS.index(step)
    for n, name in list(enumerate(INVENTED))[turn % 2 :: 2]:
        key = Interval(*INTERVALS[(5 * n + turn) % 12])
        analysis = analyse(chart_named(name).moved(key), level=Level.BEGINNER)
        instrument = INSTRUMENTS[SAXES[(n + turn) % len(SAXES)]]
        etude = write_etude(find_step(step), analysis, Brief(instrument, Level.BEGINNER, 120.0, n))
        top = 70 if instrument.key == "clarinet" else 73
        crossed = [
            beats for beats, old, new in written_pairs(etude) if (old <= top) != (new <= top)
        ]
        assert all(beats > EIGHTH for beats in crossed), (name, str(key), instrument.key)
        assert hurried_crossings(etude.notes, etude.brief) == []
        assert not any("crosses the register break" in notice.text for notice in etude.notices)


ENDS_ON_AN_EVEN_NUMBER = (
    INVENTED["waltz"],
    "key: D\n| D | G A | Bm | G A | D | E |",
    "| Dm7 | % | Ebm7 | % | Dm7 | % |",
)


@pytest.mark.slow
@pytest.mark.parametrize("text", ENDS_ON_AN_EVEN_NUMBER)
def test_a_scale_strikes_its_last_note_again_rather_than_cross_the_break(text: str) -> None:
    """Four notes on one side of it have no other way from tone to tone; in all twelve keys."""
    chart = read_chart_text(text)
    etudes = []
    for steps in INTERVALS:
        analysis = analyse(chart.moved(Interval(*steps)), level=Level.BEGINNER)
        brief = Brief(INSTRUMENTS["alto-sax"], Level.BEGINNER, 120.0, 1 + steps[1])
        etudes.append(write_etude(find_step("scale"), analysis, brief))
    assert not [note for e in etudes for note in hurried_crossings(e.notes, e.brief)]
    assert any(e.notes[-1].pitch == e.notes[-2].pitch for e in etudes)


def test_players_of_a_higher_level_may_cross_it_and_of_a_beginner_it_is_told() -> None:
    etude = line_of("4", brief_over(CHART, level="intermediate", instrument="alto-sax", seed=1))
    assert hurried_crossings(etude.notes, etude.brief) == []
    beginner = replace(etude.brief, level=Level.BEGINNER)
    assert hurried_crossings(etude.notes, beginner)
    (notice,) = _break_notices(replace(etude, brief=beginner))
    assert "you cross the break after a short note" in notice.text
    assert _break_notices(etude) == []


MIXED = ("tenor-sax", "trumpet", "trombone", "alto-sax", "flute")


@pytest.mark.sampled
@pytest.mark.parametrize("level", Level)
@pytest.mark.parametrize(
    "text", ["| Fmaj7 | Dbmaj7 | Gm7 | C7 |", "| Bmaj7 | G7 | Ebmaj7 | Am7b5 D7 |"]
)
def test_a_mixed_class_keeps_the_sevenths_of_its_arpeggios(text: str, level: Level) -> None:
    """Only two quarters of a beginner hold no more than two tones, for one player as for five."""
    chart = read_chart_text(text)
    players = tuple(Player(INSTRUMENTS[name], level) for name in MIXED)
    lesson = make_lesson(LessonBrief(chart, players, (find_step("1"),), level))
    short = [
        n for n, chord in enumerate(lesson.analysis.chords) if chord.span.end - chord.span.start < 4
    ]
    lacking = short if level is Level.BEGINNER else []
    for player in lesson.players:
        etude = player.etudes[0]
        missing = [index for index, _ in missing_tones(lesson.analysis, etude.notes)]
        assert missing == lacking, player.instrument.key
        told = [notice.text for notice in etude.notices if "too long for all tones" in notice.text]
        assert bool(told) is bool(lacking)
