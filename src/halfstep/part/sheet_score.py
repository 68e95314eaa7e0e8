"""How does a lead sheet stand on a staff? Its melody, or rests, under the chord symbols."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from halfstep.instruments import Instrument
from halfstep.meter import Feel
from halfstep.notation import notated_lengths
from halfstep.part.chord_text import chord_text
from halfstep.part.places import end_of_bar
from halfstep.part.written_music import home_key_of
from halfstep.pitch import Interval
from halfstep.progression.sheet import LeadSheet, Marks, SheetNote, WrittenBar
from halfstep.score import Mark, Road, Score, ScoreBar, ScoreNote

_JUMPS = {"da_capo": "D.C.", "dal_segno": "D.S."}
_SIGNS = {"segno": "segno", "coda": "coda", "to_coda": "to coda", "fine": "fine"}


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
    pickups = sum(_number(bar, place) < 1 for place, bar in enumerate(sheet.bars))
    sections = [bar.section for bar in sheet.bars[pickups:]]
    bars = [
        ScoreBar(
            _number(bar, place),
            bar.meter,
            tuple(_score_notes(bar, melody=sheet.has_melody)),
            chords=tuple(chord_text(c.symbol, c.at) for c in bar.chords),
            barline=end_of_bar(place + 1 - pickups, sections),
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
    stops = _bracket_stops(bars)
    goal = _jump_goal(bars)
    for place, bar in enumerate(bars):
        marks = bar.marks
        yield Road(
            forward=marks.forward,
            backward=marks.backward,
            ending=marks.ending,
            ending_stops=stops.get(place, ()),
            section=bar.section,
            signs=tuple(_signs(marks, goal)),
        )


def _signs(marks: Marks, goal: str) -> Iterator[str]:
    yield from (sign for field, sign in _SIGNS.items() if getattr(marks, field))
    yield from (f"{jump}{goal}" for field, jump in _JUMPS.items() if getattr(marks, field))


def _jump_goal(bars: tuple[WrittenBar, ...]) -> str:
    """How far the music is played after a jump, in the words that are printed."""
    goes_away = any(bar.marks.to_coda for bar in bars)
    if goes_away and any(bar.marks.coda for bar in bars):
        return " al Coda"
    return " al Fine" if any(bar.marks.fine for bar in bars) else ""


def _bracket_stops(bars: tuple[WrittenBar, ...]) -> dict[int, tuple[int, ...]]:
    """The bars where the bracket of an ending stops, and its passes.

    The last of several endings may go on for the rest of the sheet: the music does, but its
    bracket stops before a new section or sign, and at the end of the sheet it is as long as
    the one before.
    """
    stops: dict[int, tuple[int, ...]] = {}
    before = -1
    length = 0
    for start in (place for place, bar in enumerate(bars) if bar.marks.ending):
        end = _ending_end(bars, start)
        goes_on = before + 1 == start and length and bars[before].marks.backward
        if goes_on and not bars[end].marks.backward:
            end = _bracket_end(bars, start, end, length)
        before, length = end, end - start + 1
        stops[end] = bars[start].marks.ending
    return stops


def _ending_end(bars: tuple[WrittenBar, ...], start: int) -> int:
    """The last bar of an ending; one that is never closed is one bar."""
    for place in range(start, len(bars)):
        marks = bars[place].marks
        following = place + 1 < len(bars) and bars[place + 1].marks.ending
        if marks.ending_stops or marks.backward or following:
            return place
    return start


def _bracket_end(bars: tuple[WrittenBar, ...], start: int, end: int, length: int) -> int:
    if end == len(bars) - 1:
        end = min(end, start + length - 1)
    return next((place for place in range(start, end) if _passage_ends(bars, place)), end)


def _passage_ends(bars: tuple[WrittenBar, ...], place: int) -> bool:
    """True where something new begins after a bar."""
    marks, following = bars[place].marks, bars[place + 1]
    begins = following.marks.forward or following.marks.segno or following.marks.coda
    return bool(marks.goes_back or marks.fine or begins or following.section)


def _score_notes(bar: WrittenBar, *, melody: bool) -> Iterator[ScoreNote]:
    """The melody with rests between; a bar without one is a whole rest.

    Where the sheet has no melody at all, the bar is left open: its rests are not printed,
    and one begins with each chord, as some programs read a chord only with a note of its own.
    """
    length = bar.beats or bar.meter.bar_beats
    if not melody:
        yield from _open_bar(bar, length)
        return
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


def _open_bar(bar: WrittenBar, length: Fraction) -> Iterator[ScoreNote]:
    """Rests that are not printed, cut where a chord begins."""
    places = sorted({Fraction(0), length, *(c.at for c in bar.chords if c.at < length)})
    for start, end in pairwise(places):
        for beats in notated_lengths(end - start):
            yield ScoreNote(None, beats, Mark.UNSEEN)


def _tied(note: SheetNote) -> Iterator[ScoreNote]:
    lengths = notated_lengths(note.beats)
    for place, beats in enumerate(lengths):
        goes_on = place < len(lengths) - 1 or note.tied
        yield ScoreNote(note.pitch, beats, Mark.TIE if goes_on else Mark.NONE)
