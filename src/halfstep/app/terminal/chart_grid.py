"""A chart on a terminal: a grid of bars, how it is played, and what was not certain."""

from __future__ import annotations

from collections.abc import Iterator

from halfstep.app.terminal.columns import screen_columns, text_width
from halfstep.part.written_music import home_key_of
from halfstep.progression.chart import Bar, Chart
from halfstep.progression.notations.text_writer import marks_in_words, meter_text, words_of_bar
from halfstep.progression.sheet import LeadSheet, WrittenBar
from halfstep.services.read_chart import ChartReply

_LEAST_WIDTH = 10
_BARS_A_LINE = (4, 2, 1)


def grid_lines(reply: ChartReply, *, columns: int | None = None) -> Iterator[str]:
    """The chart as a grid of bars, then its play order and what was not certain.

    Parameters
    ----------
    reply : ChartReply
    columns : int, optional
        Width to stay in where it can be; the terminal's when not given.
    """
    columns = columns or screen_columns()
    sheet = reply.sheet
    yield sheet.title
    yield " · ".join(_facts(sheet))
    cells = [_cell(sheet, place) for place in range(len(sheet.bars))]
    width = max(_LEAST_WIDTH, *map(text_width, cells))
    number_width = max(len(bar.number) for bar in sheet.bars)
    bars_a_line = next((n for n in _BARS_A_LINE if number_width + 1 + n * (width + 6) < columns), 1)
    for line in _lines(sheet, bars_a_line):
        section = sheet.bars[line[0]].section
        if section:
            yield f"[{section}]"
        number = f"{sheet.bars[line[0]].number:>{number_width}} "
        yield number + "".join(_boxed(sheet.bars[n], cells[n], width) for n in line) + "|"
    yield f"played: {_order(reply.chart)}"
    yield from (f"note: {notice}" for notice in reply.notices)


def _facts(sheet: LeadSheet) -> Iterator[str]:
    yield f"{home_key_of(sheet)}{'' if sheet.key else ' (found)'}"
    yield meter_text(sheet.bars[0].meter)
    if sheet.tempo_bpm:
        yield f"{sheet.tempo_bpm:g} a minute"
    if sheet.feel:
        yield str(sheet.feel)
    if sheet.style:
        yield sheet.style


def _lines(sheet: LeadSheet, bars_a_line: int) -> Iterator[list[int]]:
    """Places of the bars on each line; a section begins a new one."""
    line: list[int] = []
    for place, bar in enumerate(sheet.bars):
        if line and (bar.section or len(line) == bars_a_line):
            yield line
            line = []
        line.append(place)
    yield line


def _cell(sheet: LeadSheet, place: int) -> str:
    """What stands in a bar: what begins with it, its chords, and what ends it."""
    bar = sheet.bars[place]
    marks = bar.marks
    words = ["".join(f"{number}." for number in marks.ending)] if marks.ending else []
    if place and bar.meter != sheet.bars[place - 1].meter:
        words.append(meter_text(bar.meter))
    words += [str(bar.key)] if bar.key else []
    words += ["segno"] if marks.segno else []
    words += ["coda"] if marks.coda else []
    return "  ".join([*words, *_chords(bar), *marks_in_words(marks, sheet)])


def _chords(bar: WrittenBar) -> list[str]:
    """Chords that share the bar evenly, or with dots where one is held."""
    if not bar.chords:
        return []
    texts = [str(chord.symbol) for chord in bar.chords]
    places = [chord.at for chord in bar.chords]
    words = words_of_bar(texts, places, bar.meter, bar.beats or bar.meter.bar_beats)
    if words is not None:
        return words
    beats = (f"{float(at / bar.meter.pulse_beats + 1):.4g}" for at in places)
    return [f"{text} on {beat}" for text, beat in zip(texts, beats, strict=True)]


def _boxed(bar: WrittenBar, cell: str, width: int) -> str:
    """A cell with its bar line before it and its repeat after it."""
    repeat = {0: "  ", 2: " :"}.get(bar.marks.backward, f" :{bar.marks.backward} times ")
    blank = " " * (width - text_width(cell))
    return f"{'|:' if bar.marks.forward else '|'} {cell}{blank}{repeat}"


def _order(chart: Chart) -> str:
    """The written bars as played, runs joined: 1-8, 1-6 (second time), 9-10."""
    runs: list[list[Bar]] = []
    for bar in chart.bars:
        last = runs[-1][-1] if runs else None
        if last and last.written + 1 == bar.written and last.time == bar.time:
            runs[-1].append(bar)
        else:
            runs.append([bar])
    count = len(chart.form)
    return f"{', '.join(map(_run, runs))} ({count} bar{'s' * (count != 1)})"


def _run(bars: list[Bar]) -> str:
    first, last = bars[0], bars[-1]
    time = first.label.partition(", ")[2]
    span = str(first.written) if first is last else f"{first.written}-{last.written}"
    return f"{span} ({time})" if time else span
