"""What chords does a line of text write, and how long does each last?

`read_sheet_text` gives the page and `read_chart_text` the chart as played;
`halfstep.progression.notations.text_writer` writes a page.

::

    title: Evening Class
    key: F
    meter: 4/4
    tempo: 120
    feel: swing
    reading: C2 = Csus2, e = Em
    {pickup 1} C7
    [A]
    |: F7 | Bb7 |1. F7 | Cm7 F7 :|2. F7 {fine} ||
    |: Bb7 | % | F7 . D7 . :|x3 {2/4} C7 | {4/4} F7 {D.C. al fine} |]

Conventions
-----------
- Header lines stand before the bars and may all be left out; blank lines and lines that
  begin with ``#`` are skipped. A line of bars may begin and end without a bar line.
- ``reading:`` settles signs that can be read in two ways (`halfstep.progression.reading`).
- Chords in a bar share it evenly; where the pulses do not divide, the first chords get
  the longer shares, in whole pulses, and a notice says so.
- ``.`` or ``/`` standing alone holds the chord for a pulse; then every sign in the bar
  is one pulse. ``%`` plays the bar before again; an empty bar goes on with its chord.
- ``|:`` and ``:|`` enclose what is played twice, or as often as ``:|x3`` says.
- ``1.`` or ``1.2.`` after a bar line begins an ending; it goes on to the next ``:|``,
  the next ending, a double bar or the end.
- ``G7 {scale altered}`` sets the scale of that chord, whatever the program would choose.
- ``[A]`` names the section that begins with the next bar.
- Braces say what is no chord: a metre from this bar on ``{7/4 2+2+3}``, a key from this
  bar on ``{key Bb}``, the quarter notes of a pickup ``{pickup 1}``, the signs ``{segno}``
  ``{coda}`` ``{to coda}`` ``{fine}`` and the jumps ``{D.C.}`` ``{D.S.}``, also *al fine*
  and *al coda*.
- A bracket after a blank belongs to the symbol before it, unless it holds a chord.

Source: common practice, no source; the braces are this program's own.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Feel, Meter, parse_meter
from halfstep.progression.chart import Chart, ChordAt
from halfstep.progression.form import MAX_BARS, played
from halfstep.progression.key import Key, parse_key
from halfstep.progression.notations import MOST_TEXT_BYTES
from halfstep.progression.reading import parse_reading, with_h_seen
from halfstep.progression.shares import places_of, shares_of_bar, steps_of_bar
from halfstep.progression.sheet import LeadSheet, Marks, WrittenBar
from halfstep.progression.symbol import DEFAULT, ChordSymbol, Reading, parse_symbol
from halfstep.progression.title import UNTITLED, one_line, plain_title

MAX_CHORDS_IN_BAR = 16
_MOST_SIGNS_IN_BAR = 32 * 8  # as many eighths as the units of the longest metre have
HEADERS = ("title", "key", "meter", "tempo", "feel", "reading")
WIDE_LINE = "\N{FULLWIDTH VERTICAL LINE}"
EXAMPLE = "Dm7 | G7 | Cmaj7"

_HEADER = re.compile(
    r"\s*(?P<name>(?P<title>title)|[A-Za-z]{3,})\s*:(?!\s*\|)\s*(?P<value>(?(title).*|[^|]*))",
    re.IGNORECASE,
)
_SIGN = re.compile(
    r"(?P<bar>:?\|[|\]:]*|\[\|)"
    r"|(?P<section>\[[^][{}|]+\])"
    r"|(?P<brace>\{[^{}|]*\})"
    r"|(?P<word>(?:\d{1,2}\.){1,16}|(?:(?!:?\||\[\||\{[^{}|]*\})\S)+"
    r"(?:\s+\((?![A-GN])[^()|{}\[\]\n]*\))*)"
)
_HOLDS = {".", "/"}
_ENDING = re.compile(r"(?:\d{1,2}\.){1,16}")
_TIMES = re.compile(r"[x×](\d{1,2})")
PICKUP = re.compile(r"pickup\s+(\d{1,2}(?:\.\d{1,3}|/[1-9]\d?)?)", re.IGNORECASE)
_SCALE = re.compile(r"scale\s+(.+)", re.IGNORECASE)
_KEY = re.compile(r"key\s+(.+)", re.IGNORECASE)
PLACED = {"segno": "segno", "coda": "coda"}
_ENDS = {"to coda": "to_coda", "fine": "fine"}
_ENDS |= {f"dc{goal}": "da_capo" for goal in ("", " al fine", " al coda")}
_ENDS |= {f"ds{goal}": "dal_segno" for goal in ("", " al fine", " al coda")}
"""Words in braces and their field of `Marks`; `_ENDS` count at the end of a bar."""

_KNOWN_BRACES = (
    "{segno}, {coda}, {to coda}, {fine}, {D.C.}, {D.S. al coda}, {3/4}, {key Bb} or {pickup 1}"
)


@dataclass(frozen=True, slots=True)
class _Sign:
    """A chord, a hold, a mark or a bar line with its 1-based line and 0-based column.

    ``kind`` is bar, section, brace or word.
    """

    text: str
    line: int
    column: int
    kind: str = "word"
    scale: str = ""

    @property
    def is_bar_line(self) -> bool:
        """True for any bar line."""
        return self.kind == "bar"

    @property
    def inside(self) -> str:
        """What stands between the brackets or braces, blanks joined."""
        return one_line(self.text[1:-1])

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
    reading: Reading = DEFAULT

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
        elif name == "reading":
            self.reading = parse_reading(value, self.reading)
        else:
            self.feel = _feel(value)


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


def read_sheet_text(text: str, *, source: str = "", reading: Reading = DEFAULT) -> LeadSheet:
    """Read the page that plain text writes, before repeats are taken.

    Parameters
    ----------
    text : str
    source : str, optional
        A name for the text, used in errors.
    reading : Reading, optional
        What the writer means where two things can be meant; a ``reading:`` line goes over it.

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
    if len(text.encode(errors="replace")) > MOST_TEXT_BYTES:
        raise ReadError("the text is longer than 1 MB; a chart is shorter", source=source)
    header, lines = _split(text.replace(WIDE_LINE, "|"), source, reading)
    has_bar_lines = any("|" in line for _, line in lines)
    signs_of_lines = [list(_signs(number, line)) for number, line in lines]
    words = (sign.text for signs in signs_of_lines for sign in signs if sign.kind == "word")
    reading, said = with_h_seen(words, header.reading)
    reader = _BarReader(header, source, reading)
    for signs in signs_of_lines:
        reader.take_line(signs) if has_bar_lines else reader.take_words(signs)
    reader.finish()
    if not any(bar.chords for bar in reader.bars):
        raise ReadError(f"the chart has no chords; write bars such as {EXAMPLE}", source=source)
    notices = [*said, *([] if has_bar_lines else ["no bar lines: one chord is read for each bar"])]
    return LeadSheet(
        header.title,
        tuple(reader.bars),
        header.key,
        header.tempo_bpm,
        header.feel,
        tuple(dict.fromkeys((*notices, *reader.notices))),
    )


