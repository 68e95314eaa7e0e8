"""In which order are the written bars played, and how long is each?

A page saves paper with repeats, endings and jumps; a lesson needs the bars as they come.

Conventions
-----------
- A repeat that was never opened goes back to just after the last one, or to bar 1.
- A repeat inside a repeat is played again each time the outer one is.
- An ending is played on the passes it names; where the last ending itself goes back,
  the next pass leaves all endings out.
- After a jump (D.C., D.S.) repeats are not taken and the last ending is played, or the
  one that holds *Fine* or *To Coda*; a jump is made once.
- A first bar that is numbered 0 or too short is a pickup; a last bar that makes up a
  whole bar with it stays a bar of the form and is given its full length. So is a bar
  before the music goes back to after an upbeat, with the chords of that upbeat.
- What had to be guessed is said in a notice.

Source: MusicXML 4.0 for repeats and endings; the rest is common practice, no source.
"""

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from halfstep.errors import ReadError
from halfstep.meter import Meter
from halfstep.progression.chart import Bar, Chart
from halfstep.progression.sheet import LeadSheet, Marks, WrittenBar

MAX_BARS = 2000
"""As many bars as a chart may have, written or played."""
MOST_BARS_GIVEN = 1_000_000
"""Bars that a sheet may be played as which a program gives, and nobody typed."""


class _EndingSpan(NamedTuple):
    """An ending: bars ``start`` to ``end`` are played on ``passes``.

    Neighbours have one number of a ``group``.
    """

    start: int
    end: int
    passes: tuple[int, ...]
    group: int


def _endings(marks: Sequence[Marks], notices: list[str]) -> list[_EndingSpan]:
    spans: list[_EndingSpan] = []
    start: int | None = None
    for place, mark in enumerate(marks):
        if mark.ending:
            if start is not None:
                spans.append(_EndingSpan(start, place - 1, marks[start].ending, 0))
                notices.append(f"an ending is not closed before bar {place + 1}; closed there")
            start = place
        if start is not None and (mark.ending_stops or mark.backward):
            spans.append(_EndingSpan(start, place, marks[start].ending, 0))
            start = None
        elif mark.ending_stops:
            notices.append(f"an ending stops in bar {place + 1} that never began; left out")
    if start is not None:
        spans.append(_EndingSpan(start, start, marks[start].ending, 0))
        notices.append(f"the ending in bar {start + 1} is never closed; read as one bar")
    return _grouped(spans)


def _grouped(endings: list[_EndingSpan]) -> list[_EndingSpan]:
    grouped: list[_EndingSpan] = []
    for ending in endings:
        before = grouped[-1] if grouped else None
        joins = before is not None and before.end + 1 == ending.start
        group = before.group + (0 if joins else 1) if before else 0
        grouped.append(ending._replace(group=group))
    return grouped


class _RepeatedPassage:
    """A passage that may be repeated; ``opened`` by a repeat sign or only assumed."""

    __slots__ = ("opened", "start", "visit")

    def __init__(self, start: int, *, opened: bool = False) -> None:
        self.start = start
        self.visit = 1
        self.opened = opened


