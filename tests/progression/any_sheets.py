"""Lead sheets of any kind, and what of two of them is not the same.

Marks stand where they fall, sense or not: a file may hold anything.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st

from halfstep.meter import Feel, Meter
from halfstep.pitch import parse_pitch
from halfstep.progression.chart import ChordAt
from halfstep.progression.key import parse_key
from halfstep.progression.sheet import (
    LeadSheet,
    Marks,
    SheetNote,
    WrittenBar,
    keys_where_they_change,
)
from halfstep.progression.symbol import parse_symbol

METERS = (
    *(Meter(*each) for each in ((4, 4), (3, 4), (6, 8), (5, 4), (2, 2))),
    Meter(7, 4, (2, 2, 3)),
)
SYMBOLS = tuple(map(parse_symbol, ("C", "Dm7", "G7b9", "F#m7b5", "Bb/D", "N.C.", "Dbmaj7")))
PITCHES = tuple(map(parse_pitch, ("C4", "Eb4", "F#5", "B3", "Cb5", "F##5", "G2", "A6")))
KEYS = tuple(map(parse_key, ("C", "Bb", "F#m", "Ebm", "D dorian")))
STEPS = (Fraction(1, 2), Fraction(1), Fraction(1, 3), Fraction(3, 2), Fraction(2, 5))


def _marks() -> st.SearchStrategy[Marks]:
    seldom = st.sampled_from([False] * 9 + [True])
    flags = dict.fromkeys(("segno", "coda", "to_coda", "fine", "da_capo", "dal_segno"), seldom)
    return st.builds(
        Marks,
        forward=seldom,
        backward=st.sampled_from([0] * 6 + [2, 3]),
        ending=st.sampled_from([()] * 6 + [(1,), (2,), (1, 2)]),
        ending_stops=seldom,
        **flags,
    )


@st.composite
def _notes(draw: st.DrawFn, beats: Fraction) -> tuple[SheetNote, ...]:
    notes, now = [], Fraction(0)
    while now < beats:
        length = min(draw(st.sampled_from(STEPS)), beats - now)
        if draw(st.booleans()):
            notes.append(SheetNote(now, length, draw(st.sampled_from(PITCHES))))
        now += length
    return tuple(notes)


@st.composite
def any_sheets(draw: st.DrawFn, *, melody: bool = True) -> LeadSheet:
    """Short and empty bars, marks, keys and metres as they come."""
    bars: list[WrittenBar] = []
    meter = draw(st.sampled_from(METERS))
    for number in range(1, draw(st.integers(1, 7)) + 1):
        meter = draw(st.sampled_from([meter] * 6 + list(METERS)))
        beats = draw(
            st.sampled_from([meter.bar_beats] * 6 + [Fraction(0), Fraction(1), Fraction(3, 2)])
        )
        step = draw(st.sampled_from(STEPS))
        last = max(0, int((beats or meter.bar_beats) / step) - 1)
        places = draw(st.sets(st.integers(0, last), max_size=3)) | ({0} if number == 1 else set())
        chords = tuple(ChordAt(draw(st.sampled_from(SYMBOLS)), n * step) for n in sorted(places))
        bars.append(
            WrittenBar(
                str(number),
                meter,
                beats,
                chords,
                draw(_marks()),
                section=draw(st.sampled_from(["", "", "A", "Bridge 2"])),
                notes=draw(_notes(beats)) if melody else (),
                key=draw(st.sampled_from([None] * 6 + list(KEYS))) if number > 1 else None,
            )
        )
    key = draw(st.sampled_from(KEYS))
    return LeadSheet(
        "Room 2 50%",
        tuple(keys_where_they_change(bars, key)),
        key,
        draw(st.sampled_from([None, 96.0])),
        draw(st.sampled_from([None, *Feel])),
    )


def _heard(notes: tuple[SheetNote, ...]) -> list[tuple[Fraction, str]]:
    """Where a note begins that is not tied to the one before."""
    found, held = [], False
    for note in notes:
        if not held:
            found.append((note.at, note.pitch.ascii))
        held = note.tied
    return found


def _jumps(bar: WrittenBar) -> list[str]:
    flags = Marks._fields[4:]
    return [name for name in flags if getattr(bar.marks, name)]


OF_BAR: dict[str, Callable[[WrittenBar], object]] = {
    "metre": lambda bar: str(bar.meter),
    "grouped": lambda bar: bar.meter.grouping,
    "length": lambda bar: bar.beats or bar.meter.bar_beats,
    "number": lambda bar: bar.number,
    "section": lambda bar: bar.section,
    "key": lambda bar: bar.key,
    "chords": lambda bar: [(chord.symbol.ascii, chord.at) for chord in bar.chords],
    "repeats": lambda bar: (bar.marks.forward, bar.marks.backward),
    "endings": lambda bar: bar.marks.ending,
    "jumps": _jumps,
    "melody": lambda bar: _heard(bar.notes),
}


def unlike(sheet: LeadSheet, back: LeadSheet) -> set[str]:
    """Words for what is not the same; the notices are not compared."""
    facts = {"title": "title", "the key": "key", "tempo": "tempo_bpm", "feel": "feel"}
    found = {word for word, name in facts.items() if getattr(sheet, name) != getattr(back, name)}
    if len(sheet.bars) != len(back.bars):
        return found | {"pickup"}
    pairs = list(zip(sheet.bars, back.bars, strict=True))
    return found | {word for word, of in OF_BAR.items() if any(of(a) != of(b) for a, b in pairs)}


def without_marks(sheet: LeadSheet) -> LeadSheet:
    """The sheet in whole bars played straight on."""
    bars = (bar._replace(marks=Marks(), beats=bar.meter.bar_beats, notes=()) for bar in sheet.bars)
    return replace(sheet, bars=tuple(bars))
