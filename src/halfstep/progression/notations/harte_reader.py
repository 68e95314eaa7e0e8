"""What does a Harte label say, and the bar grids and label files written with them?

A Harte label is a root, a shorthand with degrees added or taken away (``*``), and a bass
given as a degree: ``C:maj7``, ``Bb:min7/b3``, ``C:(b3,b5,b7)``. Degrees count against
the major scale, so that ♭5 stays a fifth.

Conventions
-----------
- ``N`` is no chord; ``X``, a chord that has no label, is read as none with a notice.
- ``11`` and the thirteenths are read as players read the symbols of that name: C11 leaves
  its third out, C13 its eleventh.
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
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache

from halfstep.errors import ReadError
from halfstep.meter import Meter, parse_meter
from halfstep.pitch import Degree, Name, parse_degrees, parse_name, practical
from halfstep.progression.chart import ChordAt
from halfstep.progression.form import MAX_BARS
from halfstep.progression.key import Key
from halfstep.progression.notations import MOST_TEXT_BYTES
from halfstep.progression.shares import shares_of_bar
from halfstep.progression.sheet import (
    NO_MARKS,
    LeadSheet,
    Marks,
    WrittenBar,
    keys_where_they_change,
)
from halfstep.progression.symbol import ChordSymbol, Family, parse_symbol
from halfstep.progression.title import UNTITLED, plain_title

MAX_LABELS_IN_BAR = 16
MAX_TIMES = 99
"""As often as a line of a bar grid may be played."""

_SHORTHANDS = {
    "": ("", "1 3 5"),
    "maj": ("", "1 3 5"),
    "min": ("m", "1 b3 5"),
    "dim": ("dim", "1 b3 b5"),
    "aug": ("+", "1 3 #5"),
    "maj7": ("maj7", "1 3 5 7"),
    "min7": ("m7", "1 b3 5 b7"),
    "7": ("7", "1 3 5 b7"),
    "dim7": ("dim7", "1 b3 b5 bb7"),
    "hdim7": ("m7b5", "1 b3 b5 b7"),
    "minmaj7": ("m(maj7)", "1 b3 5 7"),
    "aug7": ("7#5", "1 3 #5 b7"),
    "maj6": ("6", "1 3 5 6"),
    "min6": ("m6", "1 b3 5 6"),
    "9": ("9", "1 3 5 b7 9"),
    "maj9": ("maj9", "1 3 5 7 9"),
    "min9": ("m9", "1 b3 5 b7 9"),
    "11": ("11", "1 3 5 b7 9 11"),
    "maj11": ("maj11", "1 3 5 7 9 11"),
    "min11": ("m11", "1 b3 5 b7 9 11"),
    "13": ("13", "1 3 5 b7 9 13"),
    "maj13": ("maj13", "1 3 5 7 9 13"),
    "min13": ("m13", "1 b3 5 b7 9 13"),
    "sus2": ("sus2", "1 2 5"),
    "sus4": ("sus4", "1 4 5"),
    "5": ("5", "1 5"),
    "1": ("no3no5", "1"),
}
"""Each shorthand with what follows the root in our symbol, and its degrees."""

_DEGREE = r"(?:b{0,3}|\#{0,3})(?:1[0-3]|[1-9])"
_LABEL = re.compile(
    rf"""
    (?P<root>[A-G](?:b{{0,6}}|\#{{0,6}}))
    (?: : (?P<shorthand>[a-z]*\d*) )?
    (?: \( \s* (?P<degrees>\*?{_DEGREE}(?:\s*,\s*\*?{_DEGREE})*) \s* \) )?
    (?: / (?P<bass>{_DEGREE}) )?
    """,
    re.VERBOSE,
)
_BY_SEMITONES = parse_degrees("1 b9 9 b3 3 11 #11 5 b13 6 b7 7")
_KNOWN = set(parse_degrees("1 b2 2 #2 b3 3 4 #4 b5 5 #5 b6 6 bb7 b7 7 b9 9 #9 11 #11 b13 13"))
_THIRD, _FLAT_THIRD = Degree(3), Degree(3, -1)
_DIMINISHED_SEVENTH = Degree(7, -2)
_GIVEN_AS = "write it like C:maj7, Bb:min7/b3 or C:(b3,b5,b7)"


@lru_cache(maxsize=4096)
def parse_harte(label: str) -> ChordSymbol:
    """Read one Harte label.

    Parameters
    ----------
    label : str
        Such as ``C:maj7``, ``Bb:min7/b3``, ``C:(b3,b5,b7)``, ``N``.

    Raises
    ------
    ReadError

    Examples
    --------
    >>> [str(parse_harte(label)) for label in ("Bb:min7/b3", "C:hdim7", "C:(b3,b5,b7)")]
    ['B♭m7/D♭', 'Cø7', 'Cø7']
    """
    if label in {"N", "X"}:
        said = ("X, a chord without a label, is read as no chord",) if label == "X" else ()
        return ChordSymbol("N.C.", Name(0), Family.SILENT, notices=said)
    found = _LABEL.fullmatch(label) if len(label) <= 80 else None
    if not found or (found["shorthand"] or "") not in _SHORTHANDS:
        raise ReadError(f"{label[:40]!r} is no Harte label; {_GIVEN_AS}", column=1)
    root = _writable(parse_name(found["root"]))
    symbol = parse_symbol(root.ascii + _suffix(found["shorthand"], found["degrees"]))
    bass = _bass(root, found["bass"])
    symbol = replace(symbol, bass=bass)
    return replace(symbol, typed=symbol.ascii)


def _writable(name: Name) -> Name:
    """A name of at most two signs."""
    return practical(name) if abs(name.alteration) > 2 else name


def _bass(root: Name, degree: str | None) -> Name | None:
    if not degree:
        return None
    bass = _writable(root + parse_degrees(degree)[0].interval)
    return None if bass == root else bass


def _suffix(shorthand: str | None, edits: str | None) -> str:
    """What follows the root; a label of degrees alone names all but the root."""
    if not edits:
        return _SHORTHANDS[shorthand or ""][0]
    degrees = {Degree(1)}
    if shorthand:
        degrees |= set(parse_degrees(_SHORTHANDS[shorthand][1]))
    for edit in edits.split(","):
        degree = parse_degrees(edit.strip().lstrip("*"))[0]
        if "*" in edit:
            degrees = {each for each in degrees if each.semitones != degree.semitones}
        else:
            degrees.add(degree)
    return suffix_of_degrees(degrees)


def suffix_of_degrees(degrees: Iterable[Degree]) -> str:
    """The text that follows the root of a chord with these degrees.

    >>> suffix_of_degrees(parse_degrees("1 b3 b5 b7")), suffix_of_degrees(parse_degrees("1 4"))
    ('m(7)(b5)', 'sus4no5')
    """
    left = {_plain(degree) for degree in degrees}
    words = ("" if _taken(left, Degree(1)) else "no1") + _frame(left)
    words += _stack(left) + _fifths(left)
    return words + "".join(map(_tension, sorted(left)))


def _plain(degree: Degree) -> Degree:
    """The degree as a symbol names it: within the octave up to 7, or a tension."""
    if degree.number in {8, 10, 12}:
        degree = degree.simple
    return degree if degree in _KNOWN else _BY_SEMITONES[degree.semitones]


def _taken(left: set[Degree], degree: Degree) -> bool:
    """True when the degree was there; it has been said and is taken out."""
    there = degree in left
    left.discard(degree)
    return there


def _frame(left: set[Degree]) -> str:
    """What the third says; of two thirds the minor one sounds as a raised ninth."""
    if _taken(left, _THIRD):
        if _taken(left, _FLAT_THIRD):
            left.add(Degree(9, 1))
        return ""
    if _taken(left, _FLAT_THIRD):
        others = {Degree(5), Degree(7), Degree(7, -1)}
        if {_DIMINISHED_SEVENTH, Degree(5, -1)} <= left and not others & left:
            left -= {_DIMINISHED_SEVENTH, Degree(5, -1)}
            left.add(Degree(5))
            return "dim7"
        return "m"
    for suspended in (4, 2):
        if _taken(left, Degree(suspended)):
            return f"sus{suspended}"
    return "5" if Degree(5) in left else "no3"


def _stack(left: set[Degree]) -> str:
    """The seventh or the sixth; a sixth under a seventh is a thirteenth."""
    if _taken(left, _DIMINISHED_SEVENTH):
        left.add(Degree(6))
    seventh = "(7)" if _taken(left, Degree(7, -1)) else ""
    if not seventh and _taken(left, Degree(7)):
        seventh = "(maj7)"
    if seventh:
        if _taken(left, Degree(6)):
            left.add(Degree(13))
        return seventh
    return "(6)" if _taken(left, Degree(6)) else ""


def _fifths(left: set[Degree]) -> str:
    """Nothing for a perfect fifth, beside which a flat or sharp one is a tension."""
    if _taken(left, Degree(5)):
        for altered, tension in ((Degree(5, -1), Degree(11, 1)), (Degree(5, 1), Degree(13, -1))):
            if _taken(left, altered):
                left.add(tension)
        return ""
    altered_fifths = [d for d in (Degree(5, -1), Degree(5, 1)) if _taken(left, d)]
    return "".join(f"({d.ascii})" for d in altered_fifths) or "no5"


def _tension(degree: Degree) -> str:
    number = {2: 9, 4: 11, 6: 13}.get(degree.number, degree.number)
    tension = Degree(number, degree.alteration)
    return f"({tension.ascii})" if tension.alteration else f"(add{number})"


@dataclass(slots=True)
class _Pages:
    """Bars as they are read, with what was not certain."""

    bars: list[WrittenBar] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)

    def add(
        self, meter: Meter, chords: Iterable[ChordAt], *, section: str = "", marks: Marks = NO_MARKS
    ) -> None:
        """One more bar."""
        if len(self.bars) >= MAX_BARS:
            raise ReadError(f"more than {MAX_BARS} bars; make the chart shorter")
        number = str(len(self.bars) + 1)
        chords = tuple(chords)
        self.notices += [said for chord in chords for said in chord.symbol.notices]
        self.bars.append(WrittenBar(number, meter, meter.bar_beats, chords, marks, section=section))

    def sheet(self, title: str, source: str) -> LeadSheet:
        """What was read."""
        if not any(bar.chords for bar in self.bars):
            raise ReadError("there are no labels such as C:maj7", source=source)
        notices = tuple(dict.fromkeys(self.notices))
        key = self.bars[0].key
        bars = tuple(keys_where_they_change(self.bars, key))
        return LeadSheet(title, bars, key, notices=notices)


def read_lab_text(text: str, *, source: str = "") -> LeadSheet:
    """Read lines ``start end label``, times in seconds; a bar for each label.

    Raises
    ------
    ReadError
    """
    pages = _Pages(notices=["label times give no bars: one label is read for each bar"])
    for number, line in _numbered(text, source):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        with _Placed(source, line=number):
            start, end, label = _lab_fields(line)
            if end < start:
                raise ReadError(f"the label ends at {end:g} s, before its start at {start:g} s")
            with _Placed(column=line.rindex(label) + 1):
                symbol = parse_harte(label)
            pages.add(Meter(), [ChordAt(symbol, Fraction(0))])
    return pages.sheet(UNTITLED, source)


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


class _Placed:
    """Gives an error its source, line and column, which counts from ``column`` on."""

    def __init__(self, source: str = "", *, line: int | None = None, column: int = 1) -> None:
        self.source = source
        self.line = line
        self.column = column

    def __enter__(self) -> None:
        """Nothing to prepare."""

    def __exit__(self, _kind: object, error: BaseException | None, _trace: object) -> None:
        if isinstance(error, ReadError):
            column = self.column + (error.column or 1) - 1
            raise ReadError(
                error.message, source=self.source, line=self.line, column=column
            ) from None


_BAR_OF_LABELS = re.compile(r"\|\s*(?:\(\d+/\d+\)\s*)?[A-G][b#]*:[a-z(\d]")


def is_grid(text: str) -> bool:
    """True for a text whose bars hold labels with a colon, such as ``| C:maj7 |``."""
    return bool(_BAR_OF_LABELS.search(text))


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
    grid = _Grid()
    for number, line in _numbered(text, source):
        with _Placed(source, line=number):
            grid.take(line)
    grid.end_key()
    return grid.pages.sheet(grid.title, source)


_HEADER = re.compile(r"#\s*(title|metre|meter|tonic)\s*:\s*(.*)", re.IGNORECASE)
_TIMES = re.compile(r"\bx(\d{1,4})\b")
_BAR_METER = re.compile(r"\((\d{1,2}/\d{1,2})\)")


@dataclass(slots=True)
class _Grid:
    """Takes a bar grid line by line."""

    pages: _Pages = field(default_factory=_Pages)
    title: str = UNTITLED
    meter: Meter = field(default_factory=Meter)
    tonic: Name | None = None
    tonic_since: int = 0

    def take(self, line: str) -> None:
        """A header, a line of bars, or a line without any."""
        header = _HEADER.fullmatch(line.strip())
        if header:
            with _Placed(column=line.index("#") + header.start(2) + 1):
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
            self.tonic, self.tonic_since = parse_name(value), len(self.pages.bars)

    def _bars(self, bars: list[str], column: int, section: str, times: int) -> None:
        """Bars of a line, the first from that column on."""
        for place, bar in enumerate(bars):
            marks = Marks(
                forward=times > 1 and place == 0,
                backward=times if times > 1 and place == len(bars) - 1 else 0,
            )
            with _Placed(column=column + len(bar) - len(bar.lstrip())):
                self._bar(bar, section if place == 0 else "", marks)
            column += len(bar) + 1

    def _bar(self, text: str, section: str, marks: Marks) -> None:
        own = _BAR_METER.search(text)
        meter = parse_meter(own[1]) if own else self.meter
        cells = _BAR_METER.sub(" ", text).split()
        if len(cells) > MAX_LABELS_IN_BAR:
            raise ReadError(f"more than {MAX_LABELS_IN_BAR} labels in a bar")
        if "&pause" in cells:
            self.pages.notices.append("a pause is counted as one bar")
            cells = [cell for cell in cells if cell != "&pause"]
        self.pages.add(meter, self._chords(meter, cells), section=section, marks=marks)

    def _chords(self, meter: Meter, cells: list[str]) -> Iterator[ChordAt]:
        if not cells:
            return
        shares, even = shares_of_bar(meter, len(cells))
        if not even:
            said = f"bar {len(self.pages.bars) + 1}: {len(cells)} labels in {meter}"
            self.pages.notices.append(f"{said} do not share its beats evenly")
        at = Fraction(0)
        for cell, beats in zip(cells, shares, strict=True):
            if cell != ".":
                yield ChordAt(self._symbol(cell), at)
            at += beats

    def _symbol(self, cell: str) -> ChordSymbol:
        if cell == "*":
            self.pages.notices.append("a bar marked * names no chord")
            return parse_harte("N")
        return parse_harte(cell)

    def end_key(self) -> None:
        """Give the bars since the tonic was stated their key."""
        since = self.pages.bars[self.tonic_since :]
        if self.tonic is None or not since:
            return
        key = _key_on(self.tonic, since)
        self.pages.bars[self.tonic_since :] = [replace(bar, key=key) for bar in since]
        self.pages.notices.append(f"the tonic is given without a mode; read as {key}")


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
    found = _TIMES.search(after)
    if not found:
        return 1
    if not 1 <= int(found[1]) <= MAX_TIMES:
        raise ReadError(f"a line is played {found[1]} times; write x1 to x{MAX_TIMES}")
    return int(found[1])
