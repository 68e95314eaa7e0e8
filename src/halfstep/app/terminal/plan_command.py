"""``halfstep plan``: what a student practises on a day, as lines, as data, or in a folder."""

from __future__ import annotations

from halfstep.app.terminal.arguments import (
    CommandParser,
    add_print_setting,
    request_from,
    wrapped_help,
)
from halfstep.app.terminal.student_command import add_data, school_of

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator
    from pathlib import Path
    from typing import Any

    from halfstep.services.make_plan import PlanReply, WeekReply

DESCRIPTION = "Plan a student's day: two to five things to practise, each with its reason."
EXAMPLES = (
    "halfstep plan --student Odile",
    "halfstep plan --student Odile --minutes 20 --out today",
    "halfstep plan --student Bram --today 2026-03-02 --week --out week",
)
_WIDTH = 92
_INDENT = " " * 9


def epilog() -> str:
    """What a plan is made of."""
    return wrapped_help(
        "A plan is made from all that was played and said so far: warm up with what is known, "
        "mend what went wrong, one new thing at most, what is due again, and a chorus at the "
        "end. A day's plan stays as it is until --new. With --out each thing has its sheet, its "
        "line to be heard first and its backing, and all stands on one page. Say how it went "
        "with halfstep played, or let halfstep feedback --student hear it."
    )


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument(
        "--student", dest="name", metavar="NAME", help="who practises (default: the only one kept)"
    )
    parser.add_argument("--minutes", metavar="N", help="10 to 180 (default: the student's)")
    parser.add_argument("--today", dest="day", metavar="DATE", help="which day, such as 2026-03-02")
    parser.add_argument(
        "--week", action="store_true", help="lay out this day and six more, to take home"
    )
    parser.add_argument("--new", dest="anew", action="store_true", help="plan the day again")
    parser.add_argument("--course", metavar="DIR", help="a folder of another course")
    add_print_setting(parser)
    parser.add_argument("--paper", metavar="SIZE", help="a4 or letter")
    parser.add_argument("--json", action="store_true", help="as data")
    parser.add_argument("--out", dest="folder", metavar="DIR", help="folder for the files")
    add_data(parser)


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Plan a day, or see a week."""
    from halfstep.app.tasks.practice_tasks import PlanDay, plan_day, plan_week
    from halfstep.app.terminal.out_file import out_folder
    from halfstep.app.terminal.progress_bar import progress_bar

    folder = None if arguments.folder is None else out_folder(arguments.folder)
    request = request_from(PlanDay, arguments)
    files: tuple[Path, ...] = ()
    if arguments.week:
        with school_of(arguments) as school:
            week = plan_week(school, request)
        files = week.write(folder) if folder else ()
        _show(arguments, week.data(), week_lines(week), files)
        parser.print_notes(week.days[0].notices)
        return
    with school_of(arguments) as school:
        reply = plan_day(school, request)
    if folder:
        with progress_bar("writing sheets and sound") as progress:
            files = reply.write(folder, progress=progress)
    _show(arguments, reply.data(), plan_lines(reply), files)
    parser.print_notes(reply.notices)


def _show(
    arguments: argparse.Namespace,
    data: dict[str, Any],
    lines: Iterator[str],
    files: tuple[Path, ...],
) -> None:
    """A plan on the screen, as data or as lines, and what was written."""
    import sys

    from halfstep.app.terminal.out_file import print_document
    from halfstep.data.documents import json_text

    if arguments.json:
        print_document(json_text(data))
    else:
        print("\n".join(lines))
    for file in files:
        print(f"written to {file}", file=sys.stderr if arguments.json else sys.stdout)


def week_lines(reply: WeekReply) -> Iterator[str]:
    """The week as lines."""
    page = reply.page()
    yield f"{page.player}: {page.heading}, {page.facts}"
    for day in page.days:
        yield ""
        yield f"{day.day}, {day.date}"
        for item in day.items:
            yield f"  {item.number}  {item.title} ({item.role}, {item.minutes})"
            yield f"     {item.facts} · {item.goal}"
    yield ""
    yield page.note


def plan_lines(reply: PlanReply) -> Iterator[str]:
    """The plan as lines."""
    from halfstep.render.plan_paper import PaperRest

    page = reply.page(with_files=False)
    yield f"{page.player}: {page.heading}, {page.facts}"
    for entry in page.entries:
        yield ""
        if isinstance(entry, PaperRest):
            yield f"{_INDENT}{entry.minutes}: {entry.text}"
            continue
        yield f"{entry.number}  {entry.title} ({entry.role}, {entry.minutes})"
        yield f"   {entry.facts}"
        for word, text in entry.rows:
            yield from _row(word, text)


def _row(word: str, text: str) -> Iterator[str]:
    from textwrap import wrap

    yield from wrap(
        text,
        _WIDTH,
        initial_indent=f"   {word:5} ",
        subsequent_indent=_INDENT,
        break_on_hyphens=False,
    )
