"""The keys that a student knows, as they are typed: what others there are is not asked for."""

from __future__ import annotations

from halfstep.course.course_skills import CoursePlayer
from halfstep.course.written_keys import signature_place
from halfstep.errors import BriefError, ReadError
from halfstep.instruments import Instrument
from halfstep.level import Level
from halfstep.progression.key import Key, parse_key


def player_in_keys(instrument: Instrument, level: Level | None, keys: str) -> CoursePlayer:
    """Who meets a course, and knows some written keys; all where none are named.

    Raises
    ------
    BriefError
        When a key is none.
    """
    return CoursePlayer(instrument, level, frozenset(map(signature_place, keys_named(keys))))


def keys_named(text: str) -> tuple[Key, ...]:
    """The keys that a text names: ``C G F``.

    Raises
    ------
    BriefError
    """
    try:
        return tuple(parse_key(word) for word in text.replace(",", " ").split())
    except ReadError as error:
        raise BriefError(f"`keys`: {error.message}") from None
