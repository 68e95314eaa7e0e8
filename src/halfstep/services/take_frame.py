"""In which tempo and over which chart is a take counted, and where in it does bar 1 begin?

What is said with the request comes first; then what the backing says of itself, and the lesson
that the take belongs to, a ``lesson.json`` named or lying beside the take or its backing; then
a chart that states a tempo, or a written etude. Nothing is taken for granted: what is not known
is None.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil
from pathlib import Path
from statistics import fmean, median

from halfstep.data.documents import read_document
from halfstep.data.etude_json import read_etude
from halfstep.data.lesson_json import LESSON_FORM
from halfstep.errors import BriefError, HalfstepError, ReadError
from halfstep.feedback.form_places import counted_cell
from halfstep.feedback.note_prior import prior_of_line
from halfstep.feedback.take_clock import TakeClock
from halfstep.feedback.take_tuning import tuning_by_chart, tuning_by_line
from halfstep.harmony.first_bar import ExpectedStart, FirstBar, first_bar_over_chart
from halfstep.harmony.first_bar_by_line import first_bar_by_line
from halfstep.harmony.line_over_chords import LineNote
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.listen.pitch_prior import PitchPrior
from halfstep.meter import Feel
from halfstep.progression.bars_data import read_played_chart
from halfstep.progression.chart import Chart
from halfstep.progression.chart_difference import first_difference, have_same_chords
from halfstep.progression.excerpt import WholeForm
from halfstep.services.earlier_lesson import LESSON_FILE
from halfstep.services.known_backing import KnownBacking
from halfstep.services.lesson_lines import LessonLine, lines_for, lines_of_lesson, lines_of_step
from halfstep.services.request_fields import ChartSource, chart_of, sheet_of
from halfstep.tempo_map import TempoMap

_CHORUS_SLACK = 0.01
"""Choruses that a block may differ from a whole number of them; files round to the sample."""


@dataclass(frozen=True, slots=True)
class TakeFrame:
    """What a take is counted in.

    Attributes
    ----------
    quarters_a_minute : float or None
        None where it is not known, or rises.
    chart : Chart or None
    lines : tuple of LessonLine
        Those that may have been played.
    source : str
        Where the tempo comes from, in words; empty where there is none.
    feel : Feel or None
        How eighths fall, where that is known.
    is_named : bool
        The lines are those that were named as played.
    rising : tuple of float
        Where it rises, the tempo of each chorus in quarter notes a minute; else empty.
    whole : WholeForm or None
        What the chart has a few bars of; None where it is all that there is.
    """

    quarters_a_minute: float | None = None
    chart: Chart | None = None
    lines: tuple[LessonLine, ...] = ()
    source: str = ""
    feel: Feel | None = None
    is_named: bool = False
    rising: tuple[float, ...] = ()
    whole: WholeForm | None = None

    @property
    def line(self) -> LessonLine | None:
        """The one that was named as played; None where none was, or two players have it."""
        return self.lines[0] if self.is_named and len(self.lines) == 1 else None

    @property
    def cell(self) -> Fraction:
        """What its beats are counted in, in quarter notes."""
        bars = self.chart.form if self.chart else ()
        return counted_cell([length for b in bars for length in (b.beats, b.meter.pulse_beats)])

    @property
    def tempo_words(self) -> str:
        """Its tempo, or the first and the last of one that rises, as a player counts."""
        if self.quarters_a_minute is not None:
            return f"{_pulses(self.quarters_a_minute, self.chart):g}"
        first, *_, last = (f"{_pulses(quarters, self.chart):g}" for quarters in self.rising)
        return f"{first} to {last}"

    @property
    def is_timed(self) -> bool:
        """True where it is known when each beat comes."""
        return bool(self.quarters_a_minute or self.rising)

    def clock(
        self, form_s: float, *, is_offset_known: bool = False, has_backing: bool = False
    ) -> TakeClock:
        """The clock of a take in which bar 1 begins at some time; it must be timed."""
        quarters = self.quarters_a_minute or median(self.rising)
        return TakeClock(60 / quarters, form_s, is_offset_known, has_backing, self._tempi)

    @property
    def _tempi(self) -> TempoMap | None:
        """From bar 1 on, where each chorus has a tempo of its own."""
        if self.chart is None or not self.rising:
            return None
        starts = (number * self.chart.beats for number in range(len(self.rising)))
        return TempoMap(tuple(zip(starts, self.rising, strict=True)))

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
        if self.chart is None or not self.is_timed or len(self.lines) != 1:
            return None
        beats, clock = float(self.chart.beats), self.clock(start_s)
        return prior_of_line(
            self.lines[0].notes,
            time_s=clock.time_s,
            choruses=max(1, ceil(clock.beats(length_s) / beats)),
            form_beats=beats,
        )

    def first_bar(
        self, notes: Sequence[HeardNote], expected_s: tuple[float, float] | None = None
    ) -> tuple[float, FirstBar, str] | None:
        """Where bar 1 begins under the notes: in seconds, the place, and in what it was found.

        None where that is not known.

        Parameters
        ----------
        notes : sequence of HeardNote
        expected_s : (float, float) or None
            Between which seconds it is likely to begin; where the tempo rises it can begin
            there alone.
        """
        if self.chart is None or not self.is_timed or (self.rising and expected_s is None):
            return None
        clock = self.clock(fmean(expected_s) if self.rising and expected_s else 0.0)
        expected = expected_s and ExpectedStart(*map(clock.beats, expected_s))
        played = [
            LineNote(on := clock.beats(n.onset_s), clock.beats(n.offset_s) - on, n.midi)
            for n in notes
        ]
        match = self._first_bar_in(played, self.chart, expected)
        if match is None or (self.rising and not match[0].is_expected):
            return None
        place, name = match
        return clock.time_s(place.beats), place, name

    def _first_bar_in(
        self, played: Sequence[LineNote], chart: Chart, expected: ExpectedStart | None
    ) -> tuple[FirstBar, str] | None:
        """The place of bar 1 by the lines, else by the chart, and the name of what says it."""
        beats = float(chart.beats)
        matches = [
            (place, line.name)
            for line in self.lines
            if (place := first_bar_by_line(played, line.notes, beats, expected)) and place.is_clear
        ]
        if matches:
            return max(matches, key=lambda match: match[0].confidence)
        over_chart = first_bar_over_chart(played, chart, expected)
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
    etude: Path | str | None = None,
    own_line: bool = False,
    backing: KnownBacking | None = None,
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
        Pulses a minute, quarter notes where no chart is known; what is given comes first.
    instrument : str or None
        Whose lines of the lesson may have been played; all of them where it is None.
    step : str or None
        The name or number of the step that was played, where that is known.
    etude : Path, str or None
        The etude that was played, as data, in a file or as text.
    own_line : bool
        Over the chords of that etude a line of the player's own was played.
    backing : KnownBacking or None
        What it was played to.

    Raises
    ------
    BriefError
        When a lesson is named that is none, or a step that it has not or that several
        instruments have, or an etude of another player or over other chords.
    ReadError
        When the chart cannot be read.
    """
    frame = TakeFrame()
    if chart is not None:
        frame = _frame_of_chart(chart)
    elif path := _lesson_file(lesson, beside):
        frame = _frame_of_lesson(path, named=lesson is not None) or frame
    if etude is not None:
        frame = _with_etude(frame, etude, instrument, step)
        frame = replace(frame, lines=(), is_named=False) if own_line else frame
    elif step is None:
        frame = replace(frame, lines=lines_for(instrument, frame.lines))
    else:
        _demand_lesson(step, frame, chart)
        lines = lines_of_step(step, frame.lines, instrument)
        frame = replace(frame, lines=lines, is_named=True)
    if backing is not None:
        _demand_tempo_of(backing, tempo_bpm)
        is_meant = frame.is_named or chart is not None
        frame = _over_backing(frame, backing, is_meant=is_meant)
    if tempo_bpm is None:
        return frame
    return replace(frame, quarters_a_minute=_quarters(tempo_bpm, frame.chart), source="")


