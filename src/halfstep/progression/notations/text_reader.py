"""What chords does a line of text write, and how long does each last?

`read_sheet_text` gives the page as it is written;
`halfstep.progression.notations.text_writer` writes a page.

::

    title: Evening Class
    key: F
    meter: 4/4
    tempo: 120
    style: swing
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
- ``F7 D7 {beat 3.5}`` says where a chord begins that stands off the pulses, in quarter
  notes counted from 1, ``2+1/3`` where a decimal does not say it; then each chord of the
  bar but the first, which may stand on 1, has its place.
- ``[A]`` names the section that begins with the next bar.
- Braces say what is no chord: a metre from this bar on ``{7/4 2+2+3}``, a key from this
  bar on ``{key Bb}``, the quarter notes of a pickup ``{pickup 1}``, of a part of a bar
  that a repeat cuts ``{part 3}`` or of a bar that is not whole ``{lasts 2}``, the number
  of a bar where it is not the next ``{bar 17}``, the signs ``{segno}``
  ``{coda}`` ``{to coda}`` ``{fine}`` and the jumps ``{D.C.}`` ``{D.S.}``, also *al fine*
  and *al coda*.
- Roman numerals are chords of the key that holds: ``key: F`` makes ``ii7`` a Gm7
  (`halfstep.progression.roman`).
- ``no``, ``omit`` and ``add`` with a degree belong to the symbol before them.
- A bracket after a blank belongs to the symbol before it, unless it holds a chord.

Source: common practice, no source; the braces are this program's own.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache
from typing import TYPE_CHECKING, Any

from halfstep.errors import ReadError
from halfstep.meter import parse_meter
from halfstep.progression.bar_builder import BarBuilder
from halfstep.progression.chart import ChordAt
from halfstep.progression.error_place import ErrorPlace
from halfstep.progression.form import MAX_BARS
from halfstep.progression.notations.text_header import TextHeader
from halfstep.progression.notations.text_signs import (
    HOLDS,
    SIGNS_AT_END,
    SIGNS_AT_START,
    WIDE_LINE,
    TextSign,
    beat_words,
    length_words,
    number_words,
    signs_of_line,
)
from halfstep.progression.quality import DEFAULT, Reading
from halfstep.progression.reading import with_h_seen
from halfstep.progression.shares import places_of, shares_of_bar, steps_of_bar
from halfstep.progression.symbol import ChordSymbol, parse_symbol

if TYPE_CHECKING:
    from fractions import Fraction

    from halfstep.progression.key import Key
    from halfstep.progression.sheet import LeadSheet

MAX_CHORDS_IN_BAR = 16
MOST_BYTES_A_BAR = 500
"""The longest text has as many for each bar that it may have."""

_MOST_SIGNS_IN_BAR = 32 * 8  # as many eighths as the units of the longest metre have
_LONGEST_BAR = 1000
_LENGTHS = ("pickup", "part ", "lasts ")
_BEFORE_CHORDS = (*_LENGTHS, "key ", "bar ")
_NUMERAL_STARTS = frozenset("IViv#♯b♭")
EXAMPLE = "Dm7 | G7 | Cmaj7"
_KNOWN_BRACES = (
    "{segno}, {coda}, {to coda}, {fine}, {D.C.}, {D.S. al coda}, {3/4}, {key Bb}, {pickup 1}, "
    "{part 3}, {lasts 2} or {bar 17}"
)


@cache
def _times() -> re.Pattern[str]:
    return re.compile(r"[x×](\d{1,2})")


@cache
def _scale_words() -> re.Pattern[str]:
    return re.compile(r"scale\s+(.+)", re.IGNORECASE)


@cache
def _key_words() -> re.Pattern[str]:
    return re.compile(r"key\s+(.+)", re.IGNORECASE)


def read_sheet_text(
    text: str, *, source: str = "", reading: Reading = DEFAULT, limit: int = MAX_BARS
) -> LeadSheet:
    """Read the page that plain text writes, before repeats are taken.

    Parameters
    ----------
    text : str
    source : str, optional
        A name for the text, used in errors.
    reading : Reading, optional
        What the writer means where two things can be meant; a ``reading:`` line goes over it.
    limit : int
        Bars at most; the text may have `MOST_BYTES_A_BAR` for each.

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
    if len(text.encode(errors="replace")) > limit * MOST_BYTES_A_BAR:
        longest = limit * MOST_BYTES_A_BAR // 1_000_000
        raise ReadError(f"the text is longer than {longest} MB; a chart is shorter", source=source)
    if re.match(r"\s*X:\s*\d", text):
        raise ReadError("this is ABC; give it as a file that ends in .abc", source=source)
    header = TextHeader(reading)
    lines = _lines_of_bars(text.replace(WIDE_LINE, "|"), header, source)
    reader = _TextBars(header, lines, source, limit)
    reader.read_lines()
    if not any(bar.chords for bar in reader.builder.bars):
        raise ReadError(f"the chart has no chords; write bars such as {EXAMPLE}", source=source)
    return reader.builder.sheet(
        header.title,
        key=header.key,
        tempo_bpm=header.tempo_bpm,
        feel=header.feel,
        style=header.style,
    )


