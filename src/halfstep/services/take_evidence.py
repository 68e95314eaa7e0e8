"""What does a take show of a student's skills? Feedback in, one piece of evidence out.

The chart says which unit of the course it belongs to, the written line or the lack of one which
step, the part which key; the unit's marks, held against what was heard, say how it went.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from halfstep.course.kind_of_chart import kind_of_chart
from halfstep.course.unit import Course, CourseUnit
from halfstep.course.written_keys import key_of_written
from halfstep.etude.step import Step
from halfstep.feedback.judge import Feedback
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.next_things import next_things
from halfstep.files import file_digest
from halfstep.lesson.student_words import thing_words
from halfstep.pitch import name_at
from halfstep.practice.evidence import Evidence, Skill, Verdict
from halfstep.practice.take_measures import played_take, take_verdict
from halfstep.progression.excerpt import WholeForm

CHORUS = "chorus"
"""The step that an improvised take is."""


@dataclass(frozen=True, slots=True)
class TakeEvidence:
    """What a take shows.

    Attributes
    ----------
    evidence : Evidence or None
        None where it shows nothing of the course.
    notice : str
        Why there is none; empty else.
    """

    evidence: Evidence | None
    notice: str = ""


NOTHING_SHOWN = TakeEvidence(None)


def take_evidence(
    feedback: Feedback,
    played_step: Step | None,
    course: Course,
    recording: Path,
    whole: WholeForm | None = None,
) -> TakeEvidence:
    """What a take that was judged shows of a course.

    Parameters
    ----------
    feedback : Feedback
    played_step : Step or None
        The step whose line was played; None for an improvised take.
    course : Course
    recording : Path
        The take is known by its bytes, so that it is counted once, and dated by the file.
    whole : WholeForm, optional
        What some bars went round of; None where all did.
    """
    if not feedback.is_judged:
        return TakeEvidence(None, notice="the take is not judged, so nothing is counted of it")
    take = feedback.take
    if played_step and not take.line:
        return TakeEvidence(
            None, notice="what is played is not the line that is written, so nothing is counted"
        )
    kind = kind_of_chart(whole.chart if whole else take.chart, course)
    if kind is None:
        return TakeEvidence(None, notice="its chords belong to no unit of the course")
    step = played_step.name if played_step else _improvised(kind.unit)
    if step not in kind.unit.steps:
        return TakeEvidence(
            None, notice=f"{kind.unit.title} has no step {step}; nothing is counted"
        )
    verdict = take_verdict(kind.unit, step, played_take(feedback))
    if verdict.verdict is None:
        return TakeEvidence(None, notice="the take holds nothing that its unit is passed by")
    is_clean = verdict.verdict is Verdict.CLEAN
    trouble, bar = ("", None) if is_clean else _trouble(feedback)
    evidence = Evidence(
        source=file_digest(recording),
        at=recorded_at(recording),
        skill=Skill(kind.unit.name, step, _key(take, kind.tonic)),
        tempo_bpm=_tempo_bpm(take),
        verdict=verdict.verdict,
        weight=verdict.weight,
        minutes=round(take.clock.time_s(take.end) / 60, 1),
        trouble=trouble,
        trouble_bar=bar + whole.first - 1 if whole and bar else bar,
        progression=kind.progression,
        part=whole.share(take.chart) if whole else 1.0,
    )
    return TakeEvidence(evidence)


def recorded_at(path: Path) -> datetime:
    """When a recording was made: what its file says, and never later than now."""
    now = datetime.now(UTC)
    made = datetime.fromtimestamp(path.stat().st_mtime, UTC)
    return min(made, now).replace(microsecond=0)


def _improvised(unit: CourseUnit) -> str:
    """The step that an improvised take counts for: a chorus, or the last one of the unit."""
    return CHORUS if CHORUS in unit.steps else unit.steps[-1]


def _key(take: JudgedTake, tonic: int | None) -> int:
    """The tonic as the player reads it, as skills have it."""
    if tonic is None:
        return key_of_written(take.part.key.tonic)
    return key_of_written(name_at(tonic + take.part.instrument.rise.fifths))


def _tempo_bpm(take: JudgedTake) -> float:
    """Pulses a minute, whole."""
    quarters = 60 / take.clock.quarter_s
    return float(round(quarters / float(take.chart.meter.tempo_beats)))


def _trouble(feedback: Feedback) -> tuple[str, int | None]:
    """What went wrong most, in a sentence, and the bar where it did."""
    for thing in next_things(feedback):
        if thing.finding is not None:
            return thing_words(thing, feedback).happened, thing.bar
    return "", None
