"""Which two things are chosen to be done next?"""

from __future__ import annotations

from dataclasses import replace

import pytest

from halfstep.feedback.findings import FindingKind
from halfstep.feedback.next_things import KINDS, NextThing, ThingKind, next_things
from told_takes import FAULTS, a_finding, told


@pytest.mark.parametrize("kind", FAULTS, ids=str)
def test_every_fault_has_something_that_mends_it(kind: FindingKind) -> None:
    first, second = next_things(told(a_finding(kind)))
    assert first.kind is KINDS[kind][0]
    assert [finding.kind for finding in first.findings] == [kind]
    assert second.kind is ThingKind.FURTHER


def test_every_matter_is_that_of_some_fault_or_leads_further() -> None:
    leading_on = {ThingKind.FURTHER, ThingKind.ANSWER}
    assert {kind for kind, _ in KINDS.values()} | leading_on == set(ThingKind)


def test_what_is_worse_comes_first() -> None:
    added, missed = FindingKind.ADDED, FindingKind.CHANGE_MISSED
    things = next_things(told(a_finding(added, 1), a_finding(missed, 6)))
    assert [thing.kind for thing in things] == [ThingKind.CHANGE, ThingKind.LINE]


def test_what_is_surer_comes_first() -> None:
    sharp, flat = FindingKind.SHARP, FindingKind.FLAT
    things = next_things(told(a_finding(sharp, certainty=0.6), a_finding(flat, certainty=0.9)))
    assert things[0].findings[0].kind is flat


def test_a_change_missed_in_both_passes_is_one_thing_and_came_often() -> None:
    missed = FindingKind.CHANGE_MISSED
    things = next_things(told(a_finding(missed, 4), a_finding(missed, 4, 2), a_finding(missed, 7)))
    assert [(thing.bar, thing.is_often) for thing in things] == [(4, True), (7, False)]


def test_two_faults_at_one_change_are_not_two_things() -> None:
    both = (a_finding(FindingKind.CHANGE_MISSED, 4), a_finding(FindingKind.OLD_NOTE_KEPT, 4))
    first, second = next_things(told(*both))
    assert {first.kind, second.kind} & {ThingKind.FURTHER}


def test_what_is_a_matter_of_time_is_played_slower() -> None:
    rushed, missed = (
        next_things(told(a_finding(kind)))[0]
        for kind in (FindingKind.RUSHING, FindingKind.CHANGE_MISSED)
    )
    assert (rushed.is_slower, missed.is_slower) == (True, False)


def test_craft_is_nothing_to_mend() -> None:
    craft = [a_finding(kind) for kind in (FindingKind.APPROACH, FindingKind.ENCLOSURE)]
    things = next_things(told(*craft))
    assert [thing.kind for thing in things] == [ThingKind.FURTHER, ThingKind.ANSWER]


def test_a_take_without_faults_is_led_further_in_two_places() -> None:
    first, second = next_things(told())
    assert abs(first.bar - second.bar) > 2
    assert (first.findings, second.findings) == ((), ())


def test_a_take_that_is_not_judged_has_nothing_to_do_next() -> None:
    feedback = replace(told(a_finding(FindingKind.NOT_JUDGED)), is_judged=False)
    assert next_things(feedback) == ()


def test_what_begins_before_bar_1_is_worked_on_there() -> None:
    early = a_finding(FindingKind.LONG_PHRASE, 8, 0)
    assert next_things(told(early))[0].bar == 1


def test_the_evidence_is_the_surest_finding() -> None:
    less, more = (a_finding(FindingKind.MISSED, certainty=sure) for sure in (0.7, 0.9))
    thing: NextThing = next_things(told(less, more))[0]
    assert thing.finding == more
