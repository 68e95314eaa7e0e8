"""What counts of all that was said, and does it leave with the player?

That a guardian decides below an age between 13 and 16, and that a consent is taken back as easily
as it is given: GDPR (EU) 2016/679, articles 8(1) and 7(3); from memory.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from school_of_two import school_of_two

from halfstep.errors import BriefError, NotAllowed
from halfstep.school.audit import Audited, latest_lines, write_down
from halfstep.school.consents import (
    Giver,
    Purpose,
    allowing,
    consent_state,
    demand_allowed,
    is_allowed,
    is_under_age,
    keep_consent,
    mark_under_age,
    said_now,
)
from halfstep.school.leaving import erase_student, export_student
from halfstep.school.settings import CONSENT_AGE, RECORDING_DAYS, SETTINGS, choose, value_of
from halfstep.school.students import student_id

YES, NO = True, False


@pytest.mark.parametrize(
    ("purpose", "is_young", "said", "counts"),
    [
        (Purpose.RECORDING, False, None, YES),
        (Purpose.HEARING, False, None, YES),
        (Purpose.KEEPING, False, None, NO),
        *((purpose, True, None, NO) for purpose in Purpose),
        *((purpose, False, (Giver.PLAYER, YES), YES) for purpose in Purpose),
        *((purpose, True, (Giver.PLAYER, YES), NO) for purpose in Purpose),
        *((purpose, True, (Giver.TEACHER, YES), NO) for purpose in Purpose),
        *((purpose, True, (Giver.GUARDIAN, YES), YES) for purpose in Purpose),
        *((purpose, True, (Giver.PAPER, YES), YES) for purpose in Purpose),
        *((Purpose.RECORDING, True, (giver, NO), NO) for giver in Giver),
        *((Purpose.HEARING, False, (giver, NO), NO) for giver in Giver),
    ],
)
def test_a_no_counts_whoever_said_it_and_a_yes_of_who_decides(
    purpose: Purpose, is_young: bool, said: tuple[Giver, bool] | None, counts: bool
) -> None:
    last = said and (said[1], said[0])
    assert is_allowed(purpose, is_under_age=is_young, last=last) is counts


def test_the_last_word_of_a_purpose_counts_and_the_others_are_kept(tmp_path: Path) -> None:
    with school_of_two(tmp_path) as school, school.writing() as connection:
        mark_under_age(connection, 1, is_so=True)
        for is_given in (YES, NO, YES):
            said = said_now(Purpose.RECORDING, Giver.GUARDIAN, is_given=is_given, account=7)
            keep_consent(connection, 1, said)
        state = consent_state(connection, 1)
        assert [one.is_given for one in state.words] == [YES, NO, YES]
        assert state.last(Purpose.RECORDING) == said
        assert [one for one in Purpose if state.allows(one)] == [Purpose.RECORDING]
        assert allowing(connection, Purpose.RECORDING) == {1, 2}
        assert allowing(connection, Purpose.HEARING) == {2}
        demand_allowed(connection, 1, Purpose.RECORDING)
        with pytest.raises(NotAllowed, match=r"not allowed to hear .*; a guardian may allow it"):
            demand_allowed(connection, 1, Purpose.HEARING)


def test_one_mark_goes_and_the_other_stays_and_it_is_said_who_may_allow(tmp_path: Path) -> None:
    with school_of_two(tmp_path) as school, school.writing() as connection:
        for student, is_so in ((1, YES), (2, YES), (2, YES), (1, NO)):
            mark_under_age(connection, student, is_so=is_so)
        assert [is_under_age(connection, student) for student in (1, 2)] == [NO, YES]
        keep_consent(connection, 1, said_now(Purpose.RECORDING, Giver.PLAYER, is_given=NO))
        with pytest.raises(NotAllowed, match="nothing was kept; the player may allow it again"):
            demand_allowed(connection, 1, Purpose.RECORDING)


def test_what_was_said_leaves_with_the_player_and_goes_with_the_player(tmp_path: Path) -> None:
    with school_of_two(tmp_path / "data") as school:
        with school.writing() as connection:
            mark_under_age(connection, 2, is_so=True)
            keep_consent(connection, 2, said_now(Purpose.KEEPING, Giver.PAPER, is_given=YES))
            write_down(connection, Audited.ALLOWED, student=2, detail="keeping, as teacher")
        with school.reading() as connection:
            assert student_id(connection, "Bram") == 2
        export_student(school, "Bram", tmp_path / "away")
        data = json.loads((tmp_path / "away" / "consents.json").read_text())
        assert data["is_under_age"] is True
        assert [(one["purpose"], one["giver"]) for one in data["words"]] == [
            ("keeping", "guardian, on paper")
        ]
        erase_student(school, "Bram")
        with school.reading() as connection:
            assert consent_state(connection, 2).words == ()
            (line,) = latest_lines(connection)
            assert (line.student, line.detail) == (None, "keeping, as teacher")


def test_takes_are_left_out_for_who_may_not_hear_them(tmp_path: Path) -> None:
    with school_of_two(tmp_path / "data") as school:
        files = export_student(school, "Odile", tmp_path / "away", with_takes=False)
    names = {file.name for file in files}
    assert {"student.json", "consents.json", "left-out.txt"} < names
    assert not names & {"sent.json", "room.json"}


def test_a_setting_is_chosen_within_its_bounds(tmp_path: Path) -> None:
    with school_of_two(tmp_path) as school, school.writing() as connection:
        assert value_of(connection, CONSENT_AGE) == 16
        choose(connection, "consent-age", " 13 ")
        assert value_of(connection, CONSENT_AGE) == 13
        for one in SETTINGS.values():
            for text in (str(one.least - 1), str(one.most + 1), "", "never", "٣٠", "1e2"):
                with pytest.raises(BriefError, match=f"give {one.least} to {one.most} {one.unit}"):
                    choose(connection, one.name, text)
        with pytest.raises(BriefError, match="did you mean recording-days"):
            choose(connection, "recordings-days", "30")
        assert value_of(connection, RECORDING_DAYS) == RECORDING_DAYS.usual
