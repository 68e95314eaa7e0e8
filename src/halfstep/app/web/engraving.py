"""Who draws the music of pages? One thread: it has its engraver warm, and what it drew last."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

from halfstep.render.score_pictures import Picture

_THREAD = ThreadPoolExecutor(1, thread_name_prefix="engraving")
Drawn = TypeVar("Drawn")


def engraved_warm(draw: Callable[[], Drawn]) -> Drawn:
    """What is drawn, by the thread that has its engraver warm."""
    return _THREAD.submit(draw).result()


def in_ink(picture: Picture) -> str:
    """A picture in the page's own ink, which nobody is read aloud."""
    svg = picture.svg
    for black in ("stroke", "fill"):
        svg = svg.replace(f' {black}="#000"', f' {black}="currentColor"')
    return svg.replace("<svg ", '<svg aria-hidden="true" fill="currentColor" ', 1)
