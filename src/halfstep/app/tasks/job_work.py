"""One job is done: its request carried out, its files kept, its end written, all or nothing.

A job that was done twice, because a worker fell silent in its midst, ends once. What cannot be
done fails in one line and stands in nobody's way.
"""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from errno import EDQUOT, ENOSPC
from functools import partial
from threading import Event, Thread
from time import monotonic, sleep

from halfstep.app.tasks.job_endings import FIRST_FILES, JOB_ENDINGS, FirstFile, JobEnding
from halfstep.errors import HalfstepError, StoreAway, StoreError
from halfstep.school.database import School
from halfstep.school.job_queue import JobLost, JobQueue, TableQueue
from halfstep.school.jobs import Job
from halfstep.school.made_files import (
    MadeFiles,
    kept_draft,
    new_draft,
    remove_draft,
    remove_earlier,
)
from halfstep.school.worker_mark import is_gone
from halfstep.services.give_feedback import GiveFeedback
from halfstep.services.request_fields import Progress
from halfstep.services.request_files import files_below, make_files, with_files_below
from halfstep.services.stored_requests import Request, read_request

MOST_ATTEMPTS = 3
WORN_OUT = f"it ended the program {MOST_ATTEMPTS} times, so it is not tried again"
DISK_FULL = "the disk is full; make room on it and begin this again"
TOLD_EVERY_S = 0.5
"""How often progress is written, where there is any."""
AWAY_PAUSE_S = 2.0
"""Before what could not be reached is asked for again."""
BEATS_EVERY_S = 10.0
"""How often a worker says that it is there, at least."""
LONGEST_S = 3600.0
"""What is not done by then hangs."""
TOO_LONG = "it was not done in an hour, so it was stopped"


@dataclass(frozen=True, slots=True)
class Workplace:
    """Where a worker works.

    Attributes
    ----------
    school : School
    worker : str
        The worker's name.
    queue : JobQueue
    endings : mapping of str to callable
    first_files : mapping of (str, str) to callable
        By the kind of a job and the name of a file.
    leave : callable
        Ends the process, with the job that hangs in it.
    tell : callable
        Is told of each job that has ended.
    """

    school: School
    worker: str
    queue: JobQueue = field(default_factory=TableQueue)
    endings: Mapping[str, JobEnding] = field(default_factory=lambda: JOB_ENDINGS)
    first_files: Mapping[tuple[str, str], FirstFile] = field(default_factory=lambda: FIRST_FILES)
    leave: Callable[[], object] = lambda: None
    tell: Callable[[Job], object] = lambda _: None


def work_once(place: Workplace) -> Job | None:
    """Do the next job and give it back as it ended; None where there was none.

    Raises
    ------
    StoreError
        When the school cannot be read or written; the job is taken again later.
    """
    job = _taken(place)
    return None if job is None else _done(place, job)


def answer_call(place: Workplace, number: int) -> Job | None:
    """Do a job for which this worker was called; None where there is nothing left to do.

    Raises
    ------
    StoreError
        When the school cannot be read or written; who called calls again.
    """
    with place.school.writing() as connection:
        job = place.queue.take_called(connection, number, place.worker)
    return None if job is None else _done(place, job)


def _done(place: Workplace, job: Job) -> Job:
    try:
        ended = _ended(place, job)
    except JobLost:
        return job  # another's by now, or removed
    except StoreAway as error:
        print(error, file=sys.stderr)
        return _waits_again(place, job)
    place.tell(ended)
    return ended


def _taken(place: Workplace) -> Job | None:
    school = place.school
    with school.reading() as connection:
        if place.queue.is_idle(connection):
            return None
    with school.writing() as connection:
        return place.queue.take(connection, place.worker, partial(is_gone, school.folder))


def _ended(place: Workplace, job: Job) -> Job:
    """The job, done or failed."""
    if job.attempts > MOST_ATTEMPTS:
        return _failed(place, job, WORN_OUT)
    try:
        with _draft_of(place, job) as made:
            return _finished(place, job, made)
    except (JobLost, StoreAway):
        raise
    except Exception as error:
        return _failed(place, job, _trouble(error))


def _waits_again(place: Workplace, job: Job) -> Job:
    """A job whose files cannot be reached: it waits as if it had not been begun."""
    sleep(AWAY_PAUSE_S)
    with place.school.writing() as connection:
        place.queue.give_back(connection, place.worker)
    return job


