"""The sound of a lesson: a backing to play to, and each step over one chorus of it."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, fields, replace
from fractions import Fraction
from functools import lru_cache
from itertools import chain, pairwise
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfstep.etude.written_etude import ExerciseLine
from halfstep.lesson.brief import BACKING, file_stems
from halfstep.lesson.make import Lesson, Progress
from halfstep.lesson.titles import step_title
from halfstep.listen.sound_print import sound_print
from halfstep.meter import Clock
from halfstep.played import PlayedPart
from halfstep.progression.bars_data import played_chart_data
from halfstep.progression.chart import Chart
from halfstep.render.mixdown import BandSound, LineSound, band_sound, with_line
from halfstep.render.sampler import FRAME_RATE
from halfstep.render.sound_facts import SoundFacts
from halfstep.render.sound_file import SoundFormat, write_sound
from halfstep.workers import Shared, Workers

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.int16]

_AHEAD = 4
"""Files that are mixed before the first of them must be encoded: they wait in memory."""
_TASKS = 3
"""Tasks that each process has at least, so that all end at about the same time."""
_TOLD = ("band", "mix")
"""Parts whose files are told as progress; those alone are made with them."""
KEPT_S = 120.0
"""A band that is longer is not kept for the next lesson: it takes too much memory."""
BACKING_S = 60.0
"""How long the backing lasts at least, in seconds without the count-in."""


def line_sound(lesson: Lesson, etude: ExerciseLine) -> LineSound:
    """A step over the first chorus of the lesson's band."""
    band = _band(lesson, lesson.block, stems=False)
    return with_line(band, lesson.performed_line(etude), ending=bool(etude.ending))


def parts_alone(lesson: Lesson, etude: ExerciseLine) -> dict[str, tuple[Samples, tuple[int, int]]]:
    """A step's line and each part of the band alone, by name, with the frames that come round."""
    band = _band(lesson, lesson.block, stems=True)
    line = with_line(band, lesson.performed_line(etude), ending=bool(etude.ending), alone=True)
    assert line.alone is not None
    parts = {name: (band.tiled(samples), band.loop) for name, samples in band.once.items()}
    return {"line": (line.alone, line.loop), **parts}


def choruses_lasting(block: int, chorus_s: float) -> int:
    """How many choruses a backing has where none are asked for: blocks of `BACKING_S` at least."""
    return block * ceil(BACKING_S / (block * chorus_s))


