"""What is known of a student's playing, as it is kept: nothing is counted twice."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Connection, Delete, delete, insert, select

from halfstep.practice.evidence import Evidence, Skill, Verdict
from halfstep.school.students import Student, at_hand, find_student, played_on, student_id
from halfstep.school.tables import evidence


def keep_evidence(connection: Connection, name: str, pieces: Iterable[Evidence]) -> None:
    """Keep evidence of a student; what has the source and skill of a kept piece replaces it.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    student = find_student(connection, name)
    number = student.number or 0
    latest = {(piece.source, piece.skill): piece for piece in pieces}
    for piece in latest.values():
        connection.execute(_of_same_skill(number, piece.source, piece.skill))
    if latest:
        connection.execute(insert(evidence), [_values(student, p) for p in latest.values()])


def remove_evidence(connection: Connection, name: str, source: str, skill: Skill) -> None:
    """Count no more what comes from a source and shows a skill.

    Raises
    ------
    BriefError
        When there is no such student.
    """
    connection.execute(_of_same_skill(student_id(connection, name), source, skill))


def _of_same_skill(number: int, source: str, skill: Skill) -> Delete:
    columns = evidence.c
    return delete(evidence).where(
        columns.student_id == number,
        at_hand(evidence),
        columns.source == source,
        columns.unit == skill.unit,
        columns.step == skill.step,
        columns.key == skill.key,
    )


def evidence_of(
    connection: Connection, name: str, doubling: int | None = None
) -> tuple[Evidence, ...]:
    """All that is kept of a student's playing of one instrument, in order of time.

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
    rows = connection.execute(
        select(*_COLUMNS)
        .where(evidence.c.student_id == number, played_on(evidence, doubling))
        .order_by(evidence.c.at, evidence.c.id)
    )
    # at the player's own day: an evening may be tomorrow elsewhere
    return tuple(
        Evidence(
            source, at.astimezone(), Skill(unit, step, key), tempo_bpm, Verdict(verdict), *rest
        )
        for source, at, unit, step, key, tempo_bpm, verdict, *rest in rows.all()
    )


_COLUMNS = tuple(
    column for column in evidence.c if column.name not in {"id", "student_id", "doubling"}
)
"""In the order of the fields of `Evidence`, its skill's in their place."""


def _values(student: Student, piece: Evidence) -> dict[str, object]:
    return {
        "student_id": student.number,
        "doubling": student.doubling,
        "source": piece.source,
        "at": piece.at,
        **piece.skill._asdict(),
        "tempo_bpm": piece.tempo_bpm,
        "verdict": str(piece.verdict),
        "weight": piece.weight,
        "minutes": piece.minutes,
        "trouble": piece.trouble,
        "trouble_bar": piece.trouble_bar,
        "progression": piece.progression,
        "part": piece.part,
    }
