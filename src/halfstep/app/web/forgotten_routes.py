"""A password was forgotten: who can be mailed gets a link; all are answered alike."""

from __future__ import annotations

from starlette.responses import Response

from halfstep.app.tasks.mail_tasks import ask_for_link
from halfstep.app.web.page import page
from halfstep.app.web.visit import Visit


def show_forgotten(visit: Visit) -> Response:
    """The form to ask for a link; without mail, whom to ask."""
    return page(visit, "forgotten.html", is_asked=False)


def ask_by_mail(visit: Visit) -> Response:
    """Ask for a link.

    Raises
    ------
    TooManyTries
    """
    server, client = visit.site.mail, visit.request.client
    if server is not None:
        ask_for_link(
            visit.school,
            visit.site.secret,
            server,
            name=visit.text("name"),
            address=client.host if client else "",
        )
    return page(visit, "forgotten.html", is_asked=True)
