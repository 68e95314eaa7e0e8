"""Where does that lie which jobs have made? Each attempt in a folder, named by the job's number.

A job that is done names its folder in its result; the others are drafts, or of an earlier end.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from halfstep.data.documents import JsonForm, json_text, read_document
from halfstep.errors import ReadError, StoreError
from halfstep.school.data_folder import MADE_FOLDER
from halfstep.school.database import School
from halfstep.school.jobs import Job, JobState, every_result, jobs_in_state

MADE_FORM = JsonForm("halfstep-made", "what a job has made")
FILES_FOLDER = "files"
"""Below the folder of each attempt."""


@dataclass(frozen=True, slots=True)
class MadeFiles:
    """What a job has made.

    Attributes
    ----------
    folder : str
        Where its files lie, below the school's folder; empty where it made none.
    names : tuple of str
        Of its files.
    notices : tuple of str
        What was not certain, or not as asked.
    """

    folder: str
    names: tuple[str, ...]
    notices: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """The same as JSON: the result of a job."""
        fields = {"folder": self.folder, "files": self.names, "notices": self.notices}
        return json_text({**MADE_FORM.head, **fields})

    @property
    def kept_names(self) -> tuple[str, ...]:
        """The names of its files among all that is kept."""
        return tuple(f"{self.folder}/{name}" for name in self.names)


def made_files(job: Job) -> MadeFiles:
    """What a job has made when it was done last.

    Raises
    ------
    StoreError
        When it never was, or its result is damaged.
    """
    try:
        data = read_document(job.result, MADE_FORM)
        return MadeFiles(str(data["folder"]), tuple(data["files"]), tuple(data["notices"]))
    except (ReadError, KeyError, TypeError):
        raise StoreError(f"job {job.number} has no result") from None


def new_draft(school: School, job: Job) -> Path:
    """An empty folder on this machine for what a job is to make.

    Raises
    ------
    StoreError
        When it cannot be made.
    """
    try:
        made = school.folder / MADE_FOLDER
        made.mkdir(mode=0o700, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=f"{job.number}-", dir=made)) / FILES_FOLDER
        draft.mkdir()  # with nothing beside it: what is half made lies there
        return draft
    except OSError as error:
        raise StoreError(f"cannot make a folder for job {job.number}: {error.strerror}") from error


def remove_draft(school: School, draft: Path) -> None:
    """Remove what was not kept; what is in the way is swept away later."""
    _remove(school, [draft.parent.relative_to(school.folder).as_posix()])


def _remove(school: School, attempts: Iterable[str]) -> None:
    for attempt in attempts:
        with suppress(StoreError):
            school.files.remove_below(attempt)


def kept_draft(
    school: School, draft: Path, names: tuple[str, ...], notices: tuple[str, ...]
) -> MadeFiles:
    """What was made, its files kept for good; without any, no folder is left.

    Raises
    ------
    StoreError
    """
    if not names:
        remove_draft(school, draft)
        return MadeFiles("", names, notices)
    folder = draft.relative_to(school.folder).as_posix()
    school.files.take_in(folder)
    return MadeFiles(folder, names, notices)


def attempts_at(school: School, job: Job) -> set[str]:
    """The folders of all that a job has made, whether it was kept or not."""
    return school.files.folders_beginning(f"{MADE_FOLDER}/{job.number}-")


def remove_made(school: School, job: Job) -> None:
    """Remove all that a job has made; what is in the way is swept away later."""
    _remove(school, attempts_at(school, job))


def remove_earlier(school: School, job: Job) -> None:
    """Remove what a job that is done made before: drafts of who was killed, an earlier end."""
    kept = made_files(job).folder.removesuffix(f"/{FILES_FOLDER}")
    _remove(school, attempts_at(school, job) - {kept})


def sweep_made(school: School) -> None:
    """Remove folders that no job speaks of nor works in: drafts of who was killed, earlier ends."""
    # listed before it is asked who is at work: a draft that is begun meanwhile is not in the list
    attempts = school.files.folders_beginning(f"{MADE_FOLDER}/")
    with school.reading() as connection:
        running = {job.number for job in jobs_in_state(connection, JobState.RUNNING)}
        results = every_result(connection)
    for attempt in attempts:
        name = attempt.removeprefix(f"{MADE_FOLDER}/")
        number = _number(name)
        if number not in running and name not in results.get(number, ""):
            _remove(school, [attempt])


def _number(name: str) -> int:
    """Of the job that a folder belongs to; 0 of none."""
    digits = name.partition("-")[0]
    return int(digits) if digits.isascii() and digits.isdecimal() else 0
