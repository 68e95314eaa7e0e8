"""Does a player read a lesson in a key that is known? Keys as they are written for the player."""

from __future__ import annotations

from halfstep.course.written_keys import signature_place, written_key
from halfstep.instruments import Instrument
from halfstep.progression.key import Key, parse_key
from halfstep.progression.sheet import LeadSheet
from halfstep.services.band_fields import is_cycle
from halfstep.services.known_keys import keys_named
from halfstep.services.make_lesson import MakeLesson


def unknown_key(lesson: MakeLesson, instrument: Instrument, keys: str) -> str:
    """The key that a player reads a lesson in where it is none of the keys that are known.

    Parameters
    ----------
    lesson : MakeLesson
        Of a sheet that was read.
    instrument : Instrument
    keys : str
        Written keys that are known: ``C G F``; empty for all.

    Returns
    -------
    str
        As in ``A major``; empty where it is known, or the sheet does not say its key.
    """
    key, known = _key_of(lesson), frozenset(map(signature_place, keys_named(keys)))
    if key is None or not known:
        return ""
    place = (key.fifths + instrument.rise.fifths) % 12
    return "" if place in known else str(written_key((place + 5) % 12 - 5, is_minor=key.minor))


def _key_of(lesson: MakeLesson) -> Key | None:
    """The concert key of a lesson."""
    if lesson.key and not is_cycle(lesson.key):
        return parse_key(lesson.key)
    return lesson.chart.key if isinstance(lesson.chart, LeadSheet) else None
