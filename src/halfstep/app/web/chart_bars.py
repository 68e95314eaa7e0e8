"""How is a chart drawn on a page? Bars of plain text; on each bar line the notes that change.

A bar line joins the chord that is played before it to the one after it. On the page a bar stands
once, however often it is played: its line on the left belongs to the first time, and a line on
its right is drawn where the music goes back.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import lcm

from halfstep.part.change_words import ToldChange
from halfstep.part.transposed_part import Part
from halfstep.progression.chart import Bar
from halfstep.progression.form import has_pickup, page_number
from halfstep.progression.notations.text_writer import marks_in_words, meter_text
from halfstep.progression.set_scales import scale_place
from halfstep.progression.sheet import LeadSheet, WrittenBar

_MOST_MOVES = 3
"""Notes that stand on a bar line; that there are more is shown, and all are said in words."""
_MANY_CHORDS = 3
"""In a bar of so many there is room for one note between two of them."""
_ROOMY = 11
"""Letters of chords that stand in a bar at their usual size."""
_WIDEST = 12
"""Parts that the chords of a bar are placed by."""


@dataclass(frozen=True, slots=True)
class DrawnMove:
    """A note that changes: the old one over the new; empty where there is none."""

    old: str
    new: str


@dataclass(frozen=True, slots=True)
class Joint:
    """What happens at a bar line, or between two chords of a bar.

    Attributes
    ----------
    moves : tuple of DrawnMove
        None where nothing changes.
    more : int
        Moves that are not drawn.
    words : str
        The same in words; empty where nothing is to be said.
    """

    moves: tuple[DrawnMove, ...] = ()
    more: int = 0
    words: str = ""


@dataclass(frozen=True, slots=True)
class DrawnChord:
    """A chord in its bar.

    Attributes
    ----------
    symbol : str
    share : int
        Of the bar's width.
    anchor : str
        Where it is explained on the page; empty where it is not.
    joint : Joint
        Between it and the chord before it in its bar.
    """

    symbol: str
    share: int
    anchor: str
    joint: Joint

    @property
    def pieces(self) -> list[str]:
        """The symbol, parted where a narrow bar may break it."""
        return re.split(r"(?<=..)(?=[♯♭]\d|[(/]|sus|alt)", self.symbol)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnBar:
    """A bar as it stands on the page.

    Attributes
    ----------
    number : str
    section, ending, before, after : str
        What stands over it: its section, the passes of its ending; metre, key and signs that
        begin with it, signs and jumps that end it.
    chords : tuple of DrawnChord
        None where the chord before goes on.
    left : Joint
        At the line before it.
    right : Joint or None
        At the line after it, where the music goes back.
    opens : bool
        A repeat begins.
    closes : int
        How often the passage is played that ends here; 0 without a repeat.
    is_last : bool
    """

    number: str
    section: str
    ending: str
    before: str
    after: str
    chords: tuple[DrawnChord, ...]
    left: Joint
    right: Joint | None
    opens: bool
    closes: int
    is_last: bool

    @property
    def is_full(self) -> bool:
        """True for a bar of many chords, which has the room of two where a page is narrow."""
        return len(self.chords) >= _MANY_CHORDS

    @property
    def is_tight(self) -> bool:
        """True where the chords need smaller letters to stand in one line."""
        return sum(len(chord.symbol) for chord in self.chords) > _ROOMY


def drawn_bars(
    sheet: LeadSheet, part: Part, changes: Sequence[ToldChange | None]
) -> tuple[DrawnBar, ...]:
    """The bars of a chart.

    Parameters
    ----------
    sheet : LeadSheet
        In the pitch of the part.
    part : Part
    changes : sequence of ToldChange or None
        What is told of the change into each chord of the part.
    """
    return tuple(_Drawing(sheet, part, changes).bars())


def chord_anchor(place: str) -> str:
    """The name under which a chord is explained, by its place on the page."""
    return f"chord-{place}"


_NOTHING = Joint()


class _Drawing:
    """Draws the bars of one chart."""

    def __init__(self, sheet: LeadSheet, part: Part, changes: Sequence[ToldChange | None]) -> None:
        self.sheet = sheet
        self.changes = changes
        chart = part.analysis.chart
        self.played = [(bar, start) for bar, start in chart.placed() if bar.number >= 1]
        self.spans = [chord.span for chord in part.analysis.chords]
        self.starts = [span.start for span in self.spans]
        self.first_times: dict[int, int] = {}
        for turn, (bar, _) in enumerate(self.played):
            self.first_times.setdefault(bar.written, turn)

    @cached_property
    def leaving(self) -> dict[int, int]:
        """For a bar of the page: which time it is played first that the music goes back."""
        leaving: dict[int, int] = {}
        for turn, (bar, _) in enumerate(self.played):
            if self._bar_after(turn).written <= bar.written:
                leaving.setdefault(bar.written, turn)
        return leaving

    def _bar_after(self, turn: int) -> Bar:
        return self.played[(turn + 1) % len(self.played)][0]

    def bars(self) -> Iterator[DrawnBar]:
        """All of the page."""
        written = self.sheet.bars
        first = int(not has_pickup(written))
        for place, bar in enumerate(written):
            yield self._bar(place, bar, page_number(bar, place + first))

    def _bar(self, place: int, bar: WrittenBar, page: int) -> DrawnBar:
        turn, leaves = self.first_times.get(page), self.leaving.get(page)
        marks = bar.marks
        return DrawnBar(
            number=bar.number,
            section=bar.section,
            ending=" ".join(f"{number}." for number in marks.ending),
            before=" ".join(self._before(place, bar)),
            after=" ".join(marks_in_words(marks, self.sheet)),
            chords=tuple(self._chords(bar, turn)),
            left=_NOTHING if not turn else self._line_before(turn, page),
            right=None if leaves is None else self._line_after(leaves),
            opens=marks.forward,
            closes=marks.backward,
            is_last=place + 1 == len(self.sheet.bars),
        )

    def _before(self, place: int, bar: WrittenBar) -> Iterator[str]:
        """What begins with a bar."""
        if place == 0 or bar.meter != self.sheet.bars[place - 1].meter:
            yield meter_text(bar.meter)
        if bar.key:
            yield str(bar.key)
        yield from (sign for sign in ("segno", "coda") if getattr(bar.marks, sign))

    def _line_before(self, turn: int, page: int) -> Joint:
        before = self.played[turn - 1][0].written
        came = "" if before == page - 1 else f"from bar {before}: "
        return self._line(turn, came)

    def _line_after(self, turn: int) -> Joint:
        after = self._bar_after(turn).written
        is_end = turn + 1 == len(self.played)
        goes = "from the top: " if is_end else f"back to bar {after}: "
        return self._line((turn + 1) % len(self.played), goes)

    def _line(self, turn: int, head: str) -> Joint:
        """The bar line before a bar as it is played: what changes into its first chord."""
        start = self.played[turn][1]
        chord = bisect_right(self.starts, start) - 1
        is_held = self.starts[chord] != start or len(self.starts) == 1
        return _NOTHING if is_held else joint(self.changes[chord], head)

    def _chords(self, bar: WrittenBar, turn: int | None) -> Iterator[DrawnChord]:
        length = bar.beats or bar.meter.bar_beats
        ends = [*(chord.at for chord in bar.chords[1:]), length][: len(bar.chords)]
        shares = _shares([end - chord.at for chord, end in zip(bar.chords, ends, strict=True)])
        for place, (chord, share) in enumerate(zip(bar.chords, shares, strict=True)):
            index = self._index(turn, chord.at)
            moves = place > 0 and index is not None and self._begins(turn, chord.at, index)
            most = 1 if len(bar.chords) >= _MANY_CHORDS else _MOST_MOVES
            told = self.changes[index] if moves and index is not None else None
            between = joint(told, most=most)
            anchor = "" if index is None else chord_anchor(self._explained_at(index))
            yield DrawnChord(str(chord.symbol), share, anchor, between)

    def _index(self, turn: int | None, at: Fraction) -> int | None:
        """Which chord of the analysis sounds there; None in a bar that is never played."""
        if turn is None:
            return None
        return bisect_right(self.starts, self.played[turn][1] + at) - 1

    def _explained_at(self, index: int) -> str:
        """The place on the page at which a chord of the analysis begins."""
        span = self.spans[index]
        return scale_place(self.played[span.bar - 1][0].written, span.at)

    def _begins(self, turn: int | None, at: Fraction, index: int) -> bool:
        return turn is not None and self.starts[index] == self.played[turn][1] + at


def _shares(lengths: Sequence[Fraction]) -> list[int]:
    """The parts of a bar that its chords have, as small whole numbers."""
    if not lengths or min(lengths) <= 0:
        return [1] * len(lengths)
    unit = lcm(*(length.denominator for length in lengths))
    whole = [int(length * unit) for length in lengths]
    least = min(whole)
    return [max(1, min(_WIDEST, round(length / least))) for length in whole]


# What changes


def joint(told: ToldChange | None, head: str = "", *, most: int = _MOST_MOVES) -> Joint:
    """A change as it stands on a line.

    Parameters
    ----------
    told : ToldChange or None
        Where the scale stays, its notes are in the words alone.
    head : str
        What its words begin with.
    most : int
        Notes that it has room for.
    """
    if told is None:
        return _NOTHING
    if told.scale_stays:
        return Joint(words=f"{head}{told.spoken}")
    moved = [DrawnMove(old, new) for old, new in told.moves]
    shown = moved if len(moved) <= most else moved[: max(1, most - 1)]
    return Joint(tuple(shown), len(moved) - len(shown), f"{head}{told.spoken}")