class _PageWalk:
    """Walks the page as a player does."""

    def __init__(self, marks: Sequence[Marks], first: int) -> None:
        self.marks = marks
        self.first = first
        self.notices: list[str] = []
        self.endings: dict[int, _EndingSpan] = {}
        self.groups: dict[int, list[_EndingSpan]] = {}
        self.passages = [_RepeatedPassage(first)]
        self.jumps_made: set[int] = set()
        self.jumped = False
        for ending in _endings(marks, self.notices):
            self.groups.setdefault(ending.group, []).append(ending)
            for place in range(ending.start, ending.end + 1):
                self.endings[place] = ending

    def order(self, limit: int) -> tuple[int, ...]:
        """Places of the bars in the order of playing."""
        played: list[int] = []
        place: int | None = 0
        while place is not None and place < len(self.marks):
            ending = self.endings.get(place)
            if ending and ending.start == place and not self._chosen(ending):
                place = self._past(ending)
                continue
            self._open(place)
            if len(played) >= limit:
                raise ReadError(f"the repeats make more than {limit} bars; take some out")
            played.append(place)
            place = self._next(place)
        self._say_what_stayed_open()
        return tuple(played)

    def _chosen(self, ending: _EndingSpan) -> bool:
        if not self.jumped:
            return self.passages[-1].visit in ending.passes
        group = self.groups[ending.group]
        goals = [e for e in group if any(self._is_goal(p) for p in range(e.start, e.end + 1))]
        return ending == (goals[0] if goals else max(group, key=lambda e: max(e.passes)))

    def _is_goal(self, place: int) -> bool:
        return self.marks[place].fine or self.marks[place].to_coda

    def _past(self, ending: _EndingSpan) -> int:
        if ending == self.groups[ending.group][-1]:
            self._leave(ending)
        return ending.end + 1

    def _leave(self, ending: _EndingSpan) -> None:
        """After the last ending of a group the passage is done."""
        group = self.groups[ending.group]
        repeats = any(self.marks[e.end].backward for e in group)
        if repeats and not self.jumped and self.passages[-1].start <= group[0].start:
            self._close(ending.end)

    def _open(self, place: int) -> None:
        if not self.marks[place].forward or self.jumped:
            return
        ending = self.endings.get(place)
        if ending and ending == self.groups[ending.group][-1]:
            self._leave(ending)
        top, place = self.passages[-1], max(place, self.first)
        if top.start == place:
            top.opened = True
            return
        if top.opened:
            self.notices.append(f"a repeat begins inside another at bar {place + 1}")
        self.passages.append(_RepeatedPassage(place, opened=True))

    def _close(self, place: int) -> None:
        """End the passage; one that was opened around it goes on."""
        self.passages.pop()
        if not self.passages or not self.passages[-1].opened:
            self.passages[-1:] = [_RepeatedPassage(place + 1)]

    def _next(self, place: int) -> int | None:
        mark, ending = self.marks[place], self.endings.get(place)
        if not self.jumped:
            section = self.passages[-1]
            if mark.backward and section.visit < self._passes(place, ending):
                section.visit += 1
                return section.start
            if ending and place == self.groups[ending.group][-1].end:
                self._leave(ending)
            elif mark.backward and not ending:
                self._close(place)
        return self._jump(place)

    def _passes(self, place: int, ending: _EndingSpan | None) -> int:
        """How often the passage is played that goes back from here."""
        if not ending:
            return self.marks[place].backward
        group = self.groups[ending.group]
        last = max(max(e.passes) for e in group)
        goes_on = place + 1 < len(self.marks)
        if self.marks[group[-1].end].backward and (goes_on or last == 1):
            return last + 1
        return last

    def _jump(self, place: int) -> int | None:
        mark = self.marks[place]
        if self.jumped and mark.fine:
            return None
        if self.jumped and mark.to_coda:
            coda = next((p for p in range(len(self.marks)) if self.marks[p].coda), None)
            if coda is not None:
                coda = max(coda, self.first)
                self.jumped, self.passages = False, [_RepeatedPassage(coda)]
                return coda
            self.notices.append("To Coda without a coda; played straight on")
        if not (mark.da_capo or mark.dal_segno) or place in self.jumps_made:
            return place + 1
        return self._made_jump(place)

    def _made_jump(self, place: int) -> int:
        self.jumps_made.add(place)
        target: int | None = self.first
        if self.marks[place].dal_segno:
            signs = [p for p in range(place + 1) if self.marks[p].segno]
            target = max(signs[-1], self.first) if signs else None
        if target is None:
            self.notices.append(f"D.S. in bar {place + 1} without a segno; played straight on")
            return place + 1
        self.jumped = True
        self.notices.append(f"after the jump in bar {place + 1} repeats are not taken again")
        return target

    def _say_what_stayed_open(self) -> None:
        for section in self.passages:
            if section.opened and section.visit == 1 and not self.jumps_made:
                self.notices.append(
                    f"the repeat that begins at bar {section.start + 1} never ends; played once"
                )


