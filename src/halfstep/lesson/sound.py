"""The sound of a lesson: a backing to play to, and each step over one chorus of it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil
from pathlib import Path
from typing import Any

from halfstep.etude.written_etude import Etude
from halfstep.lesson.brief import BACKING, file_stems
from halfstep.lesson.make import Lesson, Progress
from halfstep.lesson.titles import step_title
from halfstep.render.mixdown import BandSound, LineSound, band_sound, with_line
from halfstep.render.sampler import FRAME_RATE
from halfstep.render.sound_facts import SoundFacts
from halfstep.render.sound_file import SoundFormat, write_sound

BACKING_S = 60.0
"""How long the backing lasts at least, in seconds without the count-in."""


def line_sound(lesson: Lesson, etude: Etude) -> LineSound:
    """A step over one chorus of the lesson's band.

    Raises
    ------
    MissingExtra
        When no sound bank is installed.
    """
    return _sound_of(lesson, etude, _band(lesson, 1))


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
        bank=lesson.brief.bank,
    )


def write_sounds(
    lesson: Lesson, folder: Path, form: SoundFormat, *, stems: bool, progress: Progress
) -> tuple[tuple[str, ...], dict[str, Any]]:
    """Write the backing, and every step of every player over one chorus of the band.

    Parameters
    ----------
    lesson : Lesson
    folder : Path
    form : SoundFormat
    stems : bool
        Each part of the band alone as well.
    progress : callable

    Returns
    -------
    names : tuple of str
        The files.
    facts : dict
        What is known of the backing.
    """
    choruses = lesson.brief.choruses or max(2, choruses_for(lesson, BACKING_S))
    band = _band(lesson, choruses)
    names = [
        *_write_band(lesson, band, folder, form, stems=stems, progress=progress),
        *_write_steps(lesson, band.with_choruses(1), folder, form, progress),
    ]
    facts = {
        "file": names[0],
        "choruses": band.choruses,
        "count_in_beats": str(lesson.brief.chart.meter.bar_beats),
        "frame_rate": FRAME_RATE,
        "loop_frames": list(band.loop),
        "sound_bank": band.bank.name,
        "notices": list(band.notices),
    }
    return tuple(names), facts


def _write_band(
    lesson: Lesson,
    band: BandSound,
    folder: Path,
    form: SoundFormat,
    *,
    stems: bool,
    progress: Progress,
) -> Iterator[str]:
    """The backing, and its parts where they are asked for."""
    sounds = {"band": band.mix_once, **(band.once if stems else {})}
    for part, samples in sounds.items():
        name = f"{BACKING if part == 'band' else part}{form.suffix}"
        facts = sound_facts_of(lesson, part, choruses=band.choruses, loop=band.loop)
        write_sound(folder / name, band.tiled(samples), facts)
        yield name
    progress(BACKING)


def _write_steps(
    lesson: Lesson, band: BandSound, folder: Path, form: SoundFormat, progress: Progress
) -> Iterator[str]:
    """Every step of every player over the band."""
    stems = file_stems(lesson.brief.players)
    for player, key in zip(lesson.players, stems, strict=True):
        for etude in player.etudes:
            suffix = "" if len(stems) == 1 else f"-{key}"
            name = f"step-{etude.step.short_name}{suffix}{form.suffix}"
            sound = _sound_of(lesson, etude, band)
            facts = sound_facts_of(lesson, "mix", etude=etude, loop=sound.loop)
            write_sound(folder / name, sound.samples, facts)
            progress(name)
            yield name


def sound_facts_of(
    lesson: Lesson,
    part: str,
    *,
    loop: tuple[int, int],
    choruses: int = 1,
    etude: Etude | None = None,
) -> SoundFacts:
    """What a sound file of a lesson says of itself.

    Parameters
    ----------
    lesson : Lesson
    part : str
        As in `SoundFacts`.
    loop : tuple of (int, int)
    choruses : int
    etude : Etude, optional
        The step that is played in it.
    """
    chart, clock = lesson.brief.chart, lesson.clock
    return SoundFacts(
        title=step_title(chart, etude.step) if etude else chart.title,
        part=part,
        loop_frames=loop,
        frame_rate=FRAME_RATE,
        choruses=choruses,
        count_in_beats=str(chart.meter.bar_beats),
        chords=tuple(" ".join(c.symbol.ascii for c in bar.chords) for bar in chart.form),
        meter=str(chart.meter),
        tempo_bpm=lesson.brief.pulses_a_minute,
        quarters_a_minute=clock.beats_per_minute,
        swing_ratio=round(clock.swing, 3),
        style=lesson.brief.band_style.name,
    )
