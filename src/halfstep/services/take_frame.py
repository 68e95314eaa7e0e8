"""In which tempo and over which chart is a take counted, and where in it does bar 1 begin?

What is said with the request comes first; then the lesson that the take belongs to, a
``lesson.json`` named or lying beside the take or its backing; then a chart that states a
tempo. Nothing is taken for granted: what is not known is None.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil
from pathlib import Path
from typing import Any

from halfstep.data.documents import read_document
from halfstep.data.lesson_json import LESSON_FORM, read_line, read_played_chart
from halfstep.errors import BriefError, ReadError, did_you_mean
from halfstep.etude.steps import find_step
from halfstep.feedback.note_prior import prior_of_line
from halfstep.feedback.take_tuning import tuning_by_chart, tuning_by_line
from halfstep.harmony.first_bar import FirstBar, first_bar_of_line, first_bar_over_chart
from halfstep.harmony.line_figures import LineNote
from halfstep.lesson.brief import BACKING
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.listen.pitch_prior import PitchPrior
from halfstep.progression.chart import Chart
from halfstep.render.sound_facts import loop_start_s
from halfstep.render.sound_file import SOUND_FORMATS
from halfstep.services.earlier_lesson import LESSON_FILE
from halfstep.services.request_fields import ChartSource, chart_of, sheet_of

_CHORUS_SLACK = 0.01
"""Choruses that a block may differ from a whole number of them; files round to the sample."""


@dataclass(frozen=True, slots=True)
class LessonLine:
    """A step of a lesson as it is to be played, concert pitch, from bar 1.

    Attributes
    ----------
    name, step, instrument : str
        The title in small letters, and what the step and the instrument are known by.
    notes : tuple of LineNote
    """

    name: str
    step: str
    instrument: str
    notes: tuple[LineNote, ...]


@dataclass(frozen=True, slots=True)
class TakeFrame:
    """What a take is counted in.

    Attributes
    ----------
    quarters_a_minute : float or None
    chart : Chart or None
    lines : tuple of LessonLine
        Those that may have been played.
    source : str
        Where the tempo comes from, in words; empty where there is none.
    """

    quarters_a_minute: float | None = None
    chart: Chart | None = None
    lines: tuple[LessonLine, ...] = ()
    source: str = ""

    @property
    def chorus_s(self) -> float | None:
        """How long a chorus lasts; None where tempo or chart is unknown."""
        if self.quarters_a_minute is None or self.chart is None:
            return None
        return float(self.chart.beats) * 60 / self.quarters_a_minute

    def is_whole_choruses(self, length_s: float) -> bool:
        """True where a stretch of time is one chorus or several; False where none is known."""
        choruses = length_s / self.chorus_s if self.chorus_s else 0.0
        return round(choruses) >= 1 and abs(choruses - round(choruses)) <= _CHORUS_SLACK

    def prior(self, start_s: float, length_s: float) -> PitchPrior | None:
        """What is likely in a take in which bar 1 begins at some time.

        None where it is not known which line is played: a wrong one would mislead the ear.
        """
        if self.chart is None or self.chorus_s is None or len(self.lines) != 1:
            return None
        beats = float(self.chart.beats)
        return prior_of_line(
            self.lines[0].notes,
            quarter_s=self.chorus_s / beats,
            start_s=start_s,
            choruses=max(1, ceil((length_s - start_s) / self.chorus_s)),
            form_beats=beats,
        )

    def first_bar(self, notes: Sequence[HeardNote]) -> tuple[FirstBar, str] | None:
        """Where bar 1 begins under the notes, and in what it was found; None where unknown."""
        if self.quarters_a_minute is None or self.chart is None:
            return None
        per_second = self.quarters_a_minute / 60
        played = [
            LineNote(n.onset_s * per_second, (n.offset_s - n.onset_s) * per_second, n.midi)
            for n in notes
        ]
        beats = float(self.chart.beats)
        matches = [
            (place, line.name)
            for line in self.lines
            if (place := first_bar_of_line(played, line.notes, beats)) and place.is_clear
        ]
        if matches:
            return max(matches, key=lambda match: match[0].confidence)
        over_chart = first_bar_over_chart(played, self.chart)
        return (over_chart, "the chart") if over_chart else None

    def tuning_cents(self, take: HeardTake) -> float:
        """The tuning of a take by what may have been played in it."""
        if self.lines:
            midis = [note.midi for line in self.lines for note in line.notes]
            return tuning_by_line(take, midis)
        return take.tuning_cents if self.chart is None else tuning_by_chart(take, self.chart)


def frame_of(
    *,
    lesson: Path | None,
    beside: Sequence[Path],
    chart: ChartSource | None,
    tempo_bpm: float | None,
    instrument: str | None,
    step: str | None = None,
) -> TakeFrame:
    """What a take is counted in.

    Parameters
    ----------
    lesson : Path or None
        A ``lesson.json``, or its folder.
    beside : sequence of Path
        Recordings that may lie in the folder of a lesson.
    chart : str, Path, LeadSheet or None
    tempo_bpm : float or None
        Quarter notes a minute; what is given comes first.
    instrument : str or None
        Whose lines of the lesson may have been played; all of them where it is None.
    step : str or None
        The name or number of the step that was played, where that is known.

    Raises
    ------
    BriefError
        When a lesson is named that is none, or a step that it has not or that several
        instruments have.
    ReadError
        When the chart cannot be read.
    """
    frame = TakeFrame()
    if chart is not None:
        frame = _frame_of_chart(chart)
    elif path := _lesson_file(lesson, beside):
        frame = _frame_of_lesson(path, named=lesson is not None) or frame
    if step is None:
        frame = replace(frame, lines=_lines_for(instrument, frame.lines))
    else:
        _demand_lesson(step, frame, chart)
        frame = replace(frame, lines=_lines_of_step(step, frame.lines, instrument))
    if tempo_bpm is None:
        return frame
    return replace(frame, quarters_a_minute=tempo_bpm, source="")


def backing_beside(take: Path, lesson: Path | None) -> Path | None:
    """The backing of the lesson that a take belongs to, or the one that lies beside the take.

    Only a file that the program wrote, which the end of its count-in tells; whether it is in
    the take is for the ear to say.
    """
    folders = [take.parent]
    if lesson is not None:
        folders.insert(0, lesson if lesson.is_dir() else lesson.parent)
    names = [f"{BACKING}{form.suffix}" for form in SOUND_FORMATS.values()]
    paths = (folder / name for folder in folders for name in names)
    return next((path for path in paths if _is_backing(path) and not path.samefile(take)), None)


def _is_backing(path: Path) -> bool:
    try:
        return path.is_file() and loop_start_s(path) is not None
    except OSError:  # not ours to read
        return False


def _lesson_file(lesson: Path | None, beside: Sequence[Path]) -> Path | None:
    if lesson is not None:
        path = lesson / LESSON_FILE if lesson.is_dir() else lesson
        if not path.is_file():
            raise BriefError(f"`lesson` {str(lesson)!r}: there is no {LESSON_FILE}")
        return path
    paths = (recording.parent / LESSON_FILE for recording in beside)
    return next((path for path in paths if path.is_file()), None)


def _frame_of_chart(source: ChartSource) -> TakeFrame:
    chart = chart_of(source, sheet_of(source, reading=None, tune=None))
    if chart.tempo_bpm is None:
        return TakeFrame(None, chart)
    quarters = chart.tempo_bpm * float(chart.meter.tempo_beats)
    return TakeFrame(quarters, chart, (), "the chart")


def _frame_of_lesson(path: Path, *, named: bool) -> TakeFrame | None:
    """The frame of a lesson; None for a file beside the take that is none of ours."""
    try:
        data = read_document(path, LESSON_FORM)
        chart = read_played_chart(data["chart"])
        lines = tuple(_lines(data))
        quarters_a_minute = float(data["quarters_a_minute"])
        return TakeFrame(quarters_a_minute, chart, lines, str(path))
    except (ReadError, KeyError, TypeError, ValueError):
        if named:
            raise BriefError(f"`lesson` {str(path)!r} is no lesson of ours") from None
        return None


def _lines(data: dict[str, Any]) -> Iterator[LessonLine]:
    for player in data["players"]:
        for step in player["steps"]:
            title, name = str(step["title"]).lower(), str(step["step"])
            yield LessonLine(title, name, str(player["instrument"]), read_line(step))


def _lines_for(instrument: str | None, lines: Sequence[LessonLine]) -> tuple[LessonLine, ...]:
    """Those of an instrument; all of them where it is None."""
    return tuple(line for line in lines if instrument in {None, line.instrument})


def _demand_lesson(step: str, frame: TakeFrame, chart: ChartSource | None) -> None:
    if chart is not None:
        raise BriefError("`step` and `chart`: a step is one of a lesson, over the lesson's chart")
    if not frame.lines:
        raise BriefError(f"`step` {step!r}: give the `lesson` that has it")


def _lines_of_step(
    step: str, lines: Sequence[LessonLine], instrument: str | None
) -> tuple[LessonLine, ...]:
    """Those of one step: several only where players of one instrument have it."""
    instruments = dict.fromkeys(line.instrument for line in lines)
    if instrument not in {None, *instruments}:
        known = ", ".join(instruments)
        raise BriefError(f"`instrument` {instrument!r} with `step`: the lesson is for {known}")
    lines = _lines_for(instrument, lines)
    steps = dict.fromkeys(line.step for line in lines)
    if (name := _step_name(step)) not in steps:
        meant = did_you_mean(step, steps)
        raise BriefError(f"`step` {step!r}{meant or ':'} the lesson has {', '.join(steps)}")
    lines = tuple(line for line in lines if line.step == name)
    players = dict.fromkeys(line.instrument for line in lines)
    if len(players) > 1:
        known = ", ".join(players)
        raise BriefError(f"`step` {step!r}: {known} have it; say with `instrument` who plays")
    return lines


def _step_name(text: str) -> str:
    """What a step is known by, where the text is its name or its number."""
    try:
        return find_step(text).name
    except BriefError:
        return text
