"""What is asked of a player? The fields of that form, and what they offer."""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.app.tasks.student_tasks import AddStudent, asked_for
from halfstep.app.web.line_form import Choices, instrument_choices, level_choices
from halfstep.app.web.visit import Visit
from halfstep.level import Level
from halfstep.school.students import Student

PLAYER_FIELDS = {
    "name": "Nickname",
    "instrument": "Instrument",
    "level": "Level",
    "known_notes": "Known notes",
    "keys": "Keys",
    "print_setting": "Print",
    "players": "The list",
}


@dataclass(frozen=True, slots=True)
class PlayerForm:
    """The form as it is shown.

    Attributes
    ----------
    typed : AddStudent
        What stands in its fields.
    """

    typed: AddStudent

    @property
    def instruments(self) -> Choices:
        """What can be played, and how it is shown."""
        return instrument_choices()

    @property
    def levels(self) -> Choices:
        """How far somebody can have come, and how it is shown."""
        return level_choices()


EMPTY = PlayerForm(AddStudent("", "alto-sax"))


def typed_player(visit: Visit) -> AddStudent:
    """What was typed into the form."""
    return AddStudent(
        visit.text("name"),
        visit.text("instrument"),
        visit.text("level", str(Level.BEGINNER)),
        visit.text("known_notes"),
        visit.text("keys"),
        visit.text("print_setting"),
    )


def form_of(student: Student) -> PlayerForm:
    """The form with what is kept of a student."""
    return PlayerForm(asked_for(student))