def play_order(
    marks: Sequence[Marks], *, first: int = 0, limit: int = MAX_BARS
) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Places (from 0) of the bars in the order of playing, and what was guessed.

    Parameters
    ----------
    marks : sequence of Marks
    first : int
        Where a repeat without a beginning goes back to: 1 after a pickup, which is played
        once.
    limit : int
        Bars played at most.

    Raises
    ------
    ReadError
        When more than ``limit`` bars would be played.

    Examples
    --------
    >>> play_order([Marks(), Marks(backward=2), Marks()])[0]
    (0, 1, 0, 1, 2)
    """
    walk = _PageWalk(marks, first)
    order = walk.order(limit)
    return order, tuple(dict.fromkeys(walk.notices))


def played_bars(
    written: Sequence[WrittenBar], *, limit: int = MAX_BARS
) -> tuple[tuple[Bar, ...], tuple[str, ...]]:
    """The bars as played, numbered and whole, and what was guessed.

    Raises
    ------
    ReadError
        When there are none, or more than ``limit``.
    """
    if not written:
        raise ReadError("the chart has no bars")
    if len(written) > limit:
        raise ReadError(f"the chart has more than {limit} bars; make it shorter")
    notices: list[str] = []
    pickup = has_pickup(written)
    if pickup and written[0].number != "0" and not written[0].irregular:
        filled = f"{_plain(written[0].beats)} of {_plain(written[0].meter.bar_beats)} beats"
        notices.append(f"bar {written[0].number} holds {filled}; read as a pickup")
    order, guesses = play_order([bar.marks for bar in written], first=int(pickup), limit=limit)
    bars = _laid_out(written, order, pickup=pickup, notices=notices)
    return bars, tuple(dict.fromkeys((*guesses, *notices)))


def _plain(beats: Fraction) -> str:
    return f"{float(beats):g}"


def has_pickup(written: Sequence[WrittenBar]) -> bool:
    """True where the first bar stands before bar 1."""
    if len(written) < 2 or _is_split(written, 0):
        return False
    return written[0].short or written[0].number == "0"


def _is_split(written: Sequence[WrittenBar], place: int) -> bool:
    """True where this bar and the next are two halves of one."""
    if place + 1 >= len(written):
        return False
    one, two = written[place], written[place + 1]
    whole = one.beats + two.beats == one.meter.bar_beats
    return one.short and two.short and two.irregular and whole and one.number != "0"


def _laid_out(
    written: Sequence[WrittenBar], order: tuple[int, ...], *, pickup: bool, notices: list[str]
) -> tuple[Bar, ...]:
    bars: list[Bar] = []
    times: Counter[int] = Counter()
    number = 0 if pickup else 1
    turn = 0
    while turn < len(order):
        place = order[turn]
        after = order[turn + 1] if turn + 1 < len(order) else None
        bar = written[place]
        if after == place + 1 and _is_split(written, place):
            bar = _joined(bar, written[after])
            turn += 1
        elif not (pickup and place == 0):
            upbeat = written[0] if pickup else None
            goes_back = after is not None and after <= place
            if goes_back and after and written[after - 1].irregular:
                upbeat = written[after - 1]
            bar = _whole(bar, upbeat, goes_back=goes_back)
            if bar != written[place]:
                notices.append(_changed(written[place], bar))
        page = page_number(bar, place + int(not pickup))
        beats = bar.beats or bar.meter.bar_beats
        times[place] += 1
        bars.append(Bar(number, bar.meter, beats, bar.chords, page, times[place], bar.section))
        number += 1
        turn += 1
    return tuple(bars)


def page_number(bar: WrittenBar, place: int) -> int:
    """The number of a bar on its page; its place where what is written is no number."""
    return int(bar.number) if bar.number.isdecimal() else place


def _joined(one: WrittenBar, two: WrittenBar) -> WrittenBar:
    later = tuple(chord._replace(at=chord.at + one.beats) for chord in two.chords)
    return one._replace(beats=one.meter.bar_beats, chords=one.chords + later)


def _whole(bar: WrittenBar, pickup: WrittenBar | None, *, goes_back: bool) -> WrittenBar:
    """The bar with the length its metre gives, or a metre of its own."""
    full = bar.meter.bar_beats
    if bar.beats in {0, full}:
        return bar
    if pickup and bar.beats + pickup.beats == full:
        upbeat = pickup.chords if goes_back else ()
        later = tuple(chord._replace(at=chord.at + bar.beats) for chord in upbeat)
        return bar._replace(beats=full, chords=bar.chords + later)
    other_meter = meter_of(bar.beats, bar.meter.unit)
    if other_meter and (bar.irregular or bar.beats > full):
        return bar._replace(meter=other_meter)
    kept = tuple(chord for chord in bar.chords if chord.at < full)
    return bar._replace(beats=full, chords=kept)


def meter_of(beats: Fraction, unit: int) -> Meter | None:
    """A metre whose bar lasts ``beats``, in the unit or a smaller one."""
    for finer in (unit, 2 * unit, 4 * unit):
        count = beats * finer / 4
        if finer <= 16 and count.denominator == 1 and 1 <= count <= 32:
            return Meter(int(count), finer)
    return None


def _changed(before: WrittenBar, after: WrittenBar) -> str:
    filled = f"{_plain(before.beats)} of {_plain(before.meter.bar_beats)} beats"
    if after.meter != before.meter:
        return f"bar {before.number} holds {filled}; read as a bar of {after.meter}"
    return f"bar {before.number} holds {filled}; counted as a whole bar"


def played(sheet: LeadSheet, *, limit: int = MAX_BARS) -> Chart:
    """A lead sheet as it is played: repeats, endings and jumps taken.

    Raises
    ------
    ReadError
        When the order would need more than ``limit`` bars.
    """
    bars, guesses = played_bars(sheet.bars, limit=limit)
    notices = tuple(dict.fromkeys((*sheet.notices, *guesses)))
    return Chart(sheet.title, bars, sheet.key, sheet.tempo_bpm, sheet.feel, notices, sheet.style)
