"""The page of a line: its music, edited in place, its bars locked, and other versions of it."""

from __future__ import annotations

from fractions import Fraction

from starlette.responses import Response

from halfstep.app.tasks.line_tasks import (
    BeginLine,
    OpenLine,
    begin_line,
    edit_kept_line,
    keep_line,
    lock_bar,
    open_line,
    redo_line,
    rewrite_line,
    undo_line,
    versions_of,
)
from halfstep.app.web.line_view import (
    ACTIONS,
    ROOMS_MM,
    VERSION_MM,
    VERSION_STAFF_MM,
    drawn,
    shown_line,
)
from halfstep.app.web.media_types import MEDIA_TYPES
from halfstep.app.web.page import FormFault, form_fault, leads_to, page
from halfstep.app.web.visit import Visit
from halfstep.data.line_json import read_beats
from halfstep.errors import BriefError, HalfstepError, NoSuchThing
from halfstep.etude.line_edit import EditAction, LineEdit
from halfstep.school.kept_charts import find_chart
from halfstep.school.kept_lines import remove_line
from halfstep.services.request_fields import seed_typed, tempo_typed
from halfstep.services.stored_requests import read_request, request_text
from halfstep.services.write_etude import NoEtude, WriteEtude

FILES = (".pdf", ".musicxml", ".mid", ".json", ".m4a")
"""How the files of a line end."""
LINE_FIELDS = {
    "step": "Step", "level": "Level", "instrument": "Instrument", "tempo_bpm": "Tempo",
    "style": "Style", "seed": "Which line", "key": "Key",
}  # fmt: skip


def write_line(visit: Visit) -> Response:
    """Write a line over a chart; where none can be written, say why and what would work."""
    chart = visit.number("number")
    try:
        return leads_to(f"/lines/{begin_line(visit.school, _begun(visit, chart))}")
    except NoSuchThing:
        raise
    except HalfstepError as error:
        return _no_line(visit, chart, error)


def _begun(visit: Visit, chart: int) -> BeginLine:
    tempo = visit.text("tempo_bpm").strip()
    return BeginLine(
        chart=chart,
        step=visit.text("step"),
        level=visit.text("level") or "intermediate",
        instrument=visit.text("instrument"),
        key=visit.text("key"),
        tempo_bpm=tempo_typed(tempo) if tempo else None,
        style=visit.text("style"),
        seed=seed_typed(visit.text("seed") or "1"),
    )


def _no_line(visit: Visit, chart: int, error: HalfstepError) -> Response:
    """Why no line was written, and the nearest that can be."""
    offer = error.offer if isinstance(error, NoEtude) else None
    with visit.school.reading() as connection:
        kept = find_chart(connection, chart)
    return page(
        visit,
        "no_line.html",
        status=422,
        kept=kept,
        fault=form_fault(error, LINE_FIELDS),
        offer="" if offer is None else request_text(offer),
    )


def write_offer(visit: Visit) -> Response:
    """Write the line that was offered instead."""
    request = read_request(visit.text("offer"))
    if not isinstance(request, WriteEtude):
        raise BriefError("`offer`: this is no line that was offered")
    return leads_to(f"/lines/{keep_line(visit.school, visit.number('number'), request)}")


# One line


def show_line(visit: Visit) -> Response:
    """A line with its music."""
    return _page(visit, open_line(visit.school, visit.number("line")))


def _page(visit: Visit, line: OpenLine) -> Response:
    room_mm = _room(visit)
    shown = shown_line(line, at=visit.text("at"), room_mm=room_mm)
    with visit.school.reading() as connection:
        chart = find_chart(connection, line.kept.chart)
    return page(
        visit,
        "line.html",
        status=422 if line.refused and not visit.is_swap else 200,
        fault=FormFault("", line.refused),
        line=line,
        shown=shown,
        chart=chart,
        room=room_mm,
        actions=ACTIONS,
        files=FILES[:4],
    )


