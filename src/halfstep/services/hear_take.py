"""The notes of a recording: one instrument alone, with or without the backing it was played to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

from halfstep.data.about_json import TakeAbout, read_about
from halfstep.errors import BriefError, TakeError
from halfstep.feedback.kept_tempo import at_true_speed, kept_quarter_s, speed_of
from halfstep.feedback.take_clock import TakeClock
from halfstep.instruments import INSTRUMENTS, Instrument
from halfstep.level import Level
from halfstep.listen.audio import Recording
from halfstep.listen.heard_take import HeardTake
from halfstep.listen.kept_estimates import ESTIMATES_FOLDER, EstimatesRead, KnownEstimates
from halfstep.listen.kept_recording import KeptRecording
from halfstep.listen.network import NOTHING_KNOWN
from halfstep.listen.transcription import hear
from halfstep.part.take_part import WrittenTake
from halfstep.services.known_backing import KnownBacking, backings_in, known_backing
from halfstep.services.request_fields import (
    ChartSource,
    Progress,
    demand_start,
    demand_tempo,
    no_progress,
    player_of,
)
from halfstep.services.room_band import room_band
from halfstep.services.room_delay import RoomDelay, room_delay
from halfstep.services.take_frame import TakeFrame, frame_of, lesson_folders
from halfstep.services.take_reply import TakeReply
from halfstep.services.take_start import FormStart, StartSource, prior_of_take, start_of_form

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
        Pulses a minute, quarter notes where no chart is known; None takes the backing's, the
        lesson's, the chart's or the etude's.
    lesson : Path or None
        The ``lesson.json`` that the take belongs to, or its folder; None looks beside the
        take and the backing.
    step : str or None
        The name or number of the step of that lesson that is played, where it is known:
        its line is then listened for.
    etude : Path, str or None
        The etude that is played, as data, in a file or as text; its line is then listened for.
    own_line : bool
        Over the chords of the etude a line of the player's own is played.
    chart : str, Path, LeadSheet or None
        What was played over, where it is not the lesson's: its bars and chords stand on the
        staff.
    start_s : float or None
        Where in the recording bar 1 begins; None finds it, where that can be done.
    headphones : bool
        No backing is in the take, so none is looked for; one that is named says tempo and
        chords.
    called : str or None
        What the take is called; None for the name of its file.
    about : str
        What the practice room knows of the take, as data; empty for one made elsewhere.
    band : str
        The etude whose band sounded in the room, as data, where it is another one than `etude`:
        some bars of it went round.
    early : Path or None
        The folder of what was heard of it while it was recorded, as `early_hearing` writes it.
    """

    take: Path
    backing: Path | None = None
    instrument: str | None = None
    tempo_bpm: float | None = None
    lesson: Path | None = None
    step: str | None = None
    etude: Path | str | None = None
    own_line: bool = False
    chart: ChartSource | None = None
    start_s: float | None = None
    headphones: bool = False
    called: str | None = None
    about: str = ""
    band: str = ""
    early: Path | None = None


@dataclass(frozen=True, slots=True)
class Listening:
    """A take as it was heard, and what it is counted in.

    Attributes
    ----------
    written : WrittenTake
    frame : TakeFrame
    backing : KnownBacking or None
        What was played to.
    start : FormStart
        Where in it bar 1 begins.
    notices : tuple of str
        Of its tempo and its beginning; what makes it hard to hear stands in the take.
    corrections : tuple of str
        Those of them that say what was put right.
    room : RoomDelay or None
        What is known of the delay in a take of the practice room.
    """

    written: WrittenTake
    frame: TakeFrame
    backing: KnownBacking | None
    start: FormStart
    notices: tuple[str, ...]
    corrections: tuple[str, ...] = ()
    room: RoomDelay | None = None

    @property
    def clock(self) -> TakeClock:
        """The clock of the backing, or the one that was said; the tempo must be known."""
        take = self.written.take
        clock = self.frame.clock(
            self.written.form_s or 0.0,
            is_offset_known=self._is_offset_known,
            has_backing=take.delay_s is not None or bool(self.room and self.room.has_band),
        )
        is_steady = not (self.room and self.room.jumps)
        return replace(clock, rate_ratio=take.rate_ratio, is_steady=is_steady)

    @property
    def _is_offset_known(self) -> bool:
        """True where chirps tell bar 1, a backing that is in the take, or beside it the request."""
        if self.start.source is StartSource.CHIRPS:
            return True
        if self.room and self.room.jumps:
            return False
        if self.written.take.delay_s is None or not self.backing or self.backing.start_s is None:
            return False
        return self.start.source in {StartSource.BACKING, StartSource.REQUEST}


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
    demand: Callable[[TakeFrame, KnownBacking | None], None] = lambda *_: None,
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
    with TemporaryDirectory(prefix="halfstep-") as folder:
        return _listening(request, demand, progress, Path(folder))


