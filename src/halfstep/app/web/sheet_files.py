"""What lies in the folder of a sheet, and which file of it is what?"""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.etude.steps import STEPS_AND_VOCABULARY
from halfstep.etude.teachers_line import EXAMPLE
from halfstep.lesson.brief import BACKING
from halfstep.lesson.write import TEACHER
from halfstep.school.database import School
from halfstep.school.hand_outs import Sheet

HANDOUT = "handout"
_SOUNDS = (".m4a", ".mp3", ".ogg", ".flac", ".wav")


@dataclass(frozen=True, slots=True)
class SheetStep:
    """One step of a sheet: what it is called and asks for, and its files.

    Attributes
    ----------
    name : str
        Of the step.
    title, task : str
    picture, sound : str
        Names of files; empty where there is none.
    """

    name: str
    title: str
    task: str
    picture: str
    sound: str


def sheet_files(school: School, sheet: Sheet) -> tuple[str, ...]:
    """The names of a player's files; none before they are made. The teacher's own is left out."""
    if not sheet.folder:
        return ()
    names = school.files.names_in(sheet.folder)
    return tuple(name for name in names if name != TEACHER and not name.startswith("."))


def file_named(names: tuple[str, ...], stem: str, suffix: str) -> str:
    """The first file whose name begins and ends so; empty where there is none."""
    begun = (name for name in names if name.startswith(stem) and name.endswith(suffix))
    return next(begun, "")


def backing_named(names: tuple[str, ...]) -> str:
    """The file to play to; empty where there is none."""
    return next((name for s in _SOUNDS if (name := file_named(names, BACKING, s))), "")


def steps_in(names: tuple[str, ...]) -> tuple[SheetStep, ...]:
    """The steps whose notation is among some files, in the order of a lesson."""
    return tuple(
        SheetStep(
            step.name,
            step.title,
            step.task,
            picture,
            next((name for s in _SOUNDS if (name := f"{step.file_stem}{s}") in names), ""),
        )
        for step in (EXAMPLE, *STEPS_AND_VOCABULARY)
        if (picture := file_named(names, f"{step.file_stem}-", ".svg"))
    )
