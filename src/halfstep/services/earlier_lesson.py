"""Does a folder hold another lesson? What stands there is never mixed with a new one.

A lesson may be made again in its folder: the same chart, for the same players and steps or
more of them. What of the earlier one is not written again is then removed. Any other lesson
is replaced only when that is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halfstep.data.documents import read_document
from halfstep.data.lesson_json import LESSON_FORM, exercises
from halfstep.errors import BriefError, ReadError
from halfstep.etude.teachers_line import EXAMPLE
from halfstep.lesson.brief import LessonBrief, file_stems
from halfstep.progression.bars_data import played_chart_data

LESSON_FILE = "lesson.json"


@dataclass(frozen=True, slots=True)
class EarlierLesson:
    """What a folder holds.

    Attributes
    ----------
    title : str
    chart : dict
        Its bars, as data.
    etudes : frozenset of (str, str)
        What players' files are named after, with the steps written for them.
    files : tuple of str
        Names in the folder.
    """

    title: str
    chart: dict[str, Any]
    etudes: frozenset[tuple[str, str]]
    files: tuple[str, ...]

    def is_made_again(self, brief: LessonBrief) -> bool:
        """True where a new lesson writes all of this one anew."""
        stems = file_stems(brief.players)
        names = [step.name for step in brief.steps] + [EXAMPLE.name] * (brief.line is not None)
        written = {(stem, name) for stem in stems for name in names}
        return self.chart == played_chart_data(brief.chart) and self.etudes <= written


def demand_free(folder: Path, brief: LessonBrief, *, replace: bool) -> EarlierLesson | None:
    """The lesson that a new one takes the place of; None where there is none.

    Raises
    ------
    BriefError
        When the folder holds another lesson that is not to be replaced, or what is none.
    """
    if not (folder / LESSON_FILE).is_file():
        return None
    try:
        earlier = _earlier(folder / LESSON_FILE)
    except (ReadError, KeyError, TypeError, ValueError, AttributeError):
        raise BriefError(
            f"{folder / LESSON_FILE} is no lesson of ours; choose another `folder`"
        ) from None
    if replace or earlier.is_made_again(brief):
        return earlier
    raise BriefError(
        f"{folder} holds another lesson, {earlier.title!r}; choose another `folder`, or put the "
        "new one in its place with `replace`"
    )


def _earlier(path: Path) -> EarlierLesson:
    data = read_document(path, LESSON_FORM)
    etudes = (
        (str(player["file_stem"]), str(etude["step"]))
        for player in data["players"]
        for etude in exercises(player)
    )
    return EarlierLesson(
        str(data["title"]), data["chart"], frozenset(etudes), tuple(map(str, data["files"]))
    )


def remove_what_is_left(folder: Path, earlier: EarlierLesson, written: Sequence[str]) -> None:
    """Remove the files of an earlier lesson that the new one has not written again."""
    for name in {*earlier.files} - {*written, LESSON_FILE}:
        if Path(name).name == name:  # a file of the folder itself, whatever the data say
            (folder / name).unlink(missing_ok=True)
