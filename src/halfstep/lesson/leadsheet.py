"""A lead sheet in another key, for another player, and as a score."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from halfstep.harmony.locality import home_key
from halfstep.instruments import Instrument
from halfstep.lesson.brief import interval_of_fifths
from halfstep.lesson.part import chord_text, interval_for, notated_lengths, turn_for
from halfstep.pitch import Interval, practical_pitch
from halfstep.progression.chart import ChordAt, Feel, spans
from halfstep.progression.form import played
from halfstep.progression.key import Key, key_of
from halfstep.progression.sheet import LeadSheet, Marks, SheetNote, WrittenBar
from halfstep.score import Barline, Mark, Road, Score, ScoreBar, ScoreNote

_SIGNS = {
    "segno": "segno",
    "coda": "coda",
    "to_coda": "to coda",
    "fine": "fine",
    "da_capo": "D.C.",
    "dal_segno": "D.S.",
}


def sheet_key(sheet: LeadSheet) -> Key:
    """The stated key, or the one that explains the chords best."""
    return sheet.key or home_key(spans(played(sheet)))


def sheet_in_key(sheet: LeadSheet, key: Key) -> LeadSheet:
    """The sheet moved by the smallest interval; the other mode means the relative key.

    Every spelling moves with it, so that there and back again is the same sheet.
    """
    own = sheet_key(sheet)
    interval = interval_of_fifths(key.fifths - own.fifths)
    return replace(sheet.moved(interval), key=own.moved(interval))


def sheet_for(sheet: LeadSheet, instrument: Instrument) -> tuple[LeadSheet, Interval]:
    """The sheet in a player's written pitch, and the interval it was moved by."""
    own = sheet_key(sheet)
    interval = interval_for(own, instrument)
    key = key_of(own.fifths + interval.fifths, minor=own.minor)
    return replace(_moved(sheet, interval), key=key), interval


def _moved(sheet: LeadSheet, interval: Interval) -> LeadSheet:
    """Moved as a whole; a chord whose root would need a double sign turns by itself."""
    moved = sheet.moved(interval)
    bars = tuple(
        replace(
            bar,
            chords=tuple(map(_turned, bar.chords)),
            notes=tuple(replace(n, pitch=practical_pitch(n.pitch)) for n in bar.notes),
        )
        for bar in moved.bars
    )
    return replace(moved, bars=bars)


def _turned(chord: ChordAt) -> ChordAt:
    if chord.symbol.silent or abs(chord.symbol.root.alteration) < 2:
        return chord
    return replace(chord, symbol=chord.symbol.moved(turn_for(chord.symbol.root)))


def score_of_sheet(
    sheet: LeadSheet, instrument: Instrument, *, interval: Interval, tempo_bpm: float
) -> Score:
    """A written sheet as a score: its melody, or rests, under the chord symbols.

    Parameters
    ----------
    sheet : LeadSheet
        In written pitch, as `sheet_for` returns it.
    instrument : Instrument
    interval : Interval
        From concert up to written.
    tempo_bpm : float
    """
    key = sheet_key(sheet)
    roads = list(_roads(sheet.bars))
    bars = [
        ScoreBar(
            _number(bar, place),
            bar.meter,
            tuple(_score_notes(bar)),
            tuple(chord_text(c.symbol, c.at) for c in bar.chords),
            Barline.FINAL if place == len(sheet.bars) - 1 else Barline.SINGLE,
            roads[place],
        )
        for place, bar in enumerate(sheet.bars)
    ]
    return Score(
        sheet.title,
        instrument.label,
        key.fifths,
        key.minor,
        instrument.clef,
        interval,
        instrument.program,
        tempo_bpm,
        sheet.feel is Feel.SWING,
        tuple(bars),
    )


def _number(bar: WrittenBar, place: int) -> int:
    return int(bar.number) if bar.number.isdecimal() else place + 1


def _roads(bars: tuple[WrittenBar, ...]) -> Iterator[Road]:
    ending: tuple[int, ...] = ()
    for place, bar in enumerate(bars):
        marks = bar.marks
        ending = marks.ending or ending
        following = bars[place + 1].marks.ending if place + 1 < len(bars) else ()
        stops = bool(ending) and (marks.ending_stops or bool(marks.backward) or bool(following))
        yield Road(
            marks.forward,
            marks.backward,
            marks.ending,
            ending if stops else (),
            bar.section,
            tuple(_signs(marks)),
        )
        if stops:
            ending = ()


def _signs(marks: Marks) -> Iterator[str]:
    return (sign for field, sign in _SIGNS.items() if getattr(marks, field))


def _score_notes(bar: WrittenBar) -> Iterator[ScoreNote]:
    """The melody with rests between; a bar without one is a whole rest."""
    length = bar.beats or bar.meter.bar_beats
    if not bar.notes:
        lengths = [length] if length == bar.meter.bar_beats else notated_lengths(length)
        yield from (ScoreNote(None, each) for each in lengths)
        return
    at = Fraction(0)
    for note in bar.notes:
        yield from (ScoreNote(None, each) for each in notated_lengths(note.at - at))
        yield from _tied(note)
        at = note.at + note.beats
    yield from (ScoreNote(None, each) for each in notated_lengths(length - at))


def _tied(note: SheetNote) -> Iterator[ScoreNote]:
    lengths = notated_lengths(note.beats)
    for place, each in enumerate(lengths):
        goes_on = place < len(lengths) - 1 or note.tied
        yield ScoreNote(note.pitch, each, Mark.TIE if goes_on else Mark.NONE)
