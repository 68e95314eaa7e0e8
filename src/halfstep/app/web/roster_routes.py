"""The players of a class as a table: saved, and taken in again."""

from __future__ import annotations

from starlette.responses import Response

from halfstep.app.tasks.roster_tasks import (
    LONGEST_ROSTER,
    Roster,
    keep_roster,
    read_roster,
    roster_text,
)
from halfstep.app.web.class_routes import class_page
from halfstep.app.web.page import form_fault, leads_to
from halfstep.app.web.visit import Visit
from halfstep.app.web.zip_stream import attachment, file_words
from halfstep.errors import BriefError
from halfstep.school.classes import find_class, students_of
from halfstep.school.doublings import every_player

_FIELDS = {"roster": "The table"}


def save_roster(visit: Visit) -> Response:
    """The players of a class as a table."""
    number = visit.number("number")
    with visit.school.reading() as connection:
        name = find_class(connection, number).name
        players = every_player(connection, students_of(connection, number))
    # spreadsheets know by the mark that it is UTF-8
    data = roster_text(players).encode("utf-8-sig")
    headers = {"content-disposition": attachment(f"{file_words(name)}.csv")}
    return Response(data, media_type="text/csv; charset=utf-8", headers=headers)


def take_roster(visit: Visit) -> Response:
    """Take a table in, whole or not at all."""
    number = visit.number("number")
    try:
        faults = keep_roster(visit.school, number, _sent(visit))
    except BriefError as error:
        return class_page(visit, fault=form_fault(error, _FIELDS))
    if faults:
        return class_page(visit, roster_faults=faults)
    return leads_to(f"/classes/{number}")


def _sent(visit: Visit) -> Roster:
    upload = visit.upload("roster")
    if upload is None:
        raise BriefError("`roster`: choose a file first")
    upload.file.seek(0)
    return read_roster(upload.file.read(LONGEST_ROSTER + 1))
