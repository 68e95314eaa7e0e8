"""A film of a line: notation and sound on one clock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from html import escape
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfstep.data.documents import read_document
from halfstep.data.lesson_json import LESSON_FORM, exercises
from halfstep.errors import BriefError, did_you_mean
from halfstep.files import whole_files
from halfstep.lesson.film_timeline import FilmLine, FilmTimeline
from halfstep.lesson.tempo_ladder import tempo_ladder
from halfstep.lesson.titles import step_title
from halfstep.services.band_fields import demand_choruses, style_named
from halfstep.services.earlier_lesson import LESSON_FILE
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.lesson_etude import lesson_etude
from halfstep.services.lesson_lines import step_name
from halfstep.services.request_fields import (
    ChartSource,
    Progress,
    choice_of,
    no_progress,
    player_of,
)
from halfstep.services.write_etude import WriteEtude, write_one_etude

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from halfstep.render.film_sizes import FilmSize
    from halfstep.services.give_feedback import GiveFeedback

    Samples = npt.NDArray[np.int16]

_SOUND_SHARE = 0.2
"""Of the time that a film takes."""
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
    level : str or None
        None takes intermediate, or what the take's etude is written for.
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
    take : Path or None
        A recording of the step, or of an improvisation, which is filmed in its place: on its
        player's staff, with what is found in it as it sounds.
    backing : Path or None
        What the take was played to; None looks for it in the lesson, or beside the take.
    headphones : bool
        No backing is in the take.
    start_s : float or None
        Where in the take bar 1 begins; None finds it, where that can be done.
    called : str
        What its player is called in the film: a nickname. Empty names nobody.
    reading : str or None
    tune : int or None
    """

    chart: ChartSource
    step: str | None = None
    instrument: str | None = None
    level: str | None = None
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
    take: Path | None = None
    backing: Path | None = None
    headphones: bool = False
    start_s: float | None = None
    called: str = ""
    reading: str | None = None
    tune: int | None = None


@dataclass(frozen=True, slots=True)
class FilmReply:
    """A film before it is written.

    Attributes
    ----------
    film : FilmTimeline
        When everything in it happens.
    sound : callable
        Makes what is heard from ``film.sound_s`` on, and says what was not as asked.
    size : FilmSize
    is_overlay, captions : bool
        As they were asked for.
    is_private : bool
        It holds a recording of somebody.
    notices : tuple of str
    """

    film: FilmTimeline
    sound: Callable[[], tuple[Samples, tuple[str, ...]]]
    size: FilmSize
    is_overlay: bool
    captions: bool
    is_private: bool
    notices: tuple[str, ...]

    @property
    def suffixes(self) -> tuple[str, ...]:
        """How its file may end; the first is usual."""
        return film_suffixes(is_overlay=self.is_overlay)

    def write(self, path: Path, *, progress: Progress = no_progress) -> FilmFiles:
        """Write the film and what goes beside it, or nothing.

        Parameters
        ----------
        path : Path
            Its name ends in one of `suffixes`; files beside it are called after it.
        progress : callable

        Raises
        ------
        BriefError
            When it cannot be written.
        """
        from halfstep.lesson.film import write_film_files
        from halfstep.render.film_file import film_format

        form = film_format(path.suffix.lower())
        with whole_files(path.parent) as work:
            progress(0.0, "making the sound")
            samples, said = self.sound()
            names = write_film_files(
                work,
                path.stem,
                self.film,
                samples,
                size=self.size,
                form=form,
                captions=self.captions,
                is_private=self.is_private,
                progress=lambda share: progress(_SOUND_SHARE + (1 - _SOUND_SHARE) * share, "film"),
            )
        return FilmFiles(tuple(path.parent / name for name in names), (*self.notices, *said))

    def _repr_html_(self) -> str:
        from halfstep.lesson.film_words import chapters_text, film_chapters
        from halfstep.services.notebook import notices_html

        chapters = escape(chapters_text(film_chapters(self.film)))
        return f"<pre>{chapters}</pre>{notices_html(self.notices)}"


@dataclass(frozen=True, slots=True)
class FilmFiles:
    """The files of a film.

    Attributes
    ----------
    paths : tuple of Path
        The film first.
    notices : tuple of str
    """

    paths: tuple[Path, ...]
    notices: tuple[str, ...]


def film_suffixes(*, is_overlay: bool) -> tuple[str, ...]:
    """How the file of a film may end."""
    from halfstep.render.film_file import FILM, OVERLAYS

    return tuple(OVERLAYS) if is_overlay else (FILM.suffix,)


