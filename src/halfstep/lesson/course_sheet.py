"""A progression of a course in the key that a player reads."""

from __future__ import annotations

from halfstep.course.unit import CourseUnit, Progression
from halfstep.course.written_keys import concert_key
from halfstep.instruments import Instrument
from halfstep.part.transposition import moved_to
from halfstep.progression.key import Key
from halfstep.progression.load import typed_sheet
from halfstep.progression.sheet import LeadSheet


def keyed_sheet(
    unit: CourseUnit, progression: Progression, key: int, player: Instrument
) -> LeadSheet:
    """The chords, in concert pitch, of a progression in a key that the player reads.

    Parameters
    ----------
    unit : CourseUnit
        That the progression belongs to.
    progression : Progression
    key : int
        On the cycle of fifths, as in `halfstep.course.written_keys`; the progression keeps its
        mode, so that one in C dorian goes to D dorian where D minor is read.
    player : Instrument
    """
    sheet = typed_sheet(progression.chart)
    assert sheet.key  # stated by every chart of a unit
    tonic = concert_key(key, player, is_minor=unit.is_minor).tonic
    return moved_to(sheet, Key(tonic, mode=sheet.key.mode))
