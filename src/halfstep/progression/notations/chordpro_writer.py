"""Writes a lead sheet as a ChordPro song of grids, and says what such a song cannot hold.

A section, a key or a metre begins a grid of its own; a cell is a pulse, or a finer part of
it where chords stand between pulses.

Source: the ChordPro 6 file format, from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from halfstep.progression.losses import what_is_lost
from halfstep.progression.notations.chordpro_reader import MAX_CELLS, read_chordpro_text
from halfstep.progression.sheet import LeadSheet, WrittenBar
from halfstep.progression.title import plain_title

_CLOSED = {":|", "||"}
_BARS_IN_LINE = 4


def write_chordpro(sheet: LeadSheet) -> str:
    r"""The sheet as a song with a grid for each section; `chordpro_losses` says what is lost.

    >>> from halfstep.progression.notations.chordpro_reader import read_chordpro_text
    >>> sheet = read_chordpro_text("{sog}\n|: C . G . :|\n{eog}")
    >>> write_chordpro(sheet).splitlines()[-3:]
    ['{start_of_grid}', '|: C . G . :|', '{end_of_grid}']
    """
    head = [f"{{title: {_plain(sheet.title)}}}"]
    if sheet.key:
        head.append(f"{{key: {sheet.key.practical.ascii}}}")
    if sheet.tempo_bpm:
        head.append(f"{{tempo: {sheet.tempo_bpm:g}}}")
    lines: list[str] = []
    for section in _grids(_kept(sheet)):
        lines += _grid(section)
    return "\n".join(head + lines) + "\n"


def _plain(text: str) -> str:
    """Text that may stand in a directive."""
    return plain_title(text.translate(str.maketrans('{}"', "()'")))


def _kept(sheet: LeadSheet) -> list[WrittenBar]:
    """The bars without a pickup."""
    return [bar for place, bar in enumerate(sheet.bars) if place or not _is_pickup(sheet)]


def _is_pickup(sheet: LeadSheet) -> bool:
    return bool(len(sheet.bars) > 1 and (sheet.bars[0].number == "0" or sheet.bars[0].short))


def _grids(bars: list[WrittenBar]) -> Iterator[list[WrittenBar]]:
    """The bars from one section or change of metre to the next."""
    grid: list[WrittenBar] = []
    for bar in bars:
        if grid and (bar.section or bar.key or bar.meter != grid[-1].meter):
            yield grid
            grid = []
        grid.append(bar)
    if grid:
        yield grid


def _grid(bars: list[WrittenBar]) -> Iterator[str]:
    if bars[0].key:
        yield f"{{key: {bars[0].key.practical.ascii}}}"
    yield f"{{time: {bars[0].meter}}}"
    label = f' label="{_plain(bars[0].section)}"' if bars[0].section else ""
    yield f"{{start_of_grid{label}}}"
    row: list[WrittenBar] = []
    for place, bar in enumerate(bars):
        row.append(bar)
        last = place == len(bars) - 1
        if last or len(row) == _BARS_IN_LINE or bar.marks.backward > 2:
            yield _line(row, last=last)
            row = []
    yield "{end_of_grid}"


def _line(bars: list[WrittenBar], *, last: bool) -> str:
    words: list[str] = []
    for bar in bars:
        words += [_left(bar, after=words[-1] if words else ""), *_cells_of(bar)]
        if bar.marks.backward:
            words.append(":|")
        elif bar.marks.ending_stops:
            words.append("||")
    if words[-1] not in _CLOSED:
        words.append("||" if last else "|")
    if bars[-1].marks.backward > 2:
        words.append(f"x{bars[-1].marks.backward}")
    return " ".join(word for word in words if word)


def _left(bar: WrittenBar, *, after: str) -> str:
    """The bar line before a bar; none where the one before has said all."""
    sign = "|:" if bar.marks.forward else "|"
    ending = ",".join(map(str, bar.marks.ending))
    return "" if after in _CLOSED and sign + ending == "|" else sign + ending


def _cells_of(bar: WrittenBar) -> list[str]:
    """One cell a pulse, or a finer one where chords stand between pulses; or one for all."""
    beats = _cell_beats(bar)
    shares = [bar.meter.bar_beats * place / len(bar.chords) for place in range(len(bar.chords))]
    if [chord.at for chord in bar.chords] == shares and any(at % beats for at in shares):
        return ["~".join(chord.symbol.ascii for chord in bar.chords)]
    cells = ["."] * int(bar.meter.bar_beats / beats)
    for chord in bar.chords:
        cells[min(round(chord.at / beats), len(cells) - 1)] = chord.symbol.ascii
    return cells


def _cell_beats(bar: WrittenBar) -> Fraction:
    """The largest cell that has all chords on its beat, at least a quarter of a pulse."""
    pulse = bar.meter.pulse_beats
    parts = (1, 3, 6) if bar.meter.compound else (1, 2, 4)
    sizes = [pulse / part for part in parts if bar.meter.bar_beats * part / pulse <= MAX_CELLS]
    fits = (size for size in sizes if all((c.at / size).denominator == 1 for c in bar.chords))
    return next(fits, sizes[-1] if sizes else pulse)


def chordpro_losses(sheet: LeadSheet) -> tuple[str, ...]:
    """What `write_chordpro` cannot keep, in words."""
    return what_is_lost(sheet, lambda: read_chordpro_text(write_chordpro(sheet)))
