"""What chords does a ChordPro song hold: in its grids, in its words, or over its words?

Conventions
-----------
- A grid has bars, and a cell is a beat: ``| C . G . |``. ``%`` plays the bar before
  again, ``%%`` the two before. Text outside the bars is a margin and left out, but for
  ``x3`` after a line, which plays it, or the repeat that ends it, three times. Where the
  song states no time, three cells to a bar are 3/4. Chords joined by ``~`` share a cell.
- A song with grids is its grids, and one with a tune in ABC notation is that tune.
  ``[chords]`` in words have no bars: where there is neither, each is read as one bar, with
  a notice. Without any, lines that hold nothing but chords are read, one chord to a bar.
- A comment that names a section begins it; another is kept as a notice.
- A chord whose suffix cannot be read is kept as its root, with a notice.
- ``{chorus}`` plays the last chorus again, in the transposition that holds there.
- The sheet is concert as written: ``{transpose}`` moves chords and key, a capo does not.
- ``{key}`` again is the key from there on.
  One transposition adds to the one before; without a value it takes the last one back.
- A file of several songs: the first with chords is read.

Source: the ChordPro 6 file format, from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Meter, parse_meter
from halfstep.pitch import Interval, practical
from halfstep.progression.bar_builder import BarBuilder
from halfstep.progression.chart import ChordAt
from halfstep.progression.key import Key, parse_key
from halfstep.progression.notations import MOST_TEXT_BYTES
from halfstep.progression.notations.abc_reader import read_abc_text
from halfstep.progression.quality import DEFAULT, Reading
from halfstep.progression.reading import with_h_seen
from halfstep.progression.shares import shares_of_bar
from halfstep.progression.sheet import LeadSheet, WrittenBar
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from halfstep.progression.title import UNTITLED, plain_title

MAX_CELLS = 32
"""As many cells as a bar of a grid may have."""
MAX_NOTICES = 40

_SHORT = {
    "t": "title",
    "ns": "new_song",
    "soc": "start_of_chorus",
    "eoc": "end_of_chorus",
    "sov": "start_of_verse",
    "eov": "end_of_verse",
    "sob": "start_of_bridge",
    "eob": "end_of_bridge",
    "sog": "start_of_grid",
    "eog": "end_of_grid",
    "sot": "start_of_tab",
    "eot": "end_of_tab",
    "c": "comment",
    "ci": "comment",
    "comment_italic": "comment",
    "cb": "comment",
    "comment_box": "comment",
    "highlight": "comment",
}
_SKIPPED = {"abc", "ly", "svg", "textblock", "tab", "musicxml", "strum", "html"}
"""Blocks that hold no words or chords of the song."""

_TUNE = "abc"
_HOLDS = {".", "/"}
_INTERVALS = (
    Interval(0, 0), Interval(1, 1), Interval(1, 2), Interval(2, 3), Interval(2, 4),
    Interval(3, 5), Interval(4, 6), Interval(4, 7), Interval(5, 8), Interval(5, 9),
    Interval(6, 10), Interval(6, 11),
)  # fmt: skip
"""The interval for each number of semitones up, octaves left out."""


@cache
def _directive_line() -> re.Pattern[str]:
    return re.compile(
        r"\s*\{\s*\+?(?P<name>[A-Za-z_.]+)(?:-\w+!?)?(?:\s*:|\s+|(?=\}))(?P<value>.*)\}\s*"
    )


@cache
def _times() -> re.Pattern[str]:
    return re.compile(r"\b(?:x\s?([2-9]|\d\d)|([2-9]|\d\d)\s?x)\b", re.IGNORECASE)


@cache
def _strums() -> re.Pattern[str]:
    return re.compile(r"\s*\|[sS]\b")


@cache
def _grid_label() -> re.Pattern[str]:
    return re.compile(r"""label\s*=\s*(?:"([^"]*)"|'([^']*)'|(\S+))""")


@cache
def _transposition() -> re.Pattern[str]:
    return re.compile(r"([+-]?\d{1,2})[sf#b]?")


@cache
def _in_words() -> re.Pattern[str]:
    return re.compile(r"\[([^\[\]]*)\]")


@cache
def _bar_line() -> re.Pattern[str]:
    return re.compile(r"(:?\|+(?::\|+)?[:.\]]?(?:\d(?:,\d)*>?(?=\s|$))?)")


@cache
def _root() -> re.Pattern[str]:
    return re.compile(r"[A-H](?:[b#♭♯])?")