def _trouble(error: Exception) -> str:
    """Why a job failed, in one line; a fault of the program is printed whole as well."""
    if _is_full(error) or _is_full(error.__cause__):
        return DISK_FULL
    if isinstance(error, HalfstepError):
        return error.marked_text
    traceback.print_exception(error, file=sys.stderr)
    return f"a fault of the program, {type(error).__name__}: {error}"


def _is_full(error: BaseException | None) -> bool:
    return isinstance(error, OSError) and error.errno in {ENOSPC, EDQUOT}


@contextmanager
def _draft_of(place: Workplace, job: Job) -> Iterator[MadeFiles]:
    """What the job makes; it stays only where all goes well."""
    draft = new_draft(place.school, job)
    try:
        with _heartbeat(place, job) as progress:
            made_one = partial(_shown, place, job)
            with _at_hand(place.school, read_request(job.request)) as request:
                files = make_files(request, draft, progress=progress, made=made_one)
            made = kept_draft(place.school, draft, files.names, files.notices)
        yield made
    except BaseException:
        remove_draft(place.school, draft)
        raise


@contextmanager
def _at_hand(school: School, request: Request) -> Iterator[Request]:
    """A request with the files that it names, where they lie on this machine."""
    if isinstance(request, GiveFeedback) and request.early is not None:
        # on the machine to which the recording came, or nowhere: it is not fetched
        request = replace(request, early=(school.folder / request.early).resolve())
    names = (path.as_posix() for path in files_below(request))
    with school.files.at_hand(*names) as folder:
        yield with_files_below(request, folder)


def _shown(place: Workplace, job: Job, name: str, content: bytes) -> None:
    """Show a file before the others are made, where its kind of job has something to show.

    Raises
    ------
    JobLost
        When the job is another's by now.
    """
    if show := place.first_files.get((job.kind, name)):
        with place.school.writing() as connection:
            place.queue.demand_own(connection, job)
            show(place.school, connection, job, content)


def _finished(place: Workplace, job: Job, made: MadeFiles) -> Job:
    with place.school.writing() as connection:
        done = place.queue.finish(connection, job, made.text)
        if ending := place.endings.get(job.kind):
            ending(place.school, connection, done)
    remove_earlier(place.school, done)
    return done


def _failed(place: Workplace, job: Job, trouble: str) -> Job:
    """The job, failed; an ending that fails itself is left out."""
    ending = place.endings.get(job.kind)
    try:
        return _failure_written(place, job, trouble, ending)
    except StoreError:
        raise
    except Exception:
        traceback.print_exc(file=sys.stderr)
        return _failure_written(place, job, trouble, None)


def _failure_written(place: Workplace, job: Job, trouble: str, ending: JobEnding | None) -> Job:
    with place.school.writing() as connection:
        failed = place.queue.fail(connection, job, trouble)
        if ending:
            ending(place.school, connection, failed)
    return failed


@contextmanager
def _heartbeat(place: Workplace, job: Job) -> Iterator[Progress]:
    """Say from a thread that the worker is at it, until the block ends."""
    heart = _Heart(place, job)
    thread = Thread(target=heart.beat, daemon=True)
    thread.start()
    try:
        yield heart.tell
    finally:
        heart.over.set()
        thread.join()


class _Heart:
    """What is told of the work, and written now and then."""

    def __init__(self, place: Workplace, job: Job) -> None:
        self.over = Event()
        self._place, self._job = place, job
        self._progress = (0.0, "")
        self._written, self._written_s = self._progress, monotonic()
        self._until_s = monotonic() + LONGEST_S
        self._lost: JobLost | None = None

    def tell(self, share: float, work: str) -> None:
        """Take down how far the work is.

        Raises
        ------
        JobLost
            When it is another's by now: there is no use in going on.
        """
        self._progress = (share, work)
        if self._lost:
            raise self._lost

    def beat(self) -> None:
        """Write what is new, and at times that nothing is, until the work is over."""
        while not self.over.wait(TOLD_EVERY_S) and not self._lost:
            is_due = monotonic() - self._written_s >= BEATS_EVERY_S
            if is_due or self._progress != self._written:
                self._write()
            if monotonic() > self._until_s:
                self._give_up()

    def _give_up(self) -> None:
        """Let the job fail, and end what does not come to an end."""
        self._lost = JobLost(TOO_LONG)
        with suppress(StoreError):
            _failed(self._place, self._job, TOO_LONG)
        self._place.leave()

    def _write(self) -> None:
        progress = self._progress
        try:
            with self._place.school.writing() as connection:
                self._place.queue.beat(connection, self._job, *progress)
        except JobLost as error:
            self._lost = error
        except StoreError:
            return  # it may go well the next time
        self._written, self._written_s = progress, monotonic()
