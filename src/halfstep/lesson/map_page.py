"""What stands on the map of a chart, in words and written pitch."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from halfstep.harmony.changes import Change
from halfstep.level import Level
from halfstep.part.chord_text import chord_text
from halfstep.part.facts import reading_facts
from halfstep.part.places import bar_number
from halfstep.part.transposed_part import Part, chords_in_bars
from halfstep.render.chart_map import (
    ChartMap,
    MapBar,
    MapChange,
    MapChord,
    MapMove,
    MapRegion,
    MapTone,
)
from halfstep.score import Barline


def chart_map(part: Part, *, level: Level) -> ChartMap:
    """The map of a chart as one player reads it."""
    regions, of_chord = _regions(part)
    return ChartMap(
        title=part.analysis.chart.title,
        facts=reading_facts(part, level),
        bars=tuple(_bars(part, of_chord)),
        regions=regions,
        description=_in_words(part),
    )


def _regions(part: Part) -> tuple[tuple[MapRegion, ...], list[int]]:
    """The stretches in one key, and for each chord the one it lies in."""
    regions: list[MapRegion] = []
    of_chord: list[int] = []
    tints: dict[str, int] = {str(part.key): 0}
    for number, region in enumerate(part.analysis.regions):
        name = str(region.key.moved(part.interval))
        regions.append(MapRegion(name, tints.setdefault(name, len(tints))))
        of_chord += [number] * (region.last - region.first + 1)
    return tuple(regions), of_chord


def _bars(part: Part, of_chord: list[int]) -> Iterator[MapBar]:
    chart = part.analysis.chart
    meter, last = chart.meter, len(chart.form)
    chord = 0
    for bar, start, written in chords_in_bars(part.analysis):
        begun = written if written and written[0][0] == 0 else [(Fraction(0), -1), *written]
        ends = [*(at for at, _ in begun[1:]), bar.beats]
        cells = []
        for (at, index), end in zip(begun, ends, strict=True):
            held, chord = index < 0, chord if index < 0 else index
            if end > at:
                cells.append(_cell(part, chord, at, start, end, of_chord[chord], held=held))
        note = str(bar.meter) if bar.meter != meter or bar.number == 1 else ""
        meter = bar.meter
        barline = Barline.FINAL if bar.number == last else Barline.SINGLE
        yield MapBar(bar_number(bar), bar.beats, tuple(cells), note=note, barline=barline)


def _cell(
    part: Part,
    index: int,
    at: Fraction,
    start: Fraction,
    end: Fraction,
    region: int,
    *,
    held: bool,
) -> MapChord:
    """A chord in a bar; tones where it begins, what changes where it ends."""
    span = part.analysis.chords[index].span
    symbol = None if held and span.start < start + at else chord_text(part.symbol(index), at)
    tones = _tones(part, index) if span.start == start + at else ()
    change = None
    if span.end == start + end:
        change = part.change((index + 1) % len(part.analysis.chords))
    return MapChord(at, symbol=symbol, region=region, tones=tones, change=_map_change(change))


def _tones(part: Part, index: int) -> tuple[MapTone, ...]:
    guides = part.guides(index)
    return tuple(MapTone(str(name), name in guides) for name in part.names(index))


def _map_change(change: Change | None) -> MapChange | None:
    if change is None:
        return None
    moves = [
        *(MapMove(str(m.old), str(m.new), strong=True) for m in change.half_steps),
        *(MapMove(str(m.old), str(m.new)) for m in change.steps),
        *(MapMove("", str(name)) for name in change.new),
        *(MapMove(str(name), "") for name in change.leaves),
    ]
    return MapChange(len(change.stays) + len(change.renamed), tuple(moves))


def _in_words(part: Part) -> str:
    """The chords of each bar, for those who cannot see the page."""
    bars = (
        f"{bar_number(bar)}: {' '.join(str(part.symbol(index)) for _, index in written) or 'holds'}"
        for bar, _, written in chords_in_bars(part.analysis)
    )
    return f"{part.analysis.chart.title}, bar by bar. {'; '.join(bars)}."
