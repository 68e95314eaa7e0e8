"""How well does a line spell the changes of its own chords, or of a chart?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halfstep.data.outline_json import outline_data
from halfstep.errors import ReadError
from halfstep.harmony.line_figures import LineNote
from halfstep.harmony.outline import Outline, outline
from halfstep.meter import Meter
from halfstep.part.written_music import in_concert
from halfstep.played import PlayedNote
from halfstep.progression.chart import Chart
from halfstep.progression.form import played
from halfstep.progression.load import load_sheet_file
from halfstep.progression.melody import played_melody
from halfstep.progression.notations import NOTATIONS, notation_of_suffix, notation_words
from halfstep.progression.notations.midi_line import read_midi_line
from halfstep.services.request_fields import ChartSource, chart_of, placed_in, reading_of, sheet_of

_KINDS = notation_words(notation for notation in NOTATIONS if notation.has_melody)


@dataclass(frozen=True, slots=True)
class OutlineLine:
    """A request to measure how well a line spells the changes.

    Attributes
    ----------
    line : Path
        A file of notes: MusicXML or ABC with its own chords, or any of these or MIDI over
        a chart.
    chart : str, Path, LeadSheet or None
        The chords; None for those in the file.
    reading : str or None
    tune : int or None
    """

    line: Path
    chart: ChartSource | None = None
    reading: str | None = None
    tune: int | None = None


@dataclass(frozen=True, slots=True)
class OutlineReply:
    """The figures of a line.

    Attributes
    ----------
    outline : Outline
    chart : Chart
    notices : tuple of str
        What was not certain.
    """

    outline: Outline
    chart: Chart
    notices: tuple[str, ...]

    def data(self) -> dict[str, Any]:
        """The figures as plain lists and dictionaries."""
        return outline_data(self.outline, self.chart, self.notices)

    def _repr_html_(self) -> str:
        from halfstep.services.notebook import outline_html

        return outline_html(self.outline, self.chart, self.notices)


@dataclass(frozen=True, slots=True)
class _LineFile:
    """A line as its file has it; the chart is None for MIDI."""

    notes: tuple[PlayedNote, ...]
    chart: Chart | None
    meter: Meter
    notices: tuple[str, ...] = ()


def outline_line(request: OutlineLine) -> OutlineReply:
    """Measure a line: all of it, every four bars, every change.

    Raises
    ------
    ReadError
        When there is no such file, it has no notes or no chords, or the chart does not fit.
    """
    name = request.line.name
    line = _line_file(request)
    chart, notices = _chart_under(request, line)
    if not any(not at.symbol.silent for bar in chart.bars for at in bar.chords):
        if request.chart is not None:
            raise ReadError("`chart`: the chart has no chords")
        raise ReadError("no chords in the file; give them with `chart`", source=name)
    notes = [LineNote(note.onset, note.beats, note.midi) for note in line.notes]
    try:
        figures = outline(notes, chart)
    except ReadError as error:
        raise error.at(source=name) from None
    return OutlineReply(figures, chart, (*chart.notices, *line.notices, *notices))


def _chart_under(request: OutlineLine, line: _LineFile) -> tuple[Chart, tuple[str, ...]]:
    """The chords of the line, and what was taken for granted."""
    if request.chart is not None:
        try:
            sheet = sheet_of(request.chart, reading=request.reading, tune=None)
            chart = chart_of(request.chart, sheet)
        except ReadError as error:
            raise placed_in(request.chart, error) from None
        return chart, _fitted(line, chart, request.line.name)
    if line.chart is None:
        raise ReadError(
            "a MIDI file has no chords; give them with `chart`", source=request.line.name
        )
    return line.chart, ()


def _line_file(request: OutlineLine) -> _LineFile:
    """The line of a file.

    Raises
    ------
    ReadError
        When there is no such file, or it has no notes.
    """
    path = request.line
    try:
        missing = not path.is_file()
    except (OSError, ValueError):  # a name too long for the system is no file
        missing = True
    if missing:
        raise ReadError(f"no such file: {path}; give a line in {_KINDS}")
    notation = notation_of_suffix(path.suffix)
    if notation and notation.read is None:
        midi = read_midi_line(path)
        return _LineFile(midi.notes, None, midi.meters[0][1], midi.notices)
    no_notes = ReadError(f"no notes; give a line in {_KINDS}", source=path.name)
    if not (notation and notation.has_melody):
        raise no_notes
    sheet = load_sheet_file(
        path,
        reading=reading_of(request.reading),
        tune=request.tune,
        melody_will_do=request.chart is not None,
    )
    if not sheet.has_melody:
        raise no_notes
    chart = played(in_concert(sheet))
    return _LineFile(played_melody(sheet), chart, chart.meter)


def _fitted(line: _LineFile, chart: Chart, name: str) -> tuple[str, ...]:
    """What was taken for granted when a line was laid over another chart.

    Raises
    ------
    ReadError
        When their metres differ.
    """
    if line.chart is None:
        stated = line.meter != Meter()  # what a MIDI file does not state reads as 4/4
        if stated and line.meter.bar_beats != chart.meter.bar_beats:
            raise ReadError(f"in {line.meter}, the chart in {chart.meter}", source=name)
        early = "a MIDI file is taken to begin with bar 1, not with the chart's pickup"
        return (early,) if chart.pickup_beats else ()
    bars, form = line.chart.form, chart.form
    for place, bar in enumerate(bars):
        if bar.beats != form[place % len(form)].beats:
            meter = form[place % len(form)].meter
            raise ReadError(f"{bar.label} is in {bar.meter}, the chart's in {meter}", source=name)
    if len(bars) % len(form):
        return (f"the line has {_bars(len(bars))}, the chart {_bars(len(form))}",)
    return ()


def _bars(count: int) -> str:
    return f"{count} bar{'s' * (count != 1)}"
