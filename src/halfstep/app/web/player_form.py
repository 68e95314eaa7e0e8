"""What is asked of a player? The fields of that form, and what they offer."""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.app.tasks.student_tasks import AddStudent, asked_for
from halfstep.app.web.visit import Visit
from halfstep.instruments import INSTRUMENTS
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
INSTRUMENT_CHOICES = tuple((key, player.label) for key, player in INSTRUMENTS.items())
LEVEL_CHOICES = tuple((str(level), str(level)) for level in Level)


@dataclass(frozen=True, slots=True)
class PlayerForm:
    """The form as it is shown.

    Attributes
    ----------
    typed : AddStudent
        What stands in its fields.
    instruments, levels : tuple of pairs
    """

    typed: AddStudent
    instruments: tuple[tuple[str, str], ...] = INSTRUMENT_CHOICES
    levels: tuple[tuple[str, str], ...] = LEVEL_CHOICES


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
