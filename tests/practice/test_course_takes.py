"""A line played as it is written passes its step of the course, and one full of slips does not.

Takes are made up of the lines themselves, as an evening class might play them: onsets spread
about their places, eighths swung where the style swings them.
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from feedback.played_takes import PlayedTone, played, take_of
from halfstep.backing import STYLES
from halfstep.course.course_folder import our_course
from halfstep.course.course_skills import CoursePlayer, unit_keys
from halfstep.course.unit import CourseUnit
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.played_back import answers
from halfstep.etude.steps import find_step
from halfstep.feedback.form_places import FormPlaces, form_places
from halfstep.feedback.judge import judge
from halfstep.feedback.open_bars import open_bars
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.course_sheet import keyed_sheet
from halfstep.meter import Feel
from halfstep.practice.evidence import Verdict
from halfstep.practice.take_measures import TakeVerdict, played_take, take_verdict
from halfstep.progression import form

PLAYER = INSTRUMENTS["alto-sax"]
FEELS = {style.name: style.feel for style in STYLES}
UNITS = our_course().units
WRONG = 0.3
"""The share of notes that a bad take has otherwise."""


def written(unit: CourseUnit, step: str, turn: int) -> tuple[Analysis, tuple[EtudeNote, ...]]:
    """The line of a step, in a key and over a progression of the unit."""
    key = unit_keys(unit, CoursePlayer(PLAYER))[turn % unit.keys]
    progression = unit.progressions[turn % len(unit.progressions)]
    chart = form.played(keyed_sheet(unit, progression, key, PLAYER))
    analysis = analyse(chart, level=unit.level)
    brief = Brief(PLAYER, unit.level, unit.start_bpm, seed=1, feel=FEELS[unit.style])
    return analysis, write_etude(find_step(step), analysis, brief).notes


def echoed(
    tones: list[PlayedTone], line: tuple[EtudeNote, ...], places: FormPlaces
) -> list[PlayedTone]:
    """What is played back in the bars that the line leaves."""
    starts = places.bar_starts
    backs = answers({*range(1, len(starts) + 1)} - open_bars(line, places).numbers, len(starts))
    bars = [(tone, places.place_at(tone.onset).bar) for tone in tones]
    return [
        replace(tone, onset=tone.onset + starts[backs[bar] - 1] - starts[bar - 1])
        for tone, bar in bars
        if bar in backs
    ]


def verdict_of(unit: CourseUnit, step: str, *, wrong: float = 0.0) -> TakeVerdict:
    """How a step goes that is played twice through, with some notes otherwise."""
    turn = UNITS.index(unit) + unit.steps.index(step)
    (analysis, line), feel = written(unit, step, turn), FEELS[unit.style]
    passes = 1 if analysis.chart.beats > 64 else 2
    swing = 0.5 if feel is Feel.STRAIGHT else 0.6
    tones = played(analysis, line, passes=passes, swing=swing, spread=0.015, seed=1)
    if step == "echo":
        tones += echoed(tones, line, form_places(analysis))
    rng = random.Random(1)
    tones = [
        replace(tone, midi=tone.midi + (rng.choice((-2, -1, 1, 2)) if rng.random() < wrong else 0))
        for tone in tones
    ]
    take = take_of(tones, analysis, line=line, feel=feel, bpm=unit.start_bpm)
    return take_verdict(unit, step, played_take(judge(take)))


def steps_of(unit: CourseUnit) -> list[str]:
    """Every third step in the course, so that all steps of it come up somewhere."""
    first = UNITS.index(unit)
    return [step for turn, step in enumerate(unit.steps, first) if turn % 3 == 0]


@pytest.mark.sampled
@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_what_is_played_as_written_passes_and_surely(unit: CourseUnit) -> None:
    for step in steps_of(unit):
        verdict = verdict_of(unit, step)
        assert verdict.verdict is Verdict.CLEAN, (step, verdict.results)
        assert verdict.weight >= 0.7


@pytest.mark.sampled
@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_what_has_every_third_note_otherwise_does_not(unit: CourseUnit) -> None:
    for step in steps_of(unit)[:1]:
        assert verdict_of(unit, step, wrong=WRONG).verdict is not Verdict.CLEAN, step
