"""What is said of a take: to the student in plain words, to the teacher with the evidence."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import pytest

from halfstep.feedback.findings import FindingKind
from halfstep.feedback.next_things import ThingKind, next_things
from halfstep.feedback.strengths import strength
from halfstep.lesson.feedback_pages import WORD_MEANINGS
from halfstep.lesson.student_words import (
    ADVICE,
    HAPPENED,
    TITLES,
    strength_words,
    thing_words,
)
from halfstep.lesson.teacher_digest import KIND_WORDS, MOST_PLACES, sureness, teacher_digest
from told_takes import FAULTS, a_finding, every_finding, told

FORBIDDEN = re.compile(
    r"talent|gifted|genius|score|grade|points|per ?cent|%|\bwrong|\bbad\b|mistake|error|fail"
    r"|\bcents\b|\bms\b|[{}]|None|\d+/\d+",
    re.IGNORECASE,
)
"""What no student is told: of themselves, in figures, as a verdict; and what was left unfilled."""


def said_to_a_student(kind: FindingKind, count: int = 1) -> str:
    """All that is said of a kind of fault."""
    feedback = told(*(a_finding(kind, 3, chorus) for chorus in range(1, count + 1)))
    words = thing_words(next_things(feedback)[0], feedback)
    return f"{words.title}. {words.happened} {words.advice}"


def every_strength() -> Iterator[str]:
    """The strength of takes with one thing to praise each."""
    yield strength_words(strength(told()), told())
    for kind in (FindingKind.ENCLOSURE, FindingKind.APPROACH, FindingKind.ANTICIPATION):
        feedback = replace(told(a_finding(kind, 5)), changes=())
        yield strength_words(strength(feedback), feedback)
    landing = replace(told(), changes=())
    yield strength_words(strength(landing), landing)


@pytest.mark.parametrize("kind", FAULTS, ids=str)
@pytest.mark.parametrize("count", [1, 2])
def test_every_fault_is_told_in_plain_words(kind: FindingKind, count: int) -> None:
    text = said_to_a_student(kind, count)
    assert not FORBIDDEN.search(text), text
    sentences = re.split(r"(?<=[.?!])\s", text)
    assert max(len(sentence.split()) for sentence in sentences) <= 24, text


def test_every_matter_and_every_fault_has_its_words() -> None:
    assert set(TITLES) == set(ADVICE) == set(ThingKind)
    assert set(HAPPENED) == set(FAULTS)
    assert set(KIND_WORDS) == set(FindingKind)
    squares = {FindingKind.CHANGE_HEARD, FindingKind.CHANGE_MISSED, FindingKind.NOT_JUDGED}
    assert set(WORD_MEANINGS) == set(FindingKind) - squares


@pytest.mark.slow
def test_no_praise_is_without_its_bar() -> None:
    for text in every_strength():
        assert re.search(r"\bbar \d", text), text
        assert not FORBIDDEN.search(text), text


def test_what_leads_further_says_that_nothing_is_to_be_mended() -> None:
    feedback = told()
    assert "nothing more to mend" in thing_words(next_things(feedback)[0], feedback).happened


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        (FindingKind.OLD_NOTE_KEPT, "over B7, you stayed on E♭. There it becomes D."),
        (FindingKind.CHANGED, "you played E♭, and D is written."),
        (FindingKind.CHANGE_HEARD, "It was heard two beats late."),
        (FindingKind.FORM_SLIP, "you were two bars behind the band."),
        (FindingKind.OFFSET, "Most of your notes came after the beat."),
    ],
    ids=str,
)
def test_it_is_said_what_happened_in_the_players_names(kind: FindingKind, words: str) -> None:
    assert words in said_to_a_student(kind)


def test_a_place_says_which_time_where_there_are_several() -> None:
    assert "In bar 3 (first time)" in said_to_a_student(FindingKind.CHANGED)


def test_the_digest_tells_every_finding_once_under_its_kind() -> None:
    digest = teacher_digest(told(*every_finding()))
    rows = (*digest.mend, *digest.craft)
    kinds = {KIND_WORDS[kind] for kind in FindingKind} - {KIND_WORDS[FindingKind.NOT_JUDGED]}
    assert sorted(row.title for row in rows) == sorted(kinds)
    assert digest.doubts == ("the take is too loud",)


def test_the_heaviest_kind_is_told_first() -> None:
    digest = teacher_digest(told(a_finding(FindingKind.ADDED), a_finding(FindingKind.FORM_SLIP)))
    assert [row.title for row in digest.mend] == ["another place in the form", "added"]


def test_evidence_has_its_place_its_time_and_its_note_against_the_chord() -> None:
    finding = a_finding(FindingKind.OLD_NOTE_KEPT, 3, 2)
    (row,) = teacher_digest(told(finding)).mend
    assert row.places == ("bar 3 of pass 2 at 0:06: E♭4 for D4, over B7",)
    assert row.sureness == "sure"


def test_many_of_a_kind_are_not_told_at_length() -> None:
    findings = [a_finding(FindingKind.ADDED, bar) for bar in range(1, 9)]
    (row,) = teacher_digest(told(*findings)).mend
    assert row.title == "added (8 times)"
    assert len(row.places) == MOST_PLACES + 1
    assert row.places[-1] == "and 4 more in the data"


def test_sureness_is_a_word_for_each_class() -> None:
    assert [sureness(figure) for figure in (0.99, 0.9, 0.8, 0.6)] == [
        "sure", "sure", "likely", "perhaps",
    ]  # fmt: skip
