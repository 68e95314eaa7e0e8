"""A take as it was heard: shown, or as a file of notes, a score, a page or data."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from halfstep.data.documents import json_text
from halfstep.data.take_json import take_data
from halfstep.errors import BriefError, TakeError
from halfstep.meter import DEFAULT_BPM, Meter
from halfstep.part.take_part import WrittenTake, played_part
from halfstep.part.take_score import written_score
from halfstep.services.file_content import FileContent
from halfstep.services.notebook import inline_svg


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
