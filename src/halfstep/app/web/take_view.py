"""What does a page show of a take? What was heard, bar by bar, and the words about it."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import Any, NamedTuple

from halfstep.app.web.page_words import noted
from halfstep.app.web.take_spots import ShownThing, shown_things
from halfstep.data.told_json import ToldTake, read_told
from halfstep.errors import NoSuchThing, ReadError
from halfstep.feedback.finding_signs import SIGN_WORDS
from halfstep.feedback.findings import FindingKind
from halfstep.lesson.brief import BACKING
from halfstep.lesson.feedback_pages import LEVELS
from halfstep.lesson.teacher_digest import OF_THE_WHOLE
from halfstep.render.sound_facts import loop_start_s
from halfstep.render.sound_file import SOUND_FORMATS
from halfstep.school.database import School
from halfstep.school.kept_files import KeptFiles
from halfstep.school.sent_takes import SentTake

_KEPT_STARTS = 512
_CHANGE_WORDS = {
    "on-time": noted("in time"),
    "late": noted("late"),
    "early": noted("early"),
    "missed": noted("missed"),
    "not-judged": noted("not judged"),
}
_CHANGE_SHAPES = {"on-time": "full", "late": "half", "early": "half", "missed": "empty"}


@dataclass(frozen=True, slots=True)
class BarSign:
    """Something that was found in a bar.

    Attributes
    ----------
    shape : str
        As on the printed take: ``full``, ``half``, ``empty`` for a change, ``framed`` for what is
        to be mended, ``dotted`` for craft.
    word : str
    time_s : float
        Where it is in the recording.
    """

    shape: str
    word: str
    time_s: float


@dataclass(frozen=True, slots=True)
class ShownBar:
    """A bar of a pass.

    Attributes
    ----------
    chorus : int
    number : str
    chords : str
    time_s : float
    signs : tuple of BarSign
    """

    chorus: int
    number: str
    chords: str
    time_s: float
    signs: tuple[BarSign, ...]


@dataclass(frozen=True, slots=True)
class ShownTake:
    """A take that was heard.

    Attributes
    ----------
    told : ToldTake
    bars : tuple of ShownBar
    pictures : tuple of str
        Names of the pages on which it is engraved.
    things : tuple of ShownThing
        What is to be done next.
    form_s : float
        Where bar 1 begins in the recording.
    """

    told: ToldTake
    bars: tuple[ShownBar, ...]
    pictures: tuple[str, ...]
    things: tuple[ShownThing, ...]
    form_s: float


def shown_take(school: School, take: SentTake) -> ShownTake | None:
    """What is shown of a take; None for one that was not heard yet.

    Raises
    ------
    ReadError
        When what is kept of it is damaged.
    """
    if not take.feedback:
        return None
    data = json.loads(take.feedback)
    if "told" not in data or any("time_s" not in change for change in data["changes"]):
        raise ReadError("it was heard by an older release; hear it again")
    told = read_told(data["told"])
    names = frozenset(school.files.names_in(take.folder)) if take.folder else frozenset()
    return ShownTake(
        told,
        tuple(_bars(told, data)),
        tuple(_pictures(names)),
        tuple(shown_things(told, data, names, partial(_loop_start, school.files, take.folder))),
        float(data["form_s"]),
    )


@lru_cache(_KEPT_STARTS)
def _loop_start(files: KeptFiles, folder: str, name: str) -> float | None:
    """Where the loop of a sound begins; kept, since what was made under a name stays the same."""
    sound = f"{folder}/{name}"
    with files.at_hand(sound) as here, suppress(OSError):
        return loop_start_s(here / sound)
    return None


def _bars(told: ToldTake, data: dict[str, Any]) -> Iterator[ShownBar]:
    signs: dict[tuple[int, int], list[BarSign]] = {}
    for sign_of in (_change_signs(data), _finding_signs(data)):
        for place, sign in sign_of:
            signs.setdefault(place, []).append(sign)
    for bar in told.bars:
        shown = sorted(signs.get((bar.chorus, bar.bar), ()), key=lambda sign: sign.time_s)
        yield ShownBar(bar.chorus, bar.number, bar.chords, bar.time_s, tuple(shown))


_Placed = tuple[tuple[int, int], BarSign]


def _change_signs(data: dict[str, Any]) -> Iterator[_Placed]:
    """A sign for each change in which something differs."""
    for change in data["changes"]:
        if word := _CHANGE_WORDS.get(change["heard"]):
            shape = _CHANGE_SHAPES.get(change["heard"], "unsure")
            yield (change["pass"], change["bar"]), BarSign(shape, word, change["time_s"])


_TOLD_BY_CHANGES = {FindingKind.CHANGE_HEARD, FindingKind.CHANGE_MISSED, FindingKind.NOT_JUDGED}


def _finding_signs(data: dict[str, Any]) -> Iterator[_Placed]:
    """A sign for each other finding that has a place."""
    for finding in data["findings"]:
        kind = FindingKind(finding["kind"])
        if kind in _TOLD_BY_CHANGES or kind in OF_THE_WHOLE:
            continue
        shape = "framed" if finding["fault"] else "dotted"
        sign = BarSign(shape, SIGN_WORDS[kind] or str(kind), finding["time_s"])
        yield (finding["pass"], finding["bar"]), sign


def _pictures(names: Collection[str]) -> Iterator[str]:
    """The pages of the engraved take, in order."""
    number = 1
    while (name := f"feedback{f'-{number}' * (number > 1)}.svg") in names:
        yield name
        number += 1


_LONGEST_NAME = 80
"""Letters; no file of ours has so many."""


def bare_name(name: str) -> str:
    """The bare name of a file that may be there.

    Raises
    ------
    NoSuchThing
    """
    is_bare = Path(name).name == name and not name.startswith(".") and len(name) < _LONGEST_NAME
    if not is_bare:
        raise NoSuchThing("there is no such file; it may have been removed")
    return name


class LessonBacking(NamedTuple):
    """The backing of a lesson.

    Attributes
    ----------
    name : str
        Of its file, among all that is kept.
    start_s : float
        Where in it bar 1 begins.
    """

    name: str
    start_s: float


def lesson_backing(school: School, folder: str) -> LessonBacking | None:
    """The backing in the folder of a lesson; None where there is none that says its bar 1."""
    kept = school.files.names_in(folder)
    for form in SOUND_FORMATS.values():
        name = f"{BACKING}{form.suffix}"
        start_s = _loop_start(school.files, folder, name) if name in kept else None
        if start_s is not None:
            return LessonBacking(f"{folder}/{name}", start_s)
    return None


def level_word(level: int) -> str:
    """What one of the four levels is called."""
    return LEVELS[level - 1]
