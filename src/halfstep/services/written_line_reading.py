"""The line that a teacher wrote: MusicXML and ABC as they stand, MIDI with its swing taken out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from halfstep.feedback.form_places import form_places
from halfstep.feedback.take_clock import TakeClock, clocked_notes
from halfstep.feedback.take_note import TakeNote
from halfstep.feedback.written_lengths import written_lengths
from halfstep.harmony.analysis import analyse
from halfstep.harmony.line_over_chords import LineNote
from halfstep.listen.heard_take import HeardNote
from halfstep.meter import Feel
from halfstep.played import PlayedNote
from halfstep.progression.chart import Chart
from halfstep.progression.chart_difference import first_difference
from halfstep.services.line_as_read import KeyedSheet, ReadLine, bar_ends
from halfstep.services.line_file import LineFile, fitted_notices, read_line_file

_AT_ONCE = Fraction(1, 16)
"""Notes that begin within so much of a quarter note begin together."""


def written_line(
    path: Path, sheets: Sequence[KeyedSheet], feel: Feel, reading: str | None
) -> ReadLine:
    """The line of a file of notes.

    Parameters
    ----------
    path : Path
    sheets : sequence of KeyedSheet
        The one with the chords of the file is taken, else the first.
    feel : Feel
    reading : str or None

    Raises
    ------
    ReadError
        When it has no notes, or the chart does not fit.
    """
    file = _from_its_chords(read_line_file(path, reading=reading, tune=None, has_chart=True))
    keyed = next((sheet for sheet in sheets if _is_over(file, sheet.chart)), sheets[0])
    chart = keyed.chart
    notices = (*file.notices, *_unlike(file, chart, path.name))
    notes, dropped = _one_at_a_time(file.notes)
    if dropped:
        places = f"{dropped} places" if dropped > 1 else "one place"
        notices = (
            *notices,
            f"{path.name} has several notes at once in {places}: the top one is taken",
        )
    line = tuple(LineNote(note.onset, note.beats, note.midi) for note in notes)
    if file.chart is None:
        line = written_lengths(_places_of(notes, chart, feel), bar_ends(chart))
    return ReadLine(keyed, line, notices)


def _from_its_chords(file: LineFile) -> LineFile:
    """A file in which a whole bar precedes the first chord: it is a pickup that was written out."""
    chart = file.chart
    if chart is None or chart.pickup_beats or not _has_chords(chart) or chart.form[0].chords:
        return file
    beats = chart.form[0].beats
    bars = tuple(bar._replace(number=bar.number - 1) for bar in chart.bars)
    notes = tuple(replace(note, onset=note.onset - beats) for note in file.notes)
    return replace(file, notes=notes, chart=replace(chart, bars=bars))


def _is_over(file: LineFile, chart: Chart) -> bool:
    """True for a file with the chords of a chart."""
    return file.chart is not None and first_difference(file.chart, chart) is None


def _unlike(file: LineFile, chart: Chart, name: str) -> Iterator[str]:
    """What was taken for granted, and where the file has other chords than the chart."""
    yield from fitted_notices(file, chart, name)
    if file.chart is None or not _has_chords(file.chart):
        return
    if pair := first_difference(file.chart, chart):
        theirs, ours = pair
        yield (
            f"{name} has {theirs.symbol} in bar {max(theirs.bar, ours.bar)}, where the chart has "
            f"{ours.symbol}: the line is read over the chart"
        )


def _has_chords(chart: Chart) -> bool:
    return any(not chord.symbol.silent for bar in chart.bars for chord in bar.chords)


def _one_at_a_time(notes: Sequence[PlayedNote]) -> tuple[list[PlayedNote], int]:
    """The top notes, each ended by the next, and in how many places there were several."""
    tops: list[PlayedNote] = []
    chords = set()
    for note in sorted(notes, key=lambda note: (note.onset, -note.midi)):
        if tops and note.onset - tops[-1].onset < _AT_ONCE:
            chords.add(tops[-1].onset)
            if note.midi <= tops[-1].midi:
                continue
            tops.pop()
        tops.append(note)
    return _ended(tops), len(chords)


def _ended(notes: Sequence[PlayedNote]) -> list[PlayedNote]:
    """Notes that end where the next one begins at the latest."""
    ended = [
        replace(note, beats=min(note.beats, following.onset - note.onset))
        for note, following in pairwise(notes)
    ]
    return [*ended, *notes[-1:]]


_STEADY = TakeClock(0.5, 0.0, is_offset_known=True)
"""On which MIDI is read: what a machine wrote has no drift and no lag."""


def _places_of(notes: Sequence[PlayedNote], chart: Chart, feel: Feel) -> tuple[TakeNote, ...]:
    """Notes of MIDI on the places that they are meant on, however they swing."""
    sounding = [
        HeardNote(
            _STEADY.time_s(float(note.onset)),
            _STEADY.time_s(float(note.onset + note.beats)),
            note.midi,
            0.0,
            0.0,
            1.0,
            float(note.midi),
        )
        for note in notes
    ]
    return clocked_notes(sounding, _STEADY, form=form_places(analyse(chart)), feel=feel)
