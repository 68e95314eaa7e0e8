"""Links that let people in: as squares for a phone's camera, and withdrawn."""

from __future__ import annotations

import base64
import io

from starlette.responses import Response

from halfstep.app.web.class_routes import shown_link
from halfstep.app.web.page import leads_to
from halfstep.app.web.visit import Visit
from halfstep.school.invitations import standing_invitation, withdraw


def draw_link(visit: Visit) -> Response:
    """The link of an invitation that stands, as squares (ISO/IEC 18004)."""
    number = visit.number("number")
    with visit.school.reading() as connection:
        standing_invitation(connection, visit.site.secret, number)
    return Response(squares(shown_link(visit, number).address), media_type="image/svg+xml")


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


def withdraw_link(visit: Visit) -> Response:
    """Let nobody in by a link any more."""
    number = visit.number("number")
    with visit.school.writing() as connection:
        invitation = standing_invitation(connection, visit.site.secret, number)
        withdraw(connection, number)
    if invitation.student:
        return leads_to(f"/students/{invitation.student.number}")
    return leads_to(f"/classes/{invitation.class_number}")