def _listening(
    request: HearTake,
    demand: Callable[[TakeFrame, KnownBacking | None], None],
    progress: Progress,
    folder: Path,
) -> Listening:
    """The same, with a folder for the band that a take of the room was played to."""
    demand_tempo(request.tempo_bpm)
    demand_start(request.start_s)
    take = _recording(request.take, "")
    about = read_about(request.about) if request.about else None
    band = _room_band(request, about, folder) if about else None
    backing = _backing(request) if band is None else band
    frame, backing = _framed(request, backing)
    demand(frame, backing)
    player = player_of(request.instrument or (frame.line.instrument if frame.line else None))
    count_in_s = (backing and backing.start_s) or 0.0
    low_midi, high_midi = heard_limits(player)
    sound = KeptRecording(Recording(take))
    band_sound = KeptRecording(Recording(band.path)) if band else None
    room = room_delay(sound, about, band_sound, band.start_s if band else None) if about else None
    start_s = room.start_s if request.start_s is None and room else request.start_s
    heard_take = hear(
        sound,
        backing=None if backing is None or request.headphones else band_sound or backing.path,
        backing_print=backing.sound_print if backing else None,
        low_midi=low_midi,
        high_midi=high_midi,
        prior_maker=partial(prior_of_take, frame, start_s, count_in_s),
        known=_known(request.early),
        progress=lambda share: progress(share, "listening"),
    )
    if backing is not None and heard_take.delay_s is not None:
        frame = _frame(request, backing)  # one that only lay beside the take is its own
    if room is not None:
        heard_take = room.placed(heard_take)
        room = room.beside(_start_by_backing(heard_take, backing), sound, band_sound)
    corrections: tuple[str, ...] = ()
    if room is None or not room.has_band:
        heard_take, frame, corrections = _kept(heard_take, frame)
    heard_take = heard_take.named(frame.tuning_cents(heard_take))
    start = start_of_form(frame, heard_take, backing, start_s=request.start_s, room=room)
    notices = [*corrections]
    is_beside = request.backing is None and band is None
    if is_beside and backing is not None and heard_take.delay_s is not None:
        notices.append(f"the backing is {backing.path.name}, which is in the take")
    if frame.source:
        notices.append(f"tempo {frame.tempo_words}, from {frame.source}")
    if start.notice:
        notices.append(start.notice)
    title = request.called or take.stem
    written = WrittenTake(heard_take, player, title, count_in_s, frame.chart, start.start_s)
    return Listening(written, frame, backing, start, tuple(notices), corrections, room)


def _room_band(request: HearTake, about: TakeAbout, folder: Path) -> KnownBacking | None:
    """The band that may be in a take of the room; one that the request names comes first."""
    etude = request.band or request.etude
    if request.backing is not None or not isinstance(etude, str):
        return None
    return room_band(etude, about, folder, request.early)


def _start_by_backing(take: HeardTake, backing: KnownBacking | None) -> float | None:
    """Where in the file bar 1 begins by a backing that is surely there, and says it."""
    if take.delay_s is None or take.delay_modulo_s is not None:
        return None
    if backing is None or backing.start_s is None:
        return None
    return take.file_s(take.delay_s + backing.start_s)


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
        own_line=request.own_line,
        backing=backing,
    )


def _known(early: Path | None) -> KnownEstimates:
    """What is known of a take that was listened to while it was recorded."""
    return NOTHING_KNOWN if early is None else EstimatesRead(early / ESTIMATES_FOLDER)


def heard_limits(player: Instrument) -> tuple[int, int]:
    """The lowest and highest concert MIDI note that is listened for; all of an unknown player."""
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
