"""Another instrument of a player: added by the teacher, taken up by whoever is to play it."""

from __future__ import annotations

from starlette.responses import Response

from halfstep.app.tasks.doubling_tasks import add_instrument, play_instrument
from halfstep.app.tasks.student_tasks import AddStudent
from halfstep.app.web.page import form_fault, leads_to
from halfstep.app.web.player_form import PLAYER_FIELDS
from halfstep.app.web.student_routes import student_page
from halfstep.app.web.visit import Visit
from halfstep.errors import BriefError

_FIELDS = PLAYER_FIELDS | {"instrument": "Another instrument"}


def add_players_instrument(visit: Visit) -> Response:
    """Keep another instrument of a player."""
    number = visit.number("number")
    asked = AddStudent("", visit.text("instrument"), visit.text("level"))
    try:
        add_instrument(visit.school, number, asked)
    except BriefError as error:
        return student_page(visit, other_fault=form_fault(error, _FIELDS))
    return leads_to(f"/students/{number}#instruments")


def choose_players_instrument(visit: Visit) -> Response:
    """Have a player take up another of the own instruments."""
    number = visit.number("number")
    play_instrument(visit.school, number, visit.text("instrument"))
    return leads_to(f"/students/{number}")


def choose_own_instrument(visit: Visit) -> Response:
    """Take up another of the own instruments, and go on with it."""
    play_instrument(visit.school, visit.player().number or 0, visit.text("instrument"))
    return leads_to("/week" if visit.text("to") == "week" else "/room")
