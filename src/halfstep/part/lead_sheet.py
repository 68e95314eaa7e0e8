"""A lead sheet in another key and for another player, or for all who read alike."""

from __future__ import annotations

from dataclasses import replace

from halfstep.instruments import INSTRUMENTS, Instrument, find_instrument
from halfstep.part.transposition import home_key_of, interval_for, turn_for
from halfstep.pitch import UNISON, Interval, practical_pitch
from halfstep.progression.chart import ChordAt
from halfstep.progression.sheet import LeadSheet

READERS = {
    key: replace(INSTRUMENTS[kind], key=key, label=label)
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
    return READERS.get(word) or find_instrument(key)


def sheet_for(sheet: LeadSheet, instrument: Instrument) -> tuple[LeadSheet, Interval]:
    """The sheet in a player's written pitch, and the interval it was moved by."""
    home = home_key_of(sheet)
    interval = interval_for(home, instrument)
    return replace(practical(sheet.moved(interval)), key=home + interval), interval


def practical(sheet: LeadSheet) -> LeadSheet:
    """The sheet with what would need too many signs in its other spelling, each by itself."""
    bars = tuple(
        replace(
            bar,
            chords=tuple(map(_turned, bar.chords)),
            notes=tuple(replace(n, pitch=practical_pitch(n.pitch)) for n in bar.notes),
            key=bar.key.moved(UNISON) if bar.key else None,
        )
        for bar in sheet.bars
    )
    return replace(sheet, bars=bars)


def _turned(chord: ChordAt) -> ChordAt:
    if chord.symbol.silent or abs(chord.symbol.root.alteration) < 2:
        return chord
    return replace(chord, symbol=chord.symbol.moved(turn_for(chord.symbol.root)))
