"""Tasks go to other processes; results and errors come back as if they had been done here."""

from __future__ import annotations

import os
import pickle
import signal
import sys
import time
from io import BytesIO

import pytest

from halfstep.errors import BriefError, ReadError
from halfstep.workers import Shared, Workers, cores, serve, workers_for


class _Lopsided(Exception):
    """An error that cannot be made again from what it is sent as."""

    def __init__(self, left: str, right: str) -> None:
        super().__init__(f"{left} is not {right}")


def pid_after(wait_s: float) -> int:
    time.sleep(wait_s)
    return os.getpid()


def number(value: int) -> int:
    return value


def printed(text: str) -> str:
    print(text)
    os.write(sys.stdout.fileno(), text.encode())
    return text


def misread() -> None:
    raise ReadError("no chord", source="a.txt", line=3, column=7)


def unmet() -> None:
    raise BriefError("`steps` is empty")


def full() -> None:
    raise OSError(28, "No space left on device")


def lopsided() -> None:
    raise _Lopsided("left", "right")


def struck_dead() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def interrupted() -> int:
    os.kill(os.getpid(), signal.SIGINT)
    return os.getpid()


def place_of(shared: Shared[list[int]]) -> tuple[int, list[int]]:
    return id(shared.value), shared.value


@pytest.mark.slow
def test_results_come_as_they_were_asked_for_from_no_more_processes_than_said() -> None:
    with Workers(2) as workers:
        assert [workers.submit(number, n) for n in range(9)][7].result() == 7
        pids = {task.result() for task in [workers.submit(pid_after, 0.02) for _ in range(6)]}
    assert 1 <= len(pids) <= 2
    assert os.getpid() not in pids


@pytest.mark.slow
def test_workers_are_begun_with_a_task_and_there_are_none_for_one_process() -> None:
    with workers_for(2, os.getpid) as workers:
        assert workers
        assert workers.count == 2
        assert workers.submit(number, 3).result() == 3
    with workers_for(1, os.getpid) as nobody:
        assert nobody is None


@pytest.mark.slow
def test_an_error_is_the_same_line_as_if_the_task_had_been_done_here() -> None:
    with Workers(1) as workers:
        with pytest.raises(ReadError) as place:
            workers.submit(misread).result()
        with pytest.raises(BriefError) as field:
            workers.submit(unmet).result()
        with pytest.raises(OSError, match="No space left on device") as disk:
            workers.submit(full).result()
        assert workers.submit(number, 5).result() == 5, "and the process goes on"
    assert str(place.value) == "a.txt, line 3, column 7: no chord"
    assert field.value.marked_text == "`steps` is empty"
    assert disk.value.errno == 28


@pytest.mark.slow
def test_an_error_that_cannot_be_sent_comes_in_words() -> None:
    with Workers(1) as workers, pytest.raises(RuntimeError, match="_Lopsided: left is not right"):
        workers.submit(lopsided).result()


@pytest.mark.slow
def test_a_process_that_is_killed_is_one_clear_line() -> None:
    with Workers(1) as workers:
        with pytest.raises(BriefError, match="was ended from outside, perhaps for want of memory"):
            workers.submit(struck_dead).result()
        with pytest.raises(BriefError, match="was ended from outside"):
            workers.submit(number, 1).result()


@pytest.mark.slow
def test_what_a_task_prints_is_not_taken_for_its_result() -> None:
    with Workers(1) as workers:
        assert workers.submit(printed, "\x80loud").result() == "\x80loud"


@pytest.mark.slow
def test_a_key_pressed_to_interrupt_reaches_this_process_alone() -> None:
    with Workers(1) as workers:
        assert workers.submit(interrupted).result() == workers.submit(interrupted).result()


@pytest.mark.slow
def test_what_is_shared_is_read_once_by_each_process() -> None:
    with Workers(1) as workers:
        shared = workers.share([1, 2, 3])
        (place, value), (again, _) = (workers.submit(place_of, shared).result() for _ in range(2))
        assert shared.path.exists()
    assert (place, value) == (again, [1, 2, 3])
    assert not shared.path.exists()


@pytest.mark.slow
def test_all_end_with_the_block_whatever_they_are_at() -> None:
    """Tasks of an hour, one begun in each process and one waiting, do not hold it up."""
    with Workers(2) as workers:
        pid = workers.submit(pid_after, 0.0).result()
        waiting = [workers.submit(pid_after, 3600.0) for _ in range(3)]
    assert all(task.cancelled() or isinstance(task.exception(), BriefError) for task in waiting)
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_a_process_serves_until_no_more_can_come() -> None:
    tasks = [(number, (1,)), (unmet, ())]
    outbox = BytesIO()
    serve(BytesIO(b"".join(map(pickle.dumps, tasks))), outbox)
    outbox.seek(0)
    assert pickle.load(outbox) == (True, 1)
    done, error = pickle.load(outbox)
    assert (done, type(error)) == (False, BriefError)


def test_there_is_a_core_to_work_on() -> None:
    assert 1 <= cores() <= (os.cpu_count() or 1)
