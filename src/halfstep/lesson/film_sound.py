"""The sound of a film: the line over its band, for all choruses, with the count-in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from halfstep.backing import BandEnding, band_ending
from halfstep.backing.performance import band_performance
from halfstep.lesson.backing_brief import BackingBrief, BackingPiece
from halfstep.lesson.backings import backing_parts
from halfstep.lesson.film_timeline import FilmLine
from halfstep.lesson.make import BLOCK, block_choruses, first_chorus
from halfstep.played import PlayedNote, PlayedPart
from halfstep.render.mixdown import band_sound

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.int16]


def film_sound(film: FilmLine) -> tuple[Samples, tuple[str, ...]]:
    """What is heard from the first stroke of the count-in on, and what should be said of it.

    Choruses of the band differ as in a lesson's backing, and come again after a block of them.

    Returns
    -------
    samples : numpy.ndarray
        Shape (frames, 2), `halfstep.render.sampler.FRAME_RATE` of them a second.
    notices : tuple of str
    """
    choruses = len(film.tempi)
    block = choruses
    if not film.is_rising:
        block = block_choruses(film.clock.seconds(film.beats), most=min(BLOCK, choruses))
    band = tuple(_band(film, block))
    ending = _ending(film, band)
    line = _line(film, block)
    made = band_sound(
        [*band, replace(line, notes=tuple(_between(line, 0, film.beats * block)))],
        count_in=film.lead_in.clicks,
        clock=film.clock,
        count_in_beats=film.lead_in.beats,
        beats=film.beats,
        block=block,
        choruses=choruses,
        intro=[replace(line, notes=tuple(n for n in line.notes if n.onset < 0))],
        ending=[*(ending.parts if ending else ()), _behind(film)],
        ending_beats=ending.beats if ending else Fraction(0),
        stems=False,
        bank=film.brief.bank,
    )
    return made.tiled(made.mix_once), made.notices


def _band(film: FilmLine, block: int) -> Iterator[PlayedPart]:
    """The band, each in a time of his own, at the tempo of each chorus."""
    brief = film.brief
    tempi = film.tempi if film.is_rising else film.tempi[:1]
    asked = BackingBrief(
        chart=brief.chart,
        style=brief.band_style,
        tempi=tempi,
        rising=film.is_rising,
        without=brief.without,
        seed=brief.seed,
        exact_time=brief.exact_time,
    )
    yield from backing_parts(asked, BackingPiece("film", brief.chart, tempi), block)


def _ending(film: FilmLine, band: Sequence[PlayedPart]) -> BandEnding | None:
    """What the band plays behind the last chorus, as it sounds."""
    ending, brief = film.line.ending, film.brief
    if ending is None:
        return None
    chorus = first_chorus(band, film.beats)
    written = band_ending(chorus, ending.bar, ending.start, style=brief.band_style)
    if brief.exact_time:
        return written
    parts = band_performance(
        written.parts,
        style=brief.band_style,
        clock=film.clocks[-1],
        meter=brief.chart.meter,
        seed=brief.seed,
    )
    return replace(written, parts=parts)


def _line(film: FilmLine, block: int) -> PlayedPart:
    """The line of a block of choruses, each as it is played at its tempo, and what precedes it."""
    notes = [
        replace(note, onset=note.onset + chorus * film.beats)
        for chorus in range(block)
        for note in film.performed(chorus).notes
        if note.onset < film.beats
    ]
    return replace(film.performed(0), notes=tuple(notes))


def _behind(film: FilmLine) -> PlayedPart:
    """What the line has behind the last chorus; its places are those behind the first one."""
    last = film.performed(len(film.tempi) - 1)
    return replace(last, notes=tuple(n for n in last.notes if n.onset >= film.beats))


def _between(part: PlayedPart, start: Fraction | int, end: Fraction) -> Iterator[PlayedNote]:
    return (note for note in part.notes if start <= note.onset < end)
