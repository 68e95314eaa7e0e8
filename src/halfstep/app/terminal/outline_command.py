"""``halfstep outline``: does a line spell the changes? As a table, or as data."""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass
from pathlib import Path

from halfstep.app.terminal.chart_command import asked_reading, asked_tune
from halfstep.app.terminal.outline_table import table_lines
from halfstep.data.outline_json import outline_data
from halfstep.errors import ReadError
from halfstep.harmony.outline import LineNote, outline
from halfstep.meter import Meter
from halfstep.played import PlayedNote
from halfstep.progression.chart import Chart
from halfstep.progression.form import played
from halfstep.progression.load import load_chart, load_sheet_file
from halfstep.progression.melody import played_melody
from halfstep.progression.notations import NOTATIONS, notation_of_suffix, notation_words
from halfstep.progression.notations.midi_line import read_midi_line

_KINDS = notation_words(notation for notation in NOTATIONS if notation.has_melody)


@dataclass(frozen=True, slots=True)
class _Given:
    """A line as its file has it.

    Attributes
    ----------
    notes : tuple of PlayedNote
    chart : Chart or None
        What the file says besides notes; None for MIDI.
    meter : Meter
    """

    notes: tuple[PlayedNote, ...]
    chart: Chart | None
    meter: Meter


def measure(asked: argparse.Namespace) -> None:
    """Do what ``halfstep outline`` was asked for."""
    path = Path(asked.line)
    given = _given(path, asked)
    notices: tuple[str, ...] = ()
    if asked.chart is not None:
        chart = load_chart(asked.chart, reading=asked_reading(asked))
        notices = _fitted(given, chart, path.name)
    elif given.chart is None:
        raise ReadError("a MIDI file has no chords; say --chart CHART", source=path.name)
    else:
        chart = given.chart
    if not any(not at.symbol.silent for bar in chart.bars for at in bar.chords):
        if asked.chart is not None:
            raise ReadError("--chart: the chart has no chords")
        raise ReadError("no chords in the file; say --chart CHART", source=path.name)
    line = [LineNote(note.onset, note.beats, note.midi) for note in given.notes]
    try:
        found = outline(line, chart)
    except ReadError as error:
        raise error.at(source=path.name) from None
    notices = (*chart.notices, *notices)
    if asked.json:
        print(json.dumps(outline_data(found, chart, notices), ensure_ascii=False, indent=1))
    else:
        print("\n".join(table_lines(found, chart, notices)))


def _given(path: Path, asked: argparse.Namespace) -> _Given:
    """The line of a file.

    Raises
    ------
    ReadError
        When there is no such file, or it has no notes.
    """
    try:
        missing = not path.is_file()
    except (OSError, ValueError):  # a name too long for the system is no file
        missing = True
    if missing:
        raise ReadError(f"no such file: {asked.line}; give a line in {_KINDS}")
    notation = notation_of_suffix(path.suffix)
    if notation and notation.read is None:
        midi = read_midi_line(path)
        return _Given(midi.notes, None, midi.meters[0][1])
    no_notes = ReadError(f"no notes; give a line in {_KINDS}", source=path.name)
    if not (notation and notation.has_melody):
        raise no_notes
    sheet = load_sheet_file(
        path,
        reading=asked_reading(asked),
        tune=asked_tune(asked),
        melody_will_do=asked.chart is not None,
    )
    if not sheet.has_melody:
        raise no_notes
    chart = played(sheet)
    return _Given(played_melody(sheet), chart, chart.meter)


def _fitted(given: _Given, chart: Chart, name: str) -> tuple[str, ...]:
    """What was taken for granted when a line was laid over another chart.

    Raises
    ------
    ReadError
        When their metres differ.
    """
    if given.chart is None:
        stated = given.meter != Meter()  # what a MIDI file does not state reads as 4/4
        if stated and given.meter.bar_beats != chart.meter.bar_beats:
            raise ReadError(f"in {given.meter}, the chart in {chart.meter}", source=name)
        early = "a MIDI file is taken to begin with bar 1, not with the chart's pickup"
        return (early,) if chart.pickup_beats else ()
    line, form = given.chart.form, chart.form
    for place, bar in enumerate(line):
        if bar.beats != form[place % len(form)].beats:
            other = form[place % len(form)].meter
            raise ReadError(f"{bar.label} is in {bar.meter}, the chart's in {other}", source=name)
    if len(line) % len(form):
        return (f"the line has {_bars(len(line))}, the chart {_bars(len(form))}",)
    return ()


def _bars(count: int) -> str:
    return f"{count} bar{'s' * (count != 1)}"
