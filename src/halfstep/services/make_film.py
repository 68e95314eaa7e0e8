"""A film of a line: notation and sound on one clock."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil
from pathlib import Path
from typing import Any

from halfstep.data.documents import read_document
from halfstep.data.lesson_json import LESSON_FORM, exercises
from halfstep.errors import BriefError, did_you_mean
from halfstep.lesson.film_timeline import FilmLine
from halfstep.lesson.tempo_ladder import tempo_ladder
from halfstep.lesson.titles import step_title
from halfstep.services.band_fields import demand_choruses, style_named
from halfstep.services.earlier_lesson import LESSON_FILE
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.lesson_etude import lesson_etude
from halfstep.services.lesson_lines import step_name
from halfstep.services.request_fields import ChartSource, player_of
from halfstep.services.write_etude import WriteEtude, write_one_etude

FILM_S = 30.0
"""How long the choruses of a film last at least where no number is asked for."""
LONGEST_FILM_S = 3600.0
"""The longest film, in seconds of music."""


@dataclass(frozen=True, slots=True)
class MakeFilm:
    """A request for a film.

    Attributes
    ----------
    chart : str, Path or LeadSheet
        Chords, or the folder of a lesson, or its ``lesson.json``.
    step : str or None
        Its name, or the number of one of the thirteen; of a lesson ``example`` is the teacher's
        own line. None for a take that is improvised.
    instrument : str or None
        Who reads it; None takes concert pitch, or the first player of the lesson.
    level : str
    size : str
        ``720p``, ``1080p``, ``square`` or ``portrait``.
    choruses : int or None
        None takes as many as last half a minute, or one for each tempo.
    tempi : str or None
        Pulses a minute, ``120``, or ``80..160+5``: each chorus takes the next one. None takes
        the chart's, or the lesson's.
    style, feel : str or None
        How the band plays; None as the chart has it, or the lesson.
    known_notes : str or None
        The only written notes to use: ``G4 A4 Bb4``.
    seed : int
    ending : bool or None
        End at home, where the form leads back there; None does so for a chorus alone.
    overlay : bool
        Without a background, to be laid over a film of the teacher's own.
    captions : bool
        Chords and what changes into them as text beside it.
    reading : str or None
    tune : int or None
    """

    chart: ChartSource
    step: str | None = None
    instrument: str | None = None
    level: str = "intermediate"
    size: str = "720p"
    choruses: int | None = None
    tempi: str | None = None
    style: str | None = None
    feel: str | None = None
    known_notes: str | None = None
    seed: int = 1
    ending: bool | None = None
    overlay: bool = False
    captions: bool = False
    reading: str | None = None
    tune: int | None = None


def film_line(request: MakeFilm) -> FilmLine:
    """The line that is to be filmed, with its band.

    Raises
    ------
    ReadError
        When the chart cannot be read.
    BriefError
        When a field makes no sense, no line keeps the rules, or the film would be too long.
    """
    demand_choruses(request.choruses)
    if not request.step:
        raise BriefError("`step`: say which one is filmed, by its name or number, such as chorus")
    reply = _lesson_reply(request) or _written_reply(request)
    tempi = _tempi(request, reply.etude.brief.tempo_bpm)
    brief = replace(reply.brief, tempo_bpm=tempi[0])
    film = FilmLine(
        brief=brief,
        part=reply.part,
        line=reply.etude,
        title=step_title(brief.chart, reply.etude.step),
        tempi=tempi,
    )
    return _demand_short(_with_choruses(request, film))


def lesson_file(chart: ChartSource) -> Path | None:
    """The ``lesson.json`` that is meant; None where a chart is."""
    if not isinstance(chart, Path):
        return None
    if chart.is_dir():
        return chart / LESSON_FILE
    return chart if chart.name == LESSON_FILE else None


def _lesson_reply(request: MakeFilm) -> EtudeReply | None:
    """The step of a lesson; None where no lesson is named.

    Raises
    ------
    BriefError
    """
    file = lesson_file(request.chart)
    if file is None:
        return None
    if not file.is_file():
        raise BriefError(f"`chart` {file.parent}: there is no {LESSON_FILE} in this folder")
    for field in ("known_notes", "feel", "ending", "reading", "tune"):
        if getattr(request, field) is not None:
            raise BriefError(f"`{field}`: a lesson says that itself; leave it out")
    lesson = read_document(file, LESSON_FORM)
    step, instrument = _lesson_step(request, lesson)
    reply = lesson_etude(file, step, instrument)
    return replace(reply, style=style_named(request.style or str(lesson["style"])))


def _lesson_step(request: MakeFilm, lesson: dict[str, Any]) -> tuple[str, str | None]:
    """The names of a step and of an instrument that the lesson has.

    Raises
    ------
    BriefError
    """
    instrument = None if request.instrument is None else player_of(request.instrument).key
    players = list(lesson["players"])
    instruments = [str(player["instrument"]) for player in players]
    if instrument not in {None, *instruments}:
        known = ", ".join(dict.fromkeys(instruments))
        raise BriefError(f"`instrument` {request.instrument!r}: the lesson is for {known}")
    readers = (player for player in players if instrument in {None, player["instrument"]})
    steps = {str(e["step"]): None for player in readers for e in exercises(player)}
    step = step_name(request.step or "")
    if step not in steps:
        meant = did_you_mean(step, steps)
        raise BriefError(f"`step` {request.step!r}{meant or ':'} the lesson has {', '.join(steps)}")
    return step, instrument


def _written_reply(request: MakeFilm) -> EtudeReply:
    """The step written over a chart, at the first tempo of the film."""
    asked = WriteEtude(
        request.chart,
        request.step or "",
        instrument=request.instrument,
        level=request.level,
        feel=request.feel,
        known_notes=request.known_notes,
        seed=request.seed,
        ending=request.ending,
        reading=request.reading,
        tune=request.tune,
    )
    tempi = None if request.tempi is None or "%" in request.tempi else _tempi(request, 120.0)
    reply = write_one_etude(replace(asked, tempo_bpm=tempi[0]) if tempi else asked)
    return replace(reply, style=style_named(request.style)) if request.style else reply


def _tempi(request: MakeFilm, tempo_bpm: float) -> tuple[float, ...]:
    """The tempi of the film, of which one is the line's own where none is asked for."""
    return (tempo_bpm,) if request.tempi is None else tempo_ladder(request.tempi, tempo_bpm)


def _with_choruses(request: MakeFilm, film: FilmLine) -> FilmLine:
    """The film with as many choruses as are asked for.

    Raises
    ------
    BriefError
        When the tempi say another number.
    """
    count = len(film.tempi)
    if count > 1:
        if request.choruses not in {None, count}:
            raise BriefError(
                f"`choruses` {request.choruses}: {count} tempi are {count} choruses; leave it out"
            )
        return film
    chorus_s = film.clock.seconds(film.beats)
    return replace(film, tempi=film.tempi * (request.choruses or ceil(FILM_S / chorus_s)))


def _demand_short(film: FilmLine) -> FilmLine:
    """Refuse a film that is too long.

    Raises
    ------
    BriefError
    """
    count = len(film.tempi)
    music_s = film.clock.seconds(film.beats * count)
    if music_s > LONGEST_FILM_S:
        raise BriefError(
            f"`choruses` {count} would last {music_s / 60:.0f} minutes; a film holds "
            f"{LONGEST_FILM_S / 60:.0f}"
        )
    return film
