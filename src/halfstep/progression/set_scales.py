"""Which scales did a teacher set over the chords of a chart? Each beside its place on the page.

A text such as ``5 altered, 7:3 Lydian dominant``: the bar as the page counts it, a pickup 0, the
quarter note counted from 1 where it is another than the first, and the kind of scale. Where a
chord goes on over that place, it is set over that chord.

A chart that is edited keeps them: `carried_scales` finds the bars again that it had.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import takewhile
from typing import NamedTuple

from halfstep.errors import ReadError
from halfstep.progression.form import has_pickup, page_number
from halfstep.progression.notations.text_writer import beat_text
from halfstep.progression.sheet import LeadSheet, WrittenBar

EXAMPLE = "5 altered, 7:3 Lydian dominant"
_MOST_TEXT = 20_000


class SetScale(NamedTuple):
    """A scale that is set.

    Attributes
    ----------
    bar : int
        As the page counts it; 0 for a pickup.
    at : Fraction
        Quarter notes from the start of the bar.
    scale : str
        Its kind, as typed.
    """

    bar: int
    at: Fraction
    scale: str

    @property
    def place(self) -> str:
        """The place as it is typed: ``7:3``."""
        return scale_place(self.bar, self.at)


def scale_place(bar: int, at: Fraction) -> str:
    """A place as it is typed.

    >>> scale_place(7, Fraction(2)), scale_place(5, Fraction(0))
    ('7:3', '5')
    """
    return f"{bar}:{beat_text(at)}" if at else str(bar)


@cache
def _set_scale() -> re.Pattern[str]:
    return re.compile(
        r"""
        (?P<bar> \d{1,6} )
        (?: : (?P<beat> [1-9]\d{0,2} (?: \.\d{1,3} )? )
            (?: \+ (?P<part> \d{1,5}/[1-9]\d{0,4} ) )? )?
        \s+ (?P<scale> \S .* )
        """,
        re.VERBOSE,
    )


def parse_scales(text: str) -> tuple[SetScale, ...]:
    """The scales that a text sets, in the order of their places; of a place set twice the last.

    Raises
    ------
    ReadError

    Examples
    --------
    >>> parse_scales("7:3 altered, 5 Lydian")[0]
    SetScale(bar=5, at=Fraction(0, 1), scale='Lydian')
    """
    if len(text) > _MOST_TEXT:
        raise ReadError(f"more than {_MOST_TEXT} letters; a chart has fewer scales")
    words = filter(None, (word.strip() for word in re.split(r"[,;\n]", text)))
    scales = {(one.bar, one.at): one for one in map(_parsed, words)}
    return tuple(scales[place] for place in sorted(scales))


def _parsed(text: str) -> SetScale:
    words = _set_scale().fullmatch(text)
    if words is None:
        raise ReadError(f"{text!r} sets no scale; write bars with scales such as {EXAMPLE}")
    at = Fraction(words["beat"] or 1) - 1 + Fraction(words["part"] or 0)
    return SetScale(int(words["bar"]), at, " ".join(words["scale"].split()))


def scales_text(scales: Iterable[SetScale]) -> str:
    """The scales as a text that reads back to them.

    >>> scales_text(parse_scales("7:3 altered,5  Lydian"))
    '5 Lydian, 7:3 altered'
    """
    return ", ".join(f"{one.place} {one.scale}" for one in scales)


def with_scales(sheet: LeadSheet, scales: Iterable[SetScale]) -> LeadSheet:
    """The sheet with those scales over its chords, whatever it set there.

    Raises
    ------
    ReadError
        When no chord sounds at a place.
    """
    bars = list(sheet.bars)
    places = {number: place for place, number in enumerate(_page_numbers(bars))}
    for one in scales:
        place, chord = _sounding(bars, places.get(one.bar), one)
        chords = list(bars[place].chords)
        chords[chord] = chords[chord]._replace(scale=one.scale)
        bars[place] = bars[place]._replace(chords=tuple(chords))
    return replace(sheet, bars=tuple(bars))


def _page_numbers(bars: list[WrittenBar]) -> Iterator[int]:
    first = int(not has_pickup(tuple(bars)))
    return (page_number(bar, place) for place, bar in enumerate(bars, first))


def _sounding(bars: list[WrittenBar], place: int | None, one: SetScale) -> tuple[int, int]:
    """Where the chord is written that sounds at a place: its bar and which of its chords."""
    if place is None or one.at >= (bars[place].beats or bars[place].meter.bar_beats):
        raise ReadError(f"{one.place} {one.scale}: the chart has no such place")
    chords = [n for n, chord in enumerate(bars[place].chords) if chord.at <= one.at]
    while not chords and place > 0:
        place -= 1
        chords = list(range(len(bars[place].chords)))
    if not chords:
        raise ReadError(f"{one.place} {one.scale}: no chord sounds there yet")
    return place, chords[-1]


def carried_scales(
    before: LeadSheet, after: LeadSheet, scales: Iterable[SetScale]
) -> tuple[SetScale, ...]:
    """The scales of a chart that was edited, where the same chords stand now.

    Parameters
    ----------
    before, after : LeadSheet
    scales : iterable of SetScale
        Over chords of the chart before; what was set over a chord that is gone is left out.
    """
    old, new = list(before.bars), list(after.bars)
    numbers = list(_page_numbers(new))
    places = {number: place for place, number in enumerate(_page_numbers(old))}
    partners = dict(_same_bars(old, new))
    carried = (
        one._replace(bar=numbers[partners[places[one.bar]]])
        for one in scales
        if one.bar in places and _stands(old, new, places[one.bar], partners, one.at)
    )
    return tuple(carried)


def _stands(
    old: list[WrittenBar],
    new: list[WrittenBar],
    place: int,
    partners: dict[int, int],
    at: Fraction,
) -> bool:
    """True where the chord at a place of an old bar is the same in the bar it has become."""
    partner = partners.get(place)
    return partner is not None and _chord_at(old[place], at) == _chord_at(new[partner], at)


def _same_bars(old: list[WrittenBar], new: list[WrittenBar]) -> Iterator[tuple[int, int]]:
    """The place that each old bar has now: an edit lies between bars that stayed.

    Where it left as many bars as there were, each keeps its place.
    """
    shorter = min(len(old), len(new))
    head = _run_alike(zip(old, new, strict=False))
    tail = min(_run_alike(zip(reversed(old), reversed(new), strict=False)), shorter - head)
    yield from zip(range(head), range(head), strict=True)
    if len(old) == len(new):
        yield from zip(range(head, len(old) - tail), range(head, len(new) - tail), strict=True)
    yield from zip(range(len(old) - tail, len(old)), range(len(new) - tail, len(new)), strict=True)


def _run_alike(pairs: Iterable[tuple[WrittenBar, WrittenBar]]) -> int:
    """How many pairs of bars have the same chords, before the first that have not."""
    return sum(1 for _ in takewhile(lambda pair: _sound_of(pair[0]) == _sound_of(pair[1]), pairs))


def _sound_of(bar: WrittenBar) -> object:
    return bar.meter, tuple((chord.at, chord.symbol) for chord in bar.chords)


def _chord_at(bar: WrittenBar, at: Fraction) -> object:
    """The chord of a bar that sounds at a place in it; None where one goes on from before."""
    sounding = [chord for chord in bar.chords if chord.at <= at]
    return (sounding[-1].symbol, sounding[-1].at) if sounding else None