def backing_choruses(lesson: Lesson) -> int:
    """How many choruses the backing of a lesson has."""
    chorus_s = lesson.clock.seconds(lesson.brief.chart.beats)
    return lesson.brief.choruses or choruses_lasting(lesson.block, chorus_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class _PlayedBand:
    """All that the sound of a band depends on; players and their lines do not come in."""

    parts: tuple[PlayedPart, ...]
    count_in: PlayedPart
    intro: tuple[PlayedPart, ...]
    clock: Clock
    count_in_beats: Fraction
    beats: Fraction
    block: int
    choruses: int
    ending: tuple[PlayedPart, ...]
    ending_beats: Fraction
    stems: bool
    bank: Path | None

    @property
    def length_s(self) -> float:
        """Of the block."""
        return self.clock.seconds(self.block * self.beats)

    def sound(self) -> BandSound:
        """The band as it is heard."""
        named = {field.name: getattr(self, field.name) for field in fields(self)}
        return band_sound(named.pop("parts"), **named)


def _band(lesson: Lesson, choruses: int, *, stems: bool) -> BandSound:
    band = _PlayedBand(
        parts=lesson.performed_band,
        count_in=lesson.lead_in.clicks,
        intro=lesson.performed_intro,
        clock=lesson.clock,
        count_in_beats=lesson.lead_in.beats,
        beats=lesson.brief.chart.beats,
        block=lesson.block,
        choruses=choruses,
        ending=lesson.performed_ending,
        ending_beats=lesson.ending.beats if lesson.ending else Fraction(0),
        stems=stems,
        bank=lesson.brief.bank,
    )
    return _latest_sound(band) if band.length_s <= KEPT_S and not stems else band.sound()


@lru_cache(maxsize=1)
def _latest_sound(band: _PlayedBand) -> BandSound:
    """The band of a class, which is made lesson by lesson, once."""
    return band.sound()


Written = tuple[tuple[str, ...], ...]
"""Names of files that a task wrote, piece by piece of its work; the first of each is told."""
SoundOfFile = tuple[str, "Samples", SoundFacts]
"""A file's name less its ending, what is heard in it, and what it says of itself."""


def untold(_: str) -> None:
    """Progress that nobody is told of."""


@dataclass(frozen=True, slots=True)
class SoundWriter:
    """Writes the sound of a lesson: the backing, and every step over one chorus of the band.

    Attributes
    ----------
    lesson : Lesson
    folder : Path
    form : SoundFormat
    stems : bool
        Each part alone as well.
    progress : callable
    """

    lesson: Lesson
    folder: Path
    form: SoundFormat
    stems: bool
    progress: Progress = untold

    def write(self) -> tuple[tuple[str, ...], dict[str, Any]]:
        """Write all of it; while a file is encoded, the next one is mixed.

        Returns
        -------
        names : tuple of str
            The files.
        facts : dict
            What is known of the backing.
        """
        band = self.band()
        with ThreadPoolExecutor(1) as encoder:
            files: list[Future[str]] = []
            for file in chain(self._band_files(band), self._every_step(band)):
                files.append(encoder.submit(self._written, *file))
                files[max(0, len(files) - _AHEAD)].result()
                if file[2].part in _TOLD:
                    self.progress(file[0])
            names = tuple(file.result() for file in files)
        return names, self.facts(band, names[0])

    def band(self) -> BandSound:
        """The band as all of it plays to."""
        return _band(self.lesson, backing_choruses(self.lesson), stems=self.stems)

    def write_backing(self, band: BandSound) -> Written:
        """Write the backing, and its parts where they are asked for; return the names."""
        return (tuple(self._written(*file) for file in self._band_files(band)),)

    def steps_written_by(self, workers: Workers, band: BandSound) -> list[Future[Written]]:
        """Have the files of each step of each player written; their names come.

        A process keeps the notes of an instrument that it has made, so it writes several steps of
        a player, but no more than leaves a few tasks for each process.
        """
        shared = workers.share((replace(self, progress=untold), band.under_lines()))
        parts = ceil(_TASKS * workers.count / len(self.lesson.players))
        return [
            workers.submit(_steps_written, shared, player, steps)
            for player, lesson in enumerate(self.lesson.players)
            for steps in parted(range(len(lesson.lines)), parts)
        ]

    def facts(self, band: BandSound, name: str) -> dict[str, Any]:
        """What is known of the backing in the file of that name."""
        return {
            "file": name,
            "choruses": band.choruses,
            "count_in_beats": str(self.lesson.lead_in.beats),
            "frame_rate": FRAME_RATE,
            "loop_frames": list(band.loop),
            "step_loop_frames": list(band.step_loop),
            "sound_bank": band.bank.name,
            "notices": list(band.notices),
        }

    def _band_files(self, band: BandSound) -> Iterator[SoundOfFile]:
        """The backing, and its parts where they are asked for."""
        for part, samples in {"band": band.mix_once, **band.once}.items():
            facts = sound_facts_of(self.lesson, part, choruses=band.choruses, loop=band.loop)
            sound = band.tiled(samples)
            yield BACKING if part == "band" else part, sound, with_print(facts, sound)

    def _every_step(self, band: BandSound) -> Iterator[SoundOfFile]:
        for player, lesson in enumerate(self.lesson.players):
            for step in range(len(lesson.lines)):
                yield from self.step_files(band, player, step)

    def step_files(self, band: BandSound, player: int, step: int) -> Iterator[SoundOfFile]:
        """A step of a player over the band, and the line alone where it is asked for."""
        etude = self.lesson.players[player].lines[step]
        keys = file_stems(self.lesson.brief.players)
        whose = "" if len(keys) == 1 else f"-{keys[player]}"
        line = self.lesson.performed_line(etude)
        sound = with_line(band, line, ending=bool(etude.ending), alone=self.stems)
        facts = sound_facts_of(self.lesson, "mix", etude=etude, loop=sound.loop)
        yield f"{etude.step.file_stem}{whose}", sound.samples, facts
        if sound.alone is not None:
            yield f"line-{etude.step.short_name}{whose}", sound.alone, replace(facts, part="line")

    def _written(self, stem: str, samples: Samples, facts: SoundFacts) -> str:
        name = f"{stem}{self.form.suffix}"
        write_sound(self.folder / name, samples, facts)
        return name

    def write_step(self, band: BandSound, player: int, step: int) -> tuple[str, ...]:
        """Write the files of a step of a player; return the names."""
        return tuple(self._written(*file) for file in self.step_files(band, player, step))


def parted(steps: range, parts: int) -> list[range]:
    """Steps in a row in so many parts, as even as can be; none is empty."""
    ends = [len(steps) * part // parts for part in range(parts + 1)]
    return [steps[start:end] for start, end in pairwise(ends) if start < end]


def _steps_written(
    shared: Shared[tuple[SoundWriter, BandSound]], player: int, steps: range
) -> Written:
    writer, band = shared.value
    return tuple(writer.write_step(band, player, step) for step in steps)


def chords_of(chart: Chart) -> tuple[str, ...]:
    """The chords of each bar of the form, as a sound file states them."""
    return tuple(" ".join(chord.symbol.ascii for chord in bar.chords) for bar in chart.form)


def with_print(facts: SoundFacts, samples: Samples) -> SoundFacts:
    """The facts of what is played to, and its print: a take without it is known by that."""
    backing_print = sound_print(samples, FRAME_RATE)
    return replace(facts, sound_print=backing_print.text if backing_print else "")


def sound_facts_of(
    lesson: Lesson,
    part: str,
    *,
    loop: tuple[int, int],
    choruses: int = 1,
    etude: ExerciseLine | None = None,
) -> SoundFacts:
    """What a sound file of a lesson says of itself.

    Parameters
    ----------
    lesson : Lesson
    part : str
        As in `SoundFacts`.
    loop : tuple of (int, int)
    choruses : int
    etude : ExerciseLine, optional
        The step that is played in it.
    """
    chart, clock = lesson.brief.chart, lesson.clock
    return SoundFacts(
        title=step_title(chart, etude.step) if etude else chart.title,
        part=part,
        loop_frames=loop,
        frame_rate=FRAME_RATE,
        choruses=choruses,
        count_in_beats=str(lesson.lead_in.beats),
        chords=chords_of(chart),
        meter=str(chart.meter),
        tempo_bpm=lesson.brief.pulses_a_minute,
        quarters_a_minute=clock.beats_per_minute,
        swing_ratio=round(clock.swing, 3),
        style=lesson.brief.band_style.name,
        feel=str(lesson.brief.eighths),
        chart=played_chart_data(chart),
    )
