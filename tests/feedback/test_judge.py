"""The whole of a take judged: what is left out of its line, and what is told in what order."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.doubts import doubts_of_hearing
from halfstep.feedback.findings import FindingKind
from halfstep.feedback.judge import judge
from halfstep.listen.take_notice import TakeNotice, Trouble
from halfstep.pitch import parse_pitch
from made_feedback import ARPEGGIOS, heard_take, judged_take

NAMES = (
    "D4", "F4", "A4", "C5", "G4", "B4", "D5", "F5",
    "E4", "G4", "Bb4", "D5", "A4", "C#5", "E5", "G5",
)  # fmt: skip
LINE = tuple(
    EtudeNote(Fraction(place), Fraction(1), parse_pitch(name), place // 4)
    for place, name in enumerate(NAMES)
)
"""What `ARPEGGIOS` play."""
ENDING = (EtudeNote(Fraction(16), Fraction(4), parse_pitch("A4"), 0),)
OF_THE_LINE = {FindingKind.MISSED, FindingKind.ADDED, FindingKind.CHANGED}


def kinds(midis: tuple[int, ...], **fields: object) -> list[FindingKind]:
    return [finding.kind for finding in judge(judged_take(heard_take(midis), **fields)).findings]


def test_a_line_that_is_played_as_written_has_no_fault() -> None:
    assert not OF_THE_LINE & {*kinds(ARPEGGIOS, line=LINE)}
    assert not OF_THE_LINE & {*kinds(ARPEGGIOS * 2, line=LINE)}


def test_another_note_of_the_line_is_told() -> None:
    midis = (*ARPEGGIOS[:5], 72, *ARPEGGIOS[6:])
    assert FindingKind.CHANGED in kinds(midis, line=LINE)


def test_the_written_ending_is_none_of_the_next_pass() -> None:
    """Without it the A is no note of the line, which begins with a D."""
    for passes in (1, 2):
        midis = (*ARPEGGIOS * passes, 69)
        assert OF_THE_LINE & {*kinds(midis, line=LINE)}
        assert not OF_THE_LINE & {*kinds(midis, line=LINE, ending=ENDING)}


def test_a_take_of_another_line_is_judged_without_it_and_that_is_told_once() -> None:
    other = tuple(note._replace(pitch=parse_pitch("F#3")) for note in LINE)
    feedback = judge(judged_take(heard_take(), line=other))
    reasons = [f.reason for f in feedback.findings if f.kind is FindingKind.NOT_JUDGED]
    assert len(reasons) == 1
    assert "fewer than half of the notes are those of the written line" in reasons[0]
    assert not OF_THE_LINE & {finding.kind for finding in feedback.findings}
    assert feedback.changes == judge(judged_take(heard_take())).changes


def test_threes_of_the_line_in_another_order_are_another_line() -> None:
    """Each three fits somewhere: only a player who stays in the line for longer plays it."""
    threes = (9, 3, 12, 0, 6, 13)
    midis = tuple(midi for first in threes for midi in ARPEGGIOS[first : first + 3])
    reasons = [
        finding.reason for finding in judge(judged_take(heard_take(midis), line=LINE)).findings
    ]
    assert any("fewer than half of the notes" in reason for reason in reasons)
    bars = (*ARPEGGIOS[8:12], *ARPEGGIOS[:4], *ARPEGGIOS[12:])
    assert judge(judged_take(heard_take(bars), line=LINE)).take.line == LINE


def test_a_last_note_on_the_next_one_begins_no_pass() -> None:
    once = judge(judged_take(heard_take())).changes
    ended = judge(judged_take(heard_take((*ARPEGGIOS, 62)))).changes
    begun = judge(judged_take(heard_take((*ARPEGGIOS, *ARPEGGIOS[:5])))).changes
    assert {change.place.chorus for change in ended[:-1]} == {1}
    assert len(ended) <= len(once) + 1
    assert len(begun) > len(ended)


def test_findings_are_told_in_order_of_time() -> None:
    times = [finding.time_s for finding in judge(judged_take(heard_take())).findings]
    assert len(times) > 1
    assert times == sorted(times)


@pytest.mark.parametrize("trouble", Trouble)
def test_what_is_the_matter_with_a_take_stands_against_all_part_or_nothing(
    trouble: Trouble,
) -> None:
    """A quiet recording is judged like any other; of speech there is nothing to tell."""
    take = replace(heard_take(), notices=(TakeNotice(trouble, "said"),))
    doubts = [(doubt.reason, doubt.is_total) for doubt in doubts_of_hearing(take)]
    total = {"only-backing", "only-clicks", "no-note", "speech", "several-notes"}
    partial = {"damaged", "clipped", "loud-backing"}
    expected = [("said", trouble in total)] if trouble in total | partial else []
    assert doubts == expected