def _lines_of_bars(text: str, header: TextHeader, source: str) -> list[tuple[int, str]]:
    """The numbered lines that hold bars; those of the header are obeyed."""
    lines: list[tuple[int, str]] = []
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        if not header.take_line(line, number, source, before_bars=not lines):
            lines.append((number, line))
    return lines


def _unbracketed(text: str) -> str:
    """A chord without brackets around it, or around it and its neighbours."""
    text = text.removeprefix("(")
    return text.removesuffix(")") if text.count(")") > text.count("(") else text


class _TextBars:
    """Reads bars, line by line.

    What stands before a bar (a section, an ending, words in braces) waits for it.
    """

    def __init__(
        self, header: TextHeader, lines: list[tuple[int, str]], source: str, limit: int
    ) -> None:
        self.builder = BarBuilder(limit=limit)
        self.meter = header.meter
        self.key = header.key
        self.source = source
        self._has_bar_lines = any("|" in line for _, line in lines)
        self._lines = [list(signs_of_line(number, line)) for number, line in lines]
        self.reading, notices = with_h_seen(self._words(), header.reading)
        self.builder.notices += notices
        self._section: TextSign | None = None
        self._waiting: list[TextSign] = []
        self._last_number = 0

    def _words(self) -> Iterator[str]:
        return (sign.text for signs in self._lines for sign in signs if sign.kind == "word")

    def read_lines(self) -> None:
        """Read all lines; what still waits after the last is said in notices."""
        if not self._has_bar_lines:
            self._notice("no bar lines: one chord is read for each bar")
        for signs in self._lines:
            self._take_line(signs) if self._has_bar_lines else self._take_words(signs)
        self.builder.stop_ending()
        loose = [*([self._section] if self._section else []), *self._waiting]
        for sign in loose:
            self._notice(f"{sign.text} stands after the last bar; left out")

    def _notice(self, text: str) -> None:
        self.builder.notices.append(text)

    def _take_words(self, signs: Iterable[TextSign]) -> None:
        """A line without bar lines: each sign is a bar."""
        for sign in signs:
            if sign.kind == "brace":
                self._take_loose([sign])
            elif not self._stands_before_bar(sign):
                self._add([sign])

    def _take_line(self, signs: Iterable[TextSign]) -> None:
        """A line of bars."""
        words: list[TextSign] = []
        left: TextSign | None = None
        for sign in signs:
            if sign.kind != "bar":
                self._take_word(sign, words, left)
                continue
            self._check_bar_line(sign)
            if any(word.kind == "word" for word in words) or (
                left and (words or self._empty_bar_between(left, sign))
            ):
                self._add(words)
            else:
                self._take_loose(words)
            self._take_bar_line(sign)
            words, left = [], sign
        if any(word.kind == "word" for word in words):
            self._add(words)
        else:
            self._take_loose(words)

    # before a bar

    def _take_word(self, sign: TextSign, words: list[TextSign], left: TextSign | None) -> None:
        repeats = left is not None and left.text.startswith(":")
        if repeats and not words and _times().fullmatch(sign.text):
            self._take_times(sign)
            return
        begun = any(word.kind == "word" for word in words)
        if sign.kind == "brace" or begun or not self._stands_before_bar(sign):
            words.append(sign)

    def _stands_before_bar(self, sign: TextSign) -> bool:
        """Take a section or the number of an ending; False for anything else."""
        if sign.kind == "section":
            self._section = sign
        elif sign.is_ending:
            self.builder.begin_ending(self._passes_of(sign))
        else:
            return False
        return True

    def _passes_of(self, sign: TextSign) -> tuple[int, ...]:
        passes = tuple(sorted({int(number) for number in sign.text.split(".")[:-1]}))
        if 0 in passes:
            raise self._error("endings are counted from 1.", sign)
        return passes

    def _take_times(self, sign: TextSign) -> None:
        times = int(sign.text[1:])
        if times < 2:
            raise self._error("a repeated passage is played 2 to 99 times in all", sign)
        self.builder.mark_last(backward=times)

    def _take_loose(self, braces: list[TextSign]) -> None:
        """Words in braces outside a bar: the bar before ends with them, or the next begins."""
        for sign in braces:
            if sign.order in SIGNS_AT_END and self.builder.bars:
                self.builder.mark_last(**{SIGNS_AT_END[sign.order]: True})
            else:
                self._waiting.append(sign)

    # bar lines

    def _check_bar_line(self, sign: TextSign) -> None:
        inner = sign.text[1:-1] if len(sign.text) > 1 else ""
        if ":" in inner:
            raise self._error(f"bar line {sign.text!r} is not clear; write |: or :|", sign)

    def _empty_bar_between(self, left: TextSign, right: TextSign) -> bool:
        """Nothing between ``:|`` and ``|:`` is no bar."""
        return not (left.text.startswith(":") or right.text.endswith(":"))

    def _take_bar_line(self, sign: TextSign) -> None:
        goes_back = sign.text.startswith(":")
        if goes_back and not self.builder.bars:
            raise self._error("a repeat ends before the first bar", sign)
        if goes_back or sign.text.strip(":") in {"||", "|]"}:
            self.builder.stop_ending()
        if goes_back:
            self.builder.mark_last(backward=2)
        if sign.text.endswith(":"):
            self.builder.forward = True

    # one bar

    def _add(self, words: list[TextSign]) -> None:
        self._check_room(words)
        braces, chord_words = self._parted(self._waiting + words)
        kind, stated_beats = self._take_braces_of_length(braces)
        beats = stated_beats or self.meter.bar_beats
        number = self._number(braces, "0" if kind == "pickup" else str(self._last_number + 1))
        self._last_number = int(number) if number.isdecimal() else self._last_number
        key = self._key(braces)
        self.key = key or self.key
        chords = self._chords(chord_words, number, beats)
        self.builder.section = self._section.inside if self._section else ""
        self.builder.add(
            self.meter,
            chords,
            beats=beats,
            number=number,
            key=key,
            irregular=kind in {"pickup", "part"},
            signs=_signs_of_marks(braces),
        )
        self._section, self._waiting = None, []

    def _check_room(self, words: list[TextSign]) -> None:
        try:
            self.builder.check_room()
        except ReadError as error:
            raise self._error(error.message, words[:1]) from None

    def _parted(self, signs: list[TextSign]) -> tuple[list[TextSign], list[TextSign]]:
        """Words in braces and chords; what changes the bar's length stands first."""
        braces: list[TextSign] = []
        words: list[TextSign] = []
        for sign in signs:
            if sign.kind == "section" or (words and sign.is_ending):
                raise self._error(f"{sign.text} stands at the start of a bar", sign)
            if sign.kind != "brace":
                words.append(sign)
            elif scale := _scale_words().fullmatch(sign.inside):
                self._set_on_chord(words, sign, scale=scale[1])
            elif sign.order.startswith("beat "):
                self._set_on_chord(words, sign, at=self._place(sign))
            elif words and not self._is_mark(sign):
                raise self._error(f"{sign.text} stands at the start of a bar", sign)
            else:
                braces.append(sign)
        return braces, words

    def _set_on_chord(self, words: list[TextSign], sign: TextSign, **fields: Any) -> None:
        if not words or words[-1].text in {*HOLDS, "%"}:
            raise self._error(f"{sign.text} stands right after its chord", sign)
        words[-1] = words[-1]._replace(**fields)

    def _place(self, sign: TextSign) -> Fraction:
        from fractions import Fraction

        words = beat_words().fullmatch(sign.inside)
        if not words:
            raise self._error(
                f"{sign.text} is no place; write quarter notes counted from 1, such as "
                "{beat 2.5} or {beat 2+1/3}",
                sign,
            )
        return Fraction(words["whole"]) + Fraction(words["part"] or 0) - 1

    def _is_mark(self, sign: TextSign) -> bool:
        """True for a sign or a jump; False for a key or what changes the length of a bar."""
        if sign.order in SIGNS_AT_START or sign.order in SIGNS_AT_END:
            return True
        if sign.inside[:1].isdigit() or sign.order.startswith(_BEFORE_CHORDS):
            return False
        raise self._error(f"{sign.text} is not known; write {_KNOWN_BRACES}", sign)

    def _take_braces_of_length(self, braces: list[TextSign]) -> tuple[str, Fraction | None]:
        """Obey a metre, and return what a bar that is not whole is called, and its beats."""
        kind, beats = "", None
        for sign in sorted(braces, key=lambda sign: sign.order.startswith(_LENGTHS)):
            if self._is_mark(sign) or sign.order.startswith(("key ", "bar ")):
                continue
            if sign.order.startswith(_LENGTHS):
                kind, beats = self._stated_length(sign)
            else:
                with self._at(sign):
                    self.meter = parse_meter(sign.inside)
        return kind, beats

    def _number(self, braces: list[TextSign], following: str) -> str:
        """The number that is stated for a bar, or the one that follows."""
        for sign in braces:
            if words := number_words().fullmatch(sign.inside):
                return words[1]
        return following

    def _key(self, braces: list[TextSign]) -> Key | None:
        """The key that begins here; None where none is stated."""
        key: Key | None = None
        for sign in braces:
            if words := _key_words().fullmatch(sign.inside):
                from halfstep.progression.key import parse_key

                with self._at(sign):
                    key = parse_key(words[1])
        return key

    def _stated_length(self, sign: TextSign) -> tuple[str, Fraction]:
        from fractions import Fraction

        words = length_words().fullmatch(sign.inside)
        kind = words[1].lower() if words else sign.order.split(" ")[0]
        if kind == "pickup" and self.builder.bars:
            raise self._error("only the first bar may be a pickup", sign)
        beats = Fraction(words[2]) if words else Fraction(0)
        most = _LONGEST_BAR if kind == "lasts" else self.meter.bar_beats
        if not 0 < beats < most:
            noun = {"pickup": "pickup", "part": "part of a bar"}.get(kind, "length of a bar")
            raise self._error(
                f"{sign.text} is no {noun}; write its quarter notes, over 0 and under "
                f"{float(most):g}, such as {{{kind} 1}}",
                sign,
            )
        return kind, beats

    # chords

    def _chords(self, words: list[TextSign], number: str, beats: Fraction) -> tuple[ChordAt, ...]:
        if any(word.text == "%" for word in words):
            return tuple(chord for chord in self._again(words) if chord.at < beats)
        if len(words) > _MOST_SIGNS_IN_BAR:
            raise self._error(f"more than {_MOST_SIGNS_IN_BAR} signs in a bar", words[:1])
        if any(word.at is not None for word in words):
            return self._placed(words)
        if any(word.text in HOLDS for word in words):
            return self._counted(words, beats)
        if len(words) > MAX_CHORDS_IN_BAR:
            raise self._error(f"more than {MAX_CHORDS_IN_BAR} chords in a bar", words[:1])
        symbols = [self._symbol(word) for word in words]
        starts = places_of(self._shares(len(symbols), number, beats)) if symbols else ()
        scales = (word.scale for word in words)
        return tuple(map(ChordAt, symbols, starts, scales))

    def _again(self, words: list[TextSign]) -> tuple[ChordAt, ...]:
        sign = next(word for word in words if word.text == "%")
        if len(words) > 1:
            raise self._error("% stands alone in its bar and plays the bar before again", sign)
        if not self.builder.bars:
            raise self._error("% has no bar before it to play again", sign)
        return self.builder.bars[-1].chords

    def _placed(self, words: list[TextSign]) -> tuple[ChordAt, ...]:
        """Every chord where it says; the first may leave it out and stands on 1."""
        from fractions import Fraction

        places = [
            Fraction(0) if word is words[0] and word.at is None else word.at for word in words
        ]
        chords: list[ChordAt] = []
        for word, at in zip(words, places, strict=True):
            if at is None or word.text in HOLDS:
                raise self._error(
                    f"{word.text} has no place; where one chord of a bar has one, each but the "
                    "first needs it, such as D7 {beat 3.5}",
                    word,
                )
            if chords and at < chords[-1].at:
                raise self._error(f"{word.text} stands before the chord on its left", word)
            chords.append(ChordAt(self._symbol(word), at, word.scale))
        return tuple(chords)

    def _counted(self, words: list[TextSign], beats: Fraction) -> tuple[ChordAt, ...]:
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
            if word.text not in HOLDS
        )

    def _symbol(self, word: TextSign) -> ChordSymbol:
        text = _unbracketed(word.text)
        column = word.column + word.text.index(text) + 1
        with ErrorPlace(self.source, line=word.line, column=column):
            plain = self._without_numeral(text) if text[:1] in _NUMERAL_STARTS else text
            symbol = parse_symbol(plain, self.reading)
        if text != word.text:
            self._notice("chords in brackets are read like any other")
        self.builder.notices += symbol.notices
        return symbol

    def _without_numeral(self, text: str) -> str:
        """A Roman numeral as a chord symbol of the key that holds here; else the text."""
        from halfstep.progression.roman import is_numeral, symbol_text

        if not is_numeral(text):
            return text
        plain = symbol_text(text, self.key)
        self._notice(f"Roman numerals are read in {self.key}")
        return plain

    def _shares(self, count: int, number: str, beats: Fraction) -> tuple[Fraction, ...]:
        shares, even = shares_of_bar(self.meter, count, beats=beats)
        if not even:
            lengths = " + ".join(f"{float(share * self.meter.unit / 4):g}" for share in shares)
            self._notice(f"bar {number}: {count} chords in {self.meter} are read as {lengths}")
        return shares

    # errors

    def _at(self, sign: TextSign) -> ErrorPlace:
        return ErrorPlace(self.source, line=sign.line, column=sign.column + 1)

    def _error(self, message: str, at: TextSign | list[TextSign]) -> ReadError:
        sign = at if isinstance(at, TextSign) else next(iter(at), None)
        if sign is None:
            return ReadError(message, source=self.source)
        return ReadError(message, source=self.source, line=sign.line, column=sign.column + 1)


def _signs_of_marks(braces: list[TextSign]) -> dict[str, bool]:
    """The fields of `Marks` that words in braces set."""
    known = SIGNS_AT_START | SIGNS_AT_END
    return {known[sign.order]: True for sign in braces if sign.order in known}
