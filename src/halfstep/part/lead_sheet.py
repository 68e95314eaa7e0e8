"""A lead sheet in another key and for another player, or for all who read alike."""

from __future__ import annotations

from dataclasses import replace

from halfstep.errors import BriefError
from halfstep.instruments import INSTRUMENTS, Instrument, find_instrument
from halfstep.part.transposition import interval_for
from halfstep.part.written_music import home_key_of, written
from halfstep.pitch import Interval
from halfstep.progression.sheet import LeadSheet

READERS = {
    key: INSTRUMENTS[kind]._replace(key=key, label=label)
    for key, kind, label in (
        ("bb", "trumpet", "B♭ instruments"),
        ("eb", "alto-sax", "E♭ instruments"),
        ("bass-clef", "trombone", "Bass clef"),
    )
}
"""All who read a sheet in one pitch and clef, by the word a user types."""


def find_reader(key: str) -> Instrument:
    """An instrument, or all who read alike as one.

    Raises
    ------
    BriefError
        When there is none of that name.
    """
    word = key.strip().lower().replace("♭", "b")
    if word in READERS:
        return READERS[word]
    try:
        return find_instrument(key)
    except BriefError as error:
        raise BriefError(f"{error}; or {', '.join(READERS)} for all of a kind") from None


def sheet_for(sheet: LeadSheet, instrument: Instrument) -> tuple[LeadSheet, Interval]:
    """The sheet in a player's written pitch, and the interval it was moved by."""
    home = home_key_of(sheet)
    interval = interval_for(home, instrument)
    return replace(written(sheet, interval, home), key=home + interval), interval
