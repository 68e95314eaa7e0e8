"""What do findings say? In rows, for a terminal and a notebook."""

from __future__ import annotations

from collections.abc import Iterator

from halfstep.feedback.findings import Finding, PassPlace
from halfstep.feedback.judge import Feedback
from halfstep.feedback.next_things import next_things
from halfstep.feedback.strengths import strength
from halfstep.lesson.student_words import strength_words, thing_words
from halfstep.lesson.take_page import clock_text
from halfstep.lesson.teacher_digest import teacher_digest
from halfstep.services.outline_words import clearness_beside

FINDING_HEAD = ("time", "place", "", "")
_CONTEXT = "players' solos are about a third as clear, a scale from each root up to two thirds"


def digest_lines(feedback: Feedback) -> Iterator[str]:
    """What is said first: one strength, what to do next, and the changes in figures."""
    yield strength_words(strength(feedback), feedback)
    for number, thing in enumerate(next_things(feedback), start=1):
        words = thing_words(thing, feedback)
        yield f"{number}. {words.title}. {words.happened}"
    yield f"{teacher_digest(feedback).changes} {clearness_words(feedback)}".strip()


def clearness_words(feedback: Feedback) -> str:
    """How clearly the line tells its chords, and what that means."""
    figures = feedback.outline.whole if feedback.outline else None
    if figures is None or figures.relative is None:
        return ""
    return f"How clear the chords are in the line: {clearness_beside(figures)} ({_CONTEXT})."


def finding_rows(feedback: Feedback) -> Iterator[list[str]]:
    """A row for every finding, under `FINDING_HEAD`."""
    for finding in feedback.findings:
        time, place = clock_text(finding.time_s, 1), place_words(finding.place)
        yield [time, place, str(finding.kind), _facts(finding)]


def place_words(place: PassPlace) -> str:
    """``2: bar 3, beat 2.5``, the pass before it."""
    return f"{place.chorus}: bar {place.bar}, beat {place.beat:g}"


def _facts(finding: Finding) -> str:
    """What else is known of a finding."""
    facts = (
        str(finding.note) if finding.note else "",
        f"for {finding.instead}" if finding.instead else "",
        f"on {finding.chord}" if finding.chord else "",
        f"{finding.beats_late:+g} beats" if finding.beats_late else "",
        f"{finding.bars} bars" if finding.bars is not None else "",
        f"{finding.amount:+.3g} {finding.unit}" if finding.amount is not None else "",
        finding.reason,
    )
    return ", ".join(filter(None, facts))
