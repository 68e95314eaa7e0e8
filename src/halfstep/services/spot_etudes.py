"""What is played next? An etude over the spot of each thing to do, written for the player.

Four bars round the spot: one before, the bar itself and two after, as the form goes on; in the
home key of the chart. The step is the one that mends the matter; a step easier where it came
again and again, and any easier one where the writer finds no line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from halfstep.data.feedback_json import StoredNext
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.offers import Impossible
from halfstep.etude.step import Step
from halfstep.etude.steps import STEPS, find_step
from halfstep.etude.written_etude import Etude
from halfstep.feedback.judge import Feedback
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.next_things import NextThing, ThingKind, next_things
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.meter import Feel
from halfstep.part.places import bar_number
from halfstep.part.transposed_part import part_for
from halfstep.progression.chart import Chart
from halfstep.progression.excerpt import bars_around, excerpt
from halfstep.services.band_fields import style_of
from halfstep.services.etude_reply import EtudeReply

LADDERS = {
    ThingKind.KEY: ("scale", "arpeggio", "root-third"),
    ThingKind.FORM: ("guide-tones", "root-third", "arpeggio"),
    ThingKind.CHANGE: ("one-line", "broken-arpeggio", "arpeggio"),
    ThingKind.OLD_NOTE: ("cells", "turning-scale", "scale"),
    ThingKind.RESTART: ("one-line", "turning-scale", "broken-arpeggio"),
    ThingKind.LINE: ("one-line", "turning-scale", "scale"),
    ThingKind.STEADINESS: ("arpeggio-in-rhythm", "arpeggio", "root-third"),
    ThingKind.FEEL: ("turning-scale", "scale", "arpeggio"),
    ThingKind.TUNING: ("guide-tones", "root-third", "rhythm"),
    ThingKind.BREATH: ("call-and-response", "question", "echo"),
    ThingKind.RHYTHM: ("motif", "arpeggio-in-rhythm", "rhythm"),
    ThingKind.RANGE: ("broken-arpeggio", "arpeggio", "scale"),
    ThingKind.FIGURE: ("one-line", "turning-scale", "scale"),
    ThingKind.FURTHER: ("enclosures", "approach-notes", "cells"),
}
"""For each matter the step that mends it, and easier ones."""
EASIEST = ("arpeggio", "root-third", "rhythm")
"""Steps that hardly any chart or player lacks notes for."""
BEFORE, AFTER = 1, 2
"""Bars around the spot."""
SLOWER, LOWEST_BPM = 0.8, 40.0
NEXT_STEM = "next"
SHEET, SOUND = ".pdf", ".m4a"
"""What of each thing to do next is written."""


@dataclass(frozen=True, slots=True)
class SpotEtude:
    """A thing to do next, with what is played for it.

    Attributes
    ----------
    thing : NextThing
    bars : tuple of int
        The bars of the form that the etude is written over.
    where : str
        The same in words, as the page numbers them.
    reply : EtudeReply
    """

    thing: NextThing
    bars: tuple[int, ...]
    where: str
    reply: EtudeReply

    @property
    def step(self) -> Step:
        """The step that the etude is."""
        return self.reply.etude.step

    @property
    def label(self) -> str:
        """What it is: ``Cells, bars 3 to 6``."""
        return f"{self.step.title}, {self.where}"

    @property
    def tempo_bpm(self) -> float:
        """Pulses a minute."""
        return self.reply.etude.brief.tempo_bpm


def spot_etudes(feedback: Feedback, played_step: Step | None) -> tuple[SpotEtude, ...]:
    """The things to do next, each with its etude.

    Parameters
    ----------
    feedback : Feedback
    played_step : Step or None
        The step whose etude the take is; None where it is improvised.
    """
    return tuple(_spot_etude(feedback.take, thing, played_step) for thing in next_things(feedback))


def next_names(number: int) -> tuple[str, str]:
    """The sheet and the sound of a thing to do next.

    >>> next_names(1)
    ('next-1.pdf', 'next-1.m4a')
    """
    return f"{NEXT_STEM}-{number}{SHEET}", f"{NEXT_STEM}-{number}{SOUND}"


def stored_nexts(etudes: Sequence[SpotEtude], *, with_files: bool = True) -> tuple[StoredNext, ...]:
    """What is stored of the things to do next."""
    return tuple(
        StoredNext(
            etude.thing,
            etude.bars,
            etude.step.name,
            etude.tempo_bpm,
            next_names(number) if with_files else (),
        )
        for number, etude in enumerate(etudes, start=1)
    )


def _spot_etude(take: JudgedTake, thing: NextThing, played_step: Step | None) -> SpotEtude:
    bars = bars_around(take.chart, thing.bar, before=BEFORE, after=AFTER)
    where = _where(take.chart, bars)
    title = f"{take.chart.title or 'Your take'}, {where}"
    chart = excerpt(take.chart, bars, key=take.analysis.home, title=title)
    analysis = analyse(chart, level=take.level)
    etude = _first_written(_steps(thing, played_step), analysis, _brief(take, thing))
    part = part_for(analysis, take.part.instrument)
    reply = EtudeReply(etude, part, style_of(None, None, chart), degrees=False, notices=())
    return SpotEtude(thing, bars, where, reply)


def _where(chart: Chart, bars: Sequence[int]) -> str:
    """The bars in words; a form of few bars is there as a whole."""
    if len(set(bars)) < len(bars):
        return "the whole form, round and round"
    first, last = (bar_number(chart.form[bar - 1]) for bar in (bars[0], bars[-1]))
    return f"bars {first} to {last}"


def _brief(take: JudgedTake, thing: NextThing) -> Brief:
    """What is asked of the writer: the player's tempo, or a slower one."""
    pulses = 60 / take.clock.quarter_s / float(take.chart.meter.pulse_beats)
    tempo_bpm = max(LOWEST_BPM, round(pulses * (SLOWER if thing.is_slower else 1.0)))
    feel = take.feel if take.chart.meter.swings else Feel.STRAIGHT
    return Brief(take.part.instrument, take.level, tempo_bpm, seed=1, feel=feel, ending=False)


def _steps(thing: NextThing, played_step: Step | None) -> Iterator[Step]:
    """The steps to be tried, the one that is asked for first."""
    names = list(LADDERS[thing.kind])
    if played_step is not None and thing.kind is ThingKind.LINE:
        names[:0] = _from(played_step)
    if thing.is_often:
        names = names[1:]
    yield from map(find_step, dict.fromkeys((*names, *EASIEST)))


def _from(step: Step) -> Iterator[str]:
    """A step, and the one below it."""
    place = STEPS.index(step)
    yield from (other.name for other in STEPS[max(0, place - 1) : place + 1][::-1])


def _first_written(steps: Iterator[Step], analysis: Analysis, brief: Brief) -> Etude:
    """The first step that can be written."""
    *others, last = steps
    for step in others:
        try:
            return write_etude(step, analysis, brief)
        except Impossible:
            continue
    return write_etude(last, analysis, brief)