def _room(visit: Visit) -> int:
    """The room for a line of music that the page has; the widest unless it says another."""
    asked = visit.text("room")
    return next((room for room in ROOMS_MM if str(room) == asked), max(ROOMS_MM))


def _answer(visit: Visit, line: OpenLine) -> Response:
    """The page after something was done: as it is, or under its address."""
    if visit.is_swap or line.refused:
        return _page(visit, line)
    return leads_to(f"/lines/{line.kept.number}?at={_place(visit)}&room={_room(visit)}")


def _place(visit: Visit) -> Fraction:
    """The place of the note that is meant."""
    try:
        return read_beats(visit.text("at"))
    except (ValueError, ZeroDivisionError):
        raise BriefError("`at`: choose a note of the line first") from None


def _figure(visit: Visit) -> tuple[Fraction, ...]:
    """The lengths of the rhythm that is meant."""
    lengths = visit.text("figure").split(maxsplit=_MOST_LENGTHS)
    try:
        return tuple(map(read_beats, lengths))
    except (ValueError, ZeroDivisionError):
        raise BriefError("`figure`: choose one of the rhythms") from None


_MOST_LENGTHS = 100
"""Notes in the rhythm of a bar."""


def edit_note(visit: Visit) -> Response:
    """Edit a note, or the rhythm of its bar."""
    action = visit.text("do")
    if action not in set(EditAction):
        raise BriefError(f"`do` {action!r}: no note is edited so")
    figure = _figure(visit) if action == EditAction.RHYTHM else ()
    edit = LineEdit(EditAction(action), _place(visit), figure)
    times = visit.text("times")
    count = int(times) if times.isascii() and times.isdecimal() and len(times) < 4 else 1
    return _answer(visit, edit_kept_line(visit.school, visit.number("line"), edit, count))


def undo_edit(visit: Visit) -> Response:
    """Take the last edit back."""
    return _answer(visit, undo_line(visit.school, visit.number("line")))


def redo_edit(visit: Visit) -> Response:
    """Do again what was undone."""
    return _answer(visit, redo_line(visit.school, visit.number("line")))


def lock(visit: Visit) -> Response:
    """Lock a bar, or unlock it."""
    bar = visit.text("bar")
    if not (bar.isascii() and bar.isdecimal() and len(bar) < 7):
        raise BriefError(f"`bar` {bar!r}: choose a bar of the line")
    return _answer(visit, lock_bar(visit.school, visit.number("line"), int(bar)))


def write_anew(visit: Visit) -> Response:
    """Write what is not locked anew: the next line, or that of a seed."""
    seed = visit.text("seed")
    typed = seed_typed(seed) if seed else None
    return _answer(visit, rewrite_line(visit.school, visit.number("line"), typed))


def show_versions(visit: Visit) -> Response:
    """Other versions of a line, side by side."""
    line = open_line(visit.school, visit.number("line"))
    versions = [
        (version, drawn(version, room_mm=VERSION_MM, staff_mm=VERSION_STAFF_MM, locked=line.locked))
        for version in versions_of(line)
    ]
    return page(visit, "line_versions.html", line=line, versions=versions)


def save_line(visit: Visit) -> Response:
    """A file of a line."""
    suffix = f".{visit.word('suffix')}"
    if suffix not in FILES:
        raise NoSuchThing(f"a line has no file {suffix}; it has {', '.join(FILES)}")
    line = open_line(visit.school, visit.number("line"))
    content = line.reply.written.file(suffix).data
    kind = "inline" if suffix == ".m4a" else "attachment"
    name = f'{kind}; filename="line-{line.kept.number}{suffix}"'
    return Response(content, media_type=MEDIA_TYPES[suffix], headers={"content-disposition": name})


def end_line(visit: Visit) -> Response:
    """Remove a line."""
    number = visit.number("line")
    chart = open_line(visit.school, number).kept.chart
    with visit.school.writing() as connection:
        remove_line(connection, number)
    return leads_to(f"/charts/{chart}")
