"""Which notes does a lead sheet have, in the order they are played?

Places are quarter-note beats from the start of bar 1, so that a pickup lies before 0; a
note that is tied to the next is one with it.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import cast

from halfstep.played import PlayedNote
from halfstep.progression.chart import ChordAt
from halfstep.progression.form import played_bars
from halfstep.progression.sheet import LeadSheet, SheetNote, WrittenBar
from halfstep.progression.symbol import ChordSymbol

_VELOCITY = 80  # a sheet does not say how loud


def played_melody(sheet: LeadSheet) -> tuple[PlayedNote, ...]:
    """The melody as played: repeats, endings and jumps taken.

    Raises
    ------
    ReadError
        When the order would need too many bars.
    """
    bars, _ = played_bars([_carrying(bar) for bar in sheet.bars])
    start = -sum((bar.beats for bar in bars if bar.number < 1), Fraction(0))
    notes: list[PlayedNote] = []
    tied = False
    for bar in bars:
        for carried in bar.chords:
            note = cast(SheetNote, carried.symbol)
            new = PlayedNote(start + carried.at, note.beats, note.pitch.midi, _VELOCITY)
            last = notes[-1] if notes else None
            if tied and last and (last.onset + last.beats, last.midi) == (new.onset, new.midi):
                notes[-1] = replace(last, beats=last.beats + new.beats)
            else:
                notes.append(new)
            tied = note.tied
        start += bar.beats
    return tuple(notes)


def _carrying(bar: WrittenBar) -> WrittenBar:
    """The bar with its notes in the place of its chords, which the layout carries along."""
    notes = (ChordAt(cast(ChordSymbol, note), note.at) for note in bar.notes)
    return bar._replace(chords=tuple(notes))
