"""What is played next? An etude over the spot of each thing to do, written for the player.

Four bars round the spot: one before, the bar itself and two after, as the form goes on; in the
home key of the chart. The step is the one that mends the matter; a step easier where it came
again and again, and any easier one where the writer finds no line.
"""

from __future__ import annotations

import json
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import takewhile

from halfstep.data.feedback_json import StoredNext
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.offers import Impossible
from halfstep.etude.step import Step
from halfstep.etude.steps import STEPS, find_step
from halfstep.etude.written_etude import Etude
from halfstep.feedback.judge import Feedback
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.next_things import NextThing, ThingKind, next_things
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.level import Level
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
    ThingKind.ANSWER: ("call-and-response", "question", "echo"),
}
"""For each matter the step that mends it, and easier ones."""
EASIEST = ("arpeggio", "root-third", "rhythm")
"""Steps that hardly any chart or player lacks notes for."""
BEFORE, AFTER = 1, 2
"""Bars around the spot."""
SLOWER, LOWEST_BPM = 0.8, 40.0
SEEDS = (1, 2, 3)
"""Lines of a step that are tried, for one that has what was missed."""
ROUNDS = 4
"""How often a few bars go round in their sound."""
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
    things = next_things(feedback)
    etudes = (_spot_etude(feedback.take, thing, played_step) for thing in things)
    return tuple(etude for etude in etudes if etude)


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
            json.loads(etude.reply.file(".json").data),
            next_names(number) if with_files else (),
        )
        for number, etude in enumerate(etudes, start=1)
    )


def _spot_etude(take: JudgedTake, thing: NextThing, played_step: Step | None) -> SpotEtude | None:
    """The etude of a thing; None where the writer finds no line at all."""
    bars = bars_around(take.chart, thing.bar, before=BEFORE, after=AFTER)
    where = _where(take.chart, bars)
    title = f"{take.chart.title or 'Your take'}, {where}"
    chart = excerpt(take.chart, bars, key=take.analysis.home, title=title, scale_at=_scale_at(take))
    analysis = analyse(chart, level=take.level)
    steps, spot = tuple(_steps(thing, played_step)), _spot(take, thing, analysis)
    brief = _brief(take, thing)
    if thing.kind is ThingKind.LINE and not thing.is_often:
        brief = replace(brief, pinned=written_over(take.line, take.chart, bars, analysis))
    etude = _chosen(steps, analysis, brief, spot) or _chosen(
        steps, analysis, replace(brief, level=Level.BEGINNER, pinned=()), spot
    )
    if etude is None:
        return None
    part = part_for(analysis, take.part.instrument)
    reply = EtudeReply(etude, part, style_of(None, None, chart), degrees=False, notices=())
    return SpotEtude(thing, bars, where, reply)


def _scale_at(take: JudgedTake) -> Callable[[Fraction], str]:
    """The kind of scale that the whole chart gives each place, by its name."""

    def scale_at(place: Fraction) -> str:
        chord = take.analysis.chords[take.form.chord_at(float(place))]
        return "" if chord.silent else chord.scale.mode.label

    return scale_at


def _where(chart: Chart, bars: Sequence[int]) -> str:
    """The bars in words; a form of few bars is there as a whole."""
    if len(set(bars)) < len(bars):
        return "the whole form, round and round"
    numbers = [bar_number(chart.form[bar - 1]) for bar in bars]
    if bars[0] > bars[-1]:
        return f"bars {', '.join(numbers[:-1])} and {numbers[-1]}"
    return f"bars {numbers[0]} to {numbers[-1]}"


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
    """A step, and the one below it; none that leaves bars open, since all of them are asked for."""
    yield step.name
    closed = (other for other in STEPS if other.name not in LADDERS[ThingKind.BREATH])
    below = list(takewhile(lambda other: other != step, closed)) if step in STEPS else []
    yield from (other.name for other in below[-1:])


# The line


