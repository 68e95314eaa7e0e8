"""One etude as files: notes, sound, pictures, data; and how it shows itself in a notebook."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from halfstep.etude.written_etude import Etude
from halfstep.part.transposed_part import Part
from halfstep.render.print_setting import USUAL, PrintSetting
from halfstep.services.file_content import FileContent
from halfstep.services.request_fields import Progress, no_progress

if TYPE_CHECKING:
    from pathlib import Path

    from halfstep.backing import Style
    from halfstep.lesson.brief import LessonBrief
    from halfstep.lesson.make import Lesson
    from halfstep.progression.excerpt import WholeForm
    from halfstep.render.sound_file import SoundFormat
    from halfstep.render.typesetting import PaperName
    from halfstep.score import Score

SVG_WIDTH_MM = 178.0
"""The text width of an A4 page."""


@dataclass(frozen=True, slots=True)
class EtudeReply:
    """An etude for one player.

    Attributes
    ----------
    etude : Etude
        In concert pitch.
    part : Part
        How the player reads it.
    style : Style or None
        How a band plays under it; None takes the one of the feel.
    degrees : bool
    notices : tuple of str
        What was not certain or not as asked, in the names that the player reads.
    all_keys : bool
        A sheet of it is in all twelve keys.
    midi_band : bool
        Chords, bass and drums have tracks of their own in its MIDI.
    bank : Path or None
        The sound bank that plays it.
    setting : PrintSetting
        How large its pages are, and on which tint.
    whole : WholeForm or None
        What its chart has a few bars of; None where it is all that there is.
    """

    etude: Etude
    part: Part
    style: Style | None
    degrees: bool
    notices: tuple[str, ...]
    all_keys: bool = False
    midi_band: bool = False
    bank: Path | None = None
    setting: PrintSetting = USUAL
    whole: WholeForm | None = None

    @property
    def brief(self) -> LessonBrief:
        """The lesson of which it is the one step, for what is made of it as of a lesson."""
        from halfstep.lesson.brief import LessonBrief, Player

        brief = self.etude.brief
        return LessonBrief(
            self.etude.analysis.chart,
            (Player(self.part.instrument, brief.level),),
            (self.etude.step,),
            brief.level,
            brief.tempo_bpm,
            feel=brief.feel,
            style=self.style,
            seed=brief.seed,
            ending=brief.ending,
            bank=self.bank,
        )

    @property
    def suffixes(self) -> tuple[str, ...]:
        """How a file of it may end."""
        return file_suffixes(all_keys=self.all_keys)

    def score(self) -> Score:
        """The etude on its player's staff."""
        return _score(self)

    def words(self) -> tuple[str, ...]:
        """The etude read aloud: key and metre, then each bar."""
        from halfstep.score_words import spoken_score

        return spoken_score(self.score())

    def sheet(self, paper: PaperName = "a4") -> bytes:
        """The etude as a page to be handed out."""
        from halfstep.lesson.pages import handout_for
        from halfstep.render.handout import Detail, handout_pdf

        lesson = _lesson(self)
        whole = handout_for(lesson, lesson.players[0], degrees=self.degrees)
        page = replace(whole, chords=(), changes=(), detail=Detail.REASONS, setting=self.setting)
        return handout_pdf(page, paper=paper)

    def sound(self, *, times: int) -> FileContent:
        """The etude with a band, round and round so many times."""
        from halfstep.render.sound_file import DEFAULT_FORMAT

        return _sound(self, DEFAULT_FORMAT, no_progress, times=times)

    def parts_alone(self) -> dict[str, FileContent]:
        """The line and each part of the band alone, by name; all begin at one moment."""
        return _parts_alone(self)

    def file(self, suffix: str, *, progress: Progress = no_progress) -> FileContent:
        """The etude as a file that ends in one of `suffixes`."""
        if self.all_keys:
            return _all_keys(self, suffix)
        if suffix in _FILES:
            return FileContent((_FILES[suffix](self),))
        from halfstep.render.sound_file import SOUND_FORMATS

        return _sound(self, SOUND_FORMATS[suffix.removeprefix(".")], progress)

    def _repr_mimebundle_(self, **_: object) -> Mapping[str, str]:
        return notebook_bundle(self)


def _all_keys(reply: EtudeReply, suffix: str) -> FileContent:
    from halfstep.lesson.keys_page import keys_page
    from halfstep.render.staff_page import staff_page_files

    page, notices = keys_page(
        reply.etude,
        reply.part,
        title=_title(reply),
        feel=reply.etude.brief.feel,
        degrees=reply.degrees,
    )
    files, said = staff_page_files(replace(page, setting=reply.setting), suffix)
    return FileContent(files, (*notices, *said))


