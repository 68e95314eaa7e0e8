"""A film made of its times and its sound: pictures, the file, and what goes beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.lesson.film_scenes import film_passages
from halfstep.lesson.film_timeline import FilmTimeline
from halfstep.lesson.film_words import captions_text, chapters_text, film_chapters
from halfstep.render.film_file import (
    FILM,
    FRAMES_A_SECOND,
    FilmContent,
    FilmFormat,
    write_film,
)
from halfstep.render.film_music import FilmMusic, film_music
from halfstep.render.film_painter import FramePainter
from halfstep.render.film_scene import FilmPassage, Scene
from halfstep.render.film_sizes import FilmSize
from halfstep.render.raster import png_of_pixels
from halfstep.render.sampler import FRAME_RATE

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class FilmPictures:
    """What is seen in a film.

    Attributes
    ----------
    music : FilmMusic
    passages : tuple of FilmPassage
    painter : FramePainter
    """

    music: FilmMusic
    passages: tuple[FilmPassage, ...]
    painter: FramePainter

    @property
    def poster(self) -> Scene:
        """The frame that stands for it: the first in which a note of the bar that sounds is marked
        and a note changes; else one in which a guide tone goes, else any note.
        """
        scenes = [scene for passage in self.passages for _, scene in passage.runs]
        sounding = [scene for scene in scenes if scene.head and scene.head[0] == scene.bar]
        going = [scene for scene in sounding if scene.header.moves]
        changing = [scene for scene in going if not scene.header.words]
        return next(iter((*changing, *going, *sounding, *scenes)))


def film_pictures(film: FilmTimeline, size: FilmSize, *, is_overlay: bool = False) -> FilmPictures:
    """What is seen in a film of a size; over another film the music is smaller."""
    choruses = [
        [bar.place for bar in film.bars if bar.chorus == chorus.number] for chorus in film.choruses
    ]
    music = film_music(film.score, size, choruses=choruses, is_overlay=is_overlay)
    passages = film_passages(film, music, FRAMES_A_SECOND)
    scenes = (scene for passage in passages for _, scene in passage.runs)
    return FilmPictures(music, passages, FramePainter(size, music, scenes, is_overlay=is_overlay))


def write_film_files(
    work: Path,
    stem: str,
    film: FilmTimeline,
    sound: Samples,
    *,
    size: FilmSize,
    form: FilmFormat = FILM,
    captions: bool = False,
    is_private: bool = False,
    progress: Callable[[float], None] = lambda _: None,
) -> tuple[str, ...]:
    """Write a film and what goes beside it into a folder, and return the names.

    Parameters
    ----------
    work : Path
    stem : str
        What the files are called.
    film : FilmTimeline
    sound : numpy.ndarray
        Shape (frames, 2), from ``film.sound_s`` on.
    size : FilmSize
    form : FilmFormat
    captions : bool
        Captions beside it.
    is_private : bool
        Readable for their owner alone, and the file says nothing of itself.
    progress : callable
        Told the share of the film that is written.
    """
    pictures = film_pictures(film, size, is_overlay=form.has_alpha)
    chapters = film_chapters(film)
    content = FilmContent(
        size=size,
        passages=pictures.passages,
        length_s=film.length_s,
        sound=_laid(sound, film),
        chapters=chapters,
        title="" if is_private else " · ".join(filter(None, (film.title, film.heading))),
    )
    names = [f"{stem}{form.suffix}"]
    write_film(work / names[0], content, pictures.painter, form, progress=progress)
    for name, data in _beside(stem, film, pictures, captions=captions, form=form):
        (work / name).write_bytes(data)
        names.append(name)
    if is_private:
        for name in names:
            (work / name).chmod(0o600)
    return tuple(names)


def _beside(
    stem: str, film: FilmTimeline, pictures: FilmPictures, *, captions: bool, form: FilmFormat
) -> Iterator[tuple[str, bytes]]:
    if captions:
        yield f"{stem}.vtt", captions_text(film).encode()
    if not form.has_alpha:
        yield f"{stem}-chapters.txt", chapters_text(film_chapters(film)).encode()
        yield f"{stem}.png", png_of_pixels(pictures.painter.pixels(pictures.poster))


def _laid(sound: Samples, film: FilmTimeline) -> Samples:
    """The sound of the whole film: silence, the sound, and silence to its end."""
    import numpy as np

    whole = np.zeros((round(film.length_s * FRAME_RATE), 2), np.int16)
    first = round(film.sound_s * FRAME_RATE)
    heard = sound[: len(whole) - first]
    whole[first : first + len(heard)] = heard
    return whole
