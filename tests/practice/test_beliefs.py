"""Does evidence teach what it should, once, and in whatever order it comes?"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_syllabus import FIRST, MONDAY, SYLLABUS, clean_days, played

from halfstep.practice.belief_layout import FORGOTTEN, PRACTICE, SLOWER, STUDENT
from halfstep.practice.beliefs import Beliefs, beliefs_of
from halfstep.practice.evidence import Evidence, Skill, Verdict
from halfstep.practice.skill_track import table_of

SUNDAY = MONDAY + timedelta(days=6)

evidence_lists = st.lists(
    st.builds(
        played,
        st.sampled_from([row.skill for row in SYLLABUS.rows]),
        st.sampled_from(Verdict),
        st.dates(date(2025, 6, 1), MONDAY),
        st.floats(40, 200),
        st.text("abc", min_size=1, max_size=3),
        st.floats(0, 1),
    ),
    max_size=12,
)


def believed(*evidence: Evidence, day: date = MONDAY) -> Beliefs:
    return beliefs_of(SYLLABUS, evidence, day)


def in_key(key: int, skill: Skill = FIRST) -> Skill:
    return skill._replace(key=key)


def chance_gained(before: Beliefs, after: Beliefs, skill: Skill) -> float:
    """In log odds."""
    place = SYLLABUS.places[skill]
    filters = [beliefs.open().log_odds(place, 80, MONDAY)[0] for beliefs in (before, after)]
    return filters[1] - filters[0]


def state(beliefs: Beliefs) -> tuple[object, ...]:
    numbers = beliefs.pace, beliefs.covariances, beliefs.means, beliefs.variances
    return *numbers, beliefs.tracks, beliefs.evidence


@pytest.mark.slow
@settings(deadline=None)
@given(evidence_lists, st.randoms(use_true_random=False))
def test_the_order_of_feeding_changes_nothing(evidence: list[Evidence], random: object) -> None:
    mixed = list(evidence)
    random.shuffle(mixed)  # type: ignore[attr-defined]
    assert state(believed(*mixed)) == state(believed(*evidence))


@settings(deadline=None)
@given(evidence_lists, st.integers(0, 12))
def test_fed_in_two_parts_is_fed_at_once(evidence: list[Evidence], first: int) -> None:
    single = list({(item.source, item.skill): item for item in evidence}.values())
    parts = believed(*single[:first]).after(single[first:], MONDAY)
    assert state(parts) == state(believed(*single))


@settings(deadline=None)
@given(evidence_lists)
def test_the_same_take_twice_changes_nothing(evidence: list[Evidence]) -> None:
    beliefs = believed(*evidence)
    assert state(beliefs.after(evidence, MONDAY)) == state(beliefs)
    assert state(believed(*evidence, *evidence)) == state(beliefs)


@settings(deadline=None)
@given(evidence_lists, st.floats(40, 150))
def test_slower_is_easier(evidence: list[Evidence], tempo_bpm: float) -> None:
    beliefs = believed(*evidence)
    slow = beliefs.chance(FIRST, tempo_bpm, MONDAY)
    assert slow > beliefs.chance(FIRST, tempo_bpm * 1.1, MONDAY)


def test_a_clean_take_speaks_for_its_neighbours_the_nearer_the_more() -> None:
    before, after = believed(), believed(played())
    rises = [
        after.chance(in_key(key), 80, MONDAY) - before.chance(in_key(key), 80, MONDAY)
        for key in (0, 1, 2)
    ]
    assert rises[0] > rises[1] > rises[2] > 0


def test_a_failure_lowers_and_nearly_lies_between() -> None:
    chances = [believed(played(verdict=verdict)).chance(FIRST, 80, MONDAY) for verdict in Verdict]
    assert chances == sorted(set(chances), reverse=True)
    neighbour = in_key(2)
    failed = believed(played(verdict=Verdict.NOT_YET, tempo_bpm=40))
    assert failed.chance(neighbour, 80, MONDAY) < believed().chance(neighbour, 80, MONDAY)


def test_unsure_listening_counts_for_less() -> None:
    takes = [played(verdict=Verdict.NOT_YET, weight=weight) for weight in (0, 0.5, 1)]
    chances = [believed(take).chance(in_key(2), 80, MONDAY) for take in takes]
    assert chances == sorted(set(chances), reverse=True)


def test_what_was_not_heard_at_all_teaches_nothing_of_others() -> None:
    unheard = believed(played(verdict=Verdict.NOT_YET, weight=0))
    other = SYLLABUS.rows[-1].skill
    assert unheard.chance(other, 80, MONDAY) == pytest.approx(believed().chance(other, 80, MONDAY))


def test_what_is_not_played_fades() -> None:
    beliefs = believed(*clean_days(FIRST, [0, 2, 6]), day=SUNDAY)
    later = [beliefs.chance(FIRST, 80, SUNDAY + timedelta(days=away)) for away in (0, 7, 30, 365)]
    assert later == sorted(later, reverse=True)
    assert later[0] - later[-1] > 0.1


def test_what_lies_ahead_waits_and_is_said() -> None:
    """A clock that ran ahead once does no harm when it is put right."""
    beliefs = believed(played(), played(source="ahead", day=SUNDAY))
    assert len(beliefs.evidence) == 1
    assert beliefs.notices == (
        "1 of what was played is dated after 2026-01-05 and waits until then",
    )


def test_what_the_course_has_no_more_is_left_out_and_said() -> None:
    beliefs = believed(played(Skill("gone", "scale", 0)))
    assert state(beliefs) == state(believed())
    assert "no skill of this course" in beliefs.notices[0]


def test_a_day_before_the_last_take_is_survived() -> None:
    """The memory is then as fresh as it can be."""
    beliefs = believed(played(day=SUNDAY), day=SUNDAY)
    assert beliefs.chance(FIRST, 80, MONDAY) == beliefs.chance(FIRST, 80, SUNDAY)


def test_practice_in_one_key_helps_in_others_and_little_elsewhere() -> None:
    """Whatever was heard: of takes that were not heard at all nothing else is learnt."""
    skill, elsewhere = Skill("unit-0", "step-1", 0), Skill("unit-1", "step-1", 0)
    days = [played(skill, source=f"day-{day}", weight=0) for day in range(6)]
    once, often = believed(days[0]), believed(*days)
    skills = (skill, in_key(2, skill), elsewhere)
    rises = [chance_gained(once, often, one) for one in skills]
    assert rises[0] > rises[1] > rises[2] > 0


def test_what_a_student_keeps_losing_is_learnt() -> None:
    """Who never keeps what was clean for a month is held to forget faster."""
    days = [0, 1, 2, 32, 33, 34, 64, 65, 66]

    def fed(late: Verdict) -> Beliefs:
        evidence = [
            played(
                day=MONDAY + timedelta(days=day),
                verdict=late if day in (32, 64) else Verdict.CLEAN,
                source=f"day-{day}",
            )
            for day in days
        ]
        return believed(*evidence, day=MONDAY + timedelta(days=66))

    assert fed(Verdict.NOT_YET).pace[FORGOTTEN] < fed(Verdict.CLEAN).pace[FORGOTTEN]


def test_the_pass_that_a_stop_rule_waits_for_tells_nothing() -> None:
    """A first pass that failed weighs the same whether practice ended clean or was not told of."""
    tuesday = MONDAY + timedelta(days=1)

    def neighbour(*verdicts: Verdict) -> float:
        takes = [played(verdict=one, source=f"take-{place}") for place, one in enumerate(verdicts)]
        place = SYLLABUS.places[in_key(2)]
        beliefs = believed(*takes, day=tuesday)
        return beliefs.open().log_odds(place, 80, tuesday)[0] - taught(len(takes))

    def taught(times: int) -> float:
        """What that many times teach by themselves, whatever was heard."""
        unheard = [played(weight=0, source=f"take-{place}") for place in range(times)]
        place = SYLLABUS.places[in_key(2)]
        return believed(*unheard, day=tuesday).open().log_odds(place, 80, tuesday)[0]

    once, ended_clean = neighbour(Verdict.NOT_YET), neighbour(Verdict.NOT_YET, Verdict.CLEAN)
    assert ended_clean == pytest.approx(once, abs=0.05)
    assert neighbour(Verdict.NOT_YET, Verdict.NOT_YET) < once - 0.05


def test_what_may_explain_a_take_is_not_blamed_twice() -> None:
    """Pace is believed as one: after takes, more of the one makes less of the other likely."""
    fed = believed(*clean_days(FIRST, [0, 1, 2, 3]), day=SUNDAY)
    assert fed.covariances[STUDENT][PRACTICE] < 0
    for row, column in ((STUDENT, PRACTICE), (SLOWER, STUDENT)):
        assert fed.covariances[row][column] == pytest.approx(fed.covariances[column][row])


def test_half_of_the_bars_tells_less_of_the_whole_than_all_of_them() -> None:
    """Clean teaches less, not yet more: fewer bars are easier."""
    nothing, whole = believed(), [believed(played(verdict=word)) for word in Verdict]
    half = [believed(replace(played(verdict=word), part=0.5)) for word in Verdict]
    whole_gains, half_gains = (
        [chance_gained(nothing, after, FIRST) for after in kind] for kind in (whole, half)
    )
    assert all(few < all_bars for few, all_bars in zip(half_gains, whole_gains, strict=True))
    assert half_gains[0] > 0


@settings(deadline=None)
@given(evidence_lists, st.floats(0.01, 1), st.integers(0, 12))
def test_parts_fed_in_two_parts_are_fed_at_once(
    evidence: list[Evidence], part: float, first: int
) -> None:
    single = {(item.source, item.skill): replace(item, part=part) for item in evidence}
    pieces = list(single.values())
    fed = believed(*pieces[:first]).after(pieces[first:], MONDAY)
    assert state(fed) == state(believed(*pieces))


@given(evidence_lists)
def test_the_table_tells_what_the_tracks_tell(evidence: list[Evidence]) -> None:
    beliefs = believed(*evidence[: len(evidence) // 2]).after(evidence, MONDAY)
    table = table_of(beliefs.layout.grid, beliefs.tracks)
    assert np.array_equal(beliefs.table, table)
