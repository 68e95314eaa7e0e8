"""What is allowed for a player: said by a guardian, by the player, or written down by a teacher."""

from __future__ import annotations

from starlette.responses import Response

from halfstep.app.tasks.consent_tasks import SayConsent, say_age, say_consent
from halfstep.app.web.consent_view import consent_view, giver_of
from halfstep.app.web.page import leads_to, page
from halfstep.app.web.page_words import gettext
from halfstep.app.web.visit import Visit
from halfstep.errors import BriefError
from halfstep.school.doublings import instruments_of
from halfstep.school.sent_takes import sent_takes_of


def show_kept(visit: Visit) -> Response:
    """What is kept of a player, how long, and what the player allows."""
    student = visit.player()
    number = student.number or 0
    with visit.school.reading() as connection:
        consents = consent_view(connection, number, visit.visitor)
        sent = sent_takes_of(connection, number)
        played = instruments_of(connection, student)
    instruments = ", ".join(gettext(one.instrument.label).lower() for one in played)
    return page(
        visit,
        "kept.html",
        student=student,
        instruments=instruments,
        consents=consents,
        sent=sent,
    )


def say_one_consent(visit: Visit) -> Response:
    """Allow something for a player, or take it back."""
    number, word = visit.number("number"), visit.text("word")
    if word not in {"allow", "take-back"}:
        raise BriefError("`word`: send `allow` or `take-back`")
    asked = SayConsent(
        number,
        visit.text("purpose"),
        word == "allow",
        giver_of(visit.visitor, is_given=word == "allow"),
        visit.visitor.account_number,
    )
    say_consent(visit.school, asked)
    return leads_to(_back(visit, number))


def _back(visit: Visit, number: int) -> str:
    """Where who spoke sees how it stands now."""
    if visit.visitor.is_teacher:
        return f"/students/{number}#allowed"
    return "/kept#allowed" if visit.visitor.student else f"/wards#allowed-{number}"


def say_players_age(visit: Visit) -> Response:
    """Keep whether a guardian decides for a player."""
    number, by = visit.number("number"), visit.visitor.account_number
    is_under = bool(visit.text("under_age"))
    say_age(visit.school, number, is_under=is_under, by=by)
    return leads_to(_back(visit, number))