@cache
def _fret_position() -> re.Pattern[str]:
    return re.compile(r"(?<=.)\([IVXivx]+\)$")


@cache
def _section_words() -> re.Pattern[str]:
    return re.compile(
        r"(?:intro|verse|(?:pre-?)?chorus|bridge|solo|outro|interlude|instrumental|refrain|ending"
        r"|coda|tag)\b[\w \-]{0,20}",
        re.IGNORECASE,
    )


@cache
def _text_in_brackets() -> re.Pattern[str]:
    return re.compile(
        r"\*|(?:coda|fine|break|end(?:ing)?|bridge|chorus|d\.\s?[cs]\.|ad\.? lib|a tempo)",
        re.IGNORECASE,
    )


def read_chordpro_text(text: str, *, source: str = "", reading: Reading = DEFAULT) -> LeadSheet:
    r"""Read a ChordPro song, or chords over words.

    Parameters
    ----------
    text : str
    source : str, optional
        A name for the text, used in errors.
    reading : Reading, optional
        What the writer means where two things can be meant.

    Raises
    ------
    ReadError
        When there are no chords, or too many.

    Examples
    --------
    >>> sheet = read_chordpro_text("{start_of_grid}\n| C . G . | Am . . . |\n{end_of_grid}")
    >>> [[(str(c.symbol), str(c.at)) for c in bar.chords] for bar in sheet.bars]
    [[('C', '0'), ('G', '2')], [('Am', '0')]]
    """
    if len(text) > MOST_TEXT_BYTES:
        raise ReadError("the text is longer than 1 MB; a song is shorter", source=source)
    songs = [song for song in _songs(text) if song]
    try:
        sheet = next(filter(None, (_sheet_of(song, reading) for song in songs)), None)
    except ReadError as error:
        raise error.at(source=source) from None
    if sheet is None:
        raise ReadError(
            "the song has no chords; write them in a grid such as | C . G . | or as [C] in the "
            "words",
            source=source,
        )
    if len(songs) == 1:
        return sheet
    notice = f"the file holds {len(songs)} songs; the first with chords is read"
    return replace(sheet, notices=(*sheet.notices, notice))


_Lines = list[tuple[int, str]]


def _songs(text: str) -> Iterator[_Lines]:
    """The numbered lines of each song of a file."""
    song: _Lines = []
    for number, line in enumerate(text.splitlines(), 1):
        if line.lstrip().startswith("{") and _directive(line)[0] == "new_song":
            yield song
            song = []
        elif not line.startswith("#"):
            song.append((number, line))
    yield song


def _directive(line: str) -> tuple[str, str]:
    """Name in full and value; both empty when the line is no directive."""
    directive = _directive_line().fullmatch(line)
    if not directive:
        return "", ""
    name = directive["name"].lower()
    return _SHORT.get(name, name), directive["value"].strip()


def _sheet_of(song: _Lines, reading: Reading) -> LeadSheet | None:
    """The sheet of a song; None where it has no chords."""
    in_words = any(_in_words().search(line) for _, line in song)
    for kind in ("grid", _TUNE, "words" if in_words else "over"):
        reader = _ChordProSong(kind, reading)
        reader.settle_h(song)
        for number, line in song:
            reader.take(number, line)
        if kind == _TUNE:
            reader.read_tune()
        if any(bar.chords for bar in reader.builder.bars):
            return reader.sheet()
    return None


