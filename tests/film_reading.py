"""What is seen and heard in a film that was written: its frames, decoded, and where its mark is."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import av
import numpy as np
import numpy.typing as npt

from halfstep.lesson.film import FilmPictures, film_pictures
from halfstep.lesson.film_timeline import FilmLine, FilmTimeline, film_timeline
from halfstep.render.film_sizes import FILM_SIZES
from halfstep.services.make_film import MakeFilm, film_line

Pixels = npt.NDArray[np.uint8]


def decoded(path: Path) -> Iterator[tuple[float, Pixels]]:
    """Each frame with the time at which it is shown."""
    container: Any = av.open(str(path))
    with container:
        for frame in container.decode(video=0):
            yield float(frame.pts * frame.time_base), frame.to_ndarray(format="rgb24")


def heard(path: Path) -> npt.NDArray[np.float32]:
    """The sound of a film, shape (frames, 2)."""
    container: Any = av.open(str(path))
    with container:
        frames = [frame.to_ndarray() for frame in container.decode(audio=0)]
    return np.concatenate(frames, axis=1).T


def wedge(pixels: Pixels) -> tuple[float, float] | None:
    """Where the wedge under the sounding head stands: the middle of what is as red as the accent
    and solid, over no text; None where none is.
    """
    red = pixels.astype(np.int16)
    accent = (red[..., 0] - red[..., 2] > 90) & (red[..., 0] < 190) & (red[..., 1] < 90)
    rows = accent.sum(axis=1)
    low = np.flatnonzero(rows >= 3)
    low = low[low > 0.3 * len(rows)]  # the header has the accent, too
    if not low.size:
        return None
    inside = accent[low[0] : low[-1] + 1]
    across = np.flatnonzero(inside.any(axis=0))
    return (across[0] + across[-1]) / 2, (low[0] + low[-1]) / 2


def request(chart: str, step: str = "6", **fields: Any) -> MakeFilm:
    """A request for a film at 120."""
    return MakeFilm(chart, step, **{"tempi": "120", **fields})


def filmed(asked: MakeFilm) -> tuple[FilmLine, FilmTimeline, FilmPictures]:
    """A line, its times, and what is seen."""
    film = film_line(asked)
    times = film_timeline(film)
    return film, times, film_pictures(times, FILM_SIZES[asked.size], is_overlay=asked.overlay)
