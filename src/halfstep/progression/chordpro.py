"""What chords does a ChordPro song hold: in its grids, in its words, or over its words?

Conventions
-----------
- A grid has bars, and a cell is a beat: ``| C . G . |``. ``%`` plays the bar before
  again, ``%%`` the two before; text outside the bars is a margin and left out. Where the
  song states no time, three cells to a bar are 3/4. Chords joined by ``~`` share a cell.
- A song with grids is its grids. ``[chords]`` in words have no bars: where there is no
  grid each is read as one bar, with a notice. Without either, lines that hold nothing but
  chords are read, one chord to a bar.
- A chord whose suffix cannot be read is kept as its root, with a notice.
- ``{chorus}`` plays the last chorus again, in the transposition that holds there.
- The sheet is concert as written: ``{transpose}`` moves the chords, a capo does not.
  One transposition adds to the one before; without a value it takes the last one back.
- A file of several songs: the first with chords is read.

Source: the ChordPro 6 file format, from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Meter, parse_meter
from halfstep.pitch import Interval, practical
from halfstep.progression.chart import ChordAt
from halfstep.progression.form import MAX_BARS
from halfstep.progression.key import Key, parse_key
from halfstep.progression.sheet import NO_MARKS, LeadSheet, WrittenBar
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from halfstep.progression.text import UNTITLED, plain_title, shares_of_bar
from halfstep.progression.textfile import MAX_FILE_BYTES, read_text_file

MAX_CELLS = 32
"""As many cells as a bar of a grid may have."""
MAX_NOTICES = 40

_DIRECTIVE = re.compile(
    r"\s*\{\s*\+?(?P<name>[A-Za-z_.]+)(?:-\w+!?)?(?:\s*:|\s+|(?=\}))(?P<value>.*)\}\s*"
)
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
}
_SKIPPED = {"abc", "ly", "svg", "textblock", "tab", "musicxml", "strum", "html"}
"""Blocks that hold no words or chords of the song."""

_LABEL = re.compile(r"""label\s*=\s*(?:"([^"]*)"|'([^']*)'|(\S+))""")
_TRANSPOSE = re.compile(r"([+-]?\d{1,2})[sf#b]?")
_IN_WORDS = re.compile(r"\[([^\[\]]*)\]")
_BAR_LINE = re.compile(r"(:?\|+(?::\|+)?[:.\]]?(?:\d(?:,\d)*>?(?=\s|$))?)")
_ROOT = re.compile(r"[A-G](?:[b#♭♯])?")
_POSITION = re.compile(r"(?<=.)\([IVXivx]+\)$")
_HOLDS = {".", "/"}
_WORDS = re.compile(
    r"(?:intro|verse|(?:pre-?)?chorus|bridge|solo|outro|interlude|instrumental|refrain|ending"
    r"|coda|tag)\b[\w \-]{0,20}",
    re.IGNORECASE,
)
_TEXT_IN_BRACKETS = re.compile(
    r"\*|(?:coda|fine|break|end(?:ing)?|bridge|chorus|d\.\s?[cs]\.|ad\.? lib|a tempo)",
    re.IGNORECASE,
)
_INTERVALS = (
    Interval(0, 0), Interval(1, 1), Interval(1, 2), Interval(2, 3), Interval(2, 4),
    Interval(3, 5), Interval(4, 6), Interval(4, 7), Interval(5, 8), Interval(5, 9),
    Interval(6, 10), Interval(6, 11),
)  # fmt: skip
"""The interval for each number of semitones up, octaves left out."""


def read_chordpro(path: Path) -> LeadSheet:
    """Read a ChordPro song, or chords over words.

    Raises
    ------
    ReadError
    """
    text, notices = read_text_file(path)
    sheet = read_chordpro_text(text, source=path.name)
    title = plain_title(path.stem) if sheet.title == UNTITLED else sheet.title
    return replace(sheet, title=title, notices=notices + sheet.notices)


