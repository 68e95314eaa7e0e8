"""What did the program itself put there to be looked at? It goes at one word of the teacher.

A thing that the teacher has removed or made the own is no longer a demo's.
"""

from __future__ import annotations

from sqlalchemy import Connection, delete, insert, select

from halfstep.school.tables import demo_things

OFFERED = ("offered", 0)
"""Stands from the first start on, so that a demo comes once."""


def was_offered(connection: Connection) -> bool:
    """True when there is a demo, or was one."""
    query = select(demo_things.c.kind).where(demo_things.c.kind == OFFERED[0])
    return connection.scalar(query) is not None


def mark_offered(connection: Connection) -> None:
    """Have no other demo made."""
    mark_demo(connection, *OFFERED)


def mark_demo(connection: Connection, kind: str, number: int) -> None:
    """Say that a thing is the demo's."""
    connection.execute(insert(demo_things), {"kind": kind, "number": number})


def demo_numbers(connection: Connection, kind: str) -> tuple[int, ...]:
    """The numbers of the demo's things of a kind."""
    query = select(demo_things.c.number).where(demo_things.c.kind == kind)
    return tuple(connection.scalars(query.order_by(demo_things.c.number)))


def own_now(connection: Connection, kind: str, number: int) -> None:
    """Take a thing for the demo's no longer: it is gone, and its number may come again."""
    same = (demo_things.c.kind == kind, demo_things.c.number == number)
    connection.execute(delete(demo_things).where(*same))
