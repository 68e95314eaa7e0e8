"""Takes that a class hears: shared on the teacher's page of a take, heard in a player's week."""

from __future__ import annotations

from starlette.responses import Response

from halfstep.app.tasks.sharing_tasks import say_shared
from halfstep.app.web.page import leads_to
from halfstep.app.web.take_routes import recording_answer
from halfstep.app.web.visit import Visit
from halfstep.errors import BriefError
from halfstep.school.belonging import Thing
from halfstep.school.shared_takes import find_shared_take


def share_with_class(visit: Visit) -> Response:
    """Have a class hear a take, or hear it no more."""
    number, word, text = visit.number("take"), visit.text("word"), visit.text("class")
    if word not in {"share", "end"} or not (text.isdecimal() and len(text) < 10):
        raise BriefError("`word`: send `share` or `end`, and the number of a `class`")
    with visit.school.reading() as connection:
        visit.demand(connection, Thing.CLASS, int(text))
    by = visit.visitor.account_number
    say_shared(visit.school, number, int(text), is_shared=word == "share", by=by)
    return leads_to(f"/takes/{number}#shared")


def hear_shared_take(visit: Visit) -> Response:
    """The recording of a take that a class of the player hears."""
    student = visit.player()
    with visit.school.reading() as connection:
        take = find_shared_take(connection, visit.number("take"), student.number or 0)
    return recording_answer(visit, take)
