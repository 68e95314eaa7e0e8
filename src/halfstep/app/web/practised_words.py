"""How an item of a plan went, and where a take was made, as pages say it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from halfstep.app.web.page_words import gettext
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
    word = gettext(VERDICTS[item.word]) if item.word else ""
    if not item.heard:
        return word
    heard = gettext("heard: %(word)s", word=gettext(VERDICTS[item.heard]))
    return gettext("%(heard)s; own word: %(word)s", heard=heard, word=word) if word else heard


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
    words = practised_words(item)
    if not item.heard:
        words = gettext("own word: %(word)s", word=words)
    return f"{_title(item)}, at {item.tempo_bpm:g}", words


def _title(item: PractisedItem) -> str:
    """What the item is called; by its bare names where the course has it no more."""
    unit = our_course().unit(item.skill.unit)
    try:
        return item_title(unit, find_step(item.skill.step)) if unit else item.skill.unit
    except HalfstepError:
        return f"{item.skill.unit}: {item.skill.step}"


def about_words(about: TakeAbout) -> str:
    """How a take was made in the practice room, in a sentence for the teacher."""
    how = [gettext("Recorded in the practice room")]
    tempo = f"{about.tempo_bpm:g}" if about.tempo_bpm else ""
    how += [gettext("at %(tempo)s", tempo=tempo)] if tempo else []
    how += [gettext("a line of the player’s own")] if about.line == "own" else []
    how += [gettext("over %(parts)s", parts=_listed(about.parts))] if about.parts else []
    how += [gettext("with headphones")] if about.headphones else []
    gaps = gettext("The sound broke off %(times)s times.", times=len(about.gaps))
    return f"{', '.join(how)}.{f' {gaps}' if about.gaps else ''}"


def _listed(parts: Sequence[str]) -> str:
    *names, last = (gettext(part) for part in parts)
    first = ", ".join(names)
    return gettext("%(names)s and %(last)s", names=first, last=last) if first else last
