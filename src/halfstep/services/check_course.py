"""Another course checked: all that is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from halfstep.course.course_fault import CourseFault
from halfstep.course.course_folder import judged_course
from halfstep.course.unit import Course


@dataclass(frozen=True, slots=True)
class CheckCourse:
    """A request to check a course.

    Attributes
    ----------
    folder : Path
        With a file for each unit, and perhaps ``course.toml``.
    """

    folder: Path


@dataclass(frozen=True, slots=True)
class CourseVerdict:
    """What was found in a folder.

    Attributes
    ----------
    course : Course or None
        As far as it can be read; None where no order can be found.
    faults : tuple of CourseFault
        All that is wrong; empty for a course that can be used.
    """

    course: Course | None
    faults: tuple[CourseFault, ...]


def check_course(request: CheckCourse) -> CourseVerdict:
    """Check the course in a folder.

    Raises
    ------
    ReadError
        When there is no such folder.
    """
    return CourseVerdict(*judged_course(request.folder))
