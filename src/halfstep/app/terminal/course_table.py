"""A course on a terminal: a row for each unit, or one unit in full."""

from __future__ import annotations

from collections.abc import Iterator

from halfstep.app.terminal.columns import padded, screen_columns, text_width, wrapped
from halfstep.course.unit import CourseUnit
from halfstep.lesson.course_page import keys_in_words, mark_in_words
from halfstep.services.show_course import CourseReply

HEADS = ("", "unit", "after", "level", "keys", "tempo", "steps")


def table_lines(reply: CourseReply) -> Iterator[str]:
    """The course as a table: a row for each unit, its goal beneath."""
    columns = max(40, screen_columns())
    yield reply.course.title
    yield ""
    rows = [_row(reply, number) for number in range(1, len(reply.course.units) + 1)]
    shown = [HEADS, *rows] if not reply.standings else [(*HEADS, "standing"), *rows]
    widths = [max(map(text_width, column)) for column in zip(*shown, strict=True)]
    for cells in shown:
        line = "  ".join(map(padded, cells, widths)).rstrip()
        yield from _cut(line, columns, indent=widths[0] + 2)


def _cut(line: str, columns: int, indent: int) -> Iterator[str]:
    """A line that is too long goes on beneath its second cell."""
    first, *more = wrapped(line, columns) if text_width(line) > columns else [line]
    yield first
    for text in more:
        yield from (" " * indent + rest for rest in wrapped(text, columns - indent))


def _row(reply: CourseReply, number: int) -> tuple[str, ...]:
    unit = reply.course.units[number - 1]
    numbers = {other.name: place for place, other in enumerate(reply.course.units, 1)}
    cells = (
        str(number),
        unit.name,
        ",".join(str(numbers[need]) for need in unit.needs if need in numbers) or "–",
        str(unit.level),
        keys_in_words(unit, reply.player),
        f"{unit.start_bpm:g}–{unit.goal_bpm:g}",
        str(len(unit.steps)),
    )
    if not reply.standings:
        return cells
    standing = reply.standings[number - 1]
    return (*cells, f"{standing.standing}, {standing.known} of {standing.skills}")


def unit_lines(reply: CourseReply, name: str) -> Iterator[str]:
    """One unit in full.

    Raises
    ------
    BriefError
        When the course has no such unit.
    """
    unit = reply.unit(name)
    number = reply.course.units.index(unit) + 1
    columns = max(40, screen_columns())
    yield f"{number}. {unit.title} ({unit.name})"
    yield from wrapped(unit.goal, columns)
    yield ""
    for head, text in _unit_rows(reply, unit):
        yield from _hung(head, text, columns)
    for progression in unit.progressions:
        yield ""
        yield from progression.chart.splitlines()


_HEAD_WIDE = 12


def _hung(head: str, text: str, columns: int) -> Iterator[str]:
    """A text beside its head, its later lines beneath the first."""
    for place, line in enumerate(wrapped(text, columns - _HEAD_WIDE)):
        yield f"{head if place == 0 else '':<{_HEAD_WIDE}}{line}"


def _unit_rows(reply: CourseReply, unit: CourseUnit) -> Iterator[tuple[str, str]]:
    yield "after", ", ".join(unit.needs) or "nothing"
    yield "level", str(unit.level)
    yield "keys", keys_in_words(unit, reply.player)
    yield "tempo", f"{unit.start_bpm:g} to {unit.goal_bpm:g}, {unit.style}"
    yield "steps", ", ".join(unit.steps)
    yield "serves", ", ".join(unit.facets)
    yield "passed with", "; ".join(map(mark_in_words, unit.marks))
    yield "if not", unit.advice
