"""The line that a teacher brings to a lesson: from a file of notes, or from a recording.

Conventions
-----------
- A line is in the key of the chart as it is given, unless its own chords or its backing say that
  it is in the key of the lesson.
- What is written as MusicXML or ABC stays as it is written. MIDI and recordings are laid on
  the places that they are meant on, swing taken out, with lengths that read well.
- The line is one chorus of the lesson's form; up to a bar before it is its pickup. What goes on
  behind the form is left out, and said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import floor
from pathlib import Path

from halfstep.errors import ReadError
from halfstep.etude.etude_words import bars_in_words
from halfstep.etude.teachers_line import TeachersLine
from halfstep.etude.writable_rhythm import writable_line
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import outline
from halfstep.meter import Feel
from halfstep.part.written_music import home_key_of
from halfstep.progression.chart import Chart
from halfstep.progression.notations import notation_of_suffix
from halfstep.services.heard_line_reading import heard_line
from halfstep.services.line_as_read import KeyedSheet, ReadLine
from halfstep.services.line_file import KINDS, is_there
from halfstep.services.outline_words import summary
from halfstep.services.request_fields import Progress
from halfstep.services.written_line_reading import written_line

_LEAST_FORM = 4
"""Bars of a form in which the last may be a pickup to the next time."""


def teachers_line(
    path: Path,
    sheets: Sequence[KeyedSheet],
    *,
    feel: Feel,
    start_s: float | None,
    reading: str | None,
    progress: Progress,
) -> TeachersLine:
    """The line of a file or a recording over a chart.

    Parameters
    ----------
    path : Path
    sheets : sequence of KeyedSheet
        In the key that is taken for granted first; another one is taken where the line says it:
        by its own chords, or by the backing it is played to.
    feel : Feel
        How its eighths are meant to fall.
    start_s : float or None
        Where in a recording bar 1 begins; None finds it, where that can be done.
    reading : str or None
        What doubtful signs of its own chords mean.
    progress : callable

    Raises
    ------
    ReadError
        When there is no such file, it has no notes, or the chart does not fit.
    TakeError
        When it cannot be heard.
    BriefError
        When too little is known of a recording.
    """
    if not is_there(path):
        raise ReadError(f"no such file: {path}; give a line in {KINDS}, or a recording")
    if notation_of_suffix(path.suffix) is None:
        progress(0.0, "listening")
        line = heard_line(path, sheets, feel, start_s)
    else:
        line = written_line(path, sheets, feel, reading)
    chart = line.keyed.chart
    notes, cut = _one_chorus(line.notes, chart)
    try:
        figures = outline(notes, chart)
    except ReadError as error:
        raise error.at(source=path.name) from None
    plain = writable_line(notes, chart)
    moved = tuple(note._replace(midi=note.midi + line.keyed.rise) for note in plain.notes)
    notices = (*line.notices, *_key_words(line, sheets), *cut, *_coarse_words(plain.bars))
    return TeachersLine(moved, next(summary(figures)), notices)


def _key_words(line: ReadLine, sheets: Sequence[KeyedSheet]) -> Iterator[str]:
    """In which key a line was taken to be, where there are two."""
    if len(sheets) > 1:
        moved = "and is moved with the chart" if line.keyed.rise else "as the lesson is"
        yield f"your line is taken to be in {home_key_of(line.keyed.chart)}, {moved}"


def _coarse_words(bars: Sequence[int]) -> Iterator[str]:
    if bars:
        yield f"your line: {bars_in_words(bars)} laid on sixteenths, to be written"


def _one_chorus(
    notes: Sequence[LineNote], chart: Chart
) -> tuple[tuple[LineNote, ...], tuple[str, ...]]:
    """The first chorus that is played, with its pickup, and what was left out."""
    form, bar = chart.beats, chart.form[0].beats
    start = form * _choruses_before(notes, form, bar if len(chart.form) >= _LEAST_FORM else 0)
    line = [note._replace(onset=note.onset - start) for note in notes]
    kept = [note for note in line if -bar < note.onset < form]
    inside = tuple(note._replace(beats=min(note.beats, form - note.onset)) for note in kept)
    early = sum(note.onset <= -bar for note in line)
    late = len(line) - len(kept) - early
    return inside, tuple(_cut_words(early, late))


def _choruses_before(notes: Sequence[LineNote], form: Fraction, pickup: Fraction | int) -> int:
    """How many choruses are silent before the line, whose pickup may lie in the last of them."""
    first, last = notes[0].onset, notes[-1].onset
    choruses = max(0, floor((first + pickup) / form))
    return choruses if last >= choruses * form else max(0, choruses - 1)


def _cut_words(early: int, late: int) -> Iterator[str]:
    for count, place in ((early, "more than a bar before bar 1"), (late, "behind the form")):
        if count:
            notes = f"{count} notes are" if count > 1 else "one note is"
            yield f"your line: {notes} left out, {place}: an example is one chorus"
