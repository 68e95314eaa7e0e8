"""Writes a lead sheet as a tune in ABC notation, and says what such a tune cannot hold.

A chord that begins inside a note cuts it in two tied ones, since a chord stands at a note
or rest. Bars without a melody are filled with rests, which print: over a rest that does not
print some programs leave out the chord, or the staff with it.

Source: The ABC music standard 2.1.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from halfstep.meter import Meter
from halfstep.pitch import LETTERS, Pitch
from halfstep.progression.key import Key, alterations
from halfstep.progression.losses import what_is_lost
from halfstep.progression.notations.abc_reader import read_abc_text
from halfstep.progression.sheet import LeadSheet, Marks, WrittenBar
from halfstep.progression.symbol import ChordSymbol
from halfstep.progression.title import plain_title

_BARS_IN_LINE = 4
_LARGEST_TUPLET = 99
_SIGNS = {2: "^^", 1: "^", 0: "=", -1: "_", -2: "__"}


def write_abc(sheet: LeadSheet) -> str:
    r"""A lead sheet as a tune in ABC notation 2.1, which `read_abc_text` reads back.

    Examples
    --------
    >>> from halfstep.progression.notations.abc_reader import read_abc_text
    >>> print(write_abc(read_abc_text('X:1\nT:Air\nM:4/4\nL:1/4\nK:G\n"G"g3 ^g|"D7"a4|]')))
    X:1
    T:Air
    M:4/4
    L:1/8
    K:G
    "G"g6 ^g2 | "D7"a8 |]
    <BLANKLINE>
    """
    first = sheet.bars[0].meter if sheet.bars else Meter()
    lines = ["X:1", *_header(sheet, first)]
    key = sheet.key.practical if sheet.key else None
    bars = _with_endings_closed(sheet.bars)
    row: list[str] = []
    for place, bar in enumerate(bars):
        changes = list(_changes(bar, bars[place - 1] if place else None))
        if row and (changes or len(row) == _BARS_IN_LINE):
            lines.append(" ".join(row))
            row = []
        lines += changes
        key = bar.key.practical if bar.key else key
        body = _bar_text(_filled(bars, place), alterations(key.fifths if key else 0))
        row.append(f"{_opening(bar.marks)}{body} {_closing(bars, place)}".rstrip())
    return "\n".join([*lines, " ".join(row)]) + "\n"


def _changes(bar: WrittenBar, before: WrittenBar | None) -> Iterator[str]:
    """Fields that stand before a bar, on lines of their own: not all programs read others."""
    if bar.section:
        yield f"P:{_field_text(bar.section)}"
    if before and before.meter != bar.meter:
        yield f"M:{_meter_text(bar.meter)}"
    if bar.key:
        yield f"K:{_key_text(bar.key)}"


def _header(sheet: LeadSheet, meter: Meter) -> Iterator[str]:
    if sheet.title:
        yield f"T:{_field_text(sheet.title)}"
    yield f"M:{_meter_text(meter)}"
    yield "L:1/8"
    if sheet.tempo_bpm is not None:
        pulse = meter.tempo_beats
        yield f"Q:{pulse / 4}={round(sheet.tempo_bpm, 3):g}"
    if sheet.feel:
        yield f"R:{sheet.feel.value}"
    yield f"K:{_key_text(sheet.key) if sheet.key else 'none'}"


def _key_text(key: Key) -> str:
    return key.practical.ascii


def _with_endings_closed(bars: Sequence[WrittenBar]) -> list[WrittenBar]:
    """The bars with an ending that is never closed as players read it, one bar long."""
    closed, last = list(bars), len(bars) - 1
    for place in range(last, -1, -1):
        marks = bars[place].marks
        if marks.ending_stops or marks.backward:
            break
        if marks.ending:
            closed[place] = bars[place]._replace(marks=marks._replace(ending_stops=True))
            break
    return closed


def _field_text(text: str) -> str:
    return re.sub(r"([\\%])", r"\\\1", plain_title(text))


def _meter_text(meter: Meter) -> str:
    if meter.grouping:
        return f"({'+'.join(map(str, meter.grouping))})/{meter.unit}"
    return str(meter)


def _opening(marks: Marks) -> str:
    """What stands before the bar: repeat, ending, signs."""
    text = "|: " if marks.forward else ""
    if marks.ending:
        text += f"[{','.join(map(str, marks.ending))} "
    signs = {"!segno!": marks.segno, "!coda!": marks.coda}
    return text + "".join(sign for sign, is_set in signs.items() if is_set)


def _closing(bars: Sequence[WrittenBar], place: int) -> str:
    """What stands after the bar: the bar line, and the words that end a passage."""
    marks = bars[place].marks
    words = {
        "!dacoda!": marks.to_coda,
        "!fine!": marks.fine,
        "!D.C.!": marks.da_capo,
        "!D.S.!": marks.dal_segno,
    }
    text = "".join(word for word, is_set in words.items() if is_set)
    if marks.backward:
        return text + ":" * max(1, marks.backward - 1) + "|"
    if place == len(bars) - 1:
        return text + "|]"
    if marks.ending_stops:
        return text + "||"
    return text + ("" if bars[place + 1].marks.forward else "|")


def _filled(bars: Sequence[WrittenBar], place: int) -> WrittenBar:
    """The bar with the length to write: whole, unless the page says otherwise.

    Two short bars in a row would be read as the halves of one.
    """
    bar = bars[place]
    edge = place in {0, len(bars) - 1} or bar.marks.goes_back
    if bar.beats and (bar.irregular or edge or not bar.short):
        return bar
    return bar._replace(beats=bar.meter.bar_beats)


def _bar_text(bar: WrittenBar, signature: dict[str, int]) -> str:
    """Notes and rests with the chords that stand at them, beamed within the metre's groups."""
    chords = {chord.at: chord.symbol for chord in bar.chords if chord.at < bar.beats}
    altered = dict(signature)
    text, beamed = "", False
    for odd, group in groupby(_pieces(bar, list(chords)), key=lambda piece: _odd(piece.beats)):
        pieces = list(group)
        step = odd if odd > 1 else 1
        for start in range(0, len(pieces), step):
            some = pieces[start : start + step]
            short = all(piece.beats < 1 for piece in some)
            joins = beamed and short and some[0].at not in bar.meter.strong_beats
            word = _group_text(some, odd, chords, altered)
            text += word if joins or not text else " " + word
            beamed = short
    return text


