"""What chords does a line of text write, and how long does each last?

::

    title: Evening Class
    key: F
    meter: 4/4
    tempo: 120
    feel: swing
    | F7 | Bb7 | F7 | Cm7 F7 |
    |: Bb7 | % | F7 . D7 . :|

Conventions
-----------
- Header lines stand before the bars and may all be left out; blank lines and lines that
  begin with ``#`` are skipped. A line of bars may begin and end without a bar line.
- Chords in a bar share it evenly; where the pulses do not divide, the first chords get
  the longer shares, in whole pulses, and a notice says so.
- ``.`` or ``/`` standing alone holds the chord for a pulse; then every sign in the bar
  is one pulse. ``%`` plays the bar before again; an empty bar goes on with its chord.
- ``|:`` and ``:|`` enclose what is played twice.

Source: common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Meter, parse_meter
from halfstep.progression.chart import Chart, ChordAt, Feel
from halfstep.progression.form import MAX_BARS, played_bars
from halfstep.progression.key import Key, parse_key
from halfstep.progression.sheet import Marks, WrittenBar
from halfstep.progression.symbol import ChordSymbol, parse_symbol

MAX_TEXT_BYTES = 1_000_000
MAX_CHORDS_IN_BAR = 16
HEADERS = ("title", "key", "meter", "tempo", "feel")
UNTITLED = "Through the changes"
EXAMPLE = "Dm7 | G7 | Cmaj7"

_HEADER = re.compile(
    r"\s*(?P<name>(?P<title>title)|[A-Za-z]{3,})\s*:(?!\s*\|)\s*(?P<value>(?(title).*|[^|]*))",
    re.IGNORECASE,
)
_SIGN = re.compile(r"(?P<bar>:?\|[|\]:]*|\[\|)|(?P<word>(?:(?!:?\||\[\|)\S)+)")
_HOLDS = {".", "/"}


@dataclass(frozen=True, slots=True)
class _Sign:
    """A chord, a hold or a bar line with its 1-based line and 0-based column."""

    text: str
    line: int
    column: int
    is_bar_line: bool = False


@dataclass(slots=True)
class _Header:
    """What the header lines state."""

    title: str = UNTITLED
    key: Key | None = None
    meter: Meter = field(default_factory=Meter)
    tempo_bpm: float | None = None
    feel: Feel | None = None

    def take(self, name: str, value: str) -> None:
        """Set one field; the names are those of `HEADERS`."""
        if name not in HEADERS:
            raise ReadError(f"header {name!r} is not known; known are {', '.join(HEADERS)}")
        if not value:
            raise ReadError(f"header {name!r} is empty; write a value after the colon")
        if name == "title":
            self.title = plain_title(value)
        elif name == "key":
            self.key = parse_key(value)
        elif name == "meter":
            self.meter = parse_meter(value)
        elif name == "tempo":
            self.tempo_bpm = _tempo(value)
        else:
            self.feel = _feel(value)


def plain_title(text: str) -> str:
    r"""A title on one line, of characters that may stand in XML 1.0 and UTF-8.

    >>> plain_title("Room\tTwelve\x07")
    'Room Twelve'
    """
    allowed = (c if c.isprintable() or _stands_in_xml(c) else " " for c in text)
    return " ".join("".join(allowed).split()) or UNTITLED


def _stands_in_xml(character: str) -> bool:
    """True for all but control characters, surrogates and non-characters."""
    return unicodedata.category(character) not in {"Cc", "Cs", "Cn"}


def _tempo(text: str) -> float:
    plain = re.fullmatch(r"(\d{1,4}(?:\.\d{1,3})?)(?:\s*bpm)?", text, re.IGNORECASE)
    if not plain or not SLOWEST_BPM <= float(plain[1]) <= FASTEST_BPM:
        raise ReadError(
            f"{text!r} is no tempo; write pulses a minute from {SLOWEST_BPM} to {FASTEST_BPM}"
        )
    return float(plain[1])


def _feel(text: str) -> Feel:
    try:
        return Feel(text.lower())
    except ValueError:
        raise ReadError(f"{text!r} is no feel; write swing or straight") from None


def read_chart_text(text: str, *, source: str = "") -> Chart:
    """Read a chart from plain text.

    Parameters
    ----------
    text : str
    source : str, optional
        A name for the text, used in errors.

    Raises
    ------
    ReadError
        With the line and column of what cannot be read.

    Examples
    --------
    >>> chart = read_chart_text("| Dm7 G7 | Cmaj7 |")
    >>> [(str(c.symbol), str(c.at)) for bar in chart.bars for c in bar.chords]
    [('Dm7', '0'), ('G7', '2'), ('Cmaj7', '0')]
    """
    if len(text.encode(errors="replace")) > MAX_TEXT_BYTES:
        raise ReadError("the text is longer than 1 MB; a chart is shorter", source=source)
    header, lines = _split(text.replace("\N{FULLWIDTH VERTICAL LINE}", "|"), source)
    reader = _BarReader(header.meter, source)
    has_bar_lines = any("|" in line for _, line in lines)
    for number, line in lines:
        signs = _signs(number, line)
        reader.take_line(signs) if has_bar_lines else reader.take_words(signs)
    if not any(bar.chords for bar in reader.bars):
        raise ReadError(f"the chart has no chords; write bars such as {EXAMPLE}", source=source)
    return _chart(header, reader, source, has_bar_lines=has_bar_lines)


def _chart(header: _Header, reader: _BarReader, source: str, *, has_bar_lines: bool) -> Chart:
    try:
        bars, guesses = played_bars(reader.bars)
    except ReadError as error:
        raise error.at(source=source) from None
    notices = [] if has_bar_lines else ["no bar lines: one chord is read for each bar"]
    notices += [*reader.notices, *guesses]
    return Chart(
        header.title,
        bars,
        header.key,
        header.tempo_bpm,
        header.feel,
        tuple(dict.fromkeys(notices)),
    )


def _split(text: str, source: str) -> tuple[_Header, list[tuple[int, str]]]:
    """The header and the numbered lines of bars."""
    header = _Header()
    lines: list[tuple[int, str]] = []
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        found = _HEADER.fullmatch(line)
        if not found:
            lines.append((number, line))
            continue
        try:
            if lines:
                raise ReadError("header lines stand before the first bar")
            header.take(found["name"].lower(), found["value"].strip())
        except ReadError as error:
            known = found["name"].lower() in HEADERS and not lines
            column = found.start("value" if known else "name") + 1
            raise ReadError(error.message, source=source, line=number, column=column) from None
    return header, lines


def _signs(line_number: int, line: str) -> Iterator[_Sign]:
    for found in _SIGN.finditer(line):
        yield _Sign(found[0], line_number, found.start(), found["bar"] is not None)


class _BarReader:
    """Collects written bars, line by line."""

    def __init__(self, meter: Meter, source: str) -> None:
        self.meter = meter
        self.source = source
        self.bars: list[WrittenBar] = []
        self.notices: list[str] = []
        self._forward = False

    def take_words(self, signs: Iterator[_Sign]) -> None:
        """A line without bar lines: each sign is a bar."""
        for sign in signs:
            self._add([sign])

    def take_line(self, signs: Iterator[_Sign]) -> None:
        """A line of bars."""
        words: list[_Sign] = []
        left: _Sign | None = None
        for sign in signs:
            if not sign.is_bar_line:
                words.append(sign)
                continue
            self._check_bar_line(sign)
            if words or (left and self._empty_bar_between(left, sign)):
                self._add(words)
            self._mark(sign)
            words, left = [], sign
        if words:
            self._add(words)

    def _check_bar_line(self, sign: _Sign) -> None:
        inner = sign.text[1:-1] if len(sign.text) > 1 else ""
        if ":" in inner:
            raise self._error(f"bar line {sign.text!r} is not clear; write |: or :|", sign)

    def _empty_bar_between(self, left: _Sign, right: _Sign) -> bool:
        """Nothing between ``:|`` and ``|:`` is no bar."""
        return not (left.text.startswith(":") or right.text.endswith(":"))

    def _mark(self, sign: _Sign) -> None:
        if sign.text.startswith(":"):
            if not self.bars:
                raise self._error("a repeat ends before the first bar", sign)
            marks = replace(self.bars[-1].marks, backward=2)
            self.bars[-1] = replace(self.bars[-1], marks=marks)
        if sign.text.endswith(":"):
            self._forward = True

    def _add(self, words: list[_Sign]) -> None:
        if len(self.bars) >= MAX_BARS:
            raise self._error(f"more than {MAX_BARS} bars; make the chart shorter", words[:1])
        number = str(len(self.bars) + 1)
        chords = self._chords(words, number)
        marks = Marks(forward=self._forward)
        self._forward = False
        self.bars.append(WrittenBar(number, self.meter, self.meter.bar_beats, chords, marks))

    def _chords(self, words: list[_Sign], number: str) -> tuple[ChordAt, ...]:
        if any(word.text == "%" for word in words):
            return self._again(words)
        if len(words) > 4 * MAX_CHORDS_IN_BAR:
            raise self._error(f"more than {MAX_CHORDS_IN_BAR} chords in a bar", words[:1])
        if any(word.text in _HOLDS for word in words):
            return self._counted(words)
        if len(words) > MAX_CHORDS_IN_BAR:
            raise self._error(f"more than {MAX_CHORDS_IN_BAR} chords in a bar", words[:1])
        symbols = [self._symbol(word) for word in words]
        shares = self._shares(len(symbols), number) if symbols else ()
        starts = (sum(shares[:turn], Fraction(0)) for turn in range(len(shares)))
        return tuple(ChordAt(s, at) for s, at in zip(symbols, starts, strict=True))

    def _again(self, words: list[_Sign]) -> tuple[ChordAt, ...]:
        sign = next(word for word in words if word.text == "%")
        if len(words) > 1:
            raise self._error("% stands alone in its bar and plays the bar before again", sign)
        if not self.bars:
            raise self._error("% has no bar before it to play again", sign)
        return self.bars[-1].chords

    def _counted(self, words: list[_Sign]) -> tuple[ChordAt, ...]:
        """Every sign is one pulse, or one unit of a compound metre."""
        pulses = int(self.meter.bar_beats / self.meter.pulse_beats)
        beats = self.meter.pulse_beats
        if self.meter.compound and len(words) == self.meter.count:
            pulses, beats = self.meter.count, Fraction(4, self.meter.unit)
        if len(words) != pulses:
            raise self._error(
                f"{len(words)} pulses in a bar of {self.meter}; with . or / every sign is one "
                f"pulse and a bar has {pulses}",
                words[:1],
            )
        return tuple(
            ChordAt(self._symbol(word), turn * beats)
            for turn, word in enumerate(words)
            if word.text not in _HOLDS
        )

    def _symbol(self, word: _Sign) -> ChordSymbol:
        try:
            symbol = parse_symbol(word.text)
        except ReadError as error:
            placed = error.at(source=self.source, line=word.line, column=word.column)
            raise placed from None
        self.notices += symbol.notices
        return symbol

    def _shares(self, count: int, number: str) -> tuple[Fraction, ...]:
        shares, even = shares_of_bar(self.meter, count)
        if not even:
            said = " + ".join(f"{float(share * self.meter.unit / 4):g}" for share in shares)
            self.notices.append(f"bar {number}: {count} chords in {self.meter} are read as {said}")
        return shares

    def _error(self, message: str, at: _Sign | list[_Sign]) -> ReadError:
        sign = at if isinstance(at, _Sign) else next(iter(at), None)
        if sign is None:
            return ReadError(message, source=self.source)
        return ReadError(message, source=self.source, line=sign.line, column=sign.column + 1)


def shares_of_bar(meter: Meter, count: int) -> tuple[tuple[Fraction, ...], bool]:
    """How ``count`` chords share a bar, in beats, and whether its pulses divide evenly.

    >>> [str(share) for share in shares_of_bar(Meter(4, 4), 3)[0]]
    ['2', '1', '1']
    """
    step, steps = meter.pulse_beats, int(meter.bar_beats / meter.pulse_beats)
    even = steps % count == 0
    while steps < count:
        finer = 3 if meter.compound and step == meter.pulse_beats else 2
        step, steps = step / finer, steps * finer
    if count == len(meter.groups) and sum(meter.groups) == steps:
        return tuple(group * step for group in meter.groups), even
    each, left = divmod(steps, count)
    return tuple((each + (turn < left)) * step for turn in range(count)), even