def make_film(request: MakeFilm, *, progress: Progress = no_progress) -> FilmReply:
    """Work out a film.

    Raises
    ------
    ReadError
        When the chart cannot be read.
    TakeError
        When there is no such take, or it cannot be heard.
    BriefError
        When a field makes no sense, no line keeps the rules, or the film would be too long.
    """
    from halfstep.lesson.film_sound import film_sound
    from halfstep.lesson.film_timeline import film_timeline
    from halfstep.render.film_sizes import FILM_SIZES

    size = FILM_SIZES[choice_of("size", request.size, FILM_SIZES)]
    if request.take is not None:
        return _take_film(request, request.take, size, progress)
    _demand_no_take(request)
    film, notices = _film_and_notices(request)
    return FilmReply(
        film_timeline(film),
        partial(film_sound, film),
        size,
        is_overlay=request.overlay,
        captions=request.captions,
        is_private=False,
        notices=notices,
    )


_OF_TAKE = ("backing", "headphones", "start_s", "called")
"""Fields that go with a take alone."""
_OF_LINE = ("choruses", "style", "known_notes", "ending")
"""Fields that no take has."""
KEPT_PRIVATE = (
    "the film holds a recording of a person: only you can read its files; it is for player and "
    "teacher, and a guardian, and nobody else without their word"
)
LONGEST_NAME = 40
"""Letters of a nickname."""


def _demand_no_take(request: MakeFilm) -> None:
    """Refuse fields that say something of a take where none is given.

    Raises
    ------
    BriefError
    """
    for field in _OF_TAKE:
        if getattr(request, field) not in {None, False, ""}:
            raise BriefError(f"`{field}` goes with `take`; leave it out")


def _take_film(request: MakeFilm, take: Path, size: FilmSize, progress: Progress) -> FilmReply:
    """The film of a take.

    Raises
    ------
    ReadError, TakeError, BriefError
    """
    from halfstep.lesson.film_take import FilmTake, take_timeline
    from halfstep.render.sampler import FRAME_RATE
    from halfstep.services.give_feedback import give_feedback

    for field in _OF_LINE:
        if getattr(request, field) is not None:
            raise BriefError(f"`{field}`: a take is filmed as it was played; leave it out")
    if len(request.called) > LONGEST_NAME:
        raise BriefError(f"`called`: a nickname has {LONGEST_NAME} letters at most")
    asked = _feedback_asked(request, take)
    reply = give_feedback(asked, progress=lambda share, work: progress(share / 2, work))
    if not reply.feedback.take.notes:
        raise BriefError(f"`take` {take.name}: no note is heard in it; nothing can be filmed")
    chart = reply.feedback.take.chart
    heading = reply.played_step.heading if reply.played_step else f"Over {chart.title}"
    film = FilmTake(reply.feedback, request.called.strip(), heading)

    def sound() -> tuple[Samples, tuple[str, ...]]:
        from halfstep.listen.stereo_sound import stereo_sound

        return stereo_sound(take, FRAME_RATE)[round(film.from_s * FRAME_RATE) :], ()

    return FilmReply(
        take_timeline(film),
        sound,
        size,
        is_overlay=request.overlay,
        captions=request.captions,
        is_private=True,
        notices=(*reply.notices, KEPT_PRIVATE),
    )


def _feedback_asked(request: MakeFilm, take: Path) -> GiveFeedback:
    """What is to be said of a take, for its film.

    Raises
    ------
    BriefError
    """
    from halfstep.services.give_feedback import GiveFeedback

    lesson = lesson_file(request.chart)
    tempi = None if request.tempi is None else _tempi(request, 120.0)
    if tempi and len(tempi) > 1:
        raise BriefError("`tempi`: a take has one tempo; its backing says where it rises")
    if request.step and lesson is None:
        raise BriefError("`step`: a take is held against the step of a lesson; give its folder")
    return GiveFeedback(
        take,
        chart=None if lesson else request.chart,
        backing=request.backing,
        tempo_bpm=tempi[0] if tempi else None,
        lesson=lesson,
        step=request.step,
        instrument=request.instrument,
        level=request.level,
        start_s=request.start_s,
        headphones=request.headphones,
        called=request.called or None,
    )


def film_line(request: MakeFilm) -> FilmLine:
    """The line that is to be filmed, with its band.

    Raises
    ------
    ReadError
        When the chart cannot be read.
    BriefError
        When a field makes no sense, no line keeps the rules, or the film would be too long.
    """
    return _film_and_notices(request)[0]


def _film_and_notices(request: MakeFilm) -> tuple[FilmLine, tuple[str, ...]]:
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
    return _demand_short(_with_choruses(request, film)), reply.notices


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
        level=request.level or "intermediate",
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
