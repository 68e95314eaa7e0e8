"""Is the program there, and can it work? For what watches over it; no one signs in for this."""

from __future__ import annotations

from starlette.responses import PlainTextResponse, Response

from halfstep.app.web.site_state import BACK_IN_S
from halfstep.app.web.visit import Visit
from halfstep.errors import StoreError
from halfstep.school.students import count_students


def show_health(visit: Visit) -> Response:
    """That the program answers, whatever else is."""
    del visit
    return PlainTextResponse("well")


def show_readiness(visit: Visit) -> Response:
    """That what is kept can be read and written; 503 and one line where not."""
    try:
        with visit.school.reading() as connection:
            count_students(connection)
    except StoreError as error:
        return _away(error.worded(str))
    if trouble := visit.school.files.trouble():
        return _away(trouble)
    return PlainTextResponse("ready")


def _away(line: str) -> Response:
    return PlainTextResponse(line, 503, {"retry-after": str(BACK_IN_S)})
