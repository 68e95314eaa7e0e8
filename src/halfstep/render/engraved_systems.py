"""Which lines of music must the engraver draw? Those that it has not drawn before.

How wide a bar is by itself depends on the bar and on the edges of its neighbours; how a line
of music is drawn depends on its bars, on what is tied into it or out of it, and on its width.
Both are kept by the text that they were drawn from, so that an edit costs the lines that it
changes. Lines that follow one another are engraved together, between the bar before them and
the bar after them, so that ties and signatures at their edges are those of the whole.

Source: none; that a line is drawn alone as it is among all others is held by a test.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Generic, TypeVar

from halfstep.render.drawn_line import DrawnLine
from halfstep.render.engraver import engraved, read_line, read_rooms
from halfstep.render.mei import MeiBars, System, score_mei
from halfstep.score import Mark

Key = tuple[Hashable, ...]
Made = TypeVar("Made")

_WIDEST = 1_000_000.0
_MOST_WIDTHS, _MOST_LINES = 8192, 256


@dataclass(frozen=True, slots=True)
class _HashedKey:
    """A key that is hashed once: bars take long."""

    key: Key
    value: int

    def __hash__(self) -> int:
        return self.value


class KeptWork(Generic[Made]):
    """What was made last, by what it was made from; threads may share it."""

    def __init__(self, most: int) -> None:
        self._made: OrderedDict[_HashedKey, Made] = OrderedDict()
        self._most = most
        self._lock = threading.Lock()

    def every(self, keys: Sequence[Key], make: Callable[[list[int]], Iterable[Made]]) -> list[Made]:
        """What belongs to each key; ``make`` is given the places of those that are missing."""
        hashed = [_HashedKey(key, hash(key)) for key in keys]
        works = [self._get(key) for key in hashed]
        missing = [place for place, work in enumerate(works) if work is None]
        for place, work in zip(missing, make(missing) if missing else (), strict=True):
            works[place] = work
            self._put(hashed[place], work)
        return [work for work in works if work is not None]

    def clear(self) -> None:
        """Forget all."""
        with self._lock:
            self._made.clear()

    def _get(self, key: _HashedKey) -> Made | None:
        with self._lock:
            if key in self._made:
                self._made.move_to_end(key)
            return self._made.get(key)

    def _put(self, key: _HashedKey, work: Made) -> None:
        with self._lock:
            self._made[key] = work
            while len(self._made) > self._most:
                self._made.popitem(last=False)


_widths: KeptWork[float] = KeptWork(_MOST_WIDTHS)
_lines: KeptWork[DrawnLine] = KeptWork(_MOST_LINES)
finished_lines: KeptWork[DrawnLine] = KeptWork(_MOST_LINES)
"""Lines with all that stands around their notes."""


def forget_engraving() -> None:
    """Draw everything anew from here on; for measurements and tests."""
    for kept in (_widths, _lines, finished_lines):
        kept.clear()


# How wide bars are


def natural_widths(bars: MeiBars) -> tuple[float, tuple[float, ...]]:
    """Room for clef and signatures, and for each bar when nothing is stretched."""
    places = range(len(bars.contents))
    keys: list[Key] = [(bars.opening(0),), *(_width_key(bars, place) for place in places)]
    head, first, *others = _widths.every(keys, lambda missing: _measured(bars, missing))
    return head, (first - head, *others)


def _width_key(bars: MeiBars, place: int) -> Key:
    """The bar, and how those beside it end and begin; the first stands behind the signatures."""
    whole = range(len(bars.contents))
    edges = [bars.edges(other, whole) for other in _beside(place, whole)]
    opening = bars.opening(0) if place == 0 else ""
    return opening, bars.measure(place, whole), *edges


def _beside(place: int, whole: range) -> list[int]:
    return [other for other in (place - 1, place + 1) if other in whole]


def _measured(bars: MeiBars, missing: Sequence[int]) -> Iterator[float]:
    """The room for the signatures, called 0, and for bars, counted from 1, each between its
    neighbours on one endless line.
    """
    whole = range(len(bars.contents))
    places = {place - 1 for place in missing if place}
    places |= {0, *(other for place in places for other in _beside(place, whole))}
    page = score_mei(bars, [(sorted(places), 0)])
    head, boxes = read_rooms(engraved(page, _WIDEST, stretch=False)[0])
    for place in missing:
        box = boxes.get(f"b-{place - 1}")
        yield box.right - box.left if box else head


# Lines


def drawn_systems(bars: MeiBars, systems: Sequence[System], width: float) -> list[DrawnLine]:
    """Each line of music as shapes, stretched to a width; more may be set around them."""
    keys = [line_key(bars, system, width) for system in systems]
    lines = _lines.every(keys, lambda missing: _engraved(bars, systems, missing, width))
    return [line.copied() for line in lines]


def line_key(bars: MeiBars, system: System, width: float) -> Key:
    """What a line is drawn from; of the bars beside it only what reaches over its edges."""
    places, padding = system
    first, last = places[0], places[-1]
    opening = bars.opening(first)
    before = bars.contents[first - 1] if first and _is_joined(bars, first - 1) else ""
    after, ahead = "", ""
    if last + 1 < len(bars.contents):
        after = bars.contents[last + 1] if _is_joined(bars, last) else ""
        ahead = bars.changes(last + 1)
    return opening, before, bars.page(places, padding), after, ahead, width


def _is_joined(bars: MeiBars, place: int) -> bool:
    """True where the last note of a bar is tied or slurred into the next."""
    notes = bars.score.bars[place].notes
    return bool(notes) and bool(notes[-1].marks & (Mark.TIE | Mark.SLUR))


def _engraved(
    bars: MeiBars, systems: Sequence[System], missing: Sequence[int], width: float
) -> Iterator[DrawnLine]:
    """The missing lines, those that follow one another in one go."""
    for _, run in groupby(enumerate(missing), key=lambda pair: pair[1] - pair[0]):
        numbers = [number for _, number in run]
        pages = [systems[number] for number in numbers]
        before, after = pages[0][0][0] - 1, pages[-1][0][-1] + 1
        context: list[System] = [([before], 0)] if before >= 0 else []
        skipped = len(context)
        behind: list[System] = [([after], 0)] if after < len(bars.contents) else []
        page = score_mei(bars, [*context, *pages, *behind])
        wanted = slice(skipped, skipped + len(pages))
        yield from map(read_line, engraved(page, width, wanted=wanted))
