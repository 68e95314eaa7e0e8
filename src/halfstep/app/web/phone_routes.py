"""The door for phones, opened and closed from the desk."""

from __future__ import annotations

from starlette.responses import Response

from halfstep.app.web.desk_routes import desk_page
from halfstep.app.web.page import form_fault, leads_to
from halfstep.app.web.visit import Visit
from halfstep.errors import HalfstepError


def let_phones_in(visit: Visit) -> Response:
    """Answer other devices, too."""
    try:
        visit.site.phones.open(visit.request.app)
    except HalfstepError as error:
        return desk_page(visit, form_fault(error, {}))
    return leads_to("/desk#phones")


def let_phones_in_no_more(visit: Visit) -> Response:
    """Answer this machine alone again."""
    visit.site.phones.close()
    return leads_to("/desk#phones")
