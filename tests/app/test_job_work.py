"""Is a job done once in effect, whatever happens to who does it?"""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from threading import Event

import pytest

from fresh_schools import fresh_school
from halfstep.app.job_process import work
from halfstep.app.job_workers import JobWorkers
from halfstep.app.tasks import job_work
from halfstep.app.tasks.job_work import DISK_FULL, TOO_LONG, WORN_OUT, Workplace, work_once
from halfstep.errors import BriefError, StoreAway, StoreError
from halfstep.school.database import School, SchoolConnection
from halfstep.school.jobs import Job, JobState, add_job, begin_again, find_job, jobs_in_state
from halfstep.school.made_files import made_files, sweep_made
from halfstep.school.worker_mark import worker_mark
from halfstep.services.check_course import CheckCourse
from halfstep.services.make_backing import MakeBacking
from halfstep.services.read_chart import ReadChart
from halfstep.services.request_fields import FileMade, Progress
from halfstep.services.request_files import RequestFiles, make_files
from halfstep.services.stored_requests import Request, request_text

SPAWN = multiprocessing.get_context("spawn")
CHART = "| Dm7 | G7 | Cmaj7 | Cmaj7 |"
QUICK = CheckCourse(Path("course"))
"""A request that makes no file and has one thing to say."""
LONG = MakeBacking(CHART, Path("backing"), tempi="60..290+10", choruses=8, sound_format="wav")
PATIENCE_S = 300.0
"""A worker lets others go first: on a busy machine it is slow to begin."""


@pytest.fixture
def school(tmp_path: Path) -> Iterator[School]:
    with fresh_school(tmp_path / "school") as school:
        school.folder.joinpath("course").mkdir()
        school.folder.joinpath("course", "unit.toml").write_text("title = ")
        yield school


def added(school: School, request: Request | str, belongs_to: str = "tally 1") -> Job:
    """A job that waits."""
    text = request if isinstance(request, str) else request_text(request)
    with school.writing() as connection:
        return add_job(connection, belongs_to, text)


def stands(school: School, job: Job) -> Job:
    """A job as it stands now."""
    with school.reading() as connection:
        return find_job(connection, job.number)


def until(school: School, job: Job, is_so: Callable[[Job], bool]) -> Job:
    """The job, when it is so."""
    for _ in range(round(PATIENCE_S / 0.05)):
        if is_so(latest := stands(school, job)):
            return latest
        time.sleep(0.05)
    raise AssertionError(f"it stayed {latest}")


def folders(school: School) -> list[str]:
    """What lies where jobs make files."""
    return sorted(path.name for path in (school.folder / "made").glob("*"))


def test_a_job_makes_its_files_and_says_which(school: School) -> None:
    job = added(school, ReadChart(CHART))
    done = work_once(Workplace(school, "ada"))
    assert done == stands(school, job)
    assert (done.state, done.progress, done.trouble) == (JobState.DONE, 1.0, "")
    made = made_files(done)
    assert made.names == ("chart.pdf",)
    assert [school.files.content(name)[:5] for name in made.kept_names] == [b"%PDF-"]
    assert work_once(Workplace(school, "ada")) is None


@pytest.mark.parametrize(
    ("request_of_it", "line"),
    [
        ("{damaged", "give a request that Halfstep stored as .json"),
        (
            request_text(QUICK).replace("check-course", "lay-eggs"),
            "no request is called 'lay-eggs'",
        ),
        (request_text(ReadChart("| Cmaj7 | Qx |")), "Qx"),
        (request_text(ReadChart(Path("gone.abc"))), "no such file"),
    ],
)
def test_what_cannot_be_done_fails_in_one_line_and_blocks_nobody(
    school: School, request_of_it: str, line: str
) -> None:
    bad, good = added(school, request_of_it), added(school, QUICK)
    for _ in range(2):
        work_once(Workplace(school, "ada"))
    failed = stands(school, bad)
    assert (failed.state, failed.attempts) == (JobState.FAILED, 1)
    assert line in failed.trouble
    assert "\n" not in failed.trouble
    assert stands(school, good).state is JobState.DONE
    assert [name for name in folders(school) if name.startswith(f"{bad.number}-")] == []


