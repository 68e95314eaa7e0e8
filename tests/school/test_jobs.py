"""Does a job stand with what it belongs to, and is it one worker's at a time?"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from school_of_two import school_of_two
from sqlalchemy import update

from halfstep.errors import BriefError
from halfstep.school.database import School
from halfstep.school.job_queue import STALE_AFTER_S, JobLost, TableQueue
from halfstep.school.jobs import (
    Job,
    JobState,
    add_job,
    begin_again,
    find_job,
    jobs_in_state,
    jobs_of,
    move_up,
    remove_jobs,
)
from halfstep.school.leaving import erase_student
from halfstep.school.made_files import new_draft
from halfstep.school.students import remove_student
from halfstep.school.tables import jobs
from halfstep.school.worker_mark import is_gone, remove_old_marks, worker_mark

QUEUE = TableQueue()


@pytest.fixture
def school(tmp_path: Path) -> Iterator[School]:
    with school_of_two(tmp_path) as school:
        yield school


def added(school: School, belongs_to: str = "sent-take 5", request: str = "{}") -> Job:
    """A job that waits."""
    with school.writing() as connection:
        return add_job(connection, belongs_to, request)


def taken(school: School, worker: str, *gone: str) -> Job | None:
    """The job that a worker gets, when others are gone."""
    with school.writing() as connection:
        return QUEUE.take(connection, worker, lambda name: name in gone)


def stands(school: School, job: Job) -> Job:
    """A job as it stands now."""
    with school.reading() as connection:
        return find_job(connection, job.number)


def test_what_is_asked_for_twice_is_one_job(school: School) -> None:
    first = added(school)
    assert added(school) == first
    assert added(school, request="[]") != first
    assert added(school, "sent-take 6") != first
    with school.reading() as connection:
        assert [job.request for job in jobs_of(connection, "sent-take 5")] == ["{}", "[]"]
        assert first.kind == "sent-take"


def test_a_job_goes_with_the_change_that_it_belongs_to(school: School) -> None:
    def change_that_fails() -> None:
        with school.writing() as connection:
            remove_student(connection, "Bram")
            add_job(connection, "sent-take 5", "{}")
            raise BriefError("no")

    with pytest.raises(BriefError, match="no"):
        change_that_fails()
    with school.reading() as connection:
        assert QUEUE.is_idle(connection)


def test_a_student_s_job_goes_with_the_student(school: School) -> None:
    with school.writing() as connection:
        add_job(connection, "plan 1", "{}", student="odile")
        add_job(connection, "plan 2", "{}", student="Bram")
        remove_student(connection, "Odile")
        assert [job.belongs_to for job in jobs_in_state(connection, JobState.WAITING)] == ["plan 2"]


def test_what_was_made_for_a_student_goes_with_the_student(school: School) -> None:
    with school.writing() as connection:
        job = add_job(connection, "plan 1", "a request of Odile's", student="Odile")
    draft = new_draft(school, job)
    draft.joinpath("plan.pdf").write_bytes(b"for Odile")
    erase_student(school, "Odile")
    assert not draft.parent.exists()
    database = b"".join(path.read_bytes() for path in school.folder.glob("school.sqlite3*"))
    assert b"a request of Odile" not in database


def test_a_job_of_nothing_is_refused(school: School) -> None:
    for belongs_to in ("", " ", "x" * 81):
        with pytest.raises(BriefError, match="belongs to something, in 80 letters or less"):
            added(school, belongs_to)


def test_jobs_are_taken_in_order_and_each_by_one(school: School) -> None:
    first, second = added(school), added(school, request="[]")
    assert [job and job.number for job in (taken(school, "a"), taken(school, "b"))] == [
        first.number,
        second.number,
    ]
    assert taken(school, "c") is None
    running = stands(school, first)
    assert (running.state, running.worker, running.attempts) == (JobState.RUNNING, "a", 1)


def test_a_silent_worker_s_job_is_taken_over_and_its_word_no_longer_counts(school: School) -> None:
    added(school)
    lost = taken(school, "a")
    assert lost
    early = datetime.now(UTC) - timedelta(seconds=STALE_AFTER_S - 5)
    late = datetime.now(UTC) - timedelta(seconds=STALE_AFTER_S + 1)
    for heartbeat_at, is_taken in ((early, False), (late, True)):
        with school.writing() as connection:
            connection.execute(update(jobs).values(heartbeat_at=heartbeat_at))
        assert (taken(school, "b") is not None) == is_taken
    for word in (
        lambda connection: QUEUE.beat(connection, lost, 0.5, "listening"),
        lambda connection: QUEUE.finish(connection, lost, "{}"),
        lambda connection: QUEUE.fail(connection, lost, "no"),
    ):
        with school.writing() as connection, pytest.raises(JobLost, match="no longer this"):
            word(connection)
    assert (stands(school, lost).worker, stands(school, lost).attempts) == ("b", 2)


def test_the_job_of_a_worker_that_is_known_to_be_gone_is_taken_over_at_once(school: School) -> None:
    first = added(school)
    taken(school, "a")
    assert taken(school, "b") is None
    again = taken(school, "b", "a")
    assert again
    assert (again.number, again.attempts) == (first.number, 2)


def test_what_is_given_back_waits_as_if_it_had_not_been_begun(school: School) -> None:
    first = added(school)
    job = taken(school, "a")
    assert job
    with school.writing() as connection:
        QUEUE.beat(connection, job, 0.5, "listening")
        QUEUE.give_back(connection, "a")
    waiting = stands(school, first)
    assert (waiting.state, waiting.attempts) == (JobState.WAITING, 0)
    assert (waiting.progress, waiting.phrase) == (0.0, "")


def test_progress_is_a_share_and_a_phrase(school: School) -> None:
    added(school)
    job = taken(school, "a")
    assert job
    with school.writing() as connection:
        QUEUE.beat(connection, job, 1.5, "x" * 100)
    assert (stands(school, job).progress, stands(school, job).phrase) == (1.0, "x" * 80)


def test_what_has_ended_may_be_begun_again(school: School) -> None:
    added(school)
    job = taken(school, "a")
    assert job
    with school.writing() as connection:
        assert begin_again(connection, job.number).state is JobState.RUNNING
        assert QUEUE.fail(connection, job, "no\nsuch file").trouble == "no such file"
        anew = begin_again(connection, job.number)
    assert (anew.state, anew.attempts, anew.trouble) == (JobState.WAITING, 0, "")
    with school.writing() as connection:
        remove_jobs(connection, job.belongs_to)
        with pytest.raises(BriefError, match=f"there is no job {job.number}"):
            find_job(connection, job.number)


def test_a_worker_is_gone_when_it_holds_its_mark_no_longer(tmp_path: Path) -> None:
    assert not is_gone(tmp_path, "ada")  # nobody knows
    with worker_mark(tmp_path, "ada"):
        assert not is_gone(tmp_path, "ada")
    left = tmp_path / "workers" / "bo"
    left.touch()
    assert is_gone(tmp_path, "bo")
    remove_old_marks(tmp_path, {"bo"})
    assert left.exists()
    remove_old_marks(tmp_path, set())
    assert not left.exists()


def test_who_waits_goes_before_what_nobody_waits_for(school: School) -> None:
    homework = [added(school, f"sent-take {number}") for number in range(3)]
    with school.writing() as connection:
        move_up(connection, homework[2].number)
    assert not stands(school, homework[2]).stands_back
    order = [taken(school, worker) for worker in "abc"]
    assert [job and job.number for job in order] == [homework[n].number for n in (2, 0, 1)]


def test_homework_that_has_stood_back_is_done_however_many_wait(school: School) -> None:
    homework = added(school, "sent-take 1")
    past = datetime.now(UTC) - timedelta(seconds=1)
    with school.writing() as connection:
        connection.execute(update(jobs).values(turn_at=past))
    waited_for = added(school, "sent-take 2")
    with school.writing() as connection:
        move_up(connection, homework.number)
        move_up(connection, waited_for.number)
    assert stands(school, homework).turn_at == past, "its turn is not put off"
    order = [taken(school, worker) for worker in "ab"]
    assert [job and job.number for job in order] == [homework.number, waited_for.number]


def test_what_ended_its_worker_stands_back_and_is_done_in_its_turn(school: School) -> None:
    first, second = added(school, "sent-take 1"), added(school, "sent-take 2")
    taken(school, "a")
    order = [taken(school, worker, "a") for worker in "bc"]
    assert [job and job.number for job in order] == [second.number, first.number]


def test_a_job_waits_long_when_no_worker_took_it_for_a_while(school: School) -> None:
    job = added(school)
    assert not job.waits_long
    with school.writing() as connection:
        connection.execute(update(jobs).values(added_at=job.added_at - timedelta(seconds=5)))
    assert stands(school, job).waits_long
    taken(school, "a")
    assert not stands(school, job).waits_long


def test_a_job_that_runs_is_not_moved_up(school: School) -> None:
    job = added(school)
    taken(school, "a")
    with school.writing() as connection:
        move_up(connection, job.number)
    assert stands(school, job).turn_at == job.turn_at
    assert not stands(school, job).stands_back


def test_a_worker_of_a_lane_takes_no_other_job(school: School) -> None:
    """Who waits to be heard does not stand behind sheets."""
    with school.writing() as connection:
        sheet = add_job(connection, "hand-out 1", "{}")
        take = add_job(connection, "sent-take 1", "{}")
        listening, making = TableQueue("listen"), TableQueue("make")
        first = listening.take(connection, "ada", lambda _: False)
        assert first is not None
        assert first.number == take.number
        assert listening.take(connection, "bea", lambda _: False) is None
        second = making.take(connection, "bob", lambda _: False)
        assert second is not None
        assert second.number == sheet.number
        assert listening.take(connection, "cyd", lambda name: name == "bob") is None
