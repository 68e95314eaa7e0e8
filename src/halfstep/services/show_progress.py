"""A student's way shown: evidence in, a page out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from halfstep.course.skill_map import Standings
from halfstep.course.unit import Course
from halfstep.practice.syllabus import Syllabus
from halfstep.services.student_request import StudentRequest, reader_words, student_course

if TYPE_CHECKING:
    from halfstep.practice.belief_milestones import KeptMilestone
    from halfstep.practice.beliefs import Beliefs
    from halfstep.practice.progress import Progress

PROGRESS_SUFFIXES = (".svg", ".pdf")


@dataclass(frozen=True, slots=True)
class ShowProgress(StudentRequest):
    """A request to show how far a student has come."""


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

    course, syllabus, instrument, _, day = student_course(request)
    known = tuple(piece for piece in request.evidence if piece.skill in syllabus.places)
    progress = progress_of(syllabus, known, day)
    return ProgressReply(progress, syllabus, course, reader_words(request.name, instrument))


def show_standings(
    request: ShowProgress, kept: Sequence[KeptMilestone] = ()
) -> tuple[Standings, Beliefs]:
    """Where a student stands in each skill that was played, without the way there.

    Parameters
    ----------
    request : ShowProgress
    kept : sequence of KeptMilestone
        Of an earlier day, to save time; those that do not lead to this one are passed over.

    Returns
    -------
    standings : mapping of Skill to Standing
    beliefs : Beliefs
        What they rest on, to be kept.

    Raises
    ------
    BriefError
        When a field makes no sense.
    ReadError
        When the course cannot be read.
    """
    from halfstep.practice.belief_milestones import beliefs_from
    from halfstep.practice.progress import standings_of

    _, syllabus, _, _, day = student_course(request)
    beliefs = beliefs_from(kept, syllabus, request.evidence, day)
    return standings_of(beliefs, day), beliefs