def written_over(
    line: Sequence[EtudeNote], chart: Chart, bars: Sequence[int], few: Analysis
) -> tuple[EtudeNote, ...]:
    """The notes of a written line over some of its bars, as they stand in these alone.

    A note that is tied into the first of them is a rest there.

    Parameters
    ----------
    line : sequence of EtudeNote
    chart : Chart
        That the line is written over.
    bars : sequence of int
    few : Analysis
        Of these bars.
    """
    starts = {bar.number: start for bar, start in chart.placed()}
    chords = [chord.span.start for chord in few.chords]
    kept: list[EtudeNote] = []
    for (bar, at), number in zip(few.chart.placed(), bars, strict=True):
        for piece in _pieces(line, starts[number], bar.beats):
            note = piece.moved(at - starts[number])
            if piece.goes_on and kept and kept[-1].pitch == note.pitch:
                kept[-1] = kept[-1]._replace(beats=kept[-1].beats + note.beats)
            else:
                pitch = None if piece.goes_on else note.pitch
                chord = bisect_right(chords, note.onset) - 1
                kept.append(note._replace(pitch=pitch, chord=chord))
    return tuple(kept)


@dataclass(frozen=True, slots=True)
class _Piece:
    """What of a note lies in a bar, and whether it began before that."""

    note: EtudeNote
    goes_on: bool

    def moved(self, beats: Fraction) -> EtudeNote:
        """The piece so many quarter notes later."""
        return self.note._replace(onset=self.note.onset + beats)


def _pieces(line: Sequence[EtudeNote], start: Fraction, beats: Fraction) -> Iterator[_Piece]:
    """What of a line lies in a bar."""
    for note in line:
        first, end = max(note.onset, start), min(note.end, start + beats)
        if first < end:
            piece = note._replace(onset=first, beats=end - first)
            yield _Piece(piece, goes_on=first > note.onset)


@dataclass(frozen=True, slots=True)
class _Spot:
    """What a line should have in it: one of some notes, while a chord sounds.

    Attributes
    ----------
    start, end : Fraction
        In quarter notes from the start of the few bars.
    pitch_classes : frozenset of int
        Concert; none where any line will do.
    """

    start: Fraction
    end: Fraction
    pitch_classes: frozenset[int]

    def is_met(self, etude: Etude) -> bool:
        """True where a line has one of the notes there."""
        inside = (
            note.pitch.midi % 12
            for note in etude.notes
            if note.pitch and self.start <= note.onset < self.end
        )
        return not self.pitch_classes or not self.pitch_classes.isdisjoint(inside)


def _spot(take: JudgedTake, thing: NextThing, analysis: Analysis) -> _Spot:
    """What an etude is written for: the note that tells the new chord."""
    if thing.kind is ThingKind.TUNING:
        return _Spot(Fraction(0), analysis.chart.beats, frozenset(_wanted(take, thing)))
    span = take.analysis.chords[thing.chord].span
    start = analysis.chart.form[0].beats + (span.at if span.bar == thing.bar else Fraction(0))
    ends = (chord.span.end for chord in analysis.chords if chord.span.end > start)
    return _Spot(start, next(ends), frozenset(_wanted(take, thing)))


def _wanted(take: JudgedTake, thing: NextThing) -> Iterator[int]:
    """The concert pitch classes that were missed."""
    if thing.kind is ThingKind.OLD_NOTE and thing.finding and thing.finding.instead:
        yield (thing.finding.instead.midi - take.part.interval.semitones) % 12
    elif thing.kind is ThingKind.TUNING and thing.finding and thing.finding.note:
        yield (thing.finding.note.midi - take.part.interval.semitones) % 12
    elif thing.kind in {ThingKind.CHANGE, ThingKind.OLD_NOTE}:
        change = take.analysis.changing_into(thing.chord)
        yield from (name.pitch_class for name in change.changing_notes) if change else ()


def _chosen(steps: Iterable[Step], analysis: Analysis, brief: Brief, spot: _Spot) -> Etude | None:
    """The first line that has what is missed, else the first one; None where none is found."""
    first: Etude | None = None
    for etude in _written(steps, analysis, brief):
        if spot.is_met(etude):
            return etude
        first = first or etude
    return first


def _written(steps: Iterable[Step], analysis: Analysis, brief: Brief) -> Iterator[Etude]:
    """The lines that the writer finds, step by step."""
    for step in steps:
        for seed in SEEDS:
            try:
                yield write_etude(step, analysis, replace(brief, seed=seed))
            except Impossible:
                break
