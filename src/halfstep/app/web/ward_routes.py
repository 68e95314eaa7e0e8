"""A guardian's page: whose guardian it is, and what each player was given and sent."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import Response

from halfstep.app.web.consent_view import ConsentView, consent_view
from halfstep.app.web.page import page
from halfstep.app.web.visit import Visit
from halfstep.school.hand_outs import HandOut, hand_outs_of_student
from halfstep.school.sent_takes import SentTake, sent_takes_of
from halfstep.school.students import Student, student_of_number


@dataclass(frozen=True, slots=True)
class Ward:
    """A player as the guardian sees it."""

    student: Student
    given: tuple[HandOut, ...]
    sent: tuple[SentTake, ...]
    consents: ConsentView


def show_wards(visit: Visit) -> Response:
    """Whose guardian one is."""
    with visit.school.reading() as connection:
        wards = [
            Ward(
                student_of_number(connection, number),
                tuple(hand_outs_of_student(connection, number)),
                tuple(sent_takes_of(connection, number)),
                consent_view(connection, number, visit.visitor),
            )
            for number in sorted(visit.visitor.wards)
        ]
    return page(visit, "wards.html", wards=wards)