@dataclass(slots=True)
class _ChordProSong:
    """Takes a song line by line; ``kind`` says where its chords are."""

    kind: str
    reading: Reading
    title: str = UNTITLED
    key: Key | None = None
    meter: Meter = field(default_factory=Meter)
    meter_is_stated: bool = False
    tempo_bpm: float | None = None
    builder: BarBuilder = field(default_factory=lambda: BarBuilder("song"))
    page: list[WrittenBar] = field(default_factory=list)
    block: str = ""
    transposed: list[int] = field(default_factory=list)
    chorus: list[WrittenBar] = field(default_factory=list)
    second: tuple[ChordAt, ...] | None = None
    tune: _Lines = field(default_factory=list)

    def settle_h(self, song: _Lines) -> None:
        """Find out what H is in this song."""
        probe = self.reading._replace(h=self.reading.h or "plain")
        chords = (text for _, line in song for text in self._chord_texts(line, probe))
        self.reading, notices = with_h_seen(chords, self.reading)
        self.builder.notices += notices

    def _chord_texts(self, line: str, probe: Reading) -> list[str]:
        """What stands in a line where a chord may, as far as it can be read."""
        if self.kind == "words":
            texts = [text.strip() for text in _in_words().findall(line)]
        elif line.lstrip().startswith("{") or not (self.kind == "over" or "|" in line):
            return []
        else:
            texts = re.split(r"[\s|~]+", line)
            if self.kind == "over" and not _is_chord_line(line, probe):
                return []
        return [text for text in texts if _is_chord(text, probe)]

    def take(self, number: int, line: str) -> None:
        """One line."""
        try:
            if line.lstrip().startswith("{"):
                self._directive(*_directive(line))
            elif self.block == self.kind == _TUNE:
                self.tune.append((number, line))
            elif self.block in _SKIPPED or not line.strip():
                return
            elif self.block == "grid" or self.kind == "over":
                self._line_of_chords(line)
            elif self.kind == "words":
                self._words(line)
            elif _in_words().search(line):
                has_bars = (
                    "the grids have" if self.kind == "grid" else "the tune in ABC notation has"
                )
                self._notice(f"chords in the words are left out: {has_bars} the bars")
        except ReadError as error:
            column = error.column or _first_column(line)
            raise ReadError(error.message, line=number, column=column) from None

    def read_tune(self) -> None:
        """Read the lines in ABC notation that were met, each still in its place."""
        placed = dict(self.tune)
        text = "\n".join(placed.get(number, "") for number in range(1, max(placed, default=0) + 1))
        if not re.search(r"^K:", text, re.MULTILINE):
            return
        try:
            sheet = read_abc_text(text, reading=self.reading)
        except ReadError as error:
            self._notice(f"the tune in ABC notation is left out: {error.message}")
            return
        moved = sheet.moved(self._interval())
        self.key = self.key or sheet.key
        self.tempo_bpm = sheet.tempo_bpm or self.tempo_bpm
        self.title = sheet.title if self.title == UNTITLED else self.title
        self.builder.notices += sheet.notices
        self.builder.bars = [bar._replace(key=bar.key or moved.key) for bar in moved.bars]

    def _directive(self, name: str, value: str) -> None:
        if name.startswith("end_of_"):
            self._end_block()
        elif self.block in _SKIPPED:
            return
        elif name.startswith("start_of_"):
            self._start_block(name.removeprefix("start_of_"), value)
        elif name == "meta":
            first, _, rest = value.partition(" ")
            self._fact(first, rest.strip())
        elif name == "transpose":
            self._transpose(value)
        elif name == "chorus":
            self._play_chorus_again(value)
        elif name == "comment":
            self._comment(value)
        else:
            self._fact(name, value)

    def _fact(self, name: str, value: str) -> None:
        """Title, key, time or tempo; one that cannot be read is left out with a notice."""
        try:
            if name == "title" and value:
                self.title = plain_title(value)
            elif name == "key":
                self.key = _key(value, self.reading)
            elif name == "time":
                self.meter, self.meter_is_stated = parse_meter(value), True
            elif name == "tempo":
                self.tempo_bpm = _tempo(value)
            elif name == "capo":
                self._notice(f"capo {plain_title(value)[:10]}: the chords are kept as written")
        except ReadError as error:
            self._notice(f"{name} is left out: {error.message}")

    def _start_block(self, name: str, value: str) -> None:
        self._end_block()
        self.block = name
        label = _grid_label().search(value)
        if label:
            self.builder.section = plain_title(label[1] or label[2] or label[3] or name)
        elif name not in _SKIPPED and name != "grid":
            self.builder.section = plain_title(value or name.replace("_", " ").capitalize())
        if name == "chorus":
            self.chorus = []

    def _end_block(self) -> None:
        if self.block == "grid":
            self.builder.stop_ending()
            self.builder.forward = False
            self.second = None
        self.block = ""

    def _transpose(self, value: str) -> None:
        semitones = _transposition().fullmatch(value)
        if semitones:
            self.transposed.append(int(semitones[1]))
        elif self.transposed:
            self.transposed.pop()

    def _play_chorus_again(self, label: str) -> None:
        for place, bar in enumerate(self.chorus):
            if place == 0:
                self.builder.section = plain_title(label or bar.section or "Chorus")
            self._add(bar.chords, bar)

    def _comment(self, text: str) -> None:
        if _section_words().fullmatch(text):
            self.builder.section = plain_title(text)
        elif text and "%{" not in text:
            self._notice(
                f"comment before bar {len(self.builder.bars) + 1}: {plain_title(text)[:60]!r}"
            )

    def _interval(self) -> Interval:
        interval = _INTERVALS[sum(self.transposed) % 12]
        if not interval.semitones:
            return interval
        fifths = self.key.fifths + interval.fifths if self.key else 0
        turn = -1 if fifths < -6 else 1 if fifths > 6 else 0
        return Interval(interval.letters + turn, interval.semitones)

    def _notice(self, notice: str) -> None:
        notices = self.builder.notices
        if len(notices) < MAX_NOTICES and notice not in notices:
            notices.append(notice)

    def _add(self, chords: Iterable[ChordAt], like: WrittenBar | None = None) -> None:
        """One more bar; ``chords`` as they stand on the page, before transposition."""
        key = self.key + self._interval() if self.key else None
        meter, marks = (like.meter, like.marks) if like else (self.meter, None)
        bar = self.builder.add(meter, chords, key=key, marks=marks)
        if self.block == "chorus":
            self.chorus.append(bar)
        self.page.append(bar)
        self.builder.bars[-1] = bar._replace(chords=tuple(map(self._moved, bar.chords)))

    def _moved(self, chord: ChordAt) -> ChordAt:
        interval = self._interval()
        if not interval.semitones:
            return chord
        return chord._replace(symbol=_moved(chord.symbol, interval))

    def _words(self, line: str) -> None:
        """A line of words with chords in brackets."""
        texts = _in_words().findall(line)
        if len(texts) == 1 and _section_words().fullmatch(texts[0].strip()):
            self.builder.section = plain_title(texts[0])
            return
        for text in texts:
            symbol = self._symbol(text.strip())
            if symbol:
                self._notice("the words have no bar lines: one chord is read for each bar")
                self._add([ChordAt(symbol, Fraction(0))])

    def _symbol(self, text: str) -> ChordSymbol | None:
        """The chord, or what can be kept of it; None for text that is no chord."""
        if not text or _text_in_brackets().match(text):
            return None
        try:
            symbol = parse_symbol(_without_brackets(text[:60]), self.reading)
        except ReadError:
            root = _root().match(text)
            shown = plain_title(text)[:40]
            if not root:
                self._notice(f"{shown} is no chord; left out")
                return None
            notice_of_root = f"{shown} has a suffix that is not known; read as {root[0]}"
            symbol = replace(
                parse_symbol(root[0], self.reading), typed=shown, notices=(notice_of_root,)
            )
        for notice in symbol.notices:
            self._notice(notice)
        return symbol

    def _line_of_chords(self, line: str) -> None:
        if self.block == "grid":
            if "|" in line and not _strums().match(line):
                self._grid_line(line)
        elif _is_chord_line(line, self.reading):
            if "|" in line:
                self._grid_line(line if line.rstrip().endswith("|") else f"{line} |")
            else:
                self._notice("the words have no bar lines: one chord is read for each bar")
                self._chords_over_words(line)
        elif _section_words().fullmatch(line.strip(" []:\t")):
            self.builder.section = plain_title(line.strip(" []:\t"))

    def _chords_over_words(self, line: str) -> None:
        for text in line.split():
            symbol = self._symbol(_fret_position().sub("", text))
            if symbol:
                self._add([ChordAt(symbol, Fraction(0))])

    def _grid_line(self, line: str) -> None:
        """Bars between the first and the last bar line; what lies outside is a margin."""
        pieces = _bar_line().split(line)
        lines, inside = pieces[1::2], pieces[2:-1:2]
        first = len(self.builder.bars)
        for place, bar_line in enumerate(lines):
            self._mark(bar_line)
            if place < len(inside) and inside[place].strip():
                before = sum(map(len, pieces[: 2 * place + 2]))
                self._grid_bar(inside[place], column=before + _first_column(inside[place]))
        times = _times().search(pieces[-1])
        if times and len(self.builder.bars) > first:
            self._play_line(first, int(times[1] or times[2]))

    def _play_line(self, first: int, times: int) -> None:
        """Play what ends with the line so often: the repeat there, or else the line."""
        bars = self.builder.bars
        if not bars[-1].marks.backward:
            bars[first] = bars[first]._replace(marks=bars[first].marks._replace(forward=True))
        self.builder.mark_last(backward=times)

    def _mark(self, bar_line: str) -> None:
        """What a bar line says about the bars on its sides."""
        passes = tuple(int(digit) for digit in re.findall(r"[1-9]", bar_line))
        if bar_line.startswith(":") and self.builder.bars:
            self.builder.mark_last(backward=2)
        elif "||" in bar_line or "." in bar_line:
            self.builder.stop_ending()
        if bar_line.rstrip("0123456789,>").endswith(":"):
            self.builder.forward = True
        if passes:
            self.builder.begin_ending(passes)

    def _grid_bar(self, text: str, *, column: int) -> None:
        cells = text.split()
        if len(cells) > MAX_CELLS:
            raise ReadError(f"more than {MAX_CELLS} cells in a bar", column=column)
        if not self.meter_is_stated and len(cells) == 3:
            self._notice("the song states no time: three cells to a bar are read as 3/4")
            self.meter, self.meter_is_stated = Meter(3, 4), True
        again = self._again(cells, column)
        self._add(self._cells(cells) if again is None else again)

    def _again(self, cells: list[str], column: int) -> tuple[ChordAt, ...] | None:
        """The chords of a bar that is said to be one before; None for a bar of its own."""
        held = all(cell in _HOLDS for cell in cells)
        second, self.second = self.second, None
        if held and second is not None:
            return second
        if cells[0] not in {"%", "%%"}:
            return None
        if len(self.page) < len(cells[0]):
            raise ReadError(f"{cells[0]} has no bar before it to play again", column=column)
        if cells[0] == "%%":
            self.second = self.page[-1].chords
        return self.page[-len(cells[0])].chords

    def _cells(self, cells: list[str]) -> Iterator[ChordAt]:
        shares, _ = shares_of_bar(self.meter, len(cells))
        if len(set(shares)) > 1:
            self._notice(
                f"bar {len(self.builder.bars) + 1}: the cells do not share {self.meter} evenly"
            )
        at = Fraction(0)
        for cell, beats in zip(cells, shares, strict=True):
            parts = [part for part in cell.split("~") if part] if cell not in _HOLDS else []
            for place, part in enumerate(parts):
                symbol = self._symbol(part)
                if symbol:
                    yield ChordAt(symbol, at + beats * place / len(parts))
            at += beats

    def sheet(self) -> LeadSheet:
        """The song."""
        key = next((bar.key for bar in self.builder.bars if bar.key), None)
        return self.builder.sheet(self.title, key=key, tempo_bpm=self.tempo_bpm)


