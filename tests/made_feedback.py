"""Feedback that is made up, with every field of a finding, and feedback on made-up takes."""

from __future__ import annotations

from dataclasses import replace

from halfstep.feedback.findings import Finding, FindingKind, PassPlace, Unit
from halfstep.feedback.form_places import form_places
from halfstep.feedback.judge import Feedback, judge
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_clock import TakeClock, clocked_notes
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.listen.known_errors import known_errors
from halfstep.meter import Feel
from halfstep.part.take_part import WrittenTake
from halfstep.part.transposed_part import part_for
from halfstep.pitch import parse_pitch
from typed_charts import read_chart_text

CHART = "| Dm7 | G7 | Em7b5 | A7b9 |"
ARPEGGIOS = (62, 65, 69, 72, 67, 71, 74, 77, 64, 67, 70, 74, 69, 73, 76, 79)
"""A quarter each, one bar a chord."""


def heard_take(midis: tuple[int, ...] = ARPEGGIOS, *, quarter_s: float = 0.5) -> HeardTake:
    """Quarter notes from two seconds on."""
    notes = tuple(
        HeardNote(at := 2 + n * quarter_s, at + 0.9 * quarter_s, midi, 0.0, -20.0, 0.99, midi)
        for n, midi in enumerate(midis)
    )
    return HeardTake(notes, 2.5 + len(midis) * quarter_s)


def judged_take(
    heard: HeardTake, chart: str = CHART, instrument: str = "alto-sax", **fields: object
) -> JudgedTake:
    """A take at 120, whose bar 1 is at two seconds."""
    analysis = analyse(read_chart_text(chart), level=Level.INTERMEDIATE)
    clock, form = TakeClock(0.5, 2.0, is_offset_known=False), form_places(analysis)
    take = JudgedTake(
        notes=clocked_notes(heard.notes, clock, form=form, feel=Feel.SWING),
        end=clock.beats(heard.length_s),
        clock=clock,
        part=part_for(analysis, INSTRUMENTS[instrument]),
        form=form,
        level=Level.INTERMEDIATE,
        feel=Feel.SWING,
        errors=known_errors(instrument),
    )
    return replace(take, **fields)


def written_take(heard: HeardTake, instrument: str = "alto-sax") -> WrittenTake:
    return WrittenTake(heard, INSTRUMENTS[instrument], "Made up", start_s=2.0)


FULL = Finding(
    kind=FindingKind.SHARP,
    fault=True,
    place=PassPlace(2, 3, 1.5),
    time_s=9.25,
    certainty=0.75,
    note=parse_pitch("Eb4"),
    instead=parse_pitch("D4"),
    chord="B♭7",
    beats_late=-0.5,
    bars=2,
    until=PassPlace(2, 4, 3.0),
    amount=12.5,
    unit=Unit.CENTS,
    interval=(8.0, 17.0),
    etude_note=4,
    reason="give `start_s`",
)
"""A finding with all fields."""


def made_feedback() -> tuple[Feedback, WrittenTake]:
    """A take judged, and one more finding than there is in it."""
    heard = heard_take()
    feedback = judge(judged_take(heard))
    return replace(feedback, findings=(*feedback.findings, FULL)), written_take(heard)