_TEMPO_SLACK = 0.005
"""The share by which a tempo may differ from the backing's, that is said with few digits."""


def _demand_tempo_of(backing: KnownBacking, tempo_bpm: float | None) -> None:
    """Refuse a tempo that is not the backing's.

    Raises
    ------
    BriefError
    """
    if backing.quarters_a_minute is None or tempo_bpm is None:
        return
    pulses = _pulses(backing.quarters_a_minute, backing.chart)
    if abs(tempo_bpm / pulses - 1) > _TEMPO_SLACK:
        raise BriefError(
            f"`backing` {backing.path.name} is at {pulses:g} pulses a minute, `tempo_bpm` says "
            f"{tempo_bpm:g}; leave that out"
        )


def _over_backing(frame: TakeFrame, backing: KnownBacking, *, is_meant: bool) -> TakeFrame:
    """The frame of a take that was played to a backing which says what it is.

    Parameters
    ----------
    frame : TakeFrame
    backing : KnownBacking
    is_meant : bool
        The chords of the frame are those that were asked for, or a line was written over them.

    Raises
    ------
    BriefError
        When that is not what was said.
    """
    if backing.chart is not None and frame.chart is not None:
        if is_meant:
            _demand_same_chords(f"`backing` {backing.path.name}", backing.chart, frame.chart)
        elif not have_same_chords(backing.chart, frame.chart):
            frame = replace(frame, chart=backing.chart, lines=())
    source = backing.path.name
    if backing.rising:
        frame = replace(frame, quarters_a_minute=None, source=source, rising=backing.rising)
    elif backing.quarters_a_minute is not None:
        frame = replace(frame, quarters_a_minute=backing.quarters_a_minute, source=source)
    return replace(frame, chart=frame.chart or backing.chart, feel=backing.feel or frame.feel)


