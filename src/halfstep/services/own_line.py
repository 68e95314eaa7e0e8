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

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, pairwise
from math import ceil, floor
from pathlib import Path

from halfstep.errors import BriefError, ReadError, TakeError
from halfstep.etude.etude_words import bars_in_words
from halfstep.etude.teachers_line import TeachersLine
from halfstep.etude.writable_rhythm import writable_line
from halfstep.feedback.form_places import form_places
from halfstep.feedback.take_clock import TakeClock, clocked_notes
from halfstep.feedback.take_note import TakeNote
from halfstep.feedback.written_lengths import BarEnd, written_lengths
from halfstep.harmony.analysis import analyse
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import outline
from halfstep.listen.heard_take import HeardNote
from halfstep.meter import Feel
from halfstep.part.written_music import home_key_of
from halfstep.played import PlayedNote
from halfstep.progression.chart import Chart
from halfstep.progression.chart_difference import first_difference
from halfstep.progression.notations import notation_of_suffix
from halfstep.progression.sheet import LeadSheet
from halfstep.services.hear_take import HearTake, Listening, listen
from halfstep.services.line_file import KINDS, LineFile, fitted_notices, is_there, read_line_file
from halfstep.services.outline_words import summary
from halfstep.services.request_fields import Progress
from halfstep.services.take_frame import TakeFrame

_AT_ONCE = Fraction(1, 16)
"""Notes that begin within so much of a quarter note begin together."""
_LEAST_FORM = 4
"""Bars of a form in which the last may be a pickup to the next time."""

LineNotes = tuple[LineNote, ...]


@dataclass(frozen=True, slots=True)
class KeyedSheet:
    """A sheet in a key that a line over it may be in.

    Attributes
    ----------
    sheet : LeadSheet
        With the tempo of the lesson.
    chart : Chart
        As it is played.
    rise : int
        Semitones from there to the key of the lesson.
    """

    sheet: LeadSheet
    chart: Chart
    rise: int


def own_line(
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
        keyed, notes, notices = _heard_line(path, sheets, feel, start_s, progress)
    else:
        keyed, notes, notices = _written_line(path, sheets, feel, reading)
    chart = keyed.chart
    notes, cut = _one_chorus(notes, chart)
    try:
        figures = outline(notes, chart)
    except ReadError as error:
        raise error.at(source=path.name) from None
    plain = writable_line(notes, chart)
    moved = tuple(note._replace(midi=note.midi + keyed.rise) for note in plain.notes)
    notices = (*notices, *_key_words(keyed, sheets), *cut, *_coarse_words(plain.bars))
    return TeachersLine(moved, next(summary(figures)), notices)


def _key_words(keyed: KeyedSheet, sheets: Sequence[KeyedSheet]) -> Iterator[str]:
    """In which key a line was taken to be, where there are two."""
    if len(sheets) > 1:
        moved = "and is moved with it" if keyed.rise else "as the lesson is"
        yield f"your line is taken to be in {home_key_of(keyed.chart)}, {moved}"


def _coarse_words(bars: Sequence[int]) -> Iterator[str]:
    if bars:
        yield f"your line: {bars_in_words(bars)} laid on sixteenths, to be written"


_Read = tuple[KeyedSheet, LineNotes, tuple[str, ...]]
"""In which key a line is, its notes, and what should be said of it."""


def _written_line(
    path: Path, sheets: Sequence[KeyedSheet], feel: Feel, reading: str | None
) -> _Read:
    """The line of a file of notes."""
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
    if file.chart is None:
        return keyed, written_lengths(_places_of(notes, chart, feel), _bar_ends(chart)), notices
    return keyed, tuple(LineNote(note.onset, note.beats, note.midi) for note in notes), notices


def _from_its_chords(file: LineFile) -> LineFile:
    """A file in which a whole bar precedes the first chord: it is a pickup that was written out."""
    chart = file.chart
    if chart is None or chart.pickup_beats or not _has_chords(chart) or chart.form[0].chords:
        return file
    beats = chart.form[0].beats
    bars = tuple(replace(bar, number=bar.number - 1) for bar in chart.bars)
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


def _heard_line(
    path: Path,
    sheets: Sequence[KeyedSheet],
    feel: Feel,
    start_s: float | None,
    progress: Progress,
) -> _Read:
    """The line of a recording."""
    progress(0.0, "listening")
    keyed, listening = _listening(path, sheets, start_s)
    if not listening.written.take.notes:
        raise TakeError(f"{path.name}: no note is heard in it; give another recording")
    if listening.written.form_s is None:
        first_s = listening.written.take.notes[0].onset_s
        raise BriefError(
            f"`line` {path.name}: where its bar 1 begins is not clear (the first note begins at "
            f"{first_s:.2f} s); say it with `line_start_s`, or record the line over a backing"
        )
    notes = clocked_notes(
        listening.written.take.notes,
        listening.clock,
        form=form_places(analyse(keyed.chart)),
        feel=listening.frame.feel or feel,
    )
    spoken = (*(notice.text for notice in listening.written.take.notices), *listening.notices)
    notices = (f"{path.name}: {text}".replace("`start_s`", "`line_start_s`") for text in spoken)
    return keyed, written_lengths(notes, _bar_ends(keyed.chart)), tuple(notices)


def _listening(
    path: Path, sheets: Sequence[KeyedSheet], start_s: float | None
) -> tuple[KeyedSheet, Listening]:
    """The recording as it was heard, in the first key in which it may be over its backing.

    Raises
    ------
    BriefError
        When it may be so in none.
    """
    first, *others = sheets
    request = HearTake(path, chart=first.sheet, start_s=start_s)
    try:
        return first, listen(request, demand=_demand_tempo(path.name))
    except BriefError:
        if not others:
            raise
        return _listening(path, others, start_s)


def _bar_ends(chart: Chart) -> BarEnd:
    """Gives the end of the bar in which something stops, however often the form comes round."""
    ends = list(accumulate(bar.beats for bar in chart.form))

    def bar_end(place: Fraction) -> Fraction:
        chorus = ceil(place / chart.beats) - 1
        start = chorus * chart.beats
        return start + ends[bisect_left(ends, place - start)]

    return bar_end


def _demand_tempo(name: str) -> Callable[[TakeFrame], None]:
    """Refuses a recording whose tempo nothing says."""

    def demand(frame: TakeFrame) -> None:
        if frame.quarters_a_minute is None:
            raise BriefError(
                f"`line` {name}: no tempo is known; give it with `tempi`, or record the line over "
                "a backing"
            )

    return demand


def _one_chorus(notes: Sequence[LineNote], chart: Chart) -> tuple[LineNotes, tuple[str, ...]]:
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
    return choruses if last >= choruses * form else choruses - 1


def _cut_words(early: int, late: int) -> Iterator[str]:
    for count, place in ((early, "more than a bar before bar 1"), (late, "behind the form")):
        if count:
            notes = f"{count} notes are" if count > 1 else "one note is"
            yield f"your line: {notes} left out, {place}: an example is one chorus"
