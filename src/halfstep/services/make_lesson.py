"""A lesson made and written into a folder, whole or not at all."""

from __future__ import annotations

from pathlib import Path

from halfstep.data.documents import json_text
from halfstep.data.lesson_json import lesson_data
from halfstep.files import whole_folder
from halfstep.lesson.make import Lesson, Progress
from halfstep.lesson.write import write_lesson_files
from halfstep.render.handout import PaperName


def write_lesson(
    lesson: Lesson,
    folder: Path,
    *,
    paper: PaperName = "a4",
    short: bool = False,
    progress: Progress = lambda _: None,
) -> tuple[Path, ...]:
    """Write all files of a lesson.

    Parameters
    ----------
    lesson : Lesson
    folder : Path
        Made if need be; files of the same names are replaced, others stay. A lesson that
        fails leaves nothing behind, and an earlier one in the same place stays as it was.
    paper : {'a4', 'letter'}
    short : bool
        Handouts without reasons and details.
    progress : callable

    Returns
    -------
    tuple of Path
        The files, in the order a teacher would open them.

    Raises
    ------
    BriefError
        When the folder cannot be made or written to.
    MissingExtra
        When no sound bank is installed.
    """
    with whole_folder(folder) as work:
        files = write_lesson_files(lesson, work, paper=paper, short=short, progress=progress)
        data = lesson_data(lesson, files=files.names, sound=files.sound)
        (work / "lesson.json").write_text(json_text(data), encoding="utf-8")
    return tuple(folder / name for name in (*files.names, "lesson.json"))
