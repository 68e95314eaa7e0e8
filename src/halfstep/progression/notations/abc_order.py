"""In what order do the bars of an ABC tune stand, and which of them are whole?

The parts are written out in the order of the header, upbeats inside the tune are set
apart from repeats, and bars get their numbers.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import groupby

from halfstep.errors import ReadError
from halfstep.progression.form import MAX_BARS
from halfstep.progression.sheet import SheetNote, WrittenBar


def in_order(
    bars: Sequence[WrittenBar], parts: Sequence[tuple[str, int]], order: str
) -> tuple[list[WrittenBar], list[str]]:
    """The bars in the order that the header gives to the parts, and notices.

    Parameters
    ----------
    bars : sequence of WrittenBar
    parts : sequence of (str, int)
        Label and place of the first bar of each part.
    order : str
        The header's order, such as ``A(BC)2``; may be empty.

    Raises
    ------
    ReadError
        When that would be more than `MAX_BARS` bars.
    """
    labels = _expanded(order)
    passages = _passages(bars, parts)
    known = [label for label in labels if passages.get(label)]
    if not known:
        return list(bars), []
    notices = [f"the parts are written out in the order {' '.join(labels)[:80]}"]
    missing = sorted(set(labels) - set(known))
    if missing:
        notices.append(f"the tune has no part {', '.join(missing)}")
    runs = [(label, len(list(group))) for label, group in groupby(known)]
    counted = any(times > 1 for _, times in runs)
    written = list(bars[: parts[0][1]])
    for label, times in runs:
        written += _repeated(passages[label], times, counted=counted)
        if len(written) > MAX_BARS:
            raise ReadError(f"the play order makes more than {MAX_BARS} bars")
    return written, notices


def _passages(
    bars: Sequence[WrittenBar], parts: Sequence[tuple[str, int]]
) -> dict[str, Sequence[WrittenBar]]:
    """The bars of each part; of two with one label the first."""
    ends = [*(start for _, start in parts), len(bars)][1:]
    passages: dict[str, Sequence[WrittenBar]] = {}
    for (label, start), end in zip(parts, ends, strict=True):
        passages.setdefault(label, bars[start:end])
    return passages


def whole_and_numbered(bars: Sequence[WrittenBar]) -> tuple[list[WrittenBar], list[str]]:
    """The bars with numbers, and with a word on which are whole; and notices."""
    notices: list[str] = []
    numbered = _numbered(_upbeats_set_apart(_irregular(bars), notices))
    return _ties_that_hold(numbered), notices


def _expanded(order: str) -> list[str]:
    """The parts of a play order, one by one.

    >>> "".join(_expanded("A(AB)2C3"))
    'AABABCCC'
    """
    stack: list[list[list[str]]] = [[]]
    for sign in re.findall(r"[A-Z()]|\d+", order):
        if sign == "(":
            stack.append([])
        elif sign == ")" and len(stack) > 1:
            inner = stack.pop()
            stack[-1].append([label for piece in inner for label in piece])
        elif sign.isdecimal() and stack[-1]:
            times = min(int(sign[:4]), MAX_BARS + 1)
            if times * len(stack[-1][-1]) > MAX_BARS:
                raise ReadError(f"the play order makes more than {MAX_BARS} bars")
            stack[-1][-1] = stack[-1][-1] * times
        elif sign.isalpha():
            stack[-1].append([sign])
    return [label for level in stack for piece in level for label in piece]


def _repeated(part: Sequence[WrittenBar], times: int, *, counted: bool) -> list[WrittenBar]:
    """A part as the order asks for it."""
    last = len(part) - 1
    backs = [n for n, bar in enumerate(part) if bar.marks.backward]
    opens = [n for n, bar in enumerate(part) if bar.marks.forward]
    endings = [n for n, bar in enumerate(part) if bar.marks.ending]
    whole = opens in ([], [0]) and backs in ([], [last]) and not endings
    if whole and (times > 1 or counted):
        return _framed(part, times)
    if endings and opens in ([], [0]) and backs and backs[0] >= endings[0]:
        return list(part)  # the endings say how often
    return list(part) * times


def _framed(part: Sequence[WrittenBar], times: int) -> list[WrittenBar]:
    """A part with a repeat around it, or none where it is played once."""
    bars = list(part)
    bars[0] = bars[0]._replace(marks=bars[0].marks._replace(forward=times > 1))
    backward = times if times > 1 else 0
    bars[-1] = bars[-1]._replace(marks=bars[-1].marks._replace(backward=backward))
    return bars


def _irregular(bars: Sequence[WrittenBar]) -> list[WrittenBar]:
    """Bars with a word on which of them need not be whole.

    The first may be a pickup; where the music goes back, the rest of the bar is there.
    """
    last = len(bars) - 1
    return [
        bar._replace(irregular=bar.short and 0 < place < last and not bar.marks.goes_back)
        for place, bar in enumerate(bars)
    ]


def _upbeats_set_apart(bars: list[WrittenBar], notices: list[str]) -> list[WrittenBar]:
    """Repeats that begin after their upbeat: the bar that goes back has room for it."""
    for place in range(1, len(bars) - 1):
        bar = bars[place]
        unopened = bars[place - 1].marks.backward and _closes_next(bars, place)
        if not bar.irregular or not (bar.marks.forward or unopened):
            continue
        bars[place] = bar._replace(marks=bar.marks._replace(forward=False))
        following = bars[place + 1]
        marks = following.marks._replace(forward=True)
        bars[place + 1] = following._replace(marks=marks)
        notices.append("a repeat with an upbeat inside the tune is read from after the upbeat")
    return bars


def _closes_next(bars: Sequence[WrittenBar], place: int) -> bool:
    """True where the next repeat sign after ``place`` goes back."""
    for bar in bars[place + 1 :]:
        if bar.marks.forward or bar.marks.backward:
            return not bar.marks.forward
    return False


def _numbered(bars: Sequence[WrittenBar]) -> list[WrittenBar]:
    """Bars with their numbers; a pickup is 0, the second half of a bar has none."""
    numbered: list[WrittenBar] = []
    number, half = 1, False
    for place, bar in enumerate(bars):
        before = bars[place - 1] if place else None
        joins = before is not None and before.short and bar.irregular and not half
        half = joins and before is not None and before.beats + bar.beats == before.meter.bar_beats
        if place == 0 and _is_pickup(bars):
            numbered.append(bar._replace(number="0"))
        elif half and not (place == 1 and _is_pickup(bars)):
            numbered.append(bar._replace(number=f"X{place}"))
        else:
            half = False
            numbered.append(bar._replace(number=str(number)))
            number += 1
    return numbered


def _is_pickup(bars: Sequence[WrittenBar]) -> bool:
    if len(bars) < 2 or not bars[0].short:
        return False
    one, two = bars[0], bars[1]
    return not (two.irregular and one.beats + two.beats == one.meter.bar_beats)


def _ties_that_hold(bars: Sequence[WrittenBar]) -> list[WrittenBar]:
    """Bars whose ties lead to the same pitch, at once."""
    followers = [bar.notes[0] if bar.notes else None for bar in bars[1:]]
    return [
        bar._replace(notes=_tied(bar, following)) if any(n.tied for n in bar.notes) else bar
        for bar, following in zip(bars, [*followers, None], strict=True)
    ]


def _tied(bar: WrittenBar, following: SheetNote | None) -> tuple[SheetNote, ...]:
    """The notes of a bar; a tie that leads nowhere is taken off."""
    others = [*bar.notes[1:], following]
    last = len(bar.notes) - 1
    return tuple(
        note._replace(tied=False)
        if note.tied and not _holds(note, other, bar, across=place == last)
        else note
        for place, (note, other) in enumerate(zip(bar.notes, others, strict=True))
    )


def _holds(note: SheetNote, other: SheetNote | None, bar: WrittenBar, *, across: bool) -> bool:
    """True where ``other`` goes on with the note, in this bar or the next."""
    if other is None or other.pitch != note.pitch:
        return False
    end = note.at + note.beats
    return (end == bar.beats and other.at == 0) if across else other.at == end
