"""The notes of a recording: one instrument alone, with or without the backing it was played to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from halfstep.data.documents import json_text
from halfstep.data.take_json import take_data
from halfstep.errors import TakeError
from halfstep.instruments import INSTRUMENTS, Instrument
from halfstep.level import Level
from halfstep.listen.transcription import hear
from halfstep.meter import DEFAULT_BPM, Meter
from halfstep.part.take_part import WrittenTake, played_part
from halfstep.part.take_score import written_score
from halfstep.progression.chart import Chart
from halfstep.render.wav_file import loop_start_s
from halfstep.services.file_content import FileContent
from halfstep.services.notebook import inline_svg
from halfstep.services.request_fields import (
    ChartSource,
    Progress,
    chart_of,
    demand_tempo,
    no_progress,
    player_of,
    sheet_of,
)

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
        The backing it was played to.
    instrument : str or None
        Who plays; None for concert pitch and any range.
    tempo_bpm : float
        Quarter notes a minute, for MIDI and notation.
    chart : str, Path, LeadSheet or None
        What was played over: its bars and chords stand on the staff.
    """

    take: Path
    backing: Path | None = None
    instrument: str | None = None
    tempo_bpm: float = DEFAULT_BPM
    chart: ChartSource | None = None


@dataclass(frozen=True, slots=True)
class TakeReply:
    """A take as it was heard.

    Attributes
    ----------
    written : WrittenTake
        What was heard, and how the player reads it.
    tempo_bpm : float
    notices : tuple of str
        What makes the take hard to hear.
    """

    written: WrittenTake
    tempo_bpm: float
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

    def _repr_svg_(self) -> str:
        return inline_svg(_page(self, ".svg").data.decode())


def hear_take(request: HearTake, *, progress: Progress = no_progress) -> TakeReply:
    """Write down the notes of a recording.

    Raises
    ------
    TakeError
        When there is no such file, or it cannot be heard.
    ReadError
        When the chart cannot be read.
    BriefError
        When there is no such instrument, or a tempo that nobody plays at.
    """
    demand_tempo(request.tempo_bpm)
    player = player_of(request.instrument)
    chart = _chart(request.chart)
    take = _recording(request.take, "")
    backing = None if request.backing is None else _recording(request.backing, "`backing` ")
    low_midi, high_midi = _range(player)
    heard_take = hear(
        take,
        backing=backing,
        low_midi=low_midi,
        high_midi=high_midi,
        progress=lambda share: progress(share, "listening"),
    )
    count_in_s = (backing and loop_start_s(backing)) or 0.0
    written = WrittenTake(heard_take, player, take.stem, count_in_s, chart)
    return TakeReply(written, request.tempo_bpm, heard_take.notices)


def _chart(source: ChartSource | None) -> Chart | None:
    """What was played over."""
    return None if source is None else chart_of(source, sheet_of(source, reading=None, tune=None))


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

    written, tempo_bpm = reply.written, reply.tempo_bpm
    part = played_part(written, tempo_bpm)
    data = midi_bytes([part], meter=Meter(), tempo_bpm=tempo_bpm, title=written.title)
    return FileContent((data,), written.notices)


def _musicxml(reply: TakeReply) -> FileContent:
    from halfstep.render.musicxml_writer import musicxml_text

    score, notices = written_score(reply.written, reply.tempo_bpm)
    return FileContent((musicxml_text(score).encode(),), notices)


def _page(reply: TakeReply, suffix: str) -> FileContent:
    from halfstep.lesson.take_page import take_page
    from halfstep.render.staff_page import staff_page_files

    page = take_page(reply.written, reply.tempo_bpm, reply.notices)
    return FileContent(*staff_page_files(page, suffix))


_FILES: dict[str, Callable[[TakeReply], FileContent]] = {
    ".mid": _midi, ".musicxml": _musicxml, ".json": _json,
    **{suffix: partial(_page, suffix=suffix) for suffix in (".pdf", ".png", ".svg")},
}  # fmt: skip

TAKE_SUFFIXES = tuple(_FILES)
