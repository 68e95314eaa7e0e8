"""What is printed of a day's practice? One page: items in order, with rests between them.

Everything arrives in finished words for the template `plan.typ`.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from halfstep.render.print_setting import USUAL, PrintSetting, setting_data
from halfstep.render.typesetting import PAPERS, PaperName, typeset


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperItem:
    """A thing to practise, in words.

    Attributes
    ----------
    number : int
    title, role, facts, minutes : str
    rows : tuple of (str, str)
        A word, and what it says: why it is here, what is played, when to stop.
    """

    number: int
    title: str
    role: str
    facts: str
    minutes: str
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PaperRest:
    """A pause, in words."""

    text: str
    minutes: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPaper:
    """Everything on the page, in the order it stands there.

    Attributes
    ----------
    title, heading, player, facts, manner : str
    entries : tuple of PaperItem or PaperRest
    ticks : tuple of str
        What the player ticks at each item.
    care : tuple of str
    """

    title: str
    heading: str
    player: str
    facts: str
    manner: str
    entries: tuple[PaperItem | PaperRest, ...]
    ticks: tuple[str, ...]
    care: tuple[str, ...]


def plan_pdf(paper: PlanPaper, *, sheet: PaperName = "a4", setting: PrintSetting = USUAL) -> bytes:
    """The page as a tagged PDF (PDF/UA-1); equal papers give equal bytes."""
    entries = [_entry_data(entry) for entry in paper.entries]
    page = {**asdict(paper), "entries": entries, **_sheet_data(sheet, setting)}
    return typeset("plan.typ", _lists(page))


def _sheet_data(sheet: PaperName, setting: PrintSetting) -> dict[str, Any]:
    """What a template is told of the sheet and of how it is printed."""
    return {"paper": asdict(setting.on(PAPERS[sheet])), "print": setting_data(setting)}


def _entry_data(entry: PaperItem | PaperRest) -> dict[str, Any]:
    kind = "rest" if isinstance(entry, PaperRest) else "item"
    return {"kind": kind, **asdict(entry)}


def _lists(value: Any) -> Any:
    """Data with lists for tuples."""
    if isinstance(value, dict):
        return {key: _lists(inner) for key, inner in value.items()}
    return [_lists(inner) for inner in value] if isinstance(value, list | tuple) else value


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekItem:
    """A thing to practise on a day of a week, in words.

    Attributes
    ----------
    number : int
    title, role, facts, minutes : str
    goal : str
        The tempo to come to.
    """

    number: int
    title: str
    role: str
    facts: str
    minutes: str
    goal: str


@dataclass(frozen=True, slots=True)
class WeekDay:
    """A day of a week: its name, its date, and what is practised."""

    day: str
    date: str
    items: tuple[WeekItem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekPaper:
    """Everything on the page of a week, in the order it stands there.

    Attributes
    ----------
    title, heading, player, facts : str
    manner : str
        What the boxes and the tempi are for.
    days : tuple of WeekDay
    lines : tuple of str
        What empty lines at the foot are for, and whose they are.
    note : str
        What the week rests on.
    care : tuple of str
    """

    title: str
    heading: str
    player: str
    facts: str
    manner: str
    days: tuple[WeekDay, ...]
    lines: tuple[str, ...]
    note: str
    care: tuple[str, ...]


def week_pdf(paper: WeekPaper, *, sheet: PaperName = "a4", setting: PrintSetting = USUAL) -> bytes:
    """The page as a tagged PDF (PDF/UA-1); equal papers give equal bytes."""
    return typeset("week.typ", _lists({**asdict(paper), **_sheet_data(sheet, setting)}))