def _first_column(text: str) -> int:
    """Where the first word stands, counted from 1."""
    return len(text) - len(text.lstrip()) + 1


def _key(text: str, reading: Reading) -> Key:
    """A key, its letter as the song means it."""
    if reading.h and text[:1] in {"H", "B"} and text[1:2] not in {"b", "#", "♭", "♯"}:
        text = parse_symbol(text[0], reading).root.ascii + text[1:]
    return parse_key(text)


def _tempo(text: str) -> float:
    number = re.fullmatch(r"(\d{1,4}(?:\.\d{1,3})?)(?:\s*bpm)?", text, re.IGNORECASE)
    if not number or not SLOWEST_BPM <= float(number[1]) <= FASTEST_BPM:
        raise ReadError(f"write pulses a minute from {SLOWEST_BPM} to {FASTEST_BPM}")
    return float(number[1])


def _moved(symbol: ChordSymbol, interval: Interval) -> ChordSymbol:
    """The symbol an interval higher, without double signs."""
    moved = symbol.moved(interval)
    bass = practical(moved.bass) if moved.bass else None
    plain = replace(moved, root=practical(moved.root), bass=bass)
    return moved if plain == moved else replace(plain, typed=plain.ascii)


def _without_brackets(text: str) -> str:
    return text[1:-1] if text.startswith("(") and text.endswith(")") else text


def _is_chord_line(line: str, reading: Reading) -> bool:
    """True where all the line holds is chords, and bar lines and holds between them."""
    words = _bar_line().sub(" ", line).split() if len(line) <= 400 else []
    chords = [word for word in words if word not in {*_HOLDS, "%", "-"}]
    return bool(chords) and all(_is_chord(word, reading) for word in chords)


def _is_chord(word: str, reading: Reading) -> bool:
    try:
        return bool(parse_symbol(_without_brackets(_fret_position().sub("", word[:40])), reading))
    except ReadError:
        return False
