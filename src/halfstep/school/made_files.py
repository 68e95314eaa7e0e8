"""Where does that lie which jobs have made? Each attempt in a folder, named by the job's number.

A job that is done names its folder in its result; the others are drafts, or of an earlier end.
"""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from halfstep.data.documents import JsonForm, json_text, read_document
from halfstep.errors import ReadError, StoreError
from halfstep.files import flush
from halfstep.school.database import School
from halfstep.school.jobs import Job, JobState, every_result, jobs_in_state

MADE_FORM = JsonForm("halfstep-made", "what a job has made")
MADE_FOLDER = "made"
"""Below the school's folder."""


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

    def paths(self, school: School) -> tuple[Path, ...]:
        """Its files on this machine."""
        return tuple(school.folder / self.folder / name for name in self.names)


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
    """An empty folder for what a job is to make.

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


def remove_draft(draft: Path) -> None:
    """Remove what was not kept."""
    shutil.rmtree(draft.parent, ignore_errors=True)


def kept_draft(
    school: School, draft: Path, names: tuple[str, ...], notices: tuple[str, ...]
) -> MadeFiles:
    """What was made, its files on the disk for good; without any, no folder is left.

    Raises
    ------
    StoreError
    """
    if not names:
        remove_draft(draft)
        return MadeFiles("", names, notices)
    try:
        flush(*draft.iterdir(), draft, draft.parent, draft.parent.parent)
    except OSError as error:
        raise StoreError(f"cannot keep what was made: {error.strerror}") from error
    return MadeFiles(draft.relative_to(school.folder).as_posix(), names, notices)


def folders_made(school: School, job: Job) -> tuple[Path, ...]:
    """All that a job has made, whether it was kept or not."""
    return tuple((school.folder / MADE_FOLDER).glob(f"{job.number}-*"))


def remove_made(school: School, job: Job) -> None:
    """Remove all that a job has made; what is in the way is swept away later."""
    for folder in folders_made(school, job):
        shutil.rmtree(folder, ignore_errors=True)


def remove_earlier(school: School, job: Job) -> None:
    """Remove what a job that is done made before: drafts of who was killed, an earlier end."""
    kept = school.folder / made_files(job).folder
    for folder in folders_made(school, job):
        if folder != kept.parent:
            shutil.rmtree(folder, ignore_errors=True)


def sweep_made(school: School) -> None:
    """Remove folders that no job speaks of nor works in: drafts of who was killed, earlier ends."""
    # listed before it is asked who is at work: a draft that is begun meanwhile is not in the list
    drafts = list((school.folder / MADE_FOLDER).glob(f"*-*/{FILES_FOLDER}"))
    with school.reading() as connection:
        running = {job.number for job in jobs_in_state(connection, JobState.RUNNING)}
        results = every_result(connection)
    for draft in drafts:
        number = _number(draft)
        if number not in running and draft.parent.name not in results.get(number, ""):
            remove_draft(draft)


def _number(draft: Path) -> int:
    """Of the job that it is a draft of; 0 of none."""
    digits = draft.parent.name.partition("-")[0]
    return int(digits) if digits.isascii() and digits.isdecimal() else 0
