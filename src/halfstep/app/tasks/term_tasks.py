"""A term ends: its class is put away, and may go on as the class of the next term."""

from __future__ import annotations

from halfstep.errors import BriefError
from halfstep.school.belonging import teach_class, teachers_of
from halfstep.school.classes import (
    SchoolClass,
    add_class,
    find_class,
    join_class,
    put_class_away,
    students_of,
    take_class_out,
)
from halfstep.school.database import School
from halfstep.school.invitations import link_of_class, withdraw


def end_term(school: School, number: int, *, next_name: str = "") -> SchoolClass:
    """Put a class away with what was handed out to it; its link lets nobody in any more.

    Parameters
    ----------
    school : School
    number : int
    next_name : str
        Where one is given, a class of that name has the same players and teachers.

    Returns
    -------
    SchoolClass
        That of the next term, or else the one that was put away.

    Raises
    ------
    BriefError
        When there is a class of that name already, it is no name, or the class was put away.
    NoSuchThing
    """
    with school.writing() as connection:
        if find_class(connection, number).is_archived:
            raise BriefError("this class was put away already; take it out again first")
        following = add_class(connection, next_name) if next_name.strip() else None
        if following:
            for student in students_of(connection, number):
                join_class(connection, following.number, student.name)
            for account in teachers_of(connection, number):
                teach_class(connection, account, following.number)
        if door := link_of_class(connection, number):
            withdraw(connection, door)
        put_class_away(connection, number)
        return following or find_class(connection, number)


def begin_term_again(school: School, number: int) -> None:
    """Take a class out again that was put away.

    Raises
    ------
    NoSuchThing
    """
    with school.writing() as connection:
        take_class_out(connection, number)