@dataclass(frozen=True, slots=True)
class _NoteOrRest:
    """A note, or a rest where there is no pitch, that no chord begins inside of."""

    at: Fraction
    beats: Fraction
    pitch: Pitch | None = None
    tied: bool = False


def _pieces(bar: WrittenBar, cuts: Iterable[Fraction]) -> Iterator[_NoteOrRest]:
    """The bar without gaps, cut where a chord begins."""
    cuts = sorted(cuts)
    for piece in _events(bar):
        end = piece.at + piece.beats
        inner = [cut for cut in cuts if piece.at < cut < end]
        starts = [piece.at, *inner]
        for start, stop in zip(starts, [*inner, end], strict=True):
            tied = piece.pitch is not None and (piece.tied or stop < end)
            yield _NoteOrRest(start, stop - start, piece.pitch, tied)


def _events(bar: WrittenBar) -> Iterator[_NoteOrRest]:
    now = Fraction(0)
    for note in bar.notes:
        if now < note.at:
            yield _NoteOrRest(now, note.at - now)
        start = max(now, note.at)
        if start < note.at + note.beats:
            yield _NoteOrRest(start, note.at + note.beats - start, note.pitch, note.tied)
            now = note.at + note.beats
    if now < bar.beats:
        yield _NoteOrRest(now, bar.beats - now)


def _odd(beats: Fraction) -> int:
    """The odd part of a length's denominator: 3 for a triplet; 1 where it has no sign."""
    odd = beats.denominator
    while odd % 2 == 0:
        odd //= 2
    return odd if odd <= _LARGEST_TUPLET else 1


def _group_text(
    pieces: Sequence[_NoteOrRest],
    odd: int,
    chords: dict[Fraction, ChordSymbol],
    altered: dict[str, int],
) -> str:
    """A note, or a tuplet."""
    time = 1
    while 2 * time < odd:
        time *= 2
    words = ""
    for piece in pieces:
        symbol = chords.get(piece.at)
        words += f'"{symbol.ascii}"' if symbol else ""
        words += _pitch_text(piece.pitch, altered) if piece.pitch else "z"
        words += _length_text(piece.beats * odd / time)
        words += "-" if piece.tied else ""
    if odd == 1:
        return words
    plain = odd == 3 and len(pieces) == 3
    return ("(3" if plain else f"({odd}:{time}:{len(pieces)}") + words


def _pitch_text(pitch: Pitch, altered: dict[str, int]) -> str:
    """A note with its accidental where the bar so far does not say it."""
    letter = LETTERS[pitch.name.letter]
    sign = ""
    if altered.get(letter, 0) != pitch.name.alteration:
        altered[letter] = pitch.name.alteration
        sign = _SIGNS[max(-2, min(2, pitch.name.alteration))]
    octave = pitch.octave
    if octave >= 5:
        return sign + letter.lower() + "'" * (octave - 5)
    return sign + letter + "," * (4 - octave)


def _length_text(beats: Fraction) -> str:
    """A length in eighths, as it stands after a note."""
    units = beats * 2
    top = "" if units.numerator == 1 else str(units.numerator)
    return top if units.denominator == 1 else f"{top}/{units.denominator}"


def abc_losses(sheet: LeadSheet) -> tuple[str, ...]:
    """What ABC notation cannot hold of a sheet, or changes, in words."""
    return what_is_lost(sheet, lambda: read_abc_text(write_abc(sheet)))
