"""The handouts, parts and sound of a lesson, as files."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import chain
from pathlib import Path
from typing import Any

from halfstep.etude.written_etude import ExerciseLine
from halfstep.lesson.brief import file_stems
from halfstep.lesson.make import Lesson, Progress
from halfstep.lesson.pages import handout_for, teacher_sheet
from halfstep.lesson.played_line import parted, played_line
from halfstep.lesson.sound import SoundWriter, Written, untold
from halfstep.lesson.titles import step_title
from halfstep.meter import Clock
from halfstep.played import PlayedPart
from halfstep.render.handout import write_handout
from halfstep.render.midi_file import midi_bytes
from halfstep.render.musicxml_writer import write_musicxml
from halfstep.render.print_setting import USUAL, PrintSetting
from halfstep.render.score_pictures import score_svg
from halfstep.render.typesetting import PaperName
from halfstep.score import Score
from halfstep.workers import Shared, Workers

PICTURE_MM = 120.0
"""The width of a picture of a step: a staff is large enough to be read from on a phone."""
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


@dataclass(frozen=True, slots=True)
class PageWriter:
    """Writes what a lesson has to read: handouts, and each step as notation and as MIDI.

    Attributes
    ----------
    lesson : Lesson
    folder : Path
    paper : {'a4', 'letter'}
    short : bool
        Handouts without reasons and details.
    midi_band : bool
        Chords, bass and drums on tracks of their own in the MIDI of each step.
    pictures : bool
        A picture of each step beside its notation.
    setting : PrintSetting
        How large the pages are, and on which tint.
    """

    lesson: Lesson
    folder: Path
    paper: PaperName = "a4"
    short: bool = False
    midi_band: bool = False
    pictures: bool = False
    setting: PrintSetting = USUAL

    def write_player(self, number: int) -> tuple[str, ...]:
        """Write the handout and the steps of a player, counted from 0; return the names."""
        player = self.lesson.players[number]
        key = file_stems(self.lesson.brief.players)[number]
        handout, page = f"handout-{key}.pdf", handout_for(self.lesson, player, short=self.short)
        page = replace(page, setting=self.setting)
        write_handout(self.folder / handout, page, paper=self.paper)
        steps = (
            self._write_step(etude, entry.score, f"{etude.step.file_stem}-{key}")
            for etude, entry in zip(player.lines, page.steps, strict=True)
        )
        return (handout, *chain.from_iterable(steps))

    def _write_step(self, etude: ExerciseLine, score: Score, stem: str) -> tuple[str, ...]:
        title = step_title(self.lesson.brief.chart, etude.step)
        under = self.lesson.band_under(etude) if self.midi_band else ()
        write_musicxml(self.folder / f"{stem}.musicxml", score)
        midi = line_midi(etude, title=title, clock=self.lesson.clock, band=under)
        (self.folder / f"{stem}.mid").write_bytes(midi)
        return f"{stem}.musicxml", f"{stem}.mid", *self._picture(score, stem)

    def _picture(self, score: Score, stem: str) -> tuple[str, ...]:
        if not self.pictures:
            return ()
        svg = score_svg(score, width_mm=PICTURE_MM)
        (self.folder / f"{stem}.svg").write_text(svg, encoding="utf-8")
        return (f"{stem}.svg",)

    def write_teacher(self) -> tuple[str, ...]:
        """Write the teacher's sheet; return its name."""
        page = replace(teacher_sheet(self.lesson), setting=self.setting)
        write_handout(self.folder / TEACHER, page, paper=self.paper)
        return (TEACHER,)


def write_lesson_files(
    pages: PageWriter,
    sound: SoundWriter,
    *,
    workers: Workers | None = None,
    progress: Progress = untold,
) -> LessonFiles:
    """Write the handouts, parts and sound of a lesson into a folder that is there.

    The files are the same, byte for byte, whoever writes them.

    Parameters
    ----------
    pages : PageWriter
    sound : SoundWriter
    workers : Workers, optional
        Who writes; this process alone where there are none.
    progress : callable
    """
    if workers:
        return _written_by(workers, pages, sound, progress)
    names: list[str] = []
    for number in range(len(pages.lesson.players)):
        names += _told(pages.write_player(number), progress)
    names += _told(pages.write_teacher(), progress)
    sounds, facts = sound.write()
    return LessonFiles((*names, *sounds), facts)


def _written_by(
    workers: Workers, pages: PageWriter, sound: SoundWriter, progress: Progress
) -> LessonFiles:
    """The files written by other processes; the band, which all the sound needs, by this one.

    Half of the pages are begun while there is no band yet. The others come last: they are short,
    and all processes end at about the same time.
    """
    shared = workers.share(pages)
    players = range(len(pages.lesson.players))
    early = max(workers.count, len(players) // 2)
    papers = [workers.submit(_player_written, shared, number) for number in players[:early]]
    band = sound.band()
    with ThreadPoolExecutor(1) as encoder:
        backing = encoder.submit(sound.write_backing, band)
        steps = sound.steps_written_by(workers, band)
        papers += [workers.submit(_player_written, shared, number) for number in players[early:]]
        papers.append(workers.submit(_teacher_written, shared))
        work = (*papers, backing, *steps)
        for done in as_completed(work):
            for names in done.result():
                _told(names, progress)
    files = tuple(chain.from_iterable(done.result() for done in work))
    return LessonFiles(tuple(chain.from_iterable(files)), sound.facts(band, backing.result()[0][0]))


def ready() -> None:
    """Have what writes the files of a lesson loaded: a task that does nothing else."""


def _player_written(shared: Shared[PageWriter], number: int) -> Written:
    return (shared.value.write_player(number),)


def _teacher_written(shared: Shared[PageWriter]) -> Written:
    return (shared.value.write_teacher(),)


def _told(names: tuple[str, ...], progress: Progress) -> tuple[str, ...]:
    """The names of files; the first is told."""
    progress(names[0])
    return names


def line_midi(
    etude: ExerciseLine, *, title: str, clock: Clock, band: Sequence[PlayedPart] = ()
) -> bytes:
    """A line as a standard MIDI file, in concert pitch, swung as it sounds.

    It begins with bar 1, or where the line has a pickup with the bar before it.

    Parameters
    ----------
    etude : ExerciseLine
    title : str
    clock : Clock
        The lesson's.
    band : sequence of PlayedPart
        Parts that get tracks of their own behind the line's.
    """
    home = etude.analysis.home
    before = etude.analysis.chart.form[0].beats if etude.pickup else Fraction(0)
    return midi_bytes(
        [part.later(before) for part in (parted(played_line(etude)), *reversed(band))],
        meter=etude.analysis.chart.meter,
        tempo_bpm=etude.brief.tempo_bpm,
        swing=clock.swing,
        key_fifths=home.fifths,
        minor=home.minor,
        title=title,
    )