def lesson_folders(lesson: Path | None, beside: Sequence[Path]) -> tuple[Path, ...]:
    """Where the files of a take's lesson may lie: in its folder, and beside the recordings."""
    folders = [path.parent for path in beside]
    if lesson is not None:
        folders.insert(0, lesson if lesson.is_dir() else lesson.parent)
    return tuple(dict.fromkeys(folders))


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
        return TakeFrame(None, chart, feel=chart.feel)
    quarters = _quarters(chart.tempo_bpm, chart)
    return TakeFrame(quarters, chart, (), "the chart", chart.feel)


def _quarters(tempo_bpm: float, chart: Chart | None) -> float:
    """Quarter notes a minute at a tempo in pulses a minute."""
    return tempo_bpm * float(chart.meter.tempo_beats if chart else 1)


def _pulses(quarters_a_minute: float, chart: Chart | None) -> float:
    """Pulses a minute at a tempo in quarter notes a minute."""
    return quarters_a_minute / float(chart.meter.tempo_beats if chart else 1)


def _with_etude(
    frame: TakeFrame, source: Path | str, instrument: str | None, step: str | None
) -> TakeFrame:
    """The frame of a take of a written etude.

    Raises
    ------
    BriefError
    """
    if step is not None:
        raise BriefError("`etude` and `step`: name the one that was played")
    called = f"`etude` {str(source)!r}" if isinstance(source, Path) else "`etude`"
    try:
        stored = read_etude(source)
    except ReadError as error:
        raise BriefError(f"{called}: {error.marked_text}") from None
    if instrument not in {None, stored.instrument}:
        raise BriefError(f"{called}: it is for {stored.instrument}, not {instrument}")
    if frame.chart is not None:
        _demand_same_chords(f"{called}: it", stored.chart, frame.chart)
    line = LessonLine(
        stored.step.title.lower(),
        stored.step.name,
        stored.instrument,
        stored.line,
        stored.level,
        stored.ghosts,
    )
    if frame.quarters_a_minute is None:
        tempo = _quarters(stored.tempo_bpm, stored.chart)
        frame = replace(
            frame,
            quarters_a_minute=tempo,
            source=source.name if isinstance(source, Path) else "the etude",
        )
    return replace(
        frame,
        chart=frame.chart or stored.chart,
        lines=(line,),
        feel=frame.feel or stored.feel,
        is_named=True,
        whole=stored.whole,
    )


def _demand_same_chords(source: str, chart: Chart, wanted: Chart) -> None:
    """Refuse a chart whose chords are not those that were played over.

    Raises
    ------
    BriefError
    """
    if chart.beats != wanted.beats:
        beats, expected = chart.beats, wanted.beats
        raise BriefError(
            f"{source} is over a form of {beats} quarter notes, the take of {expected}"
        )
    if (pair := first_difference(chart, wanted)) is not None:
        span, other = pair
        raise BriefError(
            f"{source} is over other chords: bar {max(span.bar, other.bar)} has {span.symbol} "
            f"there and {other.symbol} in the chart of the take"
        )


def _frame_of_lesson(path: Path, *, named: bool) -> TakeFrame | None:
    """The frame of a lesson; None for a file beside the take that is none of ours."""
    try:
        data = read_document(path, LESSON_FORM)
        chart = replace(read_played_chart(data["chart"]), title=str(data["title"]))
        lines = tuple(lines_of_lesson(data))
        quarters_a_minute = float(data["quarters_a_minute"])
        return TakeFrame(quarters_a_minute, chart, lines, path.name, Feel(data["feel"]))
    except (HalfstepError, KeyError, TypeError, ValueError, ZeroDivisionError):
        if named:
            raise BriefError(f"`lesson` {str(path)!r} is no lesson of ours") from None
        return None


def _demand_lesson(step: str, frame: TakeFrame, chart: ChartSource | None) -> None:
    if chart is not None:
        raise BriefError("`step` and `chart`: a step is one of a lesson, over the lesson's chart")
    if not frame.lines:
        raise BriefError(f"`step` {step!r}: give the `lesson` that has it")
