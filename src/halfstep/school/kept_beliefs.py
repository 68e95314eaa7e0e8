"""What is believed of a student, as it is kept: milestones, each a copy to save time.

All of it follows from the evidence that is kept. What does not, by its digest, is passed over when
it is read, and removed when milestones are kept again.
"""

from __future__ import annotations

from dataclasses import asdict

from sqlalchemy import Connection, delete, insert, select

from halfstep.practice.belief_milestones import KeptMilestone, digested, kept_milestone
from halfstep.practice.beliefs import Beliefs
from halfstep.school.students import student_id
from halfstep.school.tables import milestones


def milestones_of(connection: Connection, name: str) -> tuple[KeptMilestone, ...]:
    """All milestones that are kept of a student.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    query = select(milestones.c.count, milestones.c.digest, milestones.c.state)
    rows = connection.execute(query.where(milestones.c.student_id == student_id(connection, name)))
    return tuple(KeptMilestone(*row) for row in rows)


def keep_milestones(connection: Connection, name: str, beliefs: Beliefs) -> None:
    """Keep beliefs and the milestones on their way, in the place of all others.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    number = student_id(connection, name)
    by_digest = digested(beliefs)
    sound = {kept.digest for kept in milestones_of(connection, name) if kept.is_whole}
    others = milestones.c.digest.not_in(sound.intersection(by_digest))
    connection.execute(delete(milestones).where(milestones.c.student_id == number, others))
    for digest, milestone in by_digest.items():
        if digest not in sound:
            row = asdict(kept_milestone(digest, milestone))
            connection.execute(insert(milestones), {"student_id": number, **row})
