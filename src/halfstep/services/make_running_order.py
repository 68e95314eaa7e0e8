"""The running order of a film: what its teacher says and plays, with times, a page and stills."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.data.documents import read_document
from halfstep.data.lesson_json import LESSON_FORM, exercises
from halfstep.errors import BriefError
from halfstep.files import whole_folder
from halfstep.render.typesetting import PaperName
from halfstep.services.make_film import MakeFilm, film_line, lesson_file
from halfstep.services.request_fields import (
    ChartSource,
    Progress,
    choice_of,
    no_progress,
    paper_of,
    player_of,
)

if TYPE_CHECKING:
    from halfstep.lesson.film_timeline import FilmLine
    from halfstep.lesson.running_order import RunningOrder
    from halfstep.render.film_sizes import FilmSize

LONGEST_TALK_S = 600.0
"""Kept for talking before a step, at most."""
PAGE, CUES, DESCRIPTION = "running-order.pdf", "running-order.vtt", "description.txt"
"""Names of the files."""


@dataclass(frozen=True, slots=True)
class MakeRunningOrder:
    """A request for the running order of a film.

    Attributes
    ----------
    chart : str, Path or LeadSheet
        Chords, or the folder of a lesson, or its ``lesson.json``.
    step : str or None
        As for `halfstep.services.make_film.MakeFilm`; None takes all steps of a lesson.
    instrument, level, size, choruses, tempi, style, feel, known_notes, seed, ending : object
        As for a film; the stills have its size.
    talk_s : float
        Seconds kept for talking before each step.
    paper : str
        ``a4`` or ``letter``.
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
    talk_s: float = 0.0
    paper: str = "a4"
    reading: str | None = None
    tune: int | None = None

    def film(self, step: str) -> MakeFilm:
        """The request for the film of one of its steps."""
        shared = {field.name for field in fields(MakeFilm)} & {f.name for f in fields(self)}
        return MakeFilm(**{name: getattr(self, name) for name in shared} | {"step": step})


@dataclass(frozen=True, slots=True)
class OrderReply:
    """A running order before it is written.

    Attributes
    ----------
    order : RunningOrder
    stems : tuple of str
        What the still of each step is called after.
    size : FilmSize
        Of the stills.
    paper : {'a4', 'letter'}
    """

    order: RunningOrder
    stems: tuple[str, ...]
    size: FilmSize
    paper: PaperName

    def write(self, folder: Path, *, progress: Progress = no_progress) -> tuple[Path, ...]:
        """Write the page, the cues, the description and the stills, or nothing.

        Raises
        ------
        BriefError
            When the folder cannot be written to.
        """
        from halfstep.lesson.film import film_pictures
        from halfstep.lesson.running_order import description_text, order_cues_text, order_page
        from halfstep.render.order_paper import order_pdf
        from halfstep.render.raster import png_of_pixels

        names = [PAGE, CUES, DESCRIPTION]
        with whole_folder(folder) as work:
            (work / PAGE).write_bytes(order_pdf(order_page(self.order), sheet=self.paper))
            (work / CUES).write_text(order_cues_text(self.order), "utf-8")
            (work / DESCRIPTION).write_text(description_text(self.order), "utf-8")
            for stem, film in zip(self.stems, self.order.films, strict=True):
                pictures = film_pictures(film, self.size)
                names.append(f"still-{stem}.png")
                still = pictures.painter.pixels(pictures.poster)
                (work / names[-1]).write_bytes(png_of_pixels(still))
                progress((len(names) - 3) / len(self.stems), names[-1])
        return tuple(folder / name for name in names)


def make_running_order(
    request: MakeRunningOrder, *, progress: Progress = no_progress
) -> OrderReply:
    """Work out the running order of a film: of a step, or of all steps of a lesson.

    Raises
    ------
    ReadError
        When the chart cannot be read.
    BriefError
        When a field makes no sense, or no line keeps the rules.
    """
    from halfstep.lesson.running_order import running_order
    from halfstep.render.film_sizes import FILM_SIZES

    size = FILM_SIZES[choice_of("size", request.size, FILM_SIZES)]
    paper = paper_of(request.paper)
    if not 0.0 <= request.talk_s <= LONGEST_TALK_S:
        raise BriefError(f"`talk_s` {request.talk_s:g}: give 0 to {LONGEST_TALK_S:g} seconds")
    lines: list[FilmLine] = []
    steps = _steps(request)
    for step in steps:
        lines.append(film_line(request.film(step)))
        progress(len(lines) / len(steps), step)
    order = running_order(lines, talk_s=request.talk_s)
    stems = tuple(line.line.step.file_stem for line in lines)
    return OrderReply(order, stems, size, paper)


def _steps(request: MakeRunningOrder) -> tuple[str, ...]:
    """The steps that are filmed, in order.

    Raises
    ------
    BriefError
    """
    file = lesson_file(request.chart)
    if request.step or file is None or not file.is_file():
        return (request.step or "",)  # a film says what is missing
    players = list(read_document(file, LESSON_FORM)["players"])
    if request.instrument is not None:
        key = player_of(request.instrument).key
        players = [player for player in players if player["instrument"] == key] or players
    return tuple(str(exercise["step"]) for exercise in exercises(players[0]))
