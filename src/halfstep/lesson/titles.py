"""What stands at the head of a sheet: the title of a step, and the facts of its lesson."""

from __future__ import annotations

from halfstep.etude.step import Step
from halfstep.lesson.brief import LessonBrief
from halfstep.level import Level
from halfstep.part.facts import manner_fact, playing_facts
from halfstep.part.transposed_part import Part
from halfstep.progression.chart import Chart


def lesson_facts(brief: LessonBrief, part: Part, *, level: Level) -> str:
    """Key, metre, tempo, feel and level of a lesson in one line."""
    tempo_bpm, feel = brief.pulses_a_minute, brief.eighths
    return playing_facts(part, level, tempo_bpm=tempo_bpm, feel=feel)


def step_manner(brief: LessonBrief) -> str:
    """Tempo and feel, as they stand at every step."""
    return manner_fact(brief.chart.meter, tempo_bpm=brief.pulses_a_minute, feel=brief.eighths)


def step_title(chart: Chart, step: Step) -> str:
    """The title of one step's sheet."""
    return f"{chart.title}: {step.heading}"