def read_chordpro_text(text: str, *, source: str = "") -> LeadSheet:
    r"""Read a ChordPro song, or chords over words.

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
    if len(text) > MAX_FILE_BYTES:
        raise ReadError("the text is longer than 1 MB; a song is shorter", source=source)
    songs = [song for song in _songs(text) if song]
    for song in songs:
        for kind in _kinds_of_chords(song):
            reader = _Song(source, kind)
            for number, line in song:
                reader.take(number, line)
            if any(bar.chords for bar in reader.bars):
                return reader.sheet(len(songs))
    raise ReadError(
        "the song has no chords; write them in a grid such as | C . G . | or as [C] in the words",
        source=source,
    )


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
    found = _DIRECTIVE.fullmatch(line)
    name = found["name"].lower() if found else ""
    return _SHORT.get(name, name), found["value"].strip() if found else ""


def _kinds_of_chords(song: _Lines) -> tuple[str, ...]:
    """Where to look for chords: in grids before words, over words where neither is."""
    return (
        ("grid", "words") if any(_IN_WORDS.search(line) for _, line in song) else ("grid", "over")
    )


@dataclass(slots=True)
class _Song:
    """Takes a song line by line; ``kind`` says where its chords are."""

    source: str
    kind: str
    title: str = UNTITLED
    key: Key | None = None
    sounding_key: Key | None = None
    meter: Meter = field(default_factory=Meter)
    meter_is_stated: bool = False
    tempo_bpm: float | None = None
    bars: list[WrittenBar] = field(default_factory=list)
    page: list[WrittenBar] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    section: str = ""
    block: str = ""
    transposed: list[int] = field(default_factory=list)
    chorus: list[WrittenBar] = field(default_factory=list)
    ending: tuple[int, ...] = ()
    forward: bool = False
    second: tuple[ChordAt, ...] | None = None

    def take(self, number: int, line: str) -> None:
        """One line."""
        try:
            if line.lstrip().startswith("{"):
                self._directive(*_directive(line))
            elif self.block in _SKIPPED or not line.strip():
                return
            elif self.block == "grid" or self.kind == "over":
                self._line_of_chords(line)
            elif self.kind == "words":
                self._words(line)
            elif _IN_WORDS.search(line):
                self._say("chords in the words are left out: the grids have the bars")
        except ReadError as error:
            raise error.at(source=self.source, line=number) from None

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
            self._play_chorus_again()
        else:
            self._fact(name, value)

    def _fact(self, name: str, value: str) -> None:
        """Title, key, time or tempo; one that cannot be read is left out with a notice."""
        try:
            if name == "title" and value:
                self.title = plain_title(value)
            elif name == "key" and self.key is None:
                self.key = parse_key(value)
                self.sounding_key = self.key.moved(self._interval())
            elif name == "time":
                self.meter, self.meter_is_stated = parse_meter(value), True
            elif name == "tempo":
                self.tempo_bpm = _tempo(value)
            elif name == "capo":
                self._say(f"capo {plain_title(value)[:10]}: the chords are kept as written")
        except ReadError as error:
            self._say(f"{name} is left out: {error.message}")

    def _start_block(self, name: str, value: str) -> None:
        self._end_block()
        self.block = name
        label = _LABEL.search(value)
        if label:
            self.section = plain_title(label[1] or label[2] or label[3] or name)
        elif name not in _SKIPPED and name != "grid":
            self.section = plain_title(value or name.replace("_", " ").capitalize())
        if name == "chorus":
            self.chorus = []

    def _end_block(self) -> None:
        if self.block == "grid":
            self._stop_ending()
            self.forward = False
            self.second = None
        self.block = ""

    def _transpose(self, value: str) -> None:
        found = _TRANSPOSE.fullmatch(value)
        if found:
            self.transposed.append(int(found[1]))
        elif self.transposed:
            self.transposed.pop()

    def _play_chorus_again(self) -> None:
        for place, bar in enumerate(self.chorus):
            if place == 0:
                self.section = bar.section or "Chorus"
            self._add(bar.chords, bar)

    def _interval(self) -> Interval:
        interval = _INTERVALS[sum(self.transposed) % 12]
        fifths = self.key.fifths + interval.fifths if self.key else 0
        turn = -1 if fifths < -6 else 1 if fifths > 6 else 0
        return Interval(interval.letters + turn, interval.semitones)

    def _say(self, notice: str) -> None:
        if len(self.notices) < MAX_NOTICES and notice not in self.notices:
            self.notices.append(notice)

    def _add(self, chords: Iterable[ChordAt], like: WrittenBar | None = None) -> None:
        """One more bar; ``chords`` as they stand on the page, before transposition."""
        if len(self.bars) >= MAX_BARS:
            raise ReadError(f"more than {MAX_BARS} bars; make the song shorter")
        number = str(len(self.bars) + 1)
        meter = like.meter if like else self.meter
        marks = like.marks if like else replace(NO_MARKS, forward=self.forward, ending=self.ending)
        bar = WrittenBar(number, meter, meter.bar_beats, tuple(chords), marks, section=self.section)
        self.section, self.forward, self.ending = "", False, ()
        if self.block == "chorus":
            self.chorus.append(bar)
        self.page.append(bar)
        self.bars.append(replace(bar, chords=tuple(map(self._moved, bar.chords))))

    def _moved(self, chord: ChordAt) -> ChordAt:
        interval = self._interval()
        if not interval.semitones:
            return chord
        return replace(chord, symbol=_moved(chord.symbol, interval))

    def _words(self, line: str) -> None:
        """A line of words with chords in brackets."""
        found = _IN_WORDS.findall(line)
        if len(found) == 1 and _WORDS.fullmatch(found[0].strip()):
            self.section = plain_title(found[0])
            return
        for text in found:
            symbol = self._symbol(text.strip())
            if symbol:
                self._say("the words have no bar lines: one chord is read for each bar")
                self._add([ChordAt(symbol, Fraction(0))])

    def _symbol(self, text: str) -> ChordSymbol | None:
        """The chord, or what can be kept of it; None for text that is no chord."""
        if not text or _TEXT_IN_BRACKETS.match(text):
            return None
        try:
            symbol = parse_symbol(_without_brackets(text[:60]))
        except ReadError:
            root = _ROOT.match(text)
            shown = plain_title(text)[:40]
            if not root:
                self._say(f"{shown} is no chord; left out")
                return None
            self._say(f"{shown} has a suffix that is not known; read as {root[0]}")
            return parse_symbol(root[0])
        for notice in symbol.notices:
            self._say(notice)
        return symbol

    def _line_of_chords(self, line: str) -> None:
        if self.block == "grid":
            if "|" in line:
                self._grid_line(line)
        elif _is_chord_line(line):
            if "|" in line:
                self._grid_line(line if line.rstrip().endswith("|") else f"{line} |")
            else:
                self._say("the words have no bar lines: one chord is read for each bar")
                self._chords_over_words(line)
        elif _WORDS.fullmatch(line.strip(" []:\t")):
            self.section = plain_title(line.strip(" []:\t"))

    def _chords_over_words(self, line: str) -> None:
        for text in line.split():
            symbol = self._symbol(_POSITION.sub("", text))
            if symbol:
                self._add([ChordAt(symbol, Fraction(0))])

    def _grid_line(self, line: str) -> None:
        """Bars between the first and the last bar line; what lies outside is a margin."""
        pieces = _BAR_LINE.split(line)
        lines, inside = pieces[1::2], pieces[2:-1:2]
        for place, bar_line in enumerate(lines):
            self._mark(bar_line)
            if place < len(inside) and inside[place].strip():
                self._grid_bar(inside[place].split())

    def _mark(self, bar_line: str) -> None:
        """What a bar line says about the bars on its sides."""
        volta = tuple(int(digit) for digit in re.findall(r"[1-9]", bar_line))
        if bar_line.startswith(":") and self.bars:
            self._mark_last(backward=2)
        elif volta or "||" in bar_line or "." in bar_line:
            self._stop_ending()
        if bar_line.rstrip("0123456789,>").endswith(":"):
            self.forward = True
        self.ending = volta or self.ending

    def _mark_last(self, *, backward: int = 0, ending_stops: bool = False) -> None:
        marks = self.bars[-1].marks
        marks = replace(
            marks,
            backward=backward or marks.backward,
            ending_stops=ending_stops or marks.ending_stops,
        )
        self.bars[-1] = replace(self.bars[-1], marks=marks)

    def _stop_ending(self) -> None:
        """Close an ending that is open."""
        for bar in reversed(self.bars):
            if bar.marks.backward or bar.marks.ending_stops:
                return
            if bar.marks.ending:
                self._mark_last(ending_stops=True)
                return

    def _grid_bar(self, cells: list[str]) -> None:
        if len(cells) > MAX_CELLS:
            raise ReadError(f"more than {MAX_CELLS} cells in a bar")
        if not self.meter_is_stated and len(cells) == 3:
            self._say("the song states no time: three cells to a bar are read as 3/4")
            self.meter, self.meter_is_stated = Meter(3, 4), True
        again = self._again(cells)
        self._add(self._cells(cells) if again is None else again)

    def _again(self, cells: list[str]) -> tuple[ChordAt, ...] | None:
        """The chords of a bar that is said to be one before; None for a bar of its own."""
        held = all(cell in _HOLDS for cell in cells)
        second, self.second = self.second, None
        if held and second is not None:
            return second
        if cells[0] not in {"%", "%%"}:
            return None
        if len(self.page) < len(cells[0]):
            raise ReadError(f"{cells[0]} has no bar before it to play again")
        if cells[0] == "%%":
            self.second = self.page[-1].chords
        return self.page[-len(cells[0])].chords

    def _cells(self, cells: list[str]) -> Iterator[ChordAt]:
        shares, _ = shares_of_bar(self.meter, len(cells))
        if len(set(shares)) > 1:
            self._say(f"bar {len(self.bars) + 1}: the cells do not share {self.meter} evenly")
        at = Fraction(0)
        for cell, beats in zip(cells, shares, strict=True):
            parts = [part for part in cell.split("~") if part] if cell not in _HOLDS else []
            for place, part in enumerate(parts):
                symbol = self._symbol(part)
                if symbol:
                    yield ChordAt(symbol, at + beats * place / len(parts))
            at += beats

    def sheet(self, songs: int) -> LeadSheet:
        """The song."""
        if songs > 1:
            self._say(f"the file holds {songs} songs; the first with chords is read")
        return LeadSheet(
            self.title,
            tuple(self.bars),
            self.sounding_key,
            self.tempo_bpm,
            notices=tuple(self.notices),
        )


def _tempo(text: str) -> float:
    found = re.fullmatch(r"(\d{1,4}(?:\.\d{1,3})?)(?:\s*bpm)?", text, re.IGNORECASE)
    if not found or not SLOWEST_BPM <= float(found[1]) <= FASTEST_BPM:
        raise ReadError(f"write pulses a minute from {SLOWEST_BPM} to {FASTEST_BPM}")
    return float(found[1])


def _moved(symbol: ChordSymbol, interval: Interval) -> ChordSymbol:
    """The symbol an interval higher, without double signs."""
    moved = symbol.moved(interval)
    bass = practical(moved.bass) if moved.bass else None
    plain = replace(moved, root=practical(moved.root), bass=bass)
    return moved if plain == moved else replace(plain, typed=plain.ascii)


def _without_brackets(text: str) -> str:
    return text[1:-1] if text.startswith("(") and text.endswith(")") else text


def _is_chord_line(line: str) -> bool:
    """True where all the line holds is chords, and bar lines and holds between them."""
    words = _BAR_LINE.sub(" ", line).split() if len(line) <= 400 else []
    chords = [word for word in words if word not in {*_HOLDS, "%", "-"}]
    return bool(chords) and all(map(_is_chord, chords))


def _is_chord(word: str) -> bool:
    try:
        return bool(parse_symbol(_without_brackets(_POSITION.sub("", word[:40]))))
    except ReadError:
        return False


def write_chordpro(sheet: LeadSheet) -> str:
    r"""The sheet as a song with a grid for each section; `chordpro_losses` says what is lost.

    >>> sheet = read_chordpro_text("{sog}\n|: C . G . :|\n{eog}")
    >>> write_chordpro(sheet).splitlines()[-3:]
    ['{start_of_grid}', '|: C . G . :|', '{end_of_grid}']
    """
    head = [f"{{title: {_plain(sheet.title)}}}"]
    if sheet.key:
        head.append(f"{{key: {sheet.key.ascii}}}")
    if sheet.tempo_bpm:
        head.append(f"{{tempo: {sheet.tempo_bpm:g}}}")
    lines: list[str] = []
    for section in _grids(_kept(sheet)):
        lines += _grid(section)
    return "\n".join(head + lines) + "\n"


def _plain(text: str) -> str:
    """Text that may stand in a directive."""
    return plain_title(text.translate(str.maketrans('{}"', "()'")))


def _kept(sheet: LeadSheet) -> list[WrittenBar]:
    """The bars without a pickup."""
    return [bar for place, bar in enumerate(sheet.bars) if place or not _is_pickup(sheet)]


def _is_pickup(sheet: LeadSheet) -> bool:
    return bool(len(sheet.bars) > 1 and (sheet.bars[0].number == "0" or sheet.bars[0].short))


def _grids(bars: list[WrittenBar]) -> Iterator[list[WrittenBar]]:
    """The bars from one section or change of metre to the next."""
    grid: list[WrittenBar] = []
    for bar in bars:
        if grid and (bar.section or bar.meter != grid[-1].meter):
            yield grid
            grid = []
        grid.append(bar)
    if grid:
        yield grid


_CLOSED = {":|", "||"}


def _grid(bars: list[WrittenBar]) -> Iterator[str]:
    yield f"{{time: {bars[0].meter}}}"
    label = f' label="{_plain(bars[0].section)}"' if bars[0].section else ""
    yield f"{{start_of_grid{label}}}"
    for start in range(0, len(bars), 4):
        yield _line(bars[start : start + 4], last=start + 4 >= len(bars))
    yield "{end_of_grid}"


def _line(bars: list[WrittenBar], *, last: bool) -> str:
    words: list[str] = []
    for bar in bars:
        words += [_left(bar, after=words[-1] if words else ""), *_cells_of(bar)]
        if bar.marks.backward:
            words.append(":|")
        elif bar.marks.ending_stops:
            words.append("||")
    if words[-1] not in _CLOSED:
        words.append("||" if last else "|")
    return " ".join(word for word in words if word)


def _left(bar: WrittenBar, *, after: str) -> str:
    """The bar line before a bar; none where the one before has said all."""
    sign = "|:" if bar.marks.forward else "|"
    ending = ",".join(map(str, bar.marks.ending))
    return "" if after in _CLOSED and sign + ending == "|" else sign + ending


def _cells_of(bar: WrittenBar) -> list[str]:
    """One cell a pulse, or a finer one where chords stand between pulses."""
    beats = _cell_beats(bar)
    cells = ["."] * int(bar.meter.bar_beats / beats)
    for chord in bar.chords:
        cells[min(round(chord.at / beats), len(cells) - 1)] = chord.symbol.ascii
    return cells


def _cell_beats(bar: WrittenBar) -> Fraction:
    """The largest cell that has all chords on its beat, at least a quarter of a pulse."""
    pulse = bar.meter.pulse_beats
    parts = (1, 3, 6) if bar.meter.compound else (1, 2, 4)
    sizes = [pulse / part for part in parts if bar.meter.bar_beats * part / pulse <= MAX_CELLS]
    fits = (size for size in sizes if all((c.at / size).denominator == 1 for c in bar.chords))
    return next(fits, sizes[-1] if sizes else pulse)


def chordpro_losses(sheet: LeadSheet) -> tuple[str, ...]:
    """What `write_chordpro` cannot keep, in words."""
    bars = _kept(sheet)
    signs = ("segno", "coda", "to_coda", "fine", "da_capo", "dal_segno")
    off = [b.number for b in bars if any((c.at / _cell_beats(b)).denominator > 1 for c in b.chords)]
    names = [sheet.title, *(bar.section for bar in bars if bar.section)]
    found = {
        "braces and double quotes in names": any(_plain(name) != name for name in names),
        "the melody": sheet.has_melody,
        "the pickup": _is_pickup(sheet),
        "the feel": sheet.feel is not None,
        "jumps and their signs": any(getattr(b.marks, sign) for b in bars for sign in signs),
        "repeats of more than two times": any(b.marks.backward > 2 for b in bars),
        "endings for several times, written |1,2": any(len(b.marks.ending) > 1 for b in bars),
        "how the beats are grouped": any(b.meter.grouping for b in bars),
        "bars shorter than their metre": any(b.short for b in bars),
        f"off-beat places, moved to the nearest cell: bars {', '.join(off[:8])}": bool(off),
    }
    return tuple(words for words, lost in found.items() if lost)
