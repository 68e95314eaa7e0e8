"""The notes of a recording: one instrument alone, with or without the backing it was played to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from math import floor
from pathlib import Path

from halfstep.data.documents import json_text
from halfstep.data.take_json import take_data
from halfstep.errors import BriefError, TakeError
from halfstep.feedback.kept_tempo import at_true_speed, kept_quarter_s, speed_of
from halfstep.instruments import INSTRUMENTS, Instrument
from halfstep.level import Level
from halfstep.listen.heard_take import HeardTake
from halfstep.listen.pitch_prior import PitchPrior, TakeTimes
from halfstep.listen.transcription import hear
from halfstep.meter import DEFAULT_BPM, Meter
from halfstep.part.take_part import WrittenTake, played_part
from halfstep.part.take_score import written_score
from halfstep.services.file_content import FileContent
from halfstep.services.known_backing import KnownBacking, backings_in, known_backing
from halfstep.services.notebook import inline_svg
from halfstep.services.request_fields import (
    ChartSource,
    Progress,
    demand_start,
    demand_tempo,
    no_progress,
    player_of,
)
from halfstep.services.take_frame import TakeFrame, frame_of, lesson_folders

_BEYOND = 2
"""A player may go so many semitones over the range of an advanced one."""


@dataclass(frozen=True, slots=True)
class HearTake:
    """A request to write down a recording.

    Attributes
    ----------
    take : Path
        One instrument alone: WAV, FLAC, MP3, M4A, OGG.
    backing : Path or None
        The backing it was played to; None looks for that of the lesson, or beside the take.
    instrument : str or None
        Who plays; None for concert pitch and any range.
    tempo_bpm : float or None
        Quarter notes a minute; None takes the backing's, the lesson's, the chart's or the
        etude's.
    lesson : Path or None
        The ``lesson.json`` that the take belongs to, or its folder; None looks beside the
        take and the backing.
    step : str or None
        The name or number of the step of that lesson that is played, where it is known:
        its line is then listened for.
    etude : Path or None
        The etude that is played, stored as data; its line is then listened for.
    chart : str, Path, LeadSheet or None
        What was played over, where it is not the lesson's: its bars and chords stand on the
        staff.
    start_s : float or None
        Where in the recording bar 1 begins; None finds it, where that can be done.
    headphones : bool
        No backing is in the take, so none is looked for; one that is named says tempo and
        chords.
    """

    take: Path
    backing: Path | None = None
    instrument: str | None = None
    tempo_bpm: float | None = None
    lesson: Path | None = None
    step: str | None = None
    etude: Path | None = None
    chart: ChartSource | None = None
    start_s: float | None = None
    headphones: bool = False


@dataclass(frozen=True, slots=True)
class TakeReply:
    """A take as it was heard.

    Attributes
    ----------
    written : WrittenTake
        What was heard, and how the player reads it.
    tempo_bpm : float or None
        Quarter notes a minute; None where nothing says it.
    notices : tuple of str
        What makes the take hard to hear.
    """

    written: WrittenTake
    tempo_bpm: float | None
    notices: tuple[str, ...]

    def file(self, suffix: str) -> FileContent:
        """What was heard as a file that ends in one of `TAKE_SUFFIXES`.

        Raises
        ------
        TakeError
            When there is no note to write.
        """
        if not self.written.take.notes and suffix != ".json":
            raise TakeError(f"{self.written.title}: no note is heard, so there is nothing to write")
        return _FILES[suffix](self)

    def _repr_svg_(self) -> str | None:
        if self.tempo_bpm is None:
            return None  # no beats, no staff
        return inline_svg(_page(self, ".svg").data.decode())


@dataclass(frozen=True, slots=True)
class Listening:
    """A take as it was heard, and what it is counted in.

    Attributes
    ----------
    written : WrittenTake
    frame : TakeFrame
    backing : KnownBacking or None
        What was played to.
    notices : tuple of str
        Of its tempo and its beginning; what makes it hard to hear stands in the take.
    """

    written: WrittenTake
    frame: TakeFrame
    backing: KnownBacking | None
    notices: tuple[str, ...]
    corrections: tuple[str, ...] = ()


def hear_take(request: HearTake, *, progress: Progress = no_progress) -> TakeReply:
    """Write down the notes of a recording.

    Raises
    ------
    TakeError
        When there is no such file, or it cannot be heard.
    ReadError
        When the chart cannot be read.
    BriefError
        When there is no such instrument, lesson or step, or a tempo that nobody plays at, or a
        backing is named for a take with headphones.
    """
    listening = listen(request, progress=progress)
    notices = (*(notice.text for notice in listening.written.take.notices), *listening.notices)
    return TakeReply(listening.written, listening.frame.quarters_a_minute, notices)


def listen(
    request: HearTake,
    *,
    demand: Callable[[TakeFrame], None] = lambda _: None,
    progress: Progress = no_progress,
) -> Listening:
    """Hear a recording.

    Parameters
    ----------
    request : HearTake
    demand : callable
        Refuses a frame in which too little is known, before the work begins.
    progress : callable

    Raises
    ------
    TakeError, ReadError, BriefError
    """
    demand_tempo(request.tempo_bpm)
    demand_start(request.start_s)
    take = _recording(request.take, "")
    backing = _backing(request)
    frame, backing = _framed(request, backing)
    demand(frame)
    player = player_of(request.instrument or (frame.line.instrument if frame.line else None))
    count_in_s = (backing and backing.start_s) or 0.0
    low_midi, high_midi = _range(player)
    heard_take = hear(
        take,
        backing=None if backing is None or request.headphones else backing.path,
        low_midi=low_midi,
        high_midi=high_midi,
        prior_maker=partial(_prior, request, frame, count_in_s),
        progress=lambda share: progress(share, "listening"),
    )
    if backing is not None and heard_take.delay_s is not None:
        frame = _frame(request, backing)  # one that only lay beside the take is its own
    heard_take, frame, corrections = _kept(heard_take, frame)
    heard_take = heard_take.named(frame.tuning_cents(heard_take))
    start_s, notices = _start(request, frame, heard_take, backing)
    if request.backing is None and backing is not None and heard_take.delay_s is not None:
        notices = (f"the backing is {backing.path}, which is in the take", *notices)
    written = WrittenTake(heard_take, player, take.stem, count_in_s, frame.chart, start_s)
    return Listening(written, frame, backing, (*corrections, *notices), corrections)


def _kept(take: HeardTake, frame: TakeFrame) -> tuple[HeardTake, TakeFrame, tuple[str, ...]]:
    """A take alone at its true speed, the frame in the tempo it keeps, and what to say of that."""
    if take.delay_s is not None or frame.quarters_a_minute is None:
        return take, frame, ()
    said_s = 60 / frame.quarters_a_minute
    kept_s = kept_quarter_s([note.onset_s for note in take.notes], said_s, frame.cell)
    if kept_s == said_s:
        return take, frame, ()
    speed = speed_of(take, said_s, kept_s)
    if speed != 1:
        percent = 100 * (speed - 1)
        slip = f"the recording runs {abs(percent):.1f} % too {'fast' if percent > 0 else 'slow'}"
        return at_true_speed(take, speed), frame, (f"{slip}, in tempo and pitch: put right",)
    kept = round(60 / kept_s, 1)
    text = f"played at {kept:g} quarter notes a minute, not at {frame.quarters_a_minute:g}"
    return take, replace(frame, quarters_a_minute=kept), (f"{text}: counted as played",)


def _backing(request: HearTake) -> KnownBacking | None:
    """The backing that is named, or that belongs to the take."""
    if request.backing is None:
        folders = lesson_folders(request.lesson, [request.take])
        paths = (path for path in backings_in(folders) if not path.samefile(request.take))
        return next((known_backing(path, ()) for path in paths), None)
    path = _recording(request.backing, "`backing` ")
    backing = known_backing(path, lesson_folders(request.lesson, [path, request.take]))
    if request.headphones and backing.chart is None:
        raise BriefError(
            "`headphones` and `backing`: with headphones no backing is in the take, and "
            f"{path.name} does not say what it is"
        )
    return backing


def _framed(
    request: HearTake, backing: KnownBacking | None
) -> tuple[TakeFrame, KnownBacking | None]:
    """What the take is counted in, and its backing: one that only lies beside it must fit."""
    if backing is None or request.backing is not None:
        return _frame(request, backing), backing
    frame = _frame(request, None)
    if frame.chart is not None and frame.quarters_a_minute is not None:
        return frame, backing  # whether it is in the take is for the ear to say
    try:
        return _frame(request, backing), backing
    except BriefError:
        return frame, None


def _frame(request: HearTake, backing: KnownBacking | None) -> TakeFrame:
    return frame_of(
        lesson=request.lesson,
        beside=[request.take, *([backing.path] if backing else ())],
        chart=request.chart,
        tempo_bpm=request.tempo_bpm,
        instrument=request.instrument and player_of(request.instrument).key,
        step=request.step,
        etude=request.etude,
        backing=backing,
    )


def _prior(
    request: HearTake, frame: TakeFrame, count_in_s: float, times: TakeTimes
) -> PitchPrior | None:
    """What is likely to be played, where it is known before listening where bar 1 begins."""
    start_s = request.start_s
    if start_s is None:
        start_s = _first_form(frame, times, count_in_s)
    return None if start_s is None else frame.prior(start_s, times.length_s)


def _first_form(frame: TakeFrame, times: TakeTimes, count_in_s: float) -> float | None:
    """Where the backing's form begins, or some chorus at or before the take's first moment."""
    if times.delay_s is None or times.delay_modulo_s is None:
        return None if times.delay_s is None else times.delay_s + count_in_s
    if not frame.is_whole_choruses(times.delay_modulo_s):
        return None
    return (times.delay_s + count_in_s) % times.delay_modulo_s - times.delay_modulo_s


def _start(
    request: HearTake, frame: TakeFrame, take: HeardTake, backing: KnownBacking | None
) -> tuple[float | None, tuple[str, ...]]:
    """Where bar 1 begins, when no backing says it, and what should be said of that."""
    tempo = (f"tempo {frame.quarters_a_minute:g}, from {frame.source}",) if frame.source else ()
    if request.start_s is not None:
        return request.start_s, tempo
    pass_start_s = _start_of_pass(frame, take, (backing and backing.start_s) or 0.0)
    if take.delay_s is None or not (take.delay_modulo_s is None or pass_start_s is not None):
        start_s, notices = _start_by_notes(frame, take, UNCLEAR_START)
        return start_s, (*tempo, *notices)
    if backing is None or backing.start_s is not None:
        return pass_start_s, tempo
    start_s, notices = _start_by_notes(frame, take, _AT_ITS_BEGINNING)
    return (pass_start_s if start_s is None else start_s), (*tempo, *notices)


UNCLEAR_START = "where bar 1 begins is not clear; say it with `start_s`"
_AT_ITS_BEGINNING = (
    "the backing does not say where its bar 1 is: taken to be its beginning, unless you say it "
    "with `start_s`"
)


def _start_by_notes(
    frame: TakeFrame, take: HeardTake, unclear: str
) -> tuple[float | None, tuple[str, ...]]:
    """Where bar 1 begins by what is played, and what should be said of that."""
    match = frame.first_bar(take.notes) if take.notes else None
    if match is None or frame.quarters_a_minute is None:
        return None, ()
    place, name = match
    start_s = place.beats * 60 / frame.quarters_a_minute
    if not place.is_clear:
        return None, (unclear,)
    sure = f"{100 * place.confidence:.0f} % sure"
    return start_s, (f"bar 1 begins at {start_s:.2f} s, as {name} has it ({sure})",)


def _start_of_pass(frame: TakeFrame, take: HeardTake, count_in_s: float) -> float | None:
    """The last beginning of a chorus before the first note, where it is not known of which.

    None where the backing is not found or its place unmistakable, and where what sounds
    alike is no whole number of choruses, so that bar 1 is not known by it.
    """
    if take.delay_s is None or take.delay_modulo_s is None or not take.notes:
        return None
    if frame.chorus_s is not None and not frame.is_whole_choruses(take.delay_modulo_s):
        return None
    form_s = take.delay_s + count_in_s
    before_s = take.notes[0].onset_s - form_s
    return form_s + floor(before_s / take.delay_modulo_s) * take.delay_modulo_s


def _range(player: Instrument) -> tuple[int, int]:
    """Concert limits as MIDI numbers; none where the player is not known."""
    if player is INSTRUMENTS["concert"]:
        return 0, 127
    compass = player.compass(Level.ADVANCED)
    return (
        player.concert(compass.low).midi - _BEYOND,
        player.concert(compass.high).midi + _BEYOND,
    )


def _recording(path: Path, field: str) -> Path:
    """A file that is there.

    Raises
    ------
    TakeError
    """
    try:
        is_file, exists = path.is_file(), path.exists()
    except (OSError, ValueError):  # a name that no system takes
        is_file = exists = False
    if not is_file:
        fault = "is a folder; give a recording" if exists else "there is no such file"
        raise TakeError(f"{field}{str(path)!r}: {fault}")
    return path


# Files


def _json(reply: TakeReply) -> FileContent:
    return FileContent((json_text(take_data(reply.written)).encode(),))


def _midi(reply: TakeReply) -> FileContent:
    from halfstep.render.midi_file import midi_bytes

    written, tempo_bpm, notices = reply.written, reply.tempo_bpm, reply.written.notices
    if tempo_bpm is None:
        tempo_bpm = DEFAULT_BPM
        notices = (*notices, f"no tempo is known: the times are exact, counted at {tempo_bpm:g}")
    part = played_part(written, tempo_bpm)
    meter = written.chart.meter if written.chart else Meter()
    data = midi_bytes([part], meter=meter, tempo_bpm=tempo_bpm, title=written.title)
    return FileContent((data,), notices)


def _tempo(reply: TakeReply) -> float:
    """The tempo that notes on a staff stand in.

    Raises
    ------
    BriefError
        When it is not known.
    """
    if reply.tempo_bpm is None:
        raise BriefError(
            "no tempo is known, so there are no beats to write in; give `tempo_bpm`, or the "
            "`lesson` that the take belongs to"
        )
    return reply.tempo_bpm


def _musicxml(reply: TakeReply) -> FileContent:
    from halfstep.render.musicxml_writer import musicxml_text

    score, notices = written_score(reply.written, _tempo(reply))
    return FileContent((musicxml_text(score).encode(),), notices)


def _page(reply: TakeReply, suffix: str) -> FileContent:
    from halfstep.lesson.take_page import take_page
    from halfstep.render.staff_page import staff_page_files

    page = take_page(reply.written, _tempo(reply), reply.notices)
    return FileContent(*staff_page_files(page, suffix))


_FILES: dict[str, Callable[[TakeReply], FileContent]] = {
    ".mid": _midi, ".musicxml": _musicxml, ".json": _json,
    **{suffix: partial(_page, suffix=suffix) for suffix in (".pdf", ".png", ".svg")},
}  # fmt: skip

TAKE_SUFFIXES = tuple(_FILES)
