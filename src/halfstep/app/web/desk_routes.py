"""The desk: what waits for the teacher."""

from __future__ import annotations

from starlette.responses import Response

from halfstep.app.rights import Deed
from halfstep.app.web.page import page
from halfstep.app.web.visit import Visit
from halfstep.school.classes import every_class
from halfstep.school.students import every_student


def show_desk(visit: Visit) -> Response:
    """What waits."""
    visit.demand(Deed.KEEP_DESK)
    with visit.school.reading() as connection:
        classes, students = every_class(connection), every_student(connection)
    return page(visit, "desk.html", classes=classes, students=students)