def _sound(
    reply: EtudeReply, form: SoundFormat, progress: Progress, *, times: int = 1
) -> FileContent:
    from halfstep.lesson.sound import line_sound, sound_facts_of
    from halfstep.render.sound_file import sound_bytes

    lesson = _lesson(reply)
    sound = line_sound(lesson, reply.etude).going_round(times)
    progress(0.5, "playing the band and the line")
    facts = sound_facts_of(lesson, "mix", etude=reply.etude, loop=sound.loop, choruses=times)
    content = FileContent((sound_bytes(form, sound.samples, facts),), sound.notices)
    progress(1.0, "writing the file")
    return content


def _parts_alone(reply: EtudeReply) -> dict[str, FileContent]:
    from halfstep.lesson.sound import parts_alone, sound_facts_of
    from halfstep.render.sound_file import DEFAULT_FORMAT, sound_bytes

    lesson = _lesson(reply)
    parts = parts_alone(lesson, reply.etude)
    files = {}
    for name, (samples, loop) in parts.items():
        facts = sound_facts_of(lesson, name, etude=reply.etude, loop=loop)
        files[name] = FileContent((sound_bytes(DEFAULT_FORMAT, samples, facts),))
    return files


def _lesson(reply: EtudeReply) -> Lesson:
    from halfstep.lesson.make import PlayerLesson, lesson_with

    brief = reply.brief
    (player,) = brief.players
    lesson = PlayerLesson(player, reply.part, (reply.etude,))
    return lesson_with(brief, reply.etude.analysis, [lesson], most=1)


def _score(reply: EtudeReply) -> Score:
    from halfstep.part.etude_score import score_of

    return score_of(
        reply.etude,
        reply.part,
        title=_title(reply),
        feel=reply.etude.brief.feel,
        degrees=reply.degrees,
    )


def _title(reply: EtudeReply) -> str:
    from halfstep.lesson.titles import step_title

    return step_title(reply.etude.analysis.chart, reply.etude.step)


def _musicxml(reply: EtudeReply) -> bytes:
    from halfstep.render.musicxml_writer import musicxml_text

    return musicxml_text(_score(reply)).encode()


def _midi(reply: EtudeReply) -> bytes:
    from halfstep.lesson.write import line_midi

    lesson = _lesson(reply)
    band = lesson.band_under(reply.etude) if reply.midi_band else ()
    return line_midi(reply.etude, title=_title(reply), clock=lesson.clock, band=band)


def _svg(reply: EtudeReply) -> bytes:
    from halfstep.render.score_pictures import score_svg

    score = reply.setting.on_lines(_score(reply))
    return score_svg(score, width_mm=SVG_WIDTH_MM, staff_mm=reply.setting.staff_mm).encode()


def _pdf(reply: EtudeReply) -> bytes:
    return reply.sheet()


def _json(reply: EtudeReply) -> bytes:
    from halfstep.data.documents import json_text
    from halfstep.data.etude_json import etude_file_data

    return json_text(etude_file_data(reply.etude, reply.part, reply.brief, reply.whole)).encode()


_FILES: dict[str, Callable[[EtudeReply], bytes]] = {
    ".musicxml": _musicxml, ".mid": _midi, ".pdf": _pdf, ".svg": _svg, ".json": _json,
}  # fmt: skip

KEYS_SUFFIXES = (".pdf", ".svg", ".png")
"""Of a sheet in all twelve keys."""


def file_suffixes(*, all_keys: bool) -> tuple[str, ...]:
    """How the file of an etude may end, or of one in all keys."""
    if all_keys:
        return KEYS_SUFFIXES
    from halfstep.render.sound_file import SOUND_FORMATS

    return (*_FILES, *(form.suffix for form in SOUND_FORMATS.values()))


def notebook_bundle(reply: EtudeReply) -> dict[str, str]:
    """The etude as a picture, and as a page with its sound."""
    from halfstep.render.sound_file import DEFAULT_FORMAT
    from halfstep.services.notebook import inline_svg, notices_html, sound_html

    svg = _svg(reply).decode()
    sound = sound_html(_sound(reply, DEFAULT_FORMAT, no_progress).data)
    return {
        "image/svg+xml": svg,
        "text/html": f"{inline_svg(svg)}{sound}{notices_html(reply.notices)}",
    }
