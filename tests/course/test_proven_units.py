"""Every unit is proven: its steps are written over its progressions, and the chords are heard.

For the alto saxophone and one other instrument, drawn by a seed. The whole grid of instruments
and levels is `bench/course.py`.
"""

from __future__ import annotations

import random

import pytest

from halfstep.course.course_folder import our_course
from halfstep.course.course_skills import CoursePlayer, unit_keys
from halfstep.course.unit import CourseUnit, Progression
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.steps import find_step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import outline
from halfstep.instruments import INSTRUMENTS, Instrument
from halfstep.lesson.course_sheet import keyed_sheet
from halfstep.progression.form import played

OTHER = random.Random(9).choice([name for name in INSTRUMENTS if name != "alto-sax"])
UNITS = our_course().units


def etude_of(
    unit: CourseUnit, step: str, progression: Progression, key: int, player: Instrument
) -> Etude:
    """The etude of a step, as a lesson of the unit has it."""
    chart = played(keyed_sheet(unit, progression, key, player))
    brief = Brief(player, unit.level, unit.start_bpm, seed=1)
    return write_etude(find_step(step), analyse(chart, level=unit.level), brief)


def demand_mark(etude: Etude) -> None:
    """The relative outline of an etude is that of its step, where it has one."""
    notes = [LineNote(n.onset, n.beats, n.pitch.midi) for n in etude.notes if n.pitch]
    assert notes
    told, mark = outline(notes, etude.analysis.chart).whole.relative, etude.step.least_outline
    assert told is None or mark is None or told >= mark, f"{etude.step} {told} of {mark}"


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("name", ["alto-sax", OTHER])
@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_every_step_of_a_unit_is_written_and_heard(unit: CourseUnit, name: str) -> None:
    """Each step in one key and over one progression, which go round from step to step.

    Of the other instrument every second step.
    """
    player = INSTRUMENTS[name]
    keys = unit_keys(unit, CoursePlayer(player))
    for turn, step in enumerate(unit.steps, UNITS.index(unit)):
        if turn % 2 and name == OTHER:
            continue
        progression = unit.progressions[turn % len(unit.progressions)]
        demand_mark(etude_of(unit, step, progression, keys[turn % len(keys)], player))


@pytest.mark.slow
def test_the_last_step_is_written_in_every_key_over_each_progression() -> None:
    """Of a unit of each level, for the other instrument."""
    player = INSTRUMENTS[OTHER]
    for unit in UNITS[3::12]:
        for key in unit_keys(unit, CoursePlayer(player)):
            for progression in unit.progressions:
                demand_mark(etude_of(unit, unit.steps[-1], progression, key, player))
