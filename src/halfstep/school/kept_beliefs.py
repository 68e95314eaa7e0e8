"""What is believed of a student, as it is kept: milestones, each a copy to save time.

All of it follows from the evidence that is kept. What does not, by its digest, is passed over when
it is read, and removed when milestones are kept again.
"""

from __future__ import annotations

from dataclasses import asdict

from sqlalchemy import Connection, delete, insert, select

from halfstep.practice.belief_milestones import KeptMilestone, digested, kept_milestone
from halfstep.practice.beliefs import Beliefs
from halfstep.school.students import at_hand, find_student, student_id
from halfstep.school.tables import milestones


def milestones_of(connection: Connection, name: str) -> tuple[KeptMilestone, ...]:
    """All milestones that are kept of a student, for the instrument at hand.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    query = select(milestones.c.count, milestones.c.digest, milestones.c.state)
    mine = (milestones.c.student_id == student_id(connection, name), at_hand(milestones))
    rows = connection.execute(query.where(*mine))
    return tuple(KeptMilestone(*row) for row in rows)


def keep_milestones(connection: Connection, name: str, beliefs: Beliefs) -> None:
    """Keep beliefs and the milestones on their way, in the place of all others.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    student = find_student(connection, name)
    by_digest = digested(beliefs)
    sound = {kept.digest for kept in milestones_of(connection, name) if kept.is_whole}
    others = milestones.c.digest.not_in(sound.intersection(by_digest))
    mine = (milestones.c.student_id == student.number, at_hand(milestones))
    connection.execute(delete(milestones).where(*mine, others))
    owner = {"student_id": student.number, "doubling": student.doubling}
    for digest, milestone in by_digest.items():
        if digest not in sound:
            row = asdict(kept_milestone(digest, milestone))
            connection.execute(insert(milestones), {**owner, **row})
