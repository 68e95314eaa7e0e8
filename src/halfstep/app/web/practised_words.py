"""How an item of a plan went, and where a take was made, as pages say it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from halfstep.course.course_folder import our_course
from halfstep.data.about_json import TakeAbout
from halfstep.errors import HalfstepError
from halfstep.etude.steps import find_step
from halfstep.lesson.plan_words import VERDICTS, item_title
from halfstep.school.practised import PractisedItem


def practised_words(item: PractisedItem | None) -> str:
    """How an item went; empty for one that was not practised.

    Returns
    -------
    str
        ``nearly``; ``heard: clean``; ``heard: nearly; own word: clean``.
    """
    if item is None:
        return ""
    verdict = f"heard: {VERDICTS[item.heard]}" if item.heard else ""
    word = VERDICTS[item.word] if item.word else ""
    return f"{verdict}; own word: {word}" if verdict and word else verdict or word


@dataclass(frozen=True, slots=True)
class PractisedDay:
    """What was practised of a day's plan, as the teacher sees it.

    Attributes
    ----------
    day : date
    rows : tuple of (str, str)
        What it was, and how it went.
    """

    day: date
    rows: tuple[tuple[str, str], ...]


def practised_days(items: Sequence[PractisedItem]) -> Iterator[PractisedDay]:
    """What was practised day by day, the newest day first."""
    ordered = sorted(items, key=lambda item: item.day, reverse=True)
    for day, of_day in groupby(ordered, key=lambda item: item.day):
        yield PractisedDay(day, tuple(map(_row, of_day)))


def _row(item: PractisedItem) -> tuple[str, str]:
    prefix = "" if item.heard else "own word: "
    return f"{_title(item)}, at {item.tempo_bpm:g}", f"{prefix}{practised_words(item)}"


def _title(item: PractisedItem) -> str:
    """What the item is called; by its bare names where the course has it no more."""
    unit = our_course().unit(item.skill.unit)
    try:
        return item_title(unit, find_step(item.skill.step)) if unit else item.skill.unit
    except HalfstepError:
        return f"{item.skill.unit}: {item.skill.step}"


def about_words(about: TakeAbout) -> str:
    """How a take was made in the practice room, in a sentence for the teacher."""
    how = [f"at {about.tempo_bpm:g}"] if about.tempo_bpm else []
    how += ["a line of the player’s own"] if about.line == "own" else []
    how += [f"over {_listed(about.parts)}"] if about.parts else []
    how += ["with headphones"] if about.headphones else []
    gaps = f" The sound broke off {len(about.gaps)} times." if about.gaps else ""
    return f"Recorded in the practice room{', ' * bool(how)}{', '.join(how)}.{gaps}"


def _listed(names: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
