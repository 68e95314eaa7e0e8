"""The handouts, parts and sound of a lesson, as files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from pathlib import Path
from typing import Any

from halfstep.etude.written_etude import Etude
from halfstep.lesson.brief import BACKING_FILE, file_stems
from halfstep.lesson.make import Lesson, PlayerLesson, Progress, played_line
from halfstep.lesson.pages import handout_for, teacher_sheet
from halfstep.lesson.titles import step_title
from halfstep.meter import Clock
from halfstep.part.etude_score import score_of
from halfstep.played import PlayedPart
from halfstep.render.handout import Handout, PaperName, write_handout
from halfstep.render.midi_file import midi_bytes
from halfstep.render.mixdown import BandSound, LineSound, band_sound, with_line
from halfstep.render.musicxml_writer import write_musicxml
from halfstep.render.wav_file import write_wav

BACKING_S = 60.0
"""How long the backing lasts at least, in seconds without the count-in."""
STEP_S = 20.0
"""How long the sound of a step lasts at least."""


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
    progress : callable

    Raises
    ------
    MissingExtra
        When no sound bank is installed.
    """
    names: list[str] = []
    stems = file_stems(lesson.brief.players)
    for player, stem in zip(lesson.players, stems, strict=True):
        page = handout_for(lesson, player, short=short)
        names += _write_player(lesson, player, stem, page, folder, paper, progress, band=midi_band)
    write_handout(folder / TEACHER, teacher_sheet(lesson), paper=paper)
    progress(TEACHER)
    names.append(TEACHER)
    sound = _write_sound(lesson, folder, names, progress)
    return LessonFiles(tuple(names), sound)


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
    for etude in player.etudes:
        stem = f"step-{etude.step.short_name}-{key}"
        title = step_title(chart, etude.step)
        score = score_of(etude, player.part, title=title, feel=lesson.brief.eighths)
        write_musicxml(work / f"{stem}.musicxml", score)
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


def line_sound(lesson: Lesson, etude: Etude, *, at_least_s: float = STEP_S) -> LineSound:
    """A step over as many choruses of the lesson's band as last ``at_least_s`` seconds.

    Raises
    ------
    MissingExtra
        When no sound bank is installed.
    """
    return _sound_of(lesson, etude, _band(lesson, choruses_for(lesson, at_least_s)))


def _sound_of(lesson: Lesson, etude: Etude, band: BandSound) -> LineSound:
    """A step over the band, which has an ending where the step has one."""
    line = lesson.performed_line(etude)
    return with_line(band if etude.ending else band.without_ending(), line)


def choruses_for(lesson: Lesson, at_least_s: float) -> int:
    """How many choruses last ``at_least_s`` seconds."""
    chorus_s = lesson.clock.seconds(lesson.brief.chart.beats)
    return max(1, ceil(at_least_s / chorus_s))


def _band(lesson: Lesson, choruses: int) -> BandSound:
    return band_sound(
        lesson.performed_band,
        count_in=lesson.lead_in,
        clock=lesson.clock,
        count_in_beats=lesson.brief.chart.meter.bar_beats,
        beats=lesson.brief.chart.beats,
        ending_beats=lesson.ending.beats if lesson.ending else Fraction(0),
        choruses=choruses,
    )


def _write_sound(
    lesson: Lesson, work: Path, names: list[str], progress: Progress
) -> dict[str, Any]:
    """The backing with its stems once, and every step of every player over it."""
    band = _band(lesson, max(2, choruses_for(lesson, BACKING_S)))
    stem_sounds = {f"{name}.wav": samples for name, samples in band.once.items()}
    for name, samples in {BACKING_FILE: band.mix_once, **stem_sounds}.items():
        write_wav(work / name, band.tiled(samples), loop=band.loop)
        names.append(name)
    progress(BACKING_FILE)
    under = band.with_choruses(choruses_for(lesson, STEP_S))
    stems = file_stems(lesson.brief.players)
    for player, key in zip(lesson.players, stems, strict=True):
        for etude in player.etudes:
            suffix = "" if len(stems) == 1 else f"-{key}"
            name = f"step-{etude.step.short_name}{suffix}.wav"
            sound = _sound_of(lesson, etude, under)
            write_wav(work / name, sound.samples, loop=sound.loop)
            names.append(name)
            progress(name)
    return {
        "file": BACKING_FILE,
        "choruses": band.choruses,
        "count_in_beats": str(lesson.brief.chart.meter.bar_beats),
        "frame_rate": 44100,
        "loop_frames": list(band.loop),
        "sound_bank": band.bank.name,
        "notices": list(band.notices),
    }
