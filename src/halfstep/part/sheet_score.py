"""How does a lead sheet stand on a staff? Its melody, or rests, under the chord symbols."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from halfstep.instruments import Instrument
from halfstep.meter import Feel
from halfstep.notation import notated_lengths
from halfstep.part.chord_text import chord_text
from halfstep.part.written_music import home_key_of
from halfstep.pitch import Interval
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


def score_of_sheet(sheet: LeadSheet, instrument: Instrument, *, interval: Interval) -> Score:
    """A written sheet as a score: its melody, or rests, under the chord symbols.

    Parameters
    ----------
    sheet : LeadSheet
        In written pitch, as `lead_sheet.sheet_for` returns it.
    instrument : Instrument
    interval : Interval
        From concert up to written.
    """
    key = home_key_of(sheet)
    roads = list(_roads(sheet.bars))
    bars = [
        ScoreBar(
            _number(bar, place),
            bar.meter,
            tuple(_score_notes(bar)),
            chords=tuple(chord_text(c.symbol, c.at) for c in bar.chords),
            barline=Barline.FINAL if place == len(sheet.bars) - 1 else Barline.SINGLE,
            road=roads[place],
            irregular=bar.irregular,
            key=(bar.key.fifths, bar.key.mode) if bar.key else None,
            label="" if bar.number.isdecimal() else bar.number,
        )
        for place, bar in enumerate(sheet.bars)
    ]
    return Score(
        title=sheet.title,
        label=instrument.label,
        key_fifths=key.fifths,
        mode=key.mode,
        clef=instrument.clef,
        rise=interval,
        program=instrument.program,
        tempo_bpm=sheet.tempo_bpm,
        swing=sheet.feel is Feel.SWING if sheet.feel else None,
        bars=tuple(bars),
    )


def musicxml_losses(sheet: LeadSheet) -> tuple[str, ...]:
    """What our MusicXML cannot hold of a sheet, in words; empty when nothing."""
    losses = [] if sheet.key else [f"a sheet without a key; {home_key_of(sheet)} is written"]
    for bar in sheet.bars:
        length = bar.beats or bar.meter.bar_beats
        if any(chord.at >= length for chord in bar.chords):
            losses.append(f"bar {bar.number}: a chord after the bar's end")
        if any(chord.scale for chord in bar.chords):
            losses.append(f"bar {bar.number}: a scale that is set")
        if any(note.at + note.beats > length for note in bar.notes):
            losses.append(f"bar {bar.number}: a note that lasts beyond the bar's end")
    return tuple(losses)


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
            forward=marks.forward,
            backward=marks.backward,
            ending=marks.ending,
            ending_stops=ending if stops else (),
            section=bar.section,
            signs=tuple(_signs(marks)),
        )
        if stops:
            ending = ()


def _signs(marks: Marks) -> Iterator[str]:
    return (sign for field, sign in _SIGNS.items() if getattr(marks, field))


def _score_notes(bar: WrittenBar) -> Iterator[ScoreNote]:
    """The melody with rests between; a bar without one is a whole rest."""
    length = bar.beats or bar.meter.bar_beats
    if not bar.notes:
        whole = length == bar.meter.bar_beats and bar.number != "0"
        lengths = [length] if whole else notated_lengths(length)
        yield from (ScoreNote(None, beats) for beats in lengths)
        return
    at = Fraction(0)
    for note in bar.notes:
        yield from (ScoreNote(None, beats) for beats in notated_lengths(note.at - at))
        yield from _tied(note)
        at = note.at + note.beats
    yield from (ScoreNote(None, beats) for beats in notated_lengths(length - at))


def _tied(note: SheetNote) -> Iterator[ScoreNote]:
    lengths = notated_lengths(note.beats)
    for place, beats in enumerate(lengths):
        goes_on = place < len(lengths) - 1 or note.tied
        yield ScoreNote(note.pitch, beats, Mark.TIE if goes_on else Mark.NONE)
