"""Links that let people in: as squares for a phone's camera, made anew, and withdrawn."""

from __future__ import annotations

import base64
import io

from starlette.responses import Response

from halfstep.app.web.class_routes import shown_link
from halfstep.app.web.page import leads_to
from halfstep.app.web.visit import Visit
from halfstep.school.invitations import (
    Invitation,
    make_anew,
    standing_invitation,
    withdraw,
)


def draw_link(visit: Visit) -> Response:
    """The link of an invitation that stands, as squares (ISO/IEC 18004)."""
    number = visit.number("number")
    with visit.school.reading() as connection:
        invitation = standing_invitation(connection, number)
    return Response(squares(shown_link(visit, invitation).address), media_type="image/svg+xml")


def squares(text: str) -> bytes:
    """A text as squares that a phone's camera reads: a picture without a size of its own."""
    import segno

    picture = io.BytesIO()
    code = segno.make(text, error="m", micro=False)
    code.save(picture, kind="svg", xmldecl=False, omitsize=True, light="#fff", border=4)
    return picture.getvalue()


def picture_address(svg: bytes) -> str:
    """A picture as an address that holds it."""
    return f"data:image/svg+xml;base64,{base64.b64encode(svg).decode()}"


def make_link_anew(visit: Visit) -> Response:
    """Make another link in the place of one, which opens nothing more; who came in stays in."""
    number = visit.number("number")
    with visit.school.writing() as connection:
        invitation = standing_invitation(connection, number)
        make_anew(connection, number)
    return _back(invitation)


def withdraw_link(visit: Visit) -> Response:
    """Let nobody in by a link any more."""
    number = visit.number("number")
    with visit.school.writing() as connection:
        invitation = standing_invitation(connection, number)
        withdraw(connection, number)
    return _back(invitation)


def _back(invitation: Invitation) -> Response:
    """To where the link stood."""
    if invitation.student:
        return leads_to(f"/students/{invitation.student.number}")
    return leads_to(f"/classes/{invitation.class_number}")
