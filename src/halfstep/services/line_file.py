"""A line of notes in a file: MusicXML and ABC with their own chords, or MIDI without."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from halfstep.errors import ReadError
from halfstep.meter import Meter
from halfstep.part.written_music import in_concert
from halfstep.played import PlayedNote
from halfstep.progression.chart import Chart
from halfstep.progression.form import played
from halfstep.progression.load import load_sheet_file
from halfstep.progression.melody import played_melody
from halfstep.progression.notations import NOTATIONS, notation_of_suffix, notation_words
from halfstep.progression.notations.midi_line import read_midi_line
from halfstep.services.request_fields import reading_of

KINDS = notation_words(notation for notation in NOTATIONS if notation.has_melody)


@dataclass(frozen=True, slots=True)
class LineFile:
    """A line as its file has it.

    Attributes
    ----------
    notes : tuple of PlayedNote
        Concert pitch, in beats from the start of bar 1.
    chart : Chart or None
        Its own chords; None for MIDI, which has none.
    meter : Meter
    notices : tuple of str
        What was passed over.
    """

    notes: tuple[PlayedNote, ...]
    chart: Chart | None
    meter: Meter
    notices: tuple[str, ...] = ()


def read_line_file(
    path: Path, *, reading: str | None, tune: int | None, has_chart: bool
) -> LineFile:
    """The line of a file.

    Parameters
    ----------
    path : Path
    reading, tune : str or int, optional
        As of a chart file.
    has_chart : bool
        Its chords are known, so that the file needs none.

    Raises
    ------
    ReadError
        When there is no such file, or it has no notes.
    """
    if not is_there(path):
        raise ReadError(f"no such file: {path}; give a line in {KINDS}")
    notation = notation_of_suffix(path.suffix)
    if notation and notation.read is None:
        midi = read_midi_line(path)
        return LineFile(midi.notes, None, midi.meters[0][1], midi.notices)
    no_notes = ReadError(f"no notes; give a line in {KINDS}", source=path.name)
    if not (notation and notation.has_melody):
        raise no_notes
    sheet = load_sheet_file(
        path,
        reading=reading_of(reading),
        tune=tune,
        melody_will_do=has_chart,
    )
    if not sheet.has_melody:
        raise no_notes
    chart = played(in_concert(sheet))
    return LineFile(played_melody(sheet), chart, chart.meter)


def is_there(path: Path) -> bool:
    """True for a file; a name too long for the system is none."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def fitted_notices(line: LineFile, chart: Chart, name: str) -> tuple[str, ...]:
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
