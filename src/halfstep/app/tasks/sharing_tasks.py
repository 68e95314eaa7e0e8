"""A teacher has a class hear a take of one of its players, or hear it no more."""

from __future__ import annotations

from halfstep.school.audit import Audited, write_down
from halfstep.school.database import School
from halfstep.school.sent_takes import find_sent_take
from halfstep.school.shared_takes import end_sharing, share_take


def say_shared(
    school: School, number: int, class_number: int, *, is_shared: bool, by: int | None = None
) -> None:
    """Have a class hear a take, or hear it no more; it is written down.

    Raises
    ------
    NotAllowed
        When that is not allowed for the player.
    NoSuchThing, StoreError
    """
    with school.writing() as connection:
        take = find_sent_take(connection, number)
        if is_shared:
            share_take(connection, take, class_number)
        else:
            end_sharing(connection, number, class_number)
        deed = Audited.SHARED if is_shared else Audited.ENDED_SHARING
        write_down(connection, deed, by=by, student=take.student)
