"""A chart explained on a terminal: a row for each chord, its reason, and what changes next.

Chords come as they are played, under headings of local keys. What has been said before,
of the same chord with the same neighbours, is only pointed to.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from halfstep.app.terminal.columns import row_lines, screen_columns, text_width, wrapped
from halfstep.harmony.changes import Motion
from halfstep.harmony.reduction import may_skip
from halfstep.harmony.scale_choice import Reason
from halfstep.level import Level
from halfstep.meter import count_in_words
from halfstep.part.facts import reading_facts
from halfstep.part.places import Placed, placed_chords
from halfstep.part.said_once import once_each
from halfstep.part.transposed_part import Part

_HEADS = ["bar", "beat", "chord", "function", "chord tones", "scale"]
_WIDEST = {"function": 26, "chord tones": 20}
_RULE = 72  # columns that a heading is ruled to
_LEAST_SCALE = 18
"""Columns the scale must have beside the others; with fewer each chord is a block."""


@dataclass(frozen=True, slots=True)
class _Row:
    """A chord in words.

    Attributes
    ----------
    place : Placed
    cells : tuple of str
        Chord, function, chord tones, scale.
    role, reason : str
        What it does here, and why the scale: in full, pointing to a chord that said so, or
        empty where this chord has said so.
    sentences : tuple of str
        Whether it may be skipped; the next chord and what to do about it. None in silence.
    """

    place: Placed
    cells: tuple[str, str, str, str]
    role: str = ""
    reason: str = ""
    sentences: tuple[str, ...] = ()

    @property
    def told(self) -> tuple[str, ...]:
        """What is the same wherever the chord stands between the same neighbours."""
        return (*self.cells, self.role, *self.sentences)

    @property
    def every_sentence(self) -> tuple[str, ...]:
        """All sentences that are printed."""
        return (" · ".join(filter(None, (self.role, self.reason))), *self.sentences)


def table_lines(
    part: Part, *, level: Level, notices: Sequence[str] = (), columns: int | None = None
) -> Iterator[str]:
    """The explanation in lines.

    Parameters
    ----------
    part : Part
    level : Level
    notices : sequence of str
        What was not certain.
    columns : int, optional
        Width to stay in; the terminal's when not given.
    """
    columns = max(20, columns or screen_columns())
    rows = _rows(part)
    yield from wrapped(part.analysis.chart.title, columns)
    yield from wrapped(reading_facts(part, level), columns)
    widths = _widths(rows, columns)
    if widths:
        yield ""
        yield from row_lines(_HEADS, widths)
    first: dict[object, int] = {}
    for region in part.analysis.regions:
        chords = range(region.first, region.last + 1)
        yield ""
        yield from _heading(str(part.local_keys[region.first]), rows, chords, columns)
        yield from _region(rows, chords, first, widths, columns)
    yield ""
    for sentence in (*_of_the_whole(part, rows), *(f"note: {notice}" for notice in notices)):
        yield from wrapped(sentence, columns)


def _rows(part: Part) -> list[_Row]:
    places, skips = placed_chords(part.analysis), may_skip(part.analysis)
    pairs = zip(places, skips, _reasons(part), strict=True)
    return [_row(part, index, *of_chord) for index, of_chord in enumerate(pairs)]


def _reasons(part: Part) -> Iterator[str]:
    """Why each chord has its scale; of several with the same reason the first says it."""
    chords = enumerate(part.analysis.chords)
    return once_each(
        (str(part.symbol(n)), part.in_words(chord.choices[0].reason, n) if chord.choices else "")
        for n, chord in chords
    )


def _row(part: Part, index: int, place: Placed, skip: Reason | None, reason: str) -> _Row:
    analysed = part.analysis.chords[index]
    symbol = str(part.symbol(index))
    if analysed.silent:
        return _Row(place, (symbol, "", "", ""))
    names = " ".join(map(str, part.names(index)))
    scale = part.scale(index)
    notes = " ".join(map(str, scale.names))
    sentences = [f"may be skipped at speed: {part.in_words(skip, index)}"] if skip else []
    cells = (symbol, analysed.numeral, names, f"{scale}: {notes}")
    role = part.role_in_words(index)
    return _Row(place, cells, role, reason, (*sentences, *_onward(part, index)))


def _onward(part: Part, index: int) -> Iterator[str]:
    """The next chord, around the loop too, and what to do about it."""
    following = (index + 1) % len(part.analysis.chords)
    change = part.change(following)
    if change is None or following == index:
        return
    around = " (from the top)" if following == 0 else ""
    guides = ", ".join(map(_motion, part.guide_tones(following)))
    also = f"; guide tones: {guides}" if guides else ""
    yield f"→ {part.symbol(following)}{around}: {change.instruction}{also}"


def _motion(motion: Motion) -> str:
    if motion.old == motion.new:
        return f"{motion.old} stays"
    sign = "→" if motion.semitones else "="
    return f"{motion.old} {sign} {motion.new}"


def _of_the_whole(part: Part, rows: Sequence[_Row]) -> Iterator[str]:
    """What holds for a chorus: its turnaround, its key signatures, the layer of a blues."""
    if part.analysis.each_in_its_mode:
        yield "no key of the whole: each chord has a mode of its own"
    turnaround = part.analysis.turnaround
    if turnaround:
        chords = range(turnaround.first, turnaround.last + 1)
        bars = _bars(rows[turnaround.first], rows[turnaround.last])
        names = " ".join(str(part.symbol(index)) for index in chords)
        yield f"turnaround: {names} ({bars}) lead back to the top"
    signatures = [
        (part.signature(run).signature, _bars(rows[run.first], rows[run.last]))
        for run in part.analysis.signatures
    ]
    if len(signatures) == 1:
        yield f"one key signature will do: {signatures[0][0]}"
    else:
        texts = (f"{signature} ({bars})" for signature, bars in signatures)
        yield f"key signatures to read it in: {'; '.join(texts)}"
    scales = [f"{s}, {' '.join(map(str, s.names))}" for s in part.blues_scales()]
    if scales:
        yield f"over all of it, as a colour beside the chord tones: {'; '.join(scales)}"


def _widths(rows: Sequence[_Row], columns: int) -> list[int]:
    """Widths of the columns; none when they do not fit beside each other."""
    table = [_HEADS, *(_cells(row) for row in rows)]
    widths = [max(text_width(row[n]) for row in table) for n in range(len(_HEADS) - 1)]
    widths = [min(w, _WIDEST.get(head, w)) for head, w in zip(_HEADS, widths, strict=False)]
    left = columns - sum(widths) - 2 * len(widths)
    return [*widths, left] if left >= _LEAST_SCALE else []


def _cells(row: _Row) -> list[str]:
    return [row.place.number, row.place.beat_text, *row.cells]


def _region(
    rows: Sequence[_Row], chords: range, first: dict[object, int], widths: list[int], columns: int
) -> Iterator[str]:
    """The rows in one key, runs of what was said before drawn together.

    ``first`` knows where each thing was said first, in the regions before as well.
    """
    index = chords.start
    while index < chords.stop:
        row = rows[index]
        same = first.setdefault(row.told, index)
        if same == index:
            yield from _lines(row, widths, columns)
            index += 1
            continue
        length = 1
        while index + length < chords.stop and same + length < index:
            following = rows[index + length]
            if first.get(following.told) != same + length:
                break
            length += 1
        yield from wrapped(_pointer(rows, index, same, length), columns)
        index += length


def _pointer(rows: Sequence[_Row], index: int, same: int, length: int) -> str:
    return f"{_places(rows, index, length)}: as {_places(rows, same, length)}"


def _places(rows: Sequence[_Row], index: int, length: int) -> str:
    """Where some rows stand: ``bar 3``, ``bars 3 to 6``, ``bar 5 from beat 1 to beat 2``.

    Beats are named where a bar is begun late, or goes on after the last of the rows.
    """
    first, last = rows[index].place, rows[index + length - 1].place
    following = rows[index + length].place if index + length < len(rows) else None
    goes_on = following is not None and following.number == last.number
    if first.number != last.number:
        end = f"{last.number} {last.counted}" if goes_on else last.number
        begins_late = first.beat != 1
        return f"bar {first} to bar {end}" if begins_late or goes_on else f"bars {first} to {end}"
    if not goes_on:
        return f"bar {first}"
    if length == 1:
        return f"bar {first.number} {first.counted}"
    return f"bar {first.number} from {count_in_words(first.beat)} to {count_in_words(last.beat)}"


def _bars(first: _Row, last: _Row) -> str:
    begin, end = first.place.number, last.place.number
    return f"bar {begin}" if begin == end else f"bars {begin} to {end}"


def _heading(key: str, rows: Sequence[_Row], chords: range, columns: int) -> Iterator[str]:
    """A local key, and how far it goes."""
    *lines, text = wrapped(f"── {key}, {_bars(rows[chords[0]], rows[chords[-1]])}", columns)
    yield from lines
    yield f"{text} ".ljust(min(columns, _RULE), "─")[:columns].rstrip()


def _lines(row: _Row, widths: list[int], columns: int) -> Iterator[str]:
    """A chord as a row with its sentences below, or as a block where it is narrow."""
    if widths:
        yield from row_lines(_cells(row), widths)
        indent = widths[0] + widths[1] + 4
    else:
        symbol, function, tones, scale = row.cells
        yield from wrapped(f"bar {row.place}: {symbol} {function}".strip(), columns)
        indent = 2
        yield from _indented(tones, indent, columns)
        yield from _indented(scale, indent, columns)
    for sentence in row.every_sentence:
        yield from _indented(sentence, indent, columns)


def _indented(text: str, indent: int, columns: int) -> Iterator[str]:
    return (" " * indent + line for line in wrapped(text, columns - indent) if text)
