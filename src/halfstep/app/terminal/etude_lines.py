"""An etude on a terminal: bars with note names, a column for each beat, chords above.

A note stands in the column of the beat it begins in; a beat on which a note goes on has a
dash, one of silence a dot. A changing note has ``*`` behind it; ``+`` stands between notes that
are struck at once.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from halfstep.app.terminal.columns import padded, screen_columns, text_width, wrapped
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.explanation import explained
from halfstep.etude.written_etude import Etude
from halfstep.part.transposed_part import Part, chords_in_bars
from halfstep.progression.chart import Bar
from halfstep.progression.symbol import ChordSymbol
from halfstep.road_words import LAST_TIME, sign_words

_BARS_A_LINE = (4, 2, 1)
_LEAST_COLUMNS = 40


class _Cell(NamedTuple):
    """A bar's beats as columns: the chords above, the notes below."""

    number: int
    chords: tuple[str, ...]
    notes: tuple[str, ...]


def etude_lines(etude: Etude, part: Part, *, columns: int | None = None) -> Iterator[str]:
    """The line in written pitch, then what to know about it.

    Parameters
    ----------
    etude : Etude
    part : Part
    columns : int, optional
        Width to stay in where it can be; the terminal's when not given.
    """
    columns = max(_LEAST_COLUMNS, columns or screen_columns())
    part = part.of_line(etude.notes)
    form, ending = _form_cells(etude, part), _ending_cells(etude, part)
    cells = (*form, *ending)
    beats = max(len(cell.notes) for cell in cells)
    widths = [_width(cells, beat) for beat in range(beats)]
    number_width = len(str(cells[-1].number))
    wide = sum(widths) + len(widths) + 2
    across = next((n for n in _BARS_A_LINE if number_width + 1 + n * wide < columns), 1)
    for first in range(0, len(form), across):
        yield from _line(form[first : first + across], widths, number_width)
    if ending:
        yield f"{'':{number_width}}   {sign_words(LAST_TIME)}:"
        yield from _line(ending, widths, number_width)
    if any(note.changing for note in etude.every_note):
        yield "* a changing note: it was not in the scale before"
    if any(note.breath for note in etude.notes):
        yield ", breathe"
    yield ""
    for sentence in explained(etude, part):
        yield from wrapped(sentence, columns - 1)


def _form_cells(etude: Etude, part: Part) -> list[_Cell]:
    return [
        _cell(etude.notes, part, bar, start, [(at, part.symbol(chord)) for at, chord in written])
        for bar, start, written in chords_in_bars(etude.analysis)
    ]


def _ending_cells(etude: Etude, part: Part) -> list[_Cell]:
    """The bar that is played the last time only, where there is one."""
    ending = etude.ending
    if ending is None:
        return []
    home = part.symbol(ending.note.chord).on_its_root
    return [_cell([ending.note], part, ending.bar, ending.start, [(Fraction(0), home)])]


def _line(cells: Sequence[_Cell], widths: Sequence[int], number_width: int) -> Iterator[str]:
    """Bars beside each other: their chords above, their notes below."""
    above = "".join(f"  {_row(cell.chords, widths)}" for cell in cells)
    yield f"{'':{number_width}} {above}".rstrip()
    number = f"{cells[0].number:>{number_width}} "
    yield number + "".join(f"| {_row(cell.notes, widths)}" for cell in cells) + "|"


def _row(texts: Sequence[str], widths: Sequence[int]) -> str:
    """Texts in their columns; a text that is too long takes room from empty ones after it."""
    row, edge = "", 0
    for place, width in enumerate(widths):
        text = texts[place] if place < len(texts) else ""
        if text:
            row = padded(row, edge) + (" " if text_width(row) > edge else "") + text
        edge += width + 1
    return padded(row, edge)


def _width(cells: Sequence[_Cell], beat: int) -> int:
    """What a column needs for its notes, and for a chord that another follows at once."""
    texts = [cell.notes[beat] for cell in cells if beat < len(cell.notes)]
    for cell in cells:
        following = cell.chords[beat + 1 : beat + 2]
        if beat < len(cell.chords) and (not following or following[0]):
            texts.append(cell.chords[beat])
    return max(map(text_width, texts))


def _cell(
    line: Sequence[EtudeNote],
    part: Part,
    bar: Bar,
    start: Fraction,
    written: Sequence[tuple[Fraction, ChordSymbol]],
) -> _Cell:
    pulse = bar.meter.pulse_beats
    count = -(-bar.beats // pulse)
    chords = [""] * count
    for at, symbol in written:
        beat = int(at // pulse)
        chords[beat] = " ".join(filter(None, (chords[beat], str(symbol))))
    ends = [note.end for note in line]
    notes = []
    for beat in range(count):
        low = start + beat * pulse
        first = bisect_right(ends, low)
        high = min(low + pulse, start + bar.beats)
        notes.append(_beat(line[first:], part, low, high))
    return _Cell(bar.number, tuple(chords), tuple(notes))


def _beat(notes: Sequence[EtudeNote], part: Part, low: Fraction, high: Fraction) -> str:
    """The notes that begin in a beat, after a dash where one goes on into it."""
    texts = []
    for note in notes:
        if note.onset >= high:
            break
        pitch = part.pitch(note)
        if pitch is None:
            texts.append(".")
        elif note.onset < low:
            texts.append("-")
        else:
            texts.append("+".join(map(str, (pitch, *part.below(note)))) + "*" * note.changing)
        if note.breath and note.end <= high:
            texts[-1] += ","
    return " ".join(texts)
