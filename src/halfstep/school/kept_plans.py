"""What was planned for a student's days, as it is kept: one plan a day for each instrument."""

from __future__ import annotations

from datetime import date

from sqlalchemy import Connection, delete, insert, select

from halfstep.data.documents import json_text
from halfstep.data.plan_json import plan_data, read_plan
from halfstep.errors import ReadError, StoreError
from halfstep.practice.practice_plan import PracticePlan
from halfstep.school.students import at_hand, find_student, played_on, student_id
from halfstep.school.tables import plans


def keep_plan(connection: Connection, name: str, plan: PracticePlan) -> None:
    """Keep a plan in the place of any other of that day.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    student = find_student(connection, name)
    same = (plans.c.student_id == student.number, at_hand(plans), plans.c.day == plan.day)
    connection.execute(delete(plans).where(*same))
    row = {
        "student_id": student.number,
        "doubling": student.doubling,
        "day": plan.day,
        "plan": json_text(plan_data(plan)),
    }
    connection.execute(insert(plans), row)


def plan_of(connection: Connection, name: str, day: date) -> PracticePlan | None:
    """What was planned for a day on the instrument at hand; None where nothing was.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    number = student_id(connection, name)
    same = (plans.c.student_id == number, at_hand(plans), plans.c.day == day)
    query = select(plans.c.plan).where(*same)
    text = connection.scalar(query)
    return None if text is None else _read(text, day)


def plans_of(
    connection: Connection, name: str, doubling: int | None = None
) -> tuple[PracticePlan, ...]:
    """All plans of a student for one instrument, by day.

    Parameters
    ----------
    doubling : int, optional
        Which of the own instruments; None for the one at hand.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    number = student_id(connection, name)
    mine = (plans.c.student_id == number, played_on(plans, doubling))
    query = select(plans.c.day, plans.c.plan).where(*mine)
    return tuple(_read(text, day) for day, text in connection.execute(query.order_by(plans.c.day)))


def _read(text: str, day: date) -> PracticePlan:
    """A plan as it was kept.

    Raises
    ------
    StoreError
        When it is damaged.
    """
    try:
        return read_plan(text)
    except ReadError:
        raise StoreError(f"the plan kept for {day} is damaged; plan that day anew") from None
