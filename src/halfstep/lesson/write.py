"""The handouts, parts and sound of a lesson, as files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halfstep.etude.written_etude import Etude
from halfstep.lesson.brief import file_stems
from halfstep.lesson.make import Lesson, PlayerLesson, Progress, played_line
from halfstep.lesson.pages import handout_for, teacher_sheet
from halfstep.lesson.sound import SoundWriter
from halfstep.lesson.titles import step_title
from halfstep.meter import Clock
from halfstep.played import PlayedPart
from halfstep.render.handout import Handout, PaperName, write_handout
from halfstep.render.midi_file import midi_bytes
from halfstep.render.musicxml_writer import write_musicxml
from halfstep.render.sound_file import DEFAULT_FORMAT, SoundFormat

TEACHER = "teacher.pdf"
"""The sheet that the teacher keeps."""


def pieces_of_work(lesson_players: int, steps: int) -> int:
    """How often `Progress` is told something while a lesson is made and written."""
    return 4 + lesson_players * (2 + steps)


@dataclass(frozen=True, slots=True)
class LessonFiles:
    """What was written of a lesson.

    Attributes
    ----------
    names : tuple of str
        In the order a teacher would open them.
    sound : dict
        What is known of the backing file: frames, loop, choruses.
    """

    names: tuple[str, ...]
    sound: dict[str, Any]


def write_lesson_files(
    lesson: Lesson,
    folder: Path,
    *,
    paper: PaperName = "a4",
    short: bool = False,
    midi_band: bool = False,
    sound: SoundFormat = DEFAULT_FORMAT,
    stems: bool = False,
    progress: Progress = lambda _: None,
) -> LessonFiles:
    """Write the handouts, parts and sound of a lesson into a folder that is there.

    Parameters
    ----------
    lesson : Lesson
    folder : Path
    paper : {'a4', 'letter'}
    short : bool
        Handouts without reasons and details.
    midi_band : bool
        Chords, bass and drums on tracks of their own in the MIDI of each step.
    sound : SoundFormat
    stems : bool
        Each part alone as sound, too.
    progress : callable
    """
    names: list[str] = []
    keys = file_stems(lesson.brief.players)
    for player, key in zip(lesson.players, keys, strict=True):
        page = handout_for(lesson, player, short=short)
        names += _write_player(lesson, player, key, page, folder, paper, progress, band=midi_band)
    write_handout(folder / TEACHER, teacher_sheet(lesson), paper=paper)
    progress(TEACHER)
    names.append(TEACHER)
    sounds, facts = SoundWriter(lesson, folder, sound, stems, progress).write()
    return LessonFiles((*names, *sounds), facts)


def _write_player(
    lesson: Lesson,
    player: PlayerLesson,
    key: str,
    page: Handout,
    work: Path,
    paper: PaperName,
    progress: Progress,
    *,
    band: bool,
) -> list[str]:
    names = [f"handout-{key}.pdf"]
    write_handout(work / names[0], page, paper=paper)
    progress(names[0])
    chart = lesson.brief.chart
    for etude, entry in zip(player.etudes, page.steps, strict=True):
        stem = f"step-{etude.step.short_name}-{key}"
        title = step_title(chart, etude.step)
        write_musicxml(work / f"{stem}.musicxml", entry.score)
        under = lesson.band_under(etude) if band else ()
        midi = line_midi(etude, title=title, clock=lesson.clock, band=under)
        (work / f"{stem}.mid").write_bytes(midi)
        names += [f"{stem}.musicxml", f"{stem}.mid"]
    return names


def line_midi(etude: Etude, *, title: str, clock: Clock, band: Sequence[PlayedPart] = ()) -> bytes:
    """A step as a standard MIDI file, in concert pitch, swung as it sounds.

    Parameters
    ----------
    etude : Etude
    title : str
    clock : Clock
        The lesson's.
    band : sequence of PlayedPart
        Parts that get tracks of their own behind the line's.
    """
    home = etude.analysis.home
    return midi_bytes(
        [played_line(etude), *reversed(band)],
        meter=etude.analysis.chart.meter,
        tempo_bpm=etude.brief.tempo_bpm,
        swing=clock.swing,
        key_fifths=home.fifths,
        minor=home.minor,
        title=title,
    )
