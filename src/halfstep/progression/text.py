"""What chords does a line of text write, and how long does each last?

`read_sheet_text` gives the page, `read_chart_text` the chart as played, and
`write_sheet_text` the text of a page.

::

    title: Evening Class
    key: F
    meter: 4/4
    tempo: 120
    feel: swing
    {pickup 1} C7
    [A]
    |: F7 | Bb7 |1. F7 | Cm7 F7 :|2. F7 {fine} ||
    |: Bb7 | % | F7 . D7 . :|x3 {2/4} C7 | {4/4} F7 {D.C. al fine} |]

Conventions
-----------
- Header lines stand before the bars and may all be left out; blank lines and lines that
  begin with ``#`` are skipped. A line of bars may begin and end without a bar line.
- Chords in a bar share it evenly; where the pulses do not divide, the first chords get
  the longer shares, in whole pulses, and a notice says so.
- ``.`` or ``/`` standing alone holds the chord for a pulse; then every sign in the bar
  is one pulse. ``%`` plays the bar before again; an empty bar goes on with its chord.
- ``|:`` and ``:|`` enclose what is played twice, or as often as ``:|x3`` says.
- ``1.`` or ``1.2.`` after a bar line begins an ending; it goes on to the next ``:|``,
  the next ending, a double bar or the end.
- ``[A]`` names the section that begins with the next bar.
- Braces say what is no chord: a metre from this bar on ``{7/4 2+2+3}``, the quarter notes
  of a pickup ``{pickup 1}``, the signs ``{segno}`` ``{coda}`` ``{to coda}`` ``{fine}`` and
  the jumps ``{D.C.}`` ``{D.S.}``, also *al fine* and *al coda*.
- A page is written four bars a line. What the text cannot hold is changed as little as
  can be, and `text_losses` tells what.

Source: common practice, no source; the braces are this program's own.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from math import floor

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Meter, parse_meter
from halfstep.pitch import UNISON
from halfstep.progression.chart import Chart, ChordAt, Feel
from halfstep.progression.form import MAX_BARS, played
from halfstep.progression.key import Key, parse_key
from halfstep.progression.sheet import LeadSheet, Marks, WrittenBar
from halfstep.progression.symbol import ChordSymbol, parse_symbol

MAX_TEXT_BYTES = 1_000_000
MAX_CHORDS_IN_BAR = 16
HEADERS = ("title", "key", "meter", "tempo", "feel")
UNTITLED = "Through the changes"
_WIDE_LINE = "\N{FULLWIDTH VERTICAL LINE}"
EXAMPLE = "Dm7 | G7 | Cmaj7"

_HEADER = re.compile(
    r"\s*(?P<name>(?P<title>title)|[A-Za-z]{3,})\s*:(?!\s*\|)\s*(?P<value>(?(title).*|[^|]*))",
    re.IGNORECASE,
)
_SIGN = re.compile(
    r"(?P<bar>:?\|[|\]:]*|\[\|)"
    r"|(?P<section>\[[^][{}|]+\])"
    r"|(?P<brace>\{[^{}|]*\})"
    r"|(?P<word>(?:\d{1,2}\.){1,16}|(?:(?!:?\||\[\||\{[^{}|]*\})\S)+)"
)
_HOLDS = {".", "/"}
_ENDING = re.compile(r"(?:\d{1,2}\.){1,16}")
_TIMES = re.compile(r"[x×](\d{1,2})")
_PICKUP = re.compile(r"pickup\s+(\d{1,2}(?:\.\d{1,3}|/[1-9]\d?)?)", re.IGNORECASE)
_PLACED = {"segno": "segno", "coda": "coda"}
_ENDS = {"to coda": "to_coda", "fine": "fine"}
_ENDS |= {f"dc{goal}": "da_capo" for goal in ("", " al fine", " al coda")}
_ENDS |= {f"ds{goal}": "dal_segno" for goal in ("", " al fine", " al coda")}
"""Words in braces and their field of `Marks`; `_ENDS` count at the end of a bar."""

_KNOWN_BRACES = "{segno}, {coda}, {to coda}, {fine}, {D.C.}, {D.S. al coda}, {3/4} or {pickup 1}"


@dataclass(frozen=True, slots=True)
class _Sign:
    """A chord, a hold, a mark or a bar line with its 1-based line and 0-based column.

    ``kind`` is bar, section, brace or word.
    """

    text: str
    line: int
    column: int
    kind: str = "word"

    @property
    def is_bar_line(self) -> bool:
        """True for any bar line."""
        return self.kind == "bar"

    @property
    def inside(self) -> str:
        """What stands between the brackets or braces, blanks joined."""
        return _one_line(self.text[1:-1])

    @property
    def order(self) -> str:
        """A word in braces without full stops, in small letters."""
        return self.inside.replace(".", "").lower()


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
    return _one_line(text) or UNTITLED


def _one_line(text: str) -> str:
    allowed = (c if c.isprintable() or _stands_in_xml(c) else " " for c in text)
    return " ".join("".join(allowed).split())


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
    try:
        return played(read_sheet_text(text, source=source))
    except ReadError as error:
        raise error.at(source=source) from None


def read_sheet_text(text: str, *, source: str = "") -> LeadSheet:
    """Read the page that plain text writes, before repeats are taken.

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
    >>> sheet = read_sheet_text("[A] |: Dm7 |1. G7 :|2. Cmaj7 ||")
    >>> [(bar.section, bar.marks.backward, bar.marks.ending) for bar in sheet.bars]
    [('A', 0, ()), ('', 2, (1,)), ('', 0, (2,))]
    """
    if len(text.encode(errors="replace")) > MAX_TEXT_BYTES:
        raise ReadError("the text is longer than 1 MB; a chart is shorter", source=source)
    header, lines = _split(text.replace(_WIDE_LINE, "|"), source)
    reader = _BarReader(header.meter, source)
    has_bar_lines = any("|" in line for _, line in lines)
    for number, line in lines:
        signs = _signs(number, line)
        reader.take_line(signs) if has_bar_lines else reader.take_words(signs)
    reader.finish()
    if not any(bar.chords for bar in reader.bars):
        raise ReadError(f"the chart has no chords; write bars such as {EXAMPLE}", source=source)
    notices = [] if has_bar_lines else ["no bar lines: one chord is read for each bar"]
    return LeadSheet(
        header.title,
        tuple(reader.bars),
        header.key,
        header.tempo_bpm,
        header.feel,
        tuple(dict.fromkeys((*notices, *reader.notices))),
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
        yield _Sign(found[0], line_number, found.start(), found.lastgroup or "word")


class _BarReader:
    """Collects written bars, line by line.

    What stands before a bar (a section, an ending, words in braces) waits for it.
    """

    def __init__(self, meter: Meter, source: str) -> None:
        self.meter = meter
        self.source = source
        self.bars: list[WrittenBar] = []
        self.notices: list[str] = []
        self._forward = False
        self._section: _Sign | None = None
        self._passes: tuple[int, ...] = ()
        self._waiting: list[_Sign] = []
        self._in_ending = False

    def take_words(self, signs: Iterator[_Sign]) -> None:
        """A line without bar lines: each sign is a bar."""
        for sign in signs:
            if sign.kind == "brace":
                self._take_loose([sign])
            elif not self._stands_before_bar(sign):
                self._add([sign])

    def take_line(self, signs: Iterator[_Sign]) -> None:
        """A line of bars."""
        words: list[_Sign] = []
        left: _Sign | None = None
        for sign in signs:
            if not sign.is_bar_line:
                self._take_word(sign, words, left)
                continue
            self._check_bar_line(sign)
            if words or (left and self._empty_bar_between(left, sign)):
                self._add(words)
            self._mark(sign)
            words, left = [], sign
        if any(word.kind == "word" for word in words):
            self._add(words)
        else:
            self._take_loose(words)

    def finish(self) -> None:
        """After the last line: an open ending ends, and what still waits is said."""
        self._end_ending()
        loose = [*([self._section] if self._section else []), *self._waiting]
        self.notices += [f"{sign.text} stands after the last bar; left out" for sign in loose]

    # before a bar

    def _take_word(self, sign: _Sign, words: list[_Sign], left: _Sign | None) -> None:
        repeats = left is not None and left.text.startswith(":")
        if repeats and not words and _TIMES.fullmatch(sign.text):
            self._take_times(sign)
            return
        begun = any(word.kind == "word" for word in words)
        if sign.kind == "brace" or begun or not self._stands_before_bar(sign):
            words.append(sign)

    def _stands_before_bar(self, sign: _Sign) -> bool:
        """Take a section or the number of an ending; False for anything else."""
        if sign.kind == "section":
            self._section = sign
        elif _ENDING.fullmatch(sign.text):
            self._passes = self._passes_of(sign)
        else:
            return False
        return True

    def _passes_of(self, sign: _Sign) -> tuple[int, ...]:
        passes = tuple(sorted({int(number) for number in sign.text.split(".")[:-1]}))
        if 0 in passes:
            raise self._error("endings are counted from 1.", sign)
        return passes

    def _take_times(self, sign: _Sign) -> None:
        times = int(sign.text[1:])
        if times < 2:
            raise self._error("a repeated passage is played 2 to 99 times in all", sign)
        self._change_last(backward=times)

    def _take_loose(self, braces: list[_Sign]) -> None:
        """Words in braces outside a bar: the bar before ends with them, or the next begins."""
        for sign in braces:
            if sign.order in _ENDS and self.bars:
                self._change_last(**{_ENDS[sign.order]: True})
            else:
                self._waiting.append(sign)

    def _change_last(self, **marks: object) -> None:
        marked = replace(self.bars[-1].marks, **marks)  # type: ignore[arg-type]
        self.bars[-1] = replace(self.bars[-1], marks=marked)

    # bar lines

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
            self._change_last(backward=2)
        if sign.text.startswith(":") or sign.text.strip(":") in {"||", "|]"}:
            self._end_ending()
        if sign.text.endswith(":"):
            self._forward = True

    def _end_ending(self) -> None:
        if self._in_ending:
            self._change_last(ending_stops=True)
        self._in_ending = False

    # one bar

    def _add(self, words: list[_Sign]) -> None:
        if len(self.bars) >= MAX_BARS:
            raise self._error(f"more than {MAX_BARS} bars; make the chart shorter", words[:1])
        if self._passes:
            self._end_ending()
        braces, chord_words = self._parted(self._waiting + words)
        pickup = self._take_braces_of_length(braces)
        beats = pickup or self.meter.bar_beats
        has_pickup = bool(pickup) or (bool(self.bars) and self.bars[0].number == "0")
        number = str(len(self.bars) + (not has_pickup))
        chords = self._chords(chord_words, number, beats)
        marks = self._marks(braces)
        section = self._section.inside if self._section else ""
        bar = WrittenBar(number, self.meter, beats, chords, marks, bool(pickup), section)
        self.bars.append(bar)
        self._in_ending = self._in_ending or bool(self._passes)
        self._forward, self._section, self._passes, self._waiting = False, None, (), []

    def _parted(self, signs: list[_Sign]) -> tuple[list[_Sign], list[_Sign]]:
        """Words in braces and chords; what changes the bar's length stands first."""
        braces: list[_Sign] = []
        words: list[_Sign] = []
        for sign in signs:
            if sign.kind == "section" or (_ENDING.fullmatch(sign.text) and words):
                raise self._error(f"{sign.text} stands at the start of a bar", sign)
            if sign.kind == "brace" and words and not self._is_sign(sign):
                raise self._error(f"{sign.text} stands at the start of a bar", sign)
            (braces if sign.kind == "brace" else words).append(sign)
        return braces, words

    def _is_sign(self, sign: _Sign) -> bool:
        """True for a sign or a jump; False for what changes the length of a bar."""
        if sign.order in _PLACED or sign.order in _ENDS:
            return True
        if sign.inside[:1].isdigit() or sign.order.startswith("pickup"):
            return False
        raise self._error(f"{sign.text} is not known; write {_KNOWN_BRACES}", sign)

    def _take_braces_of_length(self, braces: list[_Sign]) -> Fraction | None:
        """Obey a metre, and return the length of a pickup in beats."""
        pickup: Fraction | None = None
        for sign in sorted(braces, key=lambda sign: sign.order.startswith("pickup")):
            if self._is_sign(sign):
                continue
            if sign.order.startswith("pickup"):
                pickup = self._pickup(sign)
            else:
                self._take_meter(sign)
        return pickup

    def _take_meter(self, sign: _Sign) -> None:
        try:
            self.meter = parse_meter(sign.inside)
        except ReadError as error:
            raise self._error(error.message, sign) from None

    def _pickup(self, sign: _Sign) -> Fraction:
        if self.bars:
            raise self._error("only the first bar may be a pickup", sign)
        found = _PICKUP.fullmatch(sign.inside)
        beats = Fraction(found[1]) if found else Fraction(0)
        if not 0 < beats < self.meter.bar_beats:
            whole = f"{float(self.meter.bar_beats):g}"
            raise self._error(
                f"{sign.text} is no pickup; write its quarter notes, over 0 and under {whole}, "
                "such as {pickup 1}",
                sign,
            )
        return beats

    def _marks(self, braces: list[_Sign]) -> Marks:
        known = _PLACED | _ENDS
        names = {known[sign.order]: True for sign in braces if sign.order in known}
        return Marks(forward=self._forward, ending=self._passes, **names)

    def _chords(self, words: list[_Sign], number: str, beats: Fraction) -> tuple[ChordAt, ...]:
        if any(word.text == "%" for word in words):
            return tuple(chord for chord in self._again(words) if chord.at < beats)
        if len(words) > 4 * MAX_CHORDS_IN_BAR:
            raise self._error(f"more than {MAX_CHORDS_IN_BAR} chords in a bar", words[:1])
        if any(word.text in _HOLDS for word in words):
            return self._counted(words, beats)
        if len(words) > MAX_CHORDS_IN_BAR:
            raise self._error(f"more than {MAX_CHORDS_IN_BAR} chords in a bar", words[:1])
        symbols = [self._symbol(word) for word in words]
        starts = _starts(self._shares(len(symbols), number, beats)) if symbols else ()
        return tuple(ChordAt(s, at) for s, at in zip(symbols, starts, strict=True))

    def _again(self, words: list[_Sign]) -> tuple[ChordAt, ...]:
        sign = next(word for word in words if word.text == "%")
        if len(words) > 1:
            raise self._error("% stands alone in its bar and plays the bar before again", sign)
        if not self.bars:
            raise self._error("% has no bar before it to play again", sign)
        return self.bars[-1].chords

    def _counted(self, words: list[_Sign], beats: Fraction) -> tuple[ChordAt, ...]:
        """Every sign is one pulse, or one unit of a compound metre."""
        steps = _steps(self.meter, beats)
        step = next((step for step in steps if beats / step == len(words)), None)
        if step is None:
            raise self._error(
                f"{len(words)} pulses in a bar of {self.meter}; with . or / every sign is one "
                f"pulse and a bar has {beats / steps[0]}",
                words[:1],
            )
        return tuple(
            ChordAt(self._symbol(word), turn * step)
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

    def _shares(self, count: int, number: str, beats: Fraction) -> tuple[Fraction, ...]:
        shares, even = shares_of_bar(self.meter, count, beats=beats)
        if not even:
            said = " + ".join(f"{float(share * self.meter.unit / 4):g}" for share in shares)
            self.notices.append(f"bar {number}: {count} chords in {self.meter} are read as {said}")
        return shares

    def _error(self, message: str, at: _Sign | list[_Sign]) -> ReadError:
        sign = at if isinstance(at, _Sign) else next(iter(at), None)
        if sign is None:
            return ReadError(message, source=self.source)
        return ReadError(message, source=self.source, line=sign.line, column=sign.column + 1)


@lru_cache(maxsize=256)
def _steps(meter: Meter, beats: Fraction) -> tuple[Fraction, ...]:
    """What one sign may last where every sign is a step, in beats: the pulse first."""
    unit = Fraction(4, meter.unit)
    steps = tuple(step for step in (meter.pulse_beats, unit) if beats % step == 0)
    finer = (unit / 2, unit / 4, unit / 8)
    return steps or (next((step for step in finer if beats % step == 0), beats),)


def _starts(shares: Sequence[Fraction]) -> tuple[Fraction, ...]:
    return tuple(sum(shares[:turn], Fraction(0)) for turn in range(len(shares)))


@lru_cache(maxsize=256)
def shares_of_bar(
    meter: Meter, count: int, *, beats: Fraction | None = None
) -> tuple[tuple[Fraction, ...], bool]:
    """How ``count`` chords share a bar, in beats, and whether its pulses divide evenly.

    ``beats`` is the length of a bar that is not whole.

    >>> [str(share) for share in shares_of_bar(Meter(4, 4), 3)[0]]
    ['2', '1', '1']
    """
    length = beats or meter.bar_beats
    step = _steps(meter, length)[0]
    steps = int(length / step)
    even = steps % count == 0
    while steps < count:
        finer = 3 if meter.compound and step == meter.pulse_beats else 2
        step, steps = step / finer, steps * finer
    if count == len(meter.groups) and sum(meter.groups) == steps and length == meter.bar_beats:
        return tuple(group * step for group in meter.groups), even
    each, left = divmod(steps, count)
    return tuple((each + (turn < left)) * step for turn in range(count)), even


def write_sheet_text(sheet: LeadSheet) -> str:
    r"""The page as plain text, which reads back to it but for its `text_losses`.

    Examples
    --------
    >>> print(write_sheet_text(read_sheet_text("key: F\n|: F7 | Bb7 . . F7 :|")), end="")
    key: F
    meter: 4/4
    <BLANKLINE>
    |: F7 | Bb7 . . F7 :|
    """
    return _SheetWriter(sheet).text()


def text_losses(sheet: LeadSheet) -> tuple[str, ...]:
    """What `write_sheet_text` cannot hold of this page, or changes; empty when nothing."""
    writer = _SheetWriter(sheet)
    text = writer.text()
    losses = list(writer.losses)
    try:
        losses += _unlike(sheet, read_sheet_text(text))
    except ReadError as error:
        losses.append(f"the text does not read back: {error.message}")
    return tuple(dict.fromkeys(losses))


def _unlike(sheet: LeadSheet, back: LeadSheet) -> list[str]:
    """Where marks and numbers are not what they were."""
    pairs = list(zip(sheet.bars, back.bars, strict=False))
    said = [
        f"bar {one.number}: its signs are simplified"
        for one, two in pairs
        if one.marks != two.marks
    ]
    if any(one.number != two.number for one, two in pairs):
        said.append("the bars are numbered anew")
    return said


class _SheetWriter:
    """Writes a page and collects what is lost."""

    def __init__(self, sheet: LeadSheet) -> None:
        self.sheet = sheet
        self.losses: list[str] = []
        self.meter = Meter()
        self._in_ending = False

    def text(self) -> str:
        """Header, a blank line, and the bars four a line; a section begins a new line."""
        if self.sheet.has_melody:
            self.losses.append("the melody is left out: plain text holds chords only")
        lines = [*self._header(), ""]
        line: list[str] = []
        for place, bar in enumerate(self.sheet.bars):
            section = self._section(bar)
            if line and (section or len(line) == _BARS_IN_LINE):
                lines.append(" ".join(line))
                line = []
            lines += [f"[{section}]"] if section else []
            line.append(self._bar(place, starts_line=not line))
        return "\n".join([*lines, " ".join(line), ""])

    # the header

    def _header(self) -> list[str]:
        sheet = self.sheet
        title = _one_line(sheet.title).replace(_WIDE_LINE, "|")
        self._said(title == sheet.title or not sheet.title, f"the title becomes {title!r}")
        self.meter = self._writable(sheet.bars[0].meter) if sheet.bars else Meter()
        stated = {
            "title": "" if title == UNTITLED else title,
            "key": self._key(),
            "meter": _meter_text(self.meter),
            "tempo": self._tempo(),
            "feel": str(sheet.feel or ""),
        }
        return [f"{name}: {value}" for name, value in stated.items() if value]

    def _key(self) -> str:
        key = self.sheet.key
        if key is None:
            return ""
        plain = key.moved(UNISON)
        self._said(plain == key, f"the key of {key} is written as {plain}")
        return plain.ascii

    def _tempo(self) -> str:
        tempo_bpm = self.sheet.tempo_bpm
        if tempo_bpm is None:
            return ""
        if not SLOWEST_BPM <= round(tempo_bpm, 3) <= FASTEST_BPM:
            self._said(False, f"the tempo of {tempo_bpm:g} is left out")
            return ""
        text = f"{tempo_bpm:.3f}".rstrip("0").rstrip(".")
        self._said(float(text) == tempo_bpm, f"the tempo of {tempo_bpm} is written as {text}")
        return text

    def _writable(self, meter: Meter) -> Meter:
        """The metre, or the nearest that the text can state."""
        for near in (meter, replace(meter, grouping=())):
            if _reads_back(near):
                self._said(near == meter, f"the grouping of {meter} is left out")
                return near
        sixteenths = -(-16 * meter.count // meter.unit)
        near = Meter(max(1, min(32, sixteenths)), 16)
        self._said(False, f"the metre {meter} is written as {near}")
        return near

    def _said(self, kept: bool, loss: str) -> None:
        if not kept:
            self.losses.append(loss)

    # one bar

    def _section(self, bar: WrittenBar) -> str:
        section = _one_line(bar.section.translate(_NOT_IN_SECTION))
        self._said(section == bar.section, f"the section {bar.section!r} becomes {section!r}")
        return section

    def _bar(self, place: int, *, starts_line: bool) -> str:
        """The bar with the bar line after it, and the one before where that is not written."""
        bars = self.sheet.bars
        bar, marks = bars[place], bars[place].marks
        after = bars[place + 1] if place + 1 < len(bars) else None
        parts = [("|:" if marks.forward else "|")] if starts_line or marks.forward else []
        meter, beats = self._length(place)
        parts += ["".join(f"{number}." for number in marks.ending)] if marks.ending else []
        parts += [f"{{{_meter_text(meter)}}}"] if meter != self.meter else []
        self.meter = meter
        parts += [f"{{pickup {_beats_text(beats)}}}"] if beats < meter.bar_beats else []
        parts += [f"{{{name}}}" for name, field_ in _PLACED.items() if getattr(marks, field_)]
        parts += self._chords(bar, beats)
        parts += [f"{{{word}}}" for word in self._words_at_end(marks)]
        return " ".join([*parts, self._bar_line(marks, after)])

    def _length(self, place: int) -> tuple[Meter, Fraction]:
        """Metre and beats to write; a short bar that is no pickup gets a metre of its own."""
        bar, first = self.sheet.bars[place], self.sheet.bars[0]
        meter = self._writable(bar.meter)
        if meter != replace(bar.meter, grouping=meter.grouping) or bar.beats in {
            0,
            meter.bar_beats,
        }:
            return meter, meter.bar_beats
        if place == 0 and bar.short and (bar.irregular or len(self.sheet.bars) > 1):
            return meter, self._pickup_beats(bar.beats)
        completes = first.short and bar.beats + first.beats == meter.bar_beats
        own = None if completes else _meter_of(bar.beats, meter.unit)
        said = f"bar {bar.number} holds {float(bar.beats):g} of {float(meter.bar_beats):g} beats"
        if own and (bar.irregular or not bar.short):
            self._said(False, f"{said}; written as a bar of {own}")
            return own, own.bar_beats
        self._said(False, f"{said}; written as a whole bar")
        return meter, meter.bar_beats

    def _pickup_beats(self, beats: Fraction) -> Fraction:
        near = beats if _PICKUP.fullmatch(f"pickup {_beats_text(beats)}") else Fraction(1)
        self._said(near == beats, f"the pickup of {beats} beats is written with 1")
        return near

    def _words_at_end(self, marks: Marks) -> list[str]:
        everywhere = [bar.marks for bar in self.sheet.bars]
        goal = " al fine" if any(mark.fine for mark in everywhere) else ""
        goal = " al coda" if any(mark.to_coda for mark in everywhere) else goal
        stated = {
            "to coda": marks.to_coda,
            "fine": marks.fine,
            f"D.C.{goal}": marks.da_capo,
            f"D.S.{goal}": marks.dal_segno,
        }
        return [word for word, stands in stated.items() if stands]

    def _bar_line(self, marks: Marks, after: WrittenBar | None) -> str:
        self._in_ending = self._in_ending or bool(marks.ending)
        stops = self._in_ending and (marks.ending_stops or marks.backward > 1)
        self._in_ending = self._in_ending and not stops
        if marks.backward > 1:
            return ":|" if marks.backward == 2 else f":|x{min(marks.backward, 99)}"
        if after is None:
            return "|]"
        return "||" if stops else "|"

    # chords

    def _chords(self, bar: WrittenBar, beats: Fraction) -> list[str]:
        """Evenly shared chords as they are, others with holds."""
        steps = _steps(self.meter, beats)
        places = [chord.at for chord in bar.chords]
        texts = [self._symbol(chord, bar) for chord in bar.chords]
        shared, even = self._as_shared(places, beats)
        if shared and even:
            return texts
        for step in steps:
            if all(at % step == 0 and 0 <= at < beats for at in places) and _apart(places):
                return _held(texts, [int(at / step) for at in places], int(beats / step))
        return texts if shared else self._moved(bar, texts, steps[-1], beats)

    def _as_shared(self, places: list[Fraction], beats: Fraction) -> tuple[bool, bool]:
        """Whether chords without holds are read at these places, and evenly."""
        if not 1 <= len(places) <= MAX_CHORDS_IN_BAR:
            return False, False
        shares, even = shares_of_bar(self.meter, len(places), beats=beats)
        return _starts(shares) == tuple(places), even

    def _symbol(self, chord: ChordAt, bar: WrittenBar) -> str:
        text = chord.symbol.ascii
        self._said(_is_read_as(text, chord.symbol), f"bar {bar.number}: {text} is simplified")
        return text

    def _moved(
        self, bar: WrittenBar, texts: list[str], step: Fraction, beats: Fraction
    ) -> list[str]:
        """Chords off the pulse go to the nearest one that is free and keeps their order."""
        count, last = int(beats / step), -1
        placed = list(zip([chord.at / step for chord in bar.chords], texts, strict=True))
        taken = {int(at): text for at, text in placed if at in range(count)}
        for at, text in placed:
            if taken.get(int(at)) == text and at == int(at):
                continue
            slot = next((n for n in _nearest(at, count) if n > last and n not in taken), None)
            said = f"bar {bar.number}: {text} on beat {float(at * step + 1):g}"
            if slot is None:
                self.losses.append(f"{said} is left out")
                continue
            self.losses.append(f"{said} is moved to {float(slot * step + 1):g}")
            last, taken[slot] = slot, text
        return [taken.get(slot, ".") for slot in range(count)]


def _nearest(at: Fraction, count: int) -> list[int]:
    """The two whole numbers below ``count`` around ``at``, the nearer first, else the later."""
    low = max(0, min(count - 1, floor(at)))
    return [n for n in sorted((low + 1, low), key=lambda n: abs(n - at)) if n < count]


_BARS_IN_LINE = 4
_NOT_IN_SECTION = str.maketrans({"[": "(", "]": ")", "{": "(", "}": ")", "|": "/", _WIDE_LINE: "/"})


def _held(texts: list[str], slots: list[int], count: int) -> list[str]:
    placed = dict(zip(slots, texts, strict=True))
    return [placed.get(slot, ".") for slot in range(count)]


def _apart(places: list[Fraction]) -> bool:
    return len(set(places)) == len(places)


def _meter_text(meter: Meter) -> str:
    grouping = "+".join(map(str, meter.grouping))
    return f"{meter} {grouping}".rstrip()


def _reads_back(meter: Meter) -> bool:
    try:
        return parse_meter(_meter_text(meter)) == meter
    except ReadError:
        return False


def _is_read_as(text: str, symbol: ChordSymbol) -> bool:
    try:
        return parse_symbol(text) == symbol
    except ReadError:
        return False


def _meter_of(beats: Fraction, unit: int) -> Meter | None:
    """A metre whose bar lasts ``beats``, in the unit or a smaller one."""
    counts = ((beats * finer / 4, finer) for finer in (unit, 2 * unit, 4 * unit) if finer <= 16)
    whole = ((int(count), finer) for count, finer in counts if count.denominator == 1)
    return next((Meter(count, finer) for count, finer in whole if 1 <= count <= 32), None)


def _beats_text(beats: Fraction) -> str:
    plain = f"{float(beats):g}"
    return plain if Fraction(plain) == beats else str(beats)
