"""A chart as data: its written bars, its play order, and every symbol with its reading.

Beats are counted from 1 in the pulse of the metre, a dotted quarter in 6/8 and a half
note in 2/2, and lengths are in the same beats. What a sheet is read back from (``length``,
``chords``, ``melody`` of a bar) has places and lengths in quarter notes from the start of
the bar, as exact fractions in text.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from halfstep.data.documents import JsonForm, read_document
from halfstep.errors import ReadError
from halfstep.harmony.tones import chord_tones
from halfstep.meter import Feel, Meter, parse_meter
from halfstep.part.written_music import home_key_of
from halfstep.pitch import parse_pitch
from halfstep.progression.chart import ChordAt
from halfstep.progression.form import MOST_BARS_GIVEN, has_pickup, page_number, played
from halfstep.progression.key import parse_key
from halfstep.progression.sheet import LeadSheet, Marks, SheetNote, WrittenBar
from halfstep.progression.symbol import in_words, parse_symbol

CHART_FORM = JsonForm("halfstep-chart", "a chart")

_SIGNS = ("segno", "coda", "to_coda", "fine", "da_capo", "dal_segno")


def chart_data(sheet: LeadSheet) -> dict[str, Any]:
    """The written bars, the play order and every symbol with its reading."""
    chart = played(sheet, limit=MOST_BARS_GIVEN)
    return {
        **CHART_FORM.head,
        "title": sheet.title,
        "key": home_key_of(sheet).ascii,
        "key_is_stated": sheet.key is not None,
        "meter": str(chart.meter),
        "tempo_bpm": sheet.tempo_bpm,
        "feel": str(sheet.feel) if sheet.feel else None,
        "style": sheet.style or None,
        "bars": [_bar(bar, place) for place, bar in zip(_places(sheet), sheet.bars, strict=True)],
        "play_order": [bar.written for bar in chart.bars],
        "played_as": [bar.label for bar in chart.bars],
        "symbols": list(_symbols(sheet)),
        "notices": list(chart.notices),
    }


def _places(sheet: LeadSheet) -> list[int]:
    """The numbers that the play order counts written bars by; a pickup is 0."""
    first = int(not has_pickup(sheet.bars))
    return [page_number(bar, place) for place, bar in enumerate(sheet.bars, first)]


def _number(beats: Fraction) -> int | float:
    return int(beats) if beats.denominator == 1 else float(beats)


def _bar(bar: WrittenBar, place: int) -> dict[str, Any]:
    marks = bar.marks
    length = bar.beats or bar.meter.bar_beats
    return {
        "bar": place,
        "number": bar.number,
        "section": bar.section or None,
        "key": bar.key.ascii if bar.key else None,
        "meter": str(bar.meter),
        "grouping": list(bar.meter.grouping),
        "beats": _number(length / bar.meter.pulse_beats),
        "repeat_begins": marks.forward,
        "repeat_ends": marks.backward,
        "ending": list(marks.ending),
        "signs": [name for name in _SIGNS if getattr(marks, name)],
        "ending_stops": marks.ending_stops,
        "irregular": bar.irregular,
        "length": str(bar.beats),
        "chords": [_placed_chord(chord) for chord in bar.chords],
        "melody": [_melody_note(note) for note in bar.notes],
    }


def _placed_chord(chord: ChordAt) -> dict[str, Any]:
    return {
        "at": str(chord.at),
        "symbol": chord.symbol.ascii,
        "typed": chord.symbol.typed,
        "scale": chord.scale or None,
    }


def _melody_note(note: SheetNote) -> dict[str, Any]:
    return {
        "at": str(note.at),
        "beats": str(note.beats),
        "pitch": note.pitch.ascii,
        "tied": note.tied,
    }


def _symbols(sheet: LeadSheet) -> Iterator[dict[str, Any]]:
    """Every symbol in written order; a chord lasts until the next one on the page."""
    starts = _starts(sheet)
    placed = [
        (bar, place, chord, start + chord.at / bar.meter.pulse_beats)
        for bar, place, start in zip(sheet.bars, _places(sheet), starts, strict=False)
        for chord in bar.chords
    ]
    ends = [*(onset for *_, onset in placed[1:]), starts[-1]]
    for (bar, place, chord, onset), end in zip(placed, ends, strict=True):
        yield _symbol(bar, place, chord, end - onset)


def _starts(sheet: LeadSheet) -> list[Fraction]:
    """Where each bar begins and the last one ends, in beats from the start of the page."""
    starts = [Fraction(0)]
    for bar in sheet.bars:
        length = bar.beats or bar.meter.bar_beats
        starts.append(starts[-1] + length / bar.meter.pulse_beats)
    return starts


def _symbol(bar: WrittenBar, place: int, chord: ChordAt, beats: Fraction) -> dict[str, Any]:
    symbol = chord.symbol
    tones = chord_tones(symbol)
    return {
        "bar": place,
        "beat": _number(chord.at / bar.meter.pulse_beats + 1),
        "typed": symbol.typed,
        "printed": str(symbol),
        "read_as": in_words(symbol),
        "root": None if symbol.silent else symbol.root.ascii,
        "tones": [tone.name.ascii for tone in tones],
        "degrees": [tone.degree.ascii for tone in tones],
        "bass": symbol.bass.ascii if symbol.bass else None,
        "beats": _number(beats),
        "scale": chord.scale or None,
        "notices": list(symbol.notices),
    }


# Read back


def read_chart_data(source: str | Path) -> LeadSheet:
    """The sheet of a chart that was stored as data.

    Parameters
    ----------
    source : str or Path
        The text, or a file of it.

    Raises
    ------
    ReadError
        When it is no such document, or not as it was written.
    """
    return sheet_of_data(read_document(source, CHART_FORM))


def sheet_of_data(data: dict[str, Any]) -> LeadSheet:
    """The sheet in a document of `CHART_FORM`.

    Raises
    ------
    ReadError
        When a field is not as it was written.
    """
    try:
        return LeadSheet(
            str(data["title"]),
            tuple(_written_bar(bar) for bar in data["bars"]),
            parse_key(data["key"]) if data["key_is_stated"] else None,
            None if data["tempo_bpm"] is None else float(data["tempo_bpm"]),
            Feel(data["feel"]) if data["feel"] else None,
            tuple(map(str, data["notices"])),
            str(data.get("style") or ""),
        )
    except (KeyError, TypeError, ValueError, AttributeError, ZeroDivisionError, ReadError):
        raise ReadError("the chart is not as Halfstep writes it") from None


def _written_bar(data: dict[str, Any]) -> WrittenBar:
    return WrittenBar(
        str(data["number"]),
        Meter(*_meter(data["meter"]), tuple(map(int, data["grouping"]))),
        Fraction(data["length"]),
        tuple(_chord_at(chord) for chord in data["chords"]),
        Marks(
            bool(data["repeat_begins"]),
            int(data["repeat_ends"]),
            tuple(map(int, data["ending"])),
            bool(data["ending_stops"]),
            **{sign: True for sign in data["signs"] if sign in _SIGNS},
        ),
        bool(data["irregular"]),
        data["section"] or "",
        tuple(_sheet_note(note) for note in data["melody"]),
        parse_key(data["key"]) if data["key"] else None,
    )


def _meter(text: str) -> tuple[int, int]:
    meter = parse_meter(text)
    return meter.count, meter.unit


def _chord_at(data: dict[str, Any]) -> ChordAt:
    symbol = replace(parse_symbol(data["symbol"]), typed=str(data["typed"]))
    return ChordAt(symbol, Fraction(data["at"]), data["scale"] or "")


def _sheet_note(data: dict[str, Any]) -> SheetNote:
    pitch = parse_pitch(data["pitch"])
    return SheetNote(Fraction(data["at"]), Fraction(data["beats"]), pitch, bool(data["tied"]))