def test_a_fault_of_the_program_is_one_line_too(
    school: School, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def faulty(*_: object, **__: object) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", faulty)
    job = added(school, QUICK)
    work_once(Workplace(school, "ada"))
    assert (
        stands(school, job).trouble == "a fault of the program, ZeroDivisionError: division by zero"
    )
    assert "Traceback" in capsys.readouterr().err


def test_a_full_disk_fails_the_job_and_leaves_no_file(
    school: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> int:
        raise OSError(28, "No space left on device")

    job = added(school, ReadChart(CHART))
    with monkeypatch.context() as patch:
        patch.setattr(Path, "write_bytes", full)
        work_once(Workplace(school, "ada"))
    assert stands(school, job).trouble == DISK_FULL
    assert folders(school) == []
    with school.writing() as connection:
        begin_again(connection, job.number)
    work_once(Workplace(school, "ada"))
    assert stands(school, job).state is JobState.DONE


def test_what_is_made_anew_takes_the_place_of_the_first(school: School) -> None:
    job = added(school, ReadChart(CHART))
    first = work_once(Workplace(school, "ada"))
    assert first
    with school.writing() as connection:
        begin_again(connection, job.number)
    second = work_once(Workplace(school, "ada"))
    assert second
    assert [school.files.exists(name) for name in made_files(first).kept_names] == [False]
    assert [school.files.exists(name) for name in made_files(second).kept_names] == [True]


def test_a_job_whose_files_cannot_be_reached_waits_as_if_it_had_not_been_begun(
    school: School, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def be_away(*_: object, **__: object) -> None:
        raise StoreAway("the store of files does not answer")

    job = added(school, ReadChart(CHART))
    monkeypatch.setattr(job_work, "AWAY_PAUSE_S", 0.0)
    with monkeypatch.context() as patch:
        patch.setattr(job_work, "make_files", be_away)
        work_once(Workplace(school, "ada"))
    assert (stands(school, job).state, stands(school, job).attempts) == (JobState.WAITING, 0)
    assert folders(school) == []
    assert capfd.readouterr().err == "the store of files does not answer\n"
    done = work_once(Workplace(school, "ada"))
    assert done is not None
    assert done.state is JobState.DONE


def test_what_no_job_speaks_of_is_swept_away_though_results_be_damaged(school: School) -> None:
    kept, damaged = added(school, ReadChart(CHART)), added(school, ReadChart("| F7 |"))
    place = Workplace(school, "ada")
    work_once(place)
    work_once(place)
    running = added(school, QUICK)
    with school.writing() as connection:
        connection.exec_driver_sql("UPDATE jobs SET result = 'x' WHERE id = ?", (damaged.number,))
        assert place.queue.take(connection, "ada", lambda _: False)
    for name in (f"{running.number}-draft", "99-draft", "not-ours"):
        (school.folder / "made" / name / "files").mkdir(parents=True)
    sweep_made(school)
    assert [name.partition("-")[0] for name in folders(school)] == [
        str(kept.number),
        str(running.number),
    ]
    with pytest.raises(StoreError, match=f"job {damaged.number} has no result"):
        made_files(stands(school, damaged))


def test_what_was_made_stands_when_it_cannot_be_made_again(school: School) -> None:
    job = added(school, ReadChart(CHART))
    first = work_once(Workplace(school, "ada"))
    assert first
    with school.writing() as connection:
        begin_again(connection, job.number)
        connection.exec_driver_sql("UPDATE jobs SET request = '{damaged'")
    work_once(Workplace(school, "ada"))
    sweep_made(school)
    failed = stands(school, job)
    assert failed.state is JobState.FAILED
    assert [school.files.exists(name) for name in made_files(failed).kept_names] == [True]


def test_a_worker_says_that_it_is_there_though_nothing_is_new(
    school: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = added(school, QUICK)
    beats = []

    def silently(*_: object, **__: object) -> RequestFiles:
        first = stands(school, job).heartbeat_at
        beats.append(until(school, job, lambda job: job.heartbeat_at != first))
        return RequestFiles(())

    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", silently)
    monkeypatch.setattr("halfstep.app.tasks.job_work.BEATS_EVERY_S", 0.0)
    monkeypatch.setattr("halfstep.app.tasks.job_work.TOLD_EVERY_S", 0.01)
    work_once(Workplace(school, "ada"))
    assert [beat.state for beat in beats] == [JobState.RUNNING]


def test_a_job_without_end_fails_and_its_process_is_left(
    school: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    def endlessly(*_: object, progress: Progress, **__: object) -> None:
        while True:
            progress(0.5, "going round")
            time.sleep(0.01)

    job = added(school, QUICK)
    left: list[bool] = []
    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", endlessly)
    monkeypatch.setattr("halfstep.app.tasks.job_work.LONGEST_S", 0.05)
    monkeypatch.setattr("halfstep.app.tasks.job_work.TOLD_EVERY_S", 0.01)
    work_once(Workplace(school, "ada", leave=lambda: left.append(True)))
    failed = stands(school, job)
    assert (failed.state, failed.trouble) == (JobState.FAILED, TOO_LONG)
    assert left == [True]


def test_what_is_past_its_time_goes_though_a_worker_is_never_idle(
    school: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    done = []

    def done_next(_: Workplace) -> Job:
        done.append(job)
        return job

    def look(_: School) -> None:
        raise KeyboardInterrupt

    job = added(school, QUICK)
    monkeypatch.setattr("halfstep.app.job_process.work_once", done_next)
    monkeypatch.setattr("halfstep.app.job_process.let_go_in_time", look)
    with pytest.raises(KeyboardInterrupt):
        work(Workplace(school, "ada"), Event())
    assert done == [job]


def test_a_job_that_ends_its_worker_again_and_again_fails(school: School) -> None:
    job = added(school, QUICK)
    place = Workplace(school, "ada")
    for _ in range(3):
        with school.writing() as connection:
            assert place.queue.take(connection, "ada", lambda _: False)
    work_once(place)
    failed = stands(school, job)
    assert (failed.state, failed.trouble) == (JobState.FAILED, WORN_OUT)


# Endings


def make_tally(school: School) -> None:
    """A table that endings write in."""
    with school.writing() as connection:
        connection.exec_driver_sql("CREATE TABLE tally (job INTEGER, state TEXT)")


def tally_up(_: School, connection: SchoolConnection, job: Job) -> None:
    """Write down that a job ended."""
    connection.exec_driver_sql("INSERT INTO tally VALUES (?, ?)", (job.number, str(job.state)))


def tally(school: School) -> list[tuple[int, str]]:
    """What was written down, by job."""
    with school.reading() as connection:
        rows = connection.exec_driver_sql("SELECT job, state FROM tally ORDER BY job")
        return [(number, state) for number, state in rows]


TALLY = {"tally": tally_up}


def test_the_ending_of_a_kind_stands_with_the_end_of_the_job(school: School) -> None:
    make_tally(school)
    done, bad, other = (
        added(school, QUICK),
        added(school, "{damaged"),
        added(school, QUICK, "other 1"),
    )
    for _ in range(3):
        work_once(Workplace(school, "ada", endings=TALLY))
    assert tally(school) == [(done.number, "done"), (bad.number, "failed")]
    assert stands(school, other).state is JobState.DONE


def test_an_ending_that_cannot_be_is_told_as_the_job_s_trouble(school: School) -> None:
    def refuse(_: School, __: SchoolConnection, job: Job) -> None:
        raise BriefError(f"`name` of {job.belongs_to}: there is no such student")

    job = added(school, ReadChart(CHART), "refused 1")
    work_once(Workplace(school, "ada", endings={"refused": refuse}))
    failed = stands(school, job)
    assert failed.trouble == "`name` of refused 1: there is no such student"
    assert folders(school) == []


def test_a_job_that_was_taken_over_in_its_midst_ends_once(
    school: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_tally(school)
    job = added(school, ReadChart(CHART))
    workers = iter(["quick"])

    def slowly(
        request: Request, folder: Path, *, progress: Progress, made: FileMade
    ) -> RequestFiles:
        for worker in workers:
            with school.writing() as connection:
                connection.exec_driver_sql("UPDATE jobs SET heartbeat_at = '2026-03-02 18:30:00'")
            work_once(Workplace(school, worker, endings=TALLY))
        return make_files(request, folder, progress=progress, made=made)

    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", slowly)
    work_once(Workplace(school, "slow", endings=TALLY))
    done = stands(school, job)
    assert (done.worker, done.attempts) == ("quick", 2)
    assert tally(school) == [(job.number, "done")]
    assert folders(school) == [Path(made_files(done).folder).parent.name]


# Processes


def is_under_way(job: Job) -> bool:
    """True when a part of it is done."""
    return job.progress > 0.0


def make_shorter(school: School) -> None:
    """Have what is begun next done soon."""
    short = request_text(replace(LONG, tempi="120", choruses=1))
    with school.writing() as connection:
        connection.exec_driver_sql("UPDATE jobs SET request = ?", (short,))


def _work(folder: Path, worker: str) -> None:
    """A worker of its own process, until there is nothing left."""
    with School(folder) as school, worker_mark(folder, worker):
        place = Workplace(school, worker, endings=TALLY)
        while work_once(place):
            pass


@pytest.mark.slow
def test_two_workers_do_two_hundred_jobs_once_each(school: School) -> None:
    make_tally(school)
    numbers = [added(school, QUICK, f"tally {n}").number for n in range(200)]
    names = ("ada", "bo")
    workers = [SPAWN.Process(target=_work, args=(school.folder, name)) for name in names]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert [worker.exitcode for worker in workers] == [0, 0]
    assert tally(school) == [(number, "done") for number in numbers]
    with school.reading() as connection:
        done = jobs_in_state(connection, JobState.DONE)
    assert {job.attempts for job in done} == {1}
    assert {job.worker for job in done} == {*names}


def _serve(folder: Path) -> None:
    with School(folder) as school, JobWorkers(school, 1):
        time.sleep(PATIENCE_S)


@pytest.mark.slow
def test_a_server_that_was_killed_goes_on_where_it_was(school: School) -> None:
    job = added(school, LONG)
    server = SPAWN.Process(target=_serve, args=(school.folder,))
    server.start()
    until(school, job, is_under_way)
    server.kill()
    server.join()
    given_back = until(school, job, lambda job: job.state is JobState.WAITING)
    assert given_back.attempts == 0
    make_shorter(school)
    with JobWorkers(school, 1):
        done = until(school, job, lambda job: job.has_ended)
    assert (done.state, done.attempts) == (JobState.DONE, 1)


@pytest.mark.slow
def test_a_worker_killed_in_its_work_is_followed_by_another_and_all_stop_with_the_block(
    school: School,
) -> None:
    job = added(school, LONG)
    with JobWorkers(school, 1) as workers:
        assert until(school, job, is_under_way).phrase.startswith("backing")
        (killed,) = workers.processes
        os.kill(killed, signal.SIGKILL)
        make_shorter(school)
        done = until(school, job, lambda job: job.has_ended)
        assert (done.state, done.attempts) == (JobState.DONE, 2)
        (second,) = workers.processes
        assert second != killed
        left = until(school, added(school, LONG, "left 1"), is_under_way)
    left = stands(school, left)
    assert (left.state, left.attempts) == (JobState.WAITING, 0)
    with pytest.raises(ProcessLookupError):
        os.kill(second, 0)
    assert len(folders(school)) == 2
    sweep_made(school)
    assert folders(school) == [Path(made_files(done).folder).parent.name]
