"""What stands on the map of a chart, in words and written pitch."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from halfstep.harmony.changes import Change
from halfstep.level import Level
from halfstep.part.change_words import told_change
from halfstep.part.chord_text import chord_text
from halfstep.part.etude_score import pickup_chords
from halfstep.part.facts import reading_facts
from halfstep.part.places import bar_number, beat_words, end_of_chart_bar
from halfstep.part.transposed_part import Part, chords_in_bars
from halfstep.progression.chart import Bar
from halfstep.render.chart_map import (
    ChartMap,
    MapBar,
    MapChange,
    MapChord,
    MapMove,
    MapScale,
    MapTone,
)
from halfstep.score_words import name_words, signs_in_words


def chart_map(part: Part, *, level: Level) -> ChartMap:
    """The map of a chart as one player reads it."""
    keys, of_chord = _keys(part)
    return ChartMap(
        title=part.analysis.chart.title,
        facts=reading_facts(part, level),
        bars=tuple(_bars(part, of_chord)),
        keys=keys,
        description=_in_words(part),
        details=" ".join((*_chords_in_words(part), *_changes_in_words(part))),
        pickup=next(
            (_pickup(part, bar) for bar in part.analysis.chart.bars if bar.number < 1), None
        ),
    )


def _chords_in_words(part: Part) -> Iterator[str]:
    """Tones and scale of each chord, said once."""
    chords = range(len(part.analysis.chords))
    sounding = (n for n in chords if not part.analysis.chords[n].silent)
    for symbol, index in {str(part.symbol(n)): n for n in sounding}.items():
        tones = ", ".join(name_words(str(name)) for name in part.names(index))
        scale = signs_in_words(str(part.scale(index)))
        notes = ", ".join(name_words(str(name)) for name in part.scale(index).names)
        yield f"{symbol}: {tones}; {scale}: {notes}."


def _changes_in_words(part: Part) -> Iterator[str]:
    """What changes from chord to chord, each pair said once, back to the first one too."""
    said: dict[str, str] = {}
    for index in range(len(part.analysis.chords)):
        told = told_change(part, index)
        if told is not None:
            said.setdefault(f"{part.symbol(index - 1)} to {part.symbol(index)}", told.spoken)
    yield from (f"From {pair}: {words}." for pair, words in said.items())


def _pickup(part: Part, bar: Bar) -> MapBar:
    """Its chords alone: tones and changes are those of the form."""
    chords = (
        MapChord(text.at, symbol=text, region=0, note=beat_words(bar, text.at))
        for text in pickup_chords(part, bar)
    )
    return MapBar("pickup", bar.beats, tuple(chords))


def _keys(part: Part) -> tuple[tuple[str, ...], list[int]]:
    """The key of each stretch, and for each chord the stretch it lies in."""
    regions = part.analysis.regions
    of_chord = [n for n, region in enumerate(regions) for _ in range(region.first, region.last + 1)]
    return tuple(str(part.local_keys[region.first]) for region in regions), of_chord


def _bars(part: Part, of_chord: list[int]) -> Iterator[MapBar]:
    chart = part.analysis.chart
    meter = chart.meter
    chord = 0
    for bar, start, written in chords_in_bars(part.analysis):
        begun = written if written and written[0][0] == 0 else [(Fraction(0), -1), *written]
        ends = [*(at for at, _ in begun[1:]), bar.beats]
        cells = []
        for (at, index), end in zip(begun, ends, strict=True):
            held, chord = index < 0, chord if index < 0 else index
            if end > at:
                cell = _cell(part, chord, at, start, end, of_chord[chord], held=held)
                cells.append(replace(cell, note=beat_words(bar, at)))
        note = str(bar.meter) if bar.meter != meter or bar.number == 1 else ""
        meter = bar.meter
        yield MapBar(
            bar_number(bar),
            bar.beats,
            tuple(cells),
            note=note,
            section=bar.section,
            barline=end_of_chart_bar(chart, bar),
        )


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
    begins = span.start == start + at
    change = None
    if span.end == start + end:
        change = part.change((index + 1) % len(part.analysis.chords))
    return MapChord(
        at,
        symbol=symbol,
        region=region,
        tones=_tones(part, index) if begins else (),
        scale=_scale(part, index) if begins else None,
        change=_map_change(change),
    )


def _scale(part: Part, index: int) -> MapScale | None:
    """The scale of a chord as it is played; none in silence."""
    if part.analysis.chords[index].silent:
        return None
    scale = part.scale(index)
    return MapScale(str(scale), tuple(map(str, scale.names)))


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
    bars = [
        f"{bar_number(bar)}: {' '.join(str(part.symbol(index)) for _, index in written) or 'holds'}"
        for bar, _, written in chords_in_bars(part.analysis)
    ]
    before = [
        f"pickup: {' '.join(str(part.symbol_elsewhere(chord.symbol)) for chord in bar.chords)}"
        for bar in part.analysis.chart.bars
        if bar.number < 1 and bar.chords
    ]
    return f"{part.analysis.chart.title}, bar by bar. {'; '.join(before + bars)}."
