"""What stands at the head of a sheet: titles, facts of a lesson, key and manner of a page."""

from __future__ import annotations

from halfstep.etude.step import Exercise
from halfstep.lesson.brief import LessonBrief
from halfstep.level import Level
from halfstep.meter import Feel, Meter
from halfstep.part.facts import manner_fact, playing_facts
from halfstep.part.transposed_part import Part
from halfstep.progression.chart import Chart
from halfstep.progression.key import Key

_FEELS = {Feel.SWING: "Swing", Feel.STRAIGHT: "Straight eighths"}


def lesson_facts(brief: LessonBrief, part: Part, *, level: Level) -> str:
    """Key, metre, tempo, manner and level of a lesson in one line."""
    return playing_facts(part, level, tempo_bpm=brief.pulses_a_minute, manner=brief.manner)


def step_manner(brief: LessonBrief) -> str:
    """Tempo and manner, as they stand at every step."""
    return manner_fact(brief.chart.meter, tempo_bpm=brief.pulses_a_minute, manner=brief.manner)


def key_read(written: Key, concert: Key) -> str:
    """The written key, and the concert key where it is another."""
    return str(written) if written == concert else f"{written} (concert {concert})"


def page_manner(meter: Meter, tempo_bpm: float | None, feel: Feel | None) -> str:
    """Feel and tempo as they stand over the first line of music, as far as they are known.

    >>> page_manner(Meter(6, 8), 60, Feel.STRAIGHT)
    'Straight eighths ♩. = 60'
    """
    beat = "♩." if meter.compound else "♩"
    words = [_FEELS[feel]] if feel else []
    return " ".join(words + ([f"{beat} = {tempo_bpm:g}"] if tempo_bpm else []))


def step_title(chart: Chart, step: Exercise) -> str:
    """The title of the sheet of a step or another exercise."""
    return f"{chart.title}: {step.heading}"