def _split(text: str, source: str, reading: Reading) -> tuple[_Header, list[tuple[int, str]]]:
    """The header and the numbered lines of bars."""
    header = _Header(reading=reading)
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


def _unbracketed(text: str) -> str:
    """A chord without brackets around it, or around it and its neighbours."""
    text = text.removeprefix("(")
    return text.removesuffix(")") if text.count(")") > text.count("(") else text


class _BarReader:
    """Collects written bars, line by line.

    What stands before a bar (a section, an ending, words in braces) waits for it.
    """

    def __init__(self, header: _Header, source: str, reading: Reading) -> None:
        self.meter = header.meter
        self.key = header.key
        self.reading = reading
        self.source = source
        self.bars: list[WrittenBar] = []
        self.notices: list[str] = []
        self._forward = False
        self._section: _Sign | None = None
        self._passes: tuple[int, ...] = ()
        self._waiting: list[_Sign] = []
        self._in_ending = False

    def take_words(self, signs: Iterable[_Sign]) -> None:
        """A line without bar lines: each sign is a bar."""
        for sign in signs:
            if sign.kind == "brace":
                self._take_loose([sign])
            elif not self._stands_before_bar(sign):
                self._add([sign])

    def take_line(self, signs: Iterable[_Sign]) -> None:
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
        key = self._key(braces)
        bar = WrittenBar(number, self.meter, beats, chords, marks, bool(pickup), section, key=key)
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
            if sign.kind == "brace" and (found := _SCALE.fullmatch(sign.inside)):
                self._set_scale(words, found[1], sign)
                continue
            if sign.kind == "brace" and words and not self._is_sign(sign):
                raise self._error(f"{sign.text} stands at the start of a bar", sign)
            (braces if sign.kind == "brace" else words).append(sign)
        return braces, words

    def _set_scale(self, words: list[_Sign], scale: str, sign: _Sign) -> None:
        if not words or words[-1].text in {*_HOLDS, "%"}:
            raise self._error(f"{sign.text} stands right after its chord", sign)
        words[-1] = replace(words[-1], scale=scale)

    def _is_sign(self, sign: _Sign) -> bool:
        """True for a sign or a jump; False for a key or what changes the length of a bar."""
        if sign.order in PLACED or sign.order in _ENDS:
            return True
        if sign.inside[:1].isdigit() or sign.order.startswith(("pickup", "key ")):
            return False
        raise self._error(f"{sign.text} is not known; write {_KNOWN_BRACES}", sign)

    def _take_braces_of_length(self, braces: list[_Sign]) -> Fraction | None:
        """Obey a metre, and return the length of a pickup in beats."""
        pickup: Fraction | None = None
        for sign in sorted(braces, key=lambda sign: sign.order.startswith("pickup")):
            if self._is_sign(sign) or _KEY.fullmatch(sign.inside):
                continue
            if sign.order.startswith("pickup"):
                pickup = self._pickup(sign)
            else:
                self._take_meter(sign)
        return pickup

    def _key(self, braces: list[_Sign]) -> Key | None:
        """The key that begins here; None where the one before goes on."""
        now = self.key
        for sign in braces:
            if found := _KEY.fullmatch(sign.inside):
                try:
                    self.key = parse_key(found[1])
                except ReadError as error:
                    raise self._error(error.message, sign) from None
        return None if self.key == now else self.key

    def _take_meter(self, sign: _Sign) -> None:
        try:
            self.meter = parse_meter(sign.inside)
        except ReadError as error:
            raise self._error(error.message, sign) from None

    def _pickup(self, sign: _Sign) -> Fraction:
        if self.bars:
            raise self._error("only the first bar may be a pickup", sign)
        found = PICKUP.fullmatch(sign.inside)
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
        known = PLACED | _ENDS
        names = {known[sign.order]: True for sign in braces if sign.order in known}
        return Marks(forward=self._forward, ending=self._passes, **names)

    def _chords(self, words: list[_Sign], number: str, beats: Fraction) -> tuple[ChordAt, ...]:
        if any(word.text == "%" for word in words):
            return tuple(chord for chord in self._again(words) if chord.at < beats)
        if len(words) > _MOST_SIGNS_IN_BAR:
            raise self._error(f"more than {_MOST_SIGNS_IN_BAR} signs in a bar", words[:1])
        if any(word.text in _HOLDS for word in words):
            return self._counted(words, beats)
        if len(words) > MAX_CHORDS_IN_BAR:
            raise self._error(f"more than {MAX_CHORDS_IN_BAR} chords in a bar", words[:1])
        symbols = [self._symbol(word) for word in words]
        starts = places_of(self._shares(len(symbols), number, beats)) if symbols else ()
        scales = (word.scale for word in words)
        return tuple(map(ChordAt, symbols, starts, scales))

    def _again(self, words: list[_Sign]) -> tuple[ChordAt, ...]:
        sign = next(word for word in words if word.text == "%")
        if len(words) > 1:
            raise self._error("% stands alone in its bar and plays the bar before again", sign)
        if not self.bars:
            raise self._error("% has no bar before it to play again", sign)
        return self.bars[-1].chords

    def _counted(self, words: list[_Sign], beats: Fraction) -> tuple[ChordAt, ...]:
        """Every sign is one pulse, or one unit of a compound metre."""
        steps = steps_of_bar(self.meter, beats)
        step = next((step for step in steps if beats / step == len(words)), None)
        if step is None:
            raise self._error(
                f"{len(words)} pulses in a bar of {self.meter}; with . or / every sign is one "
                f"pulse and a bar has {beats / steps[0]}",
                words[:1],
            )
        return tuple(
            ChordAt(self._symbol(word), turn * step, word.scale)
            for turn, word in enumerate(words)
            if word.text not in _HOLDS
        )

    def _symbol(self, word: _Sign) -> ChordSymbol:
        text = _unbracketed(word.text)
        try:
            symbol = parse_symbol(text, self.reading)
        except ReadError as error:
            column = word.column + word.text.index(text)
            placed = error.at(source=self.source, line=word.line, column=column)
            raise placed from None
        if text != word.text:
            self.notices.append("chords in brackets are read like any other")
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
