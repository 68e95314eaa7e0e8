"""Between which two widths does a bar lie, before the engraver has been asked?

The engraver sets notes further apart the longer they last, and never nearer than their heads, signs
and words allow. Reckoned from a bar's MEI that gives a least and a most width, some hundredths
apart: mostly enough to say which bars share a line of music. Where the two would break the lines
differently, the bars are measured (`halfstep.render.engraved_systems.natural_widths`), so that the
lines are always those that measuring would give.

Conventions
-----------
- Widths are picture units, nothing stretched, as in `halfstep.render.engraver`.
- A place is where something begins on either staff of a bar, in ticks of `_WHOLE` to a whole note;
  it stands so far behind the place before it as their time, or what is printed, asks for.

Source: none; the figures were measured with the options of `halfstep.render.engraver`, and a test
holds that every bar lies between its bounds.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from halfstep.render.mei import WORD_UNITS, MeiBars
from halfstep.score import Barline


class Bounds(NamedTuple):
    """The least and the most of a width."""

    least: float
    most: float


_KEPT = 4096
_WHOLE = 9 * 5 * 7 * 11 * 128
_TOKEN = re.compile(r"<(/?\w+)([^>]*)>(l*)")
_LENGTH = re.compile(r' dur="(\d+)"(?: dots="(\d)")?')
_RATIO = re.compile(r'num="(\d+)" numbase="(\d+)"')
_SIGN = re.compile(r' accid="(\w+)"')
_TIMED = frozenset({"note", "chord", "rest", "space"})

_APART, _POWER = 1768.0, 0.72
"""From a whole note to the next, and the power of a length that the distance goes by."""
_EDGES = 185.0
"""Before the first note of a bar and behind its last."""
_FIRST = 89.0
"""More before the first bar."""
_NEAR = Bounds(230.0, 345.0)
"""Of two notes side by side, whatever they last."""
_SIGNS = {"n": 160.0, "s": 190.0, "f": 190.0, "x": 235.0, "ff": 330.0, "ts": 430.0, "tf": 500.0}
_PARENTHESES, _DOT, _FLAG, _WHOLE_HEAD = 260.0, 120.0, 240.0, 120.0
_HEAD_BRACKET = 150.0
"""Room at most for a parenthesis on either side of a head."""
_BESIDE_WORD = Bounds(0.0, 150.0)
_REPEAT, _BARLINE, _TIE, _CHANGE = 600.0, 280.0, 120.0, 3600.0
"""Room at most for a repeat, a double bar line, a tie, and signatures that change."""
_ROUNDING = Bounds(0.97, 1.02)

_CLEF_AND_METRE = Bounds(980.0, 1310.0)
_BESIDE_KEY = Bounds(0.0, 150.0)
_KEY_SIGN = Bounds(170.0, 185.0)


def width_bounds(bars: MeiBars) -> tuple[Bounds, tuple[Bounds, ...]]:
    """Of the room for clef and signatures, and of each bar."""
    signs = abs(bars.score.key_fifths)
    rows = zip(_CLEF_AND_METRE, _BESIDE_KEY, _KEY_SIGN, strict=True)
    head = Bounds(*(both + bool(signs) * beside + signs * sign for both, beside, sign in rows))
    return head, tuple(_in_its_place(bars, place) for place in range(len(bars.contents)))


def _in_its_place(bars: MeiBars, place: int) -> Bounds:
    """A bar with what may stand at its edges; signs that change make it, and the next, wider."""
    least, most = _bar_bounds(bars.contents[place])
    bar = bars.score.bars[place]
    more = _REPEAT * (bar.road.forward + bool(bar.road.backward))
    more += _BARLINE * (bar.barline is not Barline.SINGLE)
    more += _TIE * bars.contents[place].count("<tie ")
    more += _CHANGE * bool(bars.changes(place)) + _CHANGE * bool(place and bars.changes(place - 1))
    return Bounds(least, most + more + _FIRST * (place == 0))


@lru_cache(_KEPT)
def _bar_bounds(content: str) -> Bounds:
    """Of a bar between single bar lines."""
    things = _things_of(content)
    widths = (_EDGES + _path_end(things, which) for which in range(2))
    return Bounds(*(share * width for share, width in zip(_ROUNDING, widths, strict=True)))


@dataclass(slots=True)
class _BarThings:
    """What stands in a bar.

    Attributes
    ----------
    end : int
        The tick at which it ends.
    before, behind : dict of int to float
        Room that is kept before what stands at a tick, and behind it, beyond a head's.
    words : list of list of (int, float)
        Each staff's words: the tick, and the width.
    """

    end: int = 0
    before: dict[int, float] = field(default_factory=dict)
    behind: dict[int, float] = field(default_factory=dict)
    words: list[list[tuple[int, float]]] = field(default_factory=list)

    def add(self, at: int, before: float, behind: float) -> None:
        """One more thing at a tick."""
        self.before[at] = max(before, self.before.get(at, 0.0))
        self.behind[at] = max(behind, self.behind.get(at, 0.0))


def _things_of(content: str) -> _BarThings:
    """What the engraver is told of a bar."""
    things = _BarThings()
    begin = at = 0
    is_beamed, ratio, signs = False, (1, 1), 0.0
    for name, attributes, word in _TOKEN.findall(content):
        if name == "staff":
            begin = at = 0
            things.words.append([])
        elif name in {"beam", "/beam"}:
            is_beamed = name == "beam"
        elif name == "tuplet":
            num, numbase = map(int, _RATIO.findall(attributes)[0])
            ratio = num, numbase
        elif name == "/tuplet":
            ratio = (1, 1)
        elif name == "note" and not _LENGTH.search(attributes):  # a head among others on a stem
            signs += _sign_room(attributes)
            things.add(begin, signs, 0.0)
        elif name in _TIMED:
            signs = 0.0
            begin, (divisor, dots) = at, _value(attributes)
            at += _WHOLE * ratio[1] * (2 ** (dots + 1) - 1) // (ratio[0] * divisor * 2**dots)
            flag = _FLAG * (name in {"note", "chord"} and divisor > 4 and not is_beamed)
            ghost = _HEAD_BRACKET * ("head.mod" in attributes)
            behind = flag + _DOT * dots + _WHOLE_HEAD * (divisor == 1) + ghost
            things.add(begin, _sign_room(attributes) + ghost, behind)
            things.end = max(things.end, at)
        elif name == "accid":
            things.add(begin, _PARENTHESES + _sign_room(attributes), 0.0)
        elif name == "syl":
            things.words[-1].append((begin, WORD_UNITS * len(word)))
    return things


def _value(attributes: str) -> tuple[int, int]:
    """A note value: the divisor of a whole note, and dots."""
    divisor, dots = _LENGTH.findall(attributes)[0]
    return int(divisor), int(dots or 0)


def _sign_room(attributes: str) -> float:
    signs = _SIGN.findall(attributes)
    return _SIGNS[signs[0]] if signs else 0.0


def _path_end(things: _BarThings, which: int) -> float:
    """How far the end of a bar is from its first note: the longest way over notes and words.

    Parameters
    ----------
    which : {0, 1}
        The least or the most: signs and the like, which may find room above and below other
        notes, count for the most alone.
    """
    ticks = [*sorted(things.before), things.end]
    xs = {ticks[0]: which * things.before[ticks[0]]}
    pushes = _word_pushes(things, which)
    for begin, end in pairwise(ticks):
        room = things.behind[begin] + things.before.get(end, 0.0)
        apart = max(_distance(end - begin), _NEAR[which] + which * room)
        words = (xs[at] + wide for at, wide in pushes.get(end, ()))
        xs[end] = max((xs[begin] + apart, *words))
    return xs[things.end]


def _distance(ticks: int) -> float:
    """How far apart notes are that begin so many ticks after each other."""
    return _APART * float((ticks / _WHOLE) ** _POWER)


def _word_pushes(things: _BarThings, which: int) -> dict[int, list[tuple[int, float]]]:
    """For each tick at which a word must have ended: where it begins, and how wide it is.

    The last of a bar may reach into the next one, if it has no words.
    """
    pushes: dict[int, list[tuple[int, float]]] = {}
    for words in things.words:
        for (begin, wide), (end, _) in pairwise([*words, (things.end, 0.0)][: len(words) + which]):
            pushes.setdefault(end, []).append((begin, wide + _BESIDE_WORD[which]))
    return pushes
