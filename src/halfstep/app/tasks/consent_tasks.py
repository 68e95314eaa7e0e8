"""Something is allowed, or taken back: by whom it may be said, and what follows at once."""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.errors import BriefError, NotAllowed
from halfstep.school.accounts import has_guardian
from halfstep.school.audit import Audited, write_down
from halfstep.school.consents import (
    ConsentState,
    Giver,
    Purpose,
    consent_state,
    is_under_age,
    keep_consent,
    mark_under_age,
    said_now,
)
from halfstep.school.database import School, SchoolConnection
from halfstep.school.early_folders import early_folder, remove_early
from halfstep.school.room_recordings import forget_recordings, recordings_of
from halfstep.school.shared_takes import end_all_sharing
from halfstep.school.students import student_of_number

HEARD_BY_OTHERS = frozenset({Purpose.HEARING, Purpose.SHARING})
"""What a class may hear, a teacher may hear as well."""


@dataclass(frozen=True, slots=True)
class SayConsent:
    """A request to allow something for a player, or to take that back.

    Attributes
    ----------
    student : int
        The player's number.
    purpose : str
    is_given : bool
    giver : Giver
        As whom it is said.
    account : int or None
        The number of who says it, where somebody has signed in.
    """

    student: int
    purpose: str
    is_given: bool
    giver: Giver
    account: int | None = None


def givers(state: ConsentState, *, has_guardian_here: bool) -> frozenset[Giver]:
    """Whose yes is taken; a no is taken from anybody who may see the player's work.

    What a guardian has on paper is written down by the teacher only while no guardian signs in who
    could say it.
    """
    if not state.is_under_age:
        return frozenset({Giver.PLAYER})
    return frozenset({Giver.GUARDIAN} if has_guardian_here else {Giver.GUARDIAN, Giver.PAPER})


def say_consent(school: School, asked: SayConsent) -> ConsentState:
    """Keep what was said; it holds from the next request on.

    Where recording is taken back, what was recorded and not sent goes from this machine; where
    hearing or sharing is, no class hears the player's takes, nor does it when that is allowed anew.

    Raises
    ------
    BriefError
        When there is no such purpose.
    NotAllowed
        When it is not for who says it to allow.
    NoSuchThing, StoreError
    """
    purpose = _purpose(asked.purpose)
    with school.writing() as connection:
        student_of_number(connection, asked.student)
        if asked.is_given:
            _demand_giver(connection, asked)
        said = said_now(purpose, asked.giver, is_given=asked.is_given, account=asked.account)
        keep_consent(connection, asked.student, said)
        if purpose is Purpose.RECORDING and not asked.is_given:
            unsent = [one for one in recordings_of(connection, asked.student) if one.take is None]
            forget_recordings(school, connection, unsent)
            for recording in unsent:
                remove_early(early_folder(school, recording.student, recording.key))
        if purpose in HEARD_BY_OTHERS and not asked.is_given:
            end_all_sharing(connection, asked.student)
        write_down(
            connection,
            Audited.ALLOWED if asked.is_given else Audited.TOOK_BACK,
            by=asked.account,
            student=asked.student,
            detail=f"{purpose}, as {asked.giver}",
        )
        return consent_state(connection, asked.student)


def _purpose(text: str) -> Purpose:
    try:
        return Purpose(text)
    except ValueError:
        raise BriefError(f"`purpose` {text!r}: give one of {', '.join(Purpose)}") from None


def _demand_giver(connection: SchoolConnection, asked: SayConsent) -> None:
    state = consent_state(connection, asked.student)
    known = has_guardian(connection, asked.student)
    if asked.giver in givers(state, has_guardian_here=known):
        return
    if not state.is_under_age:
        raise NotAllowed("this player decides alone: it is for the player to allow")
    raise NotAllowed("this player is under age: it is for a guardian to allow")


def say_age(school: School, student: int, *, is_under: bool, by: int | None = None) -> None:
    """Keep whether a guardian decides for a player; no date of birth is asked for.

    Raises
    ------
    NoSuchThing, StoreError
    """
    with school.writing() as connection:
        student_of_number(connection, student)
        note_age(connection, student, is_under=is_under, by=by)


def note_age(connection: SchoolConnection, student: int, *, is_under: bool, by: int | None) -> None:
    """Keep it, and write it down where it is new."""
    if is_under_age(connection, student) == is_under:
        return
    mark_under_age(connection, student, is_so=is_under)
    deed = Audited.MARKED if is_under else Audited.UNMARKED
    write_down(connection, deed, by=by, student=student)
