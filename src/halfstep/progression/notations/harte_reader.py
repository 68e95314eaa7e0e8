"""What bars do files of Harte labels hold? Label files and bar grids.

Conventions
-----------
- A label file gives seconds and no bars: each label is read as one bar.
- A bar grid gives a line to a phrase: seconds, section letter and words, bars of labels.
  The labels share their bar evenly, ``.`` holds, ``(2/4)`` is the metre of one bar,
  ``x4`` plays the line that often, ``&pause`` is counted as a bar that goes on, and ``*``
  names no chord. Another tonic is the key from there on.

Source: C. Harte et al. 2005, Symbolic representation of musical chords, from memory;
checked against mir_eval in the tests.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache

from halfstep.errors import ReadError
from halfstep.meter import Meter, parse_meter
from halfstep.pitch import Name, parse_name
from halfstep.progression.bar_builder import BarBuilder
from halfstep.progression.chart import ChordAt
from halfstep.progression.error_place import ErrorPlace
from halfstep.progression.key import Key
from halfstep.progression.notations import MOST_TEXT_BYTES
from halfstep.progression.notations.harte_labels import parse_harte
from halfstep.progression.quality import Family
from halfstep.progression.shares import shares_of_bar
from halfstep.progression.sheet import LeadSheet, WrittenBar
from halfstep.progression.symbol import ChordSymbol
from halfstep.progression.title import UNTITLED, plain_title

MAX_LABELS_IN_BAR = 16
MAX_TIMES = 99
"""As often as a line of a bar grid may be played."""


def read_lab_text(text: str, *, source: str = "") -> LeadSheet:
    """Read lines ``start end label``, times in seconds; a bar for each label.

    Raises
    ------
    ReadError
    """
    builder = BarBuilder()
    builder.notices.append("label times give no bars: one label is read for each bar")
    for number, line in _numbered(text, source):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        with ErrorPlace(source, line=number):
            start, end, label = _lab_fields(line)
            if end < start:
                raise ReadError(f"the label ends at {end:g} s, before its start at {start:g} s")
            with ErrorPlace(column=line.rindex(label) + 1):
                symbol = parse_harte(label)
            builder.notices += symbol.notices
            builder.add(Meter(), [ChordAt(symbol, Fraction(0))])
    return _sheet_with_chords(builder, UNTITLED, source)


def _sheet_with_chords(builder: BarBuilder, title: str, source: str) -> LeadSheet:
    """What was read.

    Raises
    ------
    ReadError
        When it has no chords.
    """
    if not any(bar.chords for bar in builder.bars):
        raise ReadError("there are no labels such as C:maj7", source=source)
    return builder.sheet(title, key=builder.bars[0].key)


def _lab_fields(line: str) -> tuple[float, float, str]:
    try:
        start, end, label = line.split()
        return float(start), float(end), label
    except ValueError:
        raise ReadError("a line is start, end and label, such as 0.5 2.5 C:maj7") from None


def _numbered(text: str, source: str) -> Iterator[tuple[int, str]]:
    if len(text) > MOST_TEXT_BYTES:
        raise ReadError("the text is longer than 1 MB; a chart is shorter", source=source)
    return enumerate(text.splitlines(), 1)


@cache
def _bar_of_labels() -> re.Pattern[str]:
    return re.compile(r"\|\s*(?:\(\d+/\d+\)\s*)?[A-G][b#]*:[a-z(\d]")


@cache
def _header_line() -> re.Pattern[str]:
    return re.compile(r"#\s*(title|metre|meter|tonic)\s*:\s*(.*)", re.IGNORECASE)


@cache
def _bar_meter() -> re.Pattern[str]:
    return re.compile(r"\((\d{1,2}/\d{1,2})\)")


def is_grid(text: str) -> bool:
    """True for a text whose bars hold labels with a colon, such as ``| C:maj7 |``."""
    return bool(_bar_of_labels().search(text))


def read_grid_text(text: str, *, source: str = "") -> LeadSheet:
    r"""Read a bar grid of Harte labels.

    Raises
    ------
    ReadError

    Examples
    --------
    >>> sheet = read_grid_text("# metre: 3/4\n1.5\tA, intro, | C:maj | G:7 . C:maj |")
    >>> [[(str(c.symbol), str(c.at)) for c in bar.chords] for bar in sheet.bars]
    [[('C', '0')], [('G7', '0'), ('C', '2')]]
    """
    grid = _LabelGrid()
    for number, line in _numbered(text, source):
        with ErrorPlace(source, line=number):
            grid.take(line)
    grid.end_key()
    return _sheet_with_chords(grid.builder, grid.title, source)


@dataclass(slots=True)
class _LabelGrid:
    """Takes a bar grid line by line."""

    builder: BarBuilder = field(default_factory=BarBuilder)
    title: str = UNTITLED
    meter: Meter = field(default_factory=Meter)
    tonic: Name | None = None
    tonic_since: int = 0

    def take(self, line: str) -> None:
        """A header, a line of bars, or a line without any."""
        header = _header_line().fullmatch(line.strip())
        if header:
            with ErrorPlace(column=line.index("#") + header.start(2) + 1):
                self._header(header[1].lower(), header[2].strip())
        elif "|" in line and not line.startswith("#"):
            before, _, rest = line.partition("|")
            bars, _, after = rest.rpartition("|")
            bars, after = (bars, after) if "|" in rest else (rest, "")
            times = _times(after)
            self._bars(bars.split("|"), len(before) + 2, _section(before), times)

    def _header(self, name: str, value: str) -> None:
        if name == "title":
            self.title = plain_title(value)
        elif name != "tonic":
            self.meter = parse_meter(value)
        else:
            self.end_key()
            self.tonic, self.tonic_since = parse_name(value), len(self.builder.bars)

    def _bars(self, bars: list[str], column: int, section: str, times: int) -> None:
        """Bars of a line, the first from that column on."""
        for place, bar in enumerate(bars):
            self.builder.forward = times > 1 and place == 0
            self.builder.section = section if place == 0 else ""
            with ErrorPlace(column=column + len(bar) - len(bar.lstrip())):
                self._bar(bar)
            column += len(bar) + 1
        if times > 1:
            self.builder.mark_last(backward=times)

    def _bar(self, text: str) -> None:
        bar_meter = _bar_meter().search(text)
        meter = parse_meter(bar_meter[1]) if bar_meter else self.meter
        cells = _bar_meter().sub(" ", text).split()
        if len(cells) > MAX_LABELS_IN_BAR:
            raise ReadError(f"more than {MAX_LABELS_IN_BAR} labels in a bar")
        if "&pause" in cells:
            self.builder.notices.append("a pause is counted as one bar")
            cells = [cell for cell in cells if cell != "&pause"]
        chords = list(self._chords(meter, cells))
        for chord in chords:
            self.builder.notices += chord.symbol.notices
        self.builder.add(meter, chords)

    def _chords(self, meter: Meter, cells: list[str]) -> Iterator[ChordAt]:
        if not cells:
            return
        shares, even = shares_of_bar(meter, len(cells))
        if not even:
            labels = f"bar {len(self.builder.bars) + 1}: {len(cells)} labels in {meter}"
            self.builder.notices.append(f"{labels} do not share its beats evenly")
        at = Fraction(0)
        for cell, beats in zip(cells, shares, strict=True):
            if cell != ".":
                yield ChordAt(self._symbol(cell), at)
            at += beats

    def _symbol(self, cell: str) -> ChordSymbol:
        if cell == "*":
            self.builder.notices.append("a bar marked * names no chord")
            return parse_harte("N")
        return parse_harte(cell)

    def end_key(self) -> None:
        """Give the bars since the tonic was stated their key."""
        since = self.builder.bars[self.tonic_since :]
        if self.tonic is None or not since:
            return
        key = _key_on(self.tonic, since)
        self.builder.bars[self.tonic_since :] = [bar._replace(key=key) for bar in since]
        self.builder.notices.append(f"the tonic is given without a mode; read as {key}")


def _key_on(tonic: Name, bars: Iterable[WrittenBar]) -> Key:
    """The key with the mode that most chords on its tonic have."""
    minor: Counter[bool] = Counter(
        chord.symbol.family is Family.MINOR
        for bar in bars
        for chord in bar.chords
        if not chord.symbol.silent and chord.symbol.root == tonic
    )
    return Key(tonic, minor[True] > minor[False]).practical


def _section(text: str) -> str:
    """Letter and words before the first bar, without the time."""
    words = [word.strip() for word in text.rpartition("\t")[2].split(",")]
    named = [word for word in words if word and not re.fullmatch(r"[-+.\de]+", word)]
    return plain_title(" ".join(named)) if named else ""


def _times(after: str) -> int:
    times = re.search(r"\bx(\d{1,4})\b", after)
    if not times:
        return 1
    if not 1 <= int(times[1]) <= MAX_TIMES:
        raise ReadError(f"a line is played {times[1]} times; write x1 to x{MAX_TIMES}")
    return int(times[1])
