"""How well does a line spell the changes of its own chords, or of a chart?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halfstep.data.outline_json import outline_data
from halfstep.errors import ReadError
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import Outline, outline
from halfstep.progression.chart import Chart
from halfstep.services.line_file import LineFile, fitted_notices, read_line_file
from halfstep.services.request_fields import ChartSource, chart_of, placed_in, sheet_of


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


def outline_line(request: OutlineLine) -> OutlineReply:
    """Measure a line: all of it, every four bars, every change.

    Raises
    ------
    ReadError
        When there is no such file, it has no notes or no chords, or the chart does not fit.
    """
    name = request.line.name
    line = read_line_file(
        request.line,
        reading=request.reading,
        tune=request.tune,
        has_chart=request.chart is not None,
    )
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


def _chart_under(request: OutlineLine, line: LineFile) -> tuple[Chart, tuple[str, ...]]:
    """The chords of the line, and what was taken for granted."""
    if request.chart is not None:
        try:
            sheet = sheet_of(request.chart, reading=request.reading, tune=None)
            chart = chart_of(request.chart, sheet)
        except ReadError as error:
            raise placed_in(request.chart, error) from None
        return chart, fitted_notices(line, chart, request.line.name)
    if line.chart is None:
        raise ReadError(
            "a MIDI file has no chords; give them with `chart`", source=request.line.name
        )
    return line.chart, ()
