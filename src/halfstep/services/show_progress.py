"""A student's way shown: evidence in, a page out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.course.course_folder import course_in
from halfstep.course.unit import Course
from halfstep.practice.evidence import Evidence
from halfstep.practice.syllabus import Syllabus
from halfstep.services.known_keys import syllabus_in_keys
from halfstep.services.make_plan import day_of
from halfstep.services.request_fields import level_of, player_of

if TYPE_CHECKING:
    from halfstep.practice.progress import Progress

PROGRESS_SUFFIXES = (".svg", ".pdf")


@dataclass(frozen=True, slots=True)
class ShowProgress:
    """A request to show how far a student has come.

    Attributes
    ----------
    instrument : str
    level : str
    evidence : tuple of Evidence
        All that was played, in any order.
    day : str
        Such as ``2026-03-02``; empty for today.
    name : str
        As printed.
    course : Path or None
        A folder of another course.
    keys : str
        The only written keys to use, ``C G F``; empty for those of the course.
    """

    instrument: str
    level: str = "beginner"
    evidence: tuple[Evidence, ...] = ()
    day: str = ""
    name: str = ""
    course: Path | None = None
    keys: str = ""


@dataclass(frozen=True, slots=True)
class ProgressReply:
    """How far a student has come.

    Attributes
    ----------
    progress : Progress
    syllabus : Syllabus
    course : Course
    reader : str
        Who it is, as printed.
    """

    progress: Progress
    syllabus: Syllabus
    course: Course
    reader: str

    def file(self, suffix: str) -> bytes:
        """The page as a file that ends in one of `PROGRESS_SUFFIXES`."""
        from halfstep.lesson.progress_page import progress_picture
        from halfstep.render.progress_picture import progress_file

        picture = progress_picture(self.progress, self.syllabus, self.course, reader=self.reader)
        return progress_file(picture, suffix)

    def _repr_svg_(self) -> str:
        from halfstep.services.notebook import inline_svg

        return inline_svg(self.file(".svg").decode())


def show_progress(request: ShowProgress) -> ProgressReply:
    """How far a student has come.

    Raises
    ------
    BriefError
        When a field makes no sense.
    ReadError
        When the course cannot be read.
    """
    from halfstep.practice.progress import progress_of

    player, level = player_of(request.instrument), level_of(request.level)
    course = course_in(request.course)
    syllabus = syllabus_in_keys(course, player, level, request.keys)
    known = tuple(piece for piece in request.evidence if piece.skill in syllabus.places)
    progress = progress_of(syllabus, known, day_of(request.day))
    reader = " · ".join(filter(None, (request.name, player.label)))
    return ProgressReply(progress, syllabus, course, reader)
