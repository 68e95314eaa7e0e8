r"""What does a tune in ABC notation say: its chords, its melody, its order?

Conventions
-----------
- A quoted text that reads as a chord symbol from end to end is a chord; all else that is
  quoted is text: *D.C.*, *D.S.*, *Fine*, *Coda* become marks, the rest notices.
- A chord stands at the note or rest that follows it; several before one note share it.
- A small letter alone is a bass under the chord before. One collection writes sharps in
  basses as plus signs (``D/f+``), with ``Ca`` for augmented and ``Cd`` for diminished;
  the option ``plus_is_sharp`` turns that on, and is found out where it is not given.
- A bar is as long as its notes. An upbeat inside the tune completes the bar before it,
  and a repeat that would begin with it begins after it.
- A play order in the header (``P:AABAB``) is written out. Where it names a part twice in
  a row, it counts the repeats already, and those around whole parts are not added to it.
- An accidental holds to the bar's end in all octaves, and across a tie.
- Only the first voice is read; lyrics, grace notes and ornaments are left out.
- ``Q:120`` without a note value counts unit notes.

Source: The ABC music standard 2.1; the plus signs are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import groupby
from pathlib import Path

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Meter, parse_meter
from halfstep.pitch import LETTERS, Name, Pitch, parse_name
from halfstep.progression.chart import ChordAt, Feel
from halfstep.progression.form import MAX_BARS
from halfstep.progression.key import Key
from halfstep.progression.sheet import LeadSheet, Marks, SheetNote, WrittenBar
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from halfstep.progression.text import (
    MAX_CHORDS_IN_BAR,
    MAX_TEXT_BYTES,
    UNTITLED,
    plain_title,
    shares_of_bar,
)
from halfstep.progression.textfile import read_text_file

_MAX_NOTICES = 20
_MAX_PASS = 99
_MAX_IN_BAR = 500
_MAX_NOTES = 20_000
_SHORTEST = 128  # the largest number below a slash
_FIELD = re.compile(r"\s*([A-Za-z+]):(?![|:])(.*)")
_CODE = re.compile(r'(?:"[^"]*"|\\.|[^%])*')
_QUOTED = re.compile(r'"([^"\n]*)"')
_LENGTH = r"\d{0,3}/{0,6}\d{0,3}"
_TOKEN = re.compile(
    rf"""
      (?P<field>    \[[A-Za-z]:[^\]]*\] )
    | (?P<quote>    "[^"]*" )
    | (?P<bar>      (?: :*\[?\|[|\]]*:* | ::+ ) (?:\d[\d,.\-]*)? )
    | (?P<volta>    \[\d[\d,.\-]* )
    | (?P<tuplet>   \([2-9](?::\d?(?::\d{{0,2}})?)? )
    | (?P<note>     (?:\^\^?|__?|=)?[A-Ga-g][,']{{0,3}}{_LENGTH} )
    | (?P<rest>     [zx]{_LENGTH} )
    | (?P<measures> [ZX]\d{{0,4}} )
    | (?P<stack>    \[(?:"[^"]*"|[^\]"|])*\]{_LENGTH} )
    | (?P<grace>    \{{[^}}]*\}} )
    | (?P<broken>   >{{1,3}} | <{{1,3}} )
    | (?P<tie>      - )
    | (?P<overlay>  & )
    | (?P<decoration> ![^!"|]{{1,40}}! | \+[A-Za-z0-9.()<>]{{1,20}}\+ )
    | (?P<sign>     [~.H-Yh-wy]\d* )
    | (?P<skip>     [\s`\\)*$;?@]+ | [(!] )
    """,
    re.VERBOSE,
)
_NOTE = re.compile(
    rf"(?P<accidental>\^\^?|__?|=)?(?P<letter>[A-Ga-g])(?P<octave>[,']{{0,3}})(?P<length>{_LENGTH})"
)
_ACCIDENTALS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}
_SIGNS = {alteration: sign for sign, alteration in _ACCIDENTALS.items()}
_ORDER_OF_SHARPS = "FCGDAEB"
_MODES = {"": 0, "maj": 0, "ion": 0, "m": -3, "min": -3, "aeo": -3}
_MODES |= {"mix": -1, "dor": -2, "phr": -4, "loc": -5, "lyd": 1}
"""Fifths from the major signature of the tonic to that of the mode."""

_CHURCH = {"ion": "ionian", "aeo": "aeolian", "mix": "mixolydian", "dor": "dorian"}
_CHURCH |= {"phr": "phrygian", "loc": "locrian", "lyd": "lydian"}
_TUPLET_TIME = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
"""Notes in the time of how many, where the tune does not say."""

_WORDS = {
    "da_capo": re.compile(r"\bD\.?\s*C\b|\bda capo\b", re.IGNORECASE),
    "dal_segno": re.compile(r"\bD\.?\s*S\b|\bdal segno\b", re.IGNORECASE),
    "to_coda": re.compile(r"\W*to coda\W*", re.IGNORECASE),
    "fine": re.compile(r"\W*fine\W*", re.IGNORECASE),
    "coda": re.compile(r"\W*coda\W*", re.IGNORECASE),
    "segno": re.compile(r"\W*segno\W*", re.IGNORECASE),
}
_DECORATIONS = {
    "segno": "segno", "s": "segno", "coda": "coda", "o": "coda", "fine": "fine",
    "dacoda": "to_coda", "tocoda": "to_coda",
    "dc": "da_capo", "dacapo": "da_capo", "dcalfine": "da_capo", "dcalcoda": "da_capo",
    "ds": "dal_segno", "dsalfine": "dal_segno", "dsalcoda": "dal_segno",
}  # fmt: skip
_AT_THE_START = {"segno", "coda"}
_PLUS_BASS = re.compile(r'"[^"\n]*/[A-Ga-g]\+"|"[a-g]/?\+"')
_BASS = re.compile(r"(?P<chord>[A-G].*)/(?P<bass>[A-Ga-g])(?P<sign>bb|##|[b#+=♭♯]?)")
_BASS_ALONE = re.compile(r"(?P<bass>[a-g])/?(?P<sign>bb|##|[b#+=♭♯]?)")
_SHORT_QUALITY = re.compile(r"([A-G][b#]?)([ad])(7?)")


@dataclass(frozen=True, slots=True)
class _Tune:
    """The lines of one tune, comments taken out, with their numbers in the file."""

    number: int | None
    lines: tuple[tuple[int, str], ...]

    @property
    def title(self) -> str:
        """The first title, as written."""
        return next((text[2:].strip() for _, text in self.lines if text.startswith("T:")), "")


def read_abc(path: Path) -> LeadSheet:
    """Read the first tune with chords of an ABC file.

    Raises
    ------
    ReadError
        When the file cannot be read, is larger than 1 MB, or holds no tune with chords.
    """
    text, notices = read_text_file(path)
    sheet = read_abc_text(text, source=path.name)
    return replace(sheet, notices=notices + sheet.notices)


def read_abc_text(
    text: str, *, source: str = "", tune: int | None = None, plus_is_sharp: bool | None = None
) -> LeadSheet:
    r"""Read a tune in ABC notation.

    Parameters
    ----------
    text : str
    source : str, optional
        A name for the text, used in errors.
    tune : int, optional
        The number in the tune's ``X:`` field; without it the first tune that has chords.
    plus_is_sharp : bool, optional
        Basses write sharps as plus signs, and ``Ca`` and ``Cd`` are augmented and
        diminished; without it, true where a bass is written like that.

    Raises
    ------
    ReadError

    Examples
    --------
    >>> sheet = read_abc_text('X:1\nM:4/4\nL:1/4\nK:C\n"Dm7"d2 "G7"g2|"C"c4|]')
    >>> [(str(c.symbol), str(c.at)) for bar in sheet.bars for c in bar.chords]
    [('Dm7', '0'), ('G7', '2'), ('C', '0')]
    """
    try:
        if len(text.encode(errors="replace")) > MAX_TEXT_BYTES:
            raise ReadError("the text is longer than 1 MB; give one tune")
        plus = bool(_PLUS_BASS.search(text)) if plus_is_sharp is None else plus_is_sharp
        tunes = _tunes(text)
        chosen = _chosen(tunes, tune, plus=plus)
        sheet = _Reader(chosen, plus).sheet()
    except ReadError as error:
        raise error.at(source=source) from None
    if len(tunes) == 1:
        return sheet
    said = f"the file holds {len(tunes)} tunes; this is {sheet.title!r}"
    return replace(sheet, notices=(said, *sheet.notices))


def _tunes(text: str) -> list[_Tune]:
    """The tunes of a file; each has the fields that stand before the first."""
    lines = list(_code_lines(text))
    starts = [place for place, (_, line) in enumerate(lines) if line.startswith("X:")]
    if not starts:
        whole = tuple(line for line in lines if line[1])
        if not any(line.startswith("K:") for _, line in whole):
            raise ReadError("this is no ABC notation; a tune begins with X: and a key K:")
        return [_Tune(None, whole)]
    shared = tuple(line for line in lines[: starts[0]] if re.match(r"[MLQR]:", line[1]))
    tunes: list[_Tune] = []
    for start, end in zip(starts, [*starts[1:], len(lines)], strict=True):
        own = lines[start:end]
        blank = next((n for n, (_, line) in enumerate(own) if not line), len(own))
        number = re.match(r"X:\s*(\d{1,9})", own[0][1])
        tunes.append(_Tune(int(number[1]) if number else None, (*shared, *own[:blank])))
    return tunes


def _code_lines(text: str) -> Iterator[tuple[int, str]]:
    """Numbered lines without comments; a line that was only a comment is left out."""
    skipping = False
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith("%"):
            skipping = line.startswith("%%begin") or (skipping and not line.startswith("%%end"))
            continue
        if not skipping:
            found = _CODE.match(line)
            yield number, found[0].rstrip() if found else ""


def _chosen(tunes: Sequence[_Tune], number: int | None, *, plus: bool) -> _Tune:
    if number is None:
        found = next((tune for tune in tunes if _has_chords(tune, plus=plus)), None)
        if found is None:
            raise ReadError('there is no tune with chords; they are written "Am7" before a note')
        return found
    for tune in tunes:
        if tune.number == number:
            return tune
    known = ", ".join(str(tune.number) for tune in tunes[:20])
    raise ReadError(f"there is no tune {number}; the file has {known}")


def _has_chords(tune: _Tune, *, plus: bool) -> bool:
    quoted = (text for _, line in tune.lines for text in _QUOTED.findall(line))
    return any(_symbol_of(text, plus=plus) for text in quoted)


def _symbol_of(text: str, *, plus: bool) -> ChordSymbol | None:
    """The chord that a quoted text is from end to end, or None."""
    typed = text.strip()
    if typed.startswith("(") and typed.endswith(")"):
        typed = typed[1:-1]
    if len(typed) > 40:
        return None
    plain = typed
    if found := _BASS.fullmatch(plain):
        bass = _bass_name(found, plus=plus)
        plain = f"{found['chord']}/{bass.ascii}" if bass else plain
    if plus and (short := _SHORT_QUALITY.fullmatch(plain.partition("/")[0])):
        quality = {"a": "aug", "d": "dim"}[short[2]]
        plain = short[1] + quality + plain[len(short[1]) + 1 :]
    try:
        return replace(parse_symbol(plain), typed=typed)
    except ReadError:
        return None


def _bass_name(found: re.Match[str], *, plus: bool) -> Name | None:
    """A bass as a name; None where it is a plus sign that means nothing here."""
    sign = found["sign"].replace("=", "")
    if sign == "+" and not plus:
        return None
    return parse_name(found["bass"].upper() + sign.replace("+", "#"))


@dataclass(slots=True)
class _Bar:
    """The bar that is being read."""

    meter: Meter | None = None
    beats: Fraction = Fraction(0)
    events: int = 0
    chords: list[ChordAt] = field(default_factory=list)
    notes: list[SheetNote] = field(default_factory=list)
    altered: dict[str, int] = field(default_factory=dict)
    last: tuple[Fraction, bool] | None = None  # length of the last event; is it a note?


@dataclass(slots=True)
class _Reader:
    """Reads one tune, line by line and sign by sign."""

    tune: _Tune
    plus: bool
    title: str = ""
    meter: Meter = field(default_factory=Meter)
    unit: Fraction | None = None
    key: Key | None = None
    tempo: str = ""
    feel: Feel | None = None
    order: str = ""
    in_body: bool = False
    signature: dict[str, int] = field(default_factory=dict)
    voice: str | None = None
    muted: bool = False
    overlaid: bool = False
    bar: _Bar = field(default_factory=_Bar)
    bars: list[WrittenBar] = field(default_factory=list)
    parts: list[tuple[str, int]] = field(default_factory=list)
    pending: list[ChordSymbol] = field(default_factory=list)
    sounding: ChordSymbol | None = None
    marks: set[str] = field(default_factory=set)
    forward: bool = False
    ending: tuple[int, ...] = ()
    ending_open: bool = False
    section: str = ""
    tuplet: tuple[Fraction, int] = (Fraction(1), 0)
    broken: Fraction = Fraction(1)
    events: int = 0
    tied: Pitch | None = None
    unknown: set[str] = field(default_factory=set)
    notices: list[str] = field(default_factory=list)

    def sheet(self) -> LeadSheet:
        """The tune as a lead sheet."""
        for number, line in self.tune.lines:
            try:
                self._take_line(line)
            except ReadError as error:
                raise error.at(line=number) from None
        self._finish()
        if not any(bar.chords for bar in self.bars):
            raise ReadError('the tune has no chords; they are written "Am7" before a note')
        bars = _numbered(_upbeats_set_apart(_irregular(self._in_order()), self.notices))
        return LeadSheet(
            plain_title(re.sub(r"\\([\\%&])", r"\1", self.title)) if self.title else UNTITLED,
            _ties_that_hold(bars),
            self.key,
            self._tempo_bpm(bars[0].meter),
            self.feel,
            self._all_notices(),
        )

    def _all_notices(self) -> tuple[str, ...]:
        if self.unknown:
            signs = " ".join(sorted(self.unknown)[:10])
            self.notices.append(f"signs that are not ABC were left out: {signs}")
        said = list(dict.fromkeys(self.notices))
        if len(said) > _MAX_NOTICES:
            said = [*said[:_MAX_NOTICES], f"and {len(said) - _MAX_NOTICES} more notices"]
        return tuple(said)

    def _take_line(self, line: str) -> None:
        found = _FIELD.fullmatch(line)
        if found:
            self._take_field(found[1], found[2].strip(), column=found.start(2) + 1)
        elif self.in_body:
            self._take_music(line)
        elif "|" in line:
            self.notices.append("the tune states no key")
            self.in_body = True
            self._take_music(line)

    # Fields

    def _take_field(self, name: str, value: str, *, column: int) -> None:
        takers: dict[str, Callable[[str], None]] = {
            "T": self._take_title, "M": self._take_meter, "L": self._take_unit,
            "Q": self._take_tempo, "K": self._take_key, "P": self._take_part,
            "V": self._take_voice, "R": self._take_rhythm, "Y": self._take_order,
        }  # fmt: skip
        taker = takers.get(name)
        if taker is None or (self.muted and name != "V"):
            return
        try:
            taker(value)
        except ReadError as error:
            raise ReadError(error.message, line=error.line, column=column) from None

    def _take_title(self, value: str) -> None:
        self.title = self.title or value

    def _take_meter(self, value: str) -> None:
        plain = {"C": "4/4", "C|": "2/2"}.get(value, value)
        if plain.lower() in {"none", ""}:
            self.notices.append("the tune has no metre; its bars are as long as their notes")
            return
        found = re.fullmatch(r"\(?\s*([\d+\s]{1,30}?)\s*\)?\s*/\s*(\d{1,2})", plain)
        if not found:
            raise ReadError(f"{value!r} is no metre; write it like M:4/4 or M:6/8")
        groups = found[1].replace(" ", "").split("+")
        count = sum(int(group or 0) for group in groups)
        grouping = " " + "+".join(groups) if len(groups) > 1 else ""
        self.meter = parse_meter(f"{count}/{found[2]}{grouping}")

    def _take_unit(self, value: str) -> None:
        found = re.fullmatch(r"(\d{1,2})(?:/(\d{1,3}))?", value)
        bottom = int(found[2] or 1) if found else 0
        if not found or not int(found[1]) or bottom not in {1, 2, 4, 8, 16, 32, 64, 128}:
            raise ReadError(f"{value!r} is no unit note length; write it like L:1/8")
        self.unit = Fraction(4 * int(found[1]), bottom)

    def _unit_beats(self) -> Fraction:
        """The length of a note without a number, in quarter notes."""
        if self.unit is None:
            small = self.meter.bar_beats < 3
            self.unit = Fraction(1, 4) if small else Fraction(1, 2)
        return self.unit

    def _take_tempo(self, value: str) -> None:
        self._feel_from(value)
        if self.tempo and value:
            self.notices.append("the tempo changes; the first is kept")
        self.tempo = self.tempo or value

    def _tempo_bpm(self, meter: Meter) -> float | None:
        """The tempo field in pulses a minute."""
        plain = re.sub(r'"[^"]*"', "", self.tempo).strip()
        if not plain:
            return None
        found = re.fullmatch(r"(?:([\d/\s]{1,40}|C\d?)\s*=\s*)?(\d{1,4}(?:\.\d{1,3})?)", plain)
        lengths = re.findall(r"(\d{1,2})/(\d{1,2})", found[1] or "") if found else []
        if not found or any(not int(bottom) for _, bottom in lengths):
            self.notices.append(f"the tempo {plain[:40]!r} is not understood; left out")
            return None
        beats = sum((Fraction(4 * int(t), int(b)) for t, b in lengths), Fraction(0))
        quarters = float(found[2]) * float(beats or self._unit_beats())
        tempo_bpm = quarters / float(meter.tempo_beats)
        if SLOWEST_BPM <= tempo_bpm <= FASTEST_BPM:
            return round(tempo_bpm, 3)
        self.notices.append(
            f"the tempo {tempo_bpm:g} is not from {SLOWEST_BPM} to {FASTEST_BPM}; left out"
        )
        return None

    def _take_rhythm(self, value: str) -> None:
        self._feel_from(value)

    def _feel_from(self, text: str) -> None:
        if re.search(r"\bsw(?:ing|ung)\b|\bshuffle\b", text, re.IGNORECASE):
            self.feel = Feel.SWING
        elif re.search(r"\bstraight\b", text, re.IGNORECASE):
            self.feel = Feel.STRAIGHT

    def _take_key(self, value: str) -> None:
        words = [word for word in value.split() if "=" not in word or word.startswith("=")]
        found = re.fullmatch(r"([A-G])([#b♯♭]?)([A-Za-z]*)", words[0]) if words else None
        pipes = bool(words) and words[0].lower() == "hp"
        if found:
            key, fifths = self._mode(found, words[1] if len(words) > 1 else "")
        else:
            key, fifths = None, 2 if pipes else 0
        clears = bool(found) or pipes or "none" in words or not self.in_body
        if clears:
            self.signature = _signature(0 if "exp" in words else fifths)
        changed = [re.fullmatch(r"(\^\^?|__?|=)([a-gA-G])", word) for word in words]
        for sign in filter(None, changed):
            self.signature[sign[2].upper()] = _ACCIDENTALS[sign[1]]
        if self.in_body and clears:
            self.notices.append("the key changes in the tune; the first is stated")
        elif not self.in_body:
            self.key, self.in_body = key, True

    def _mode(self, found: re.Match[str], following: str) -> tuple[Key | None, int]:
        """The key with the nearest of our two modes, and the fifths of its signature."""
        word = (found[3] or following).lower()
        mode = "m" if word in {"m", "min", "minor"} else word[:3]
        if mode not in _MODES:
            if found[3]:
                self.notices.append(f"the mode {found[3][:20]!r} is not known; read as major")
            mode = ""
        fifths = parse_name(found[1] + found[2]).fifths + _MODES[mode]
        key = Key(parse_name(found[1] + found[2]), _MODES[mode] < -1)
        if mode in _CHURCH:
            self.notices.append(f"the key is {key.tonic} {_CHURCH[mode]}")
        if abs(key.fifths) > 7 or abs(fifths) > 14:
            self.notices.append(f"{key} would need {key.signature}; no key is stated")
            return None, max(-14, min(14, fifths))
        return key, fifths

    def _take_part(self, value: str) -> None:
        if not self.in_body:
            self._take_order(value)
            return
        self._close_bar()
        self._stop_ending()
        self.section = plain_title(re.sub(r"\\([\\%&])", r"\1", value)) if value else ""
        self.parts.append((self.section, len(self.bars)))

    def _take_order(self, value: str) -> None:
        if re.fullmatch(r"[A-Z().\d\s]{2,400}", value) and not self.order:
            self.order = value

    def _take_voice(self, value: str) -> None:
        name = value.split()[0] if value.split() else ""
        if self.voice is None:
            self.voice = name
        if self.in_body:
            self.muted = name not in {self.voice, "*"}
        if name != self.voice:
            self.notices.append("only the first voice is read")

    # Music

    def _take_music(self, line: str) -> None:
        place = 0
        while place < len(line):
            found = _TOKEN.match(line, place)
            try:
                if found is None:
                    self._take_unknown(line[place])
                else:
                    self._take_token(found)
            except ReadError as error:
                raise ReadError(error.message, column=error.column or place + 1) from None
            place = found.end() if found else place + 1

    def _take_unknown(self, sign: str) -> None:
        if self.muted:
            return
        closes = {'"': '"', "{": "}", "[": "]"}.get(sign)
        if closes:
            raise ReadError(f"{sign} is not closed by {closes} on its line")
        self.unknown.add(sign)

    def _take_token(self, found: re.Match[str]) -> None:
        kind, text = str(found.lastgroup), found[0]
        if kind == "field":
            self._take_field(text[1], text[3:-1].strip(), column=found.start() + 4)
        elif not self.muted and (not self.overlaid or kind in {"bar", "volta"}):
            taker = getattr(self, f"_take_{kind}", None)
            if taker is not None:
                taker(text)

    def _take_overlay(self, _text: str) -> None:
        self.overlaid = True
        self.notices.append("a second line in the same voice is left out")

    def _take_quote(self, text: str) -> None:
        words = text[1:-1].strip()
        if not words:
            return
        symbol = None if words[0] in "^_<>@" else _symbol_of(words, plus=self.plus)
        alone = _BASS_ALONE.fullmatch(words)
        if symbol is None and alone and self.sounding and not self.sounding.silent:
            symbol = self._over_bass(alone)
        if symbol is None:
            self._take_words(words.lstrip("^_<>@").strip())
            return
        if len(self.pending) >= MAX_CHORDS_IN_BAR:
            raise ReadError(f"more than {MAX_CHORDS_IN_BAR} chords before one note")
        self.notices += symbol.notices
        self.pending.append(symbol)
        self.sounding = symbol

    def _over_bass(self, alone: re.Match[str]) -> ChordSymbol | None:
        """The chord before over a bass; at the same place it takes that chord's place."""
        bass = _bass_name(alone, plus=self.plus)
        if bass is None or self.sounding is None:
            return None
        if self.pending:
            self.pending.pop()
        under = replace(self.sounding, bass=None if bass == self.sounding.root else bass)
        return replace(under, typed=under.ascii)

    def _take_words(self, words: str) -> None:
        if not words:
            return
        met = [
            name
            for name, pattern in _WORDS.items()
            if (pattern.search(words) if name.startswith("da") else pattern.fullmatch(words))
        ]
        self.marks.update(met)
        if not met:
            said = " ".join(words[:60].split())
            self.notices.append(f"text in bar {len(self.bars) + 1}: {said!r}")

    def _take_decoration(self, text: str) -> None:
        mark = _DECORATIONS.get(re.sub(r"[^a-z]", "", text.lower()))
        if mark:
            self.marks.add(mark)

    def _take_sign(self, text: str) -> None:
        if text in {"S", "O"}:
            self._take_decoration(text)

    def _take_tuplet(self, text: str) -> None:
        numbers = [int(n) if n else 0 for n in text[1:].split(":")] + [0, 0]
        notes = numbers[0]
        time = numbers[1] or _TUPLET_TIME.get(notes) or (3 if self.meter.compound else 2)
        self.tuplet = Fraction(time, notes), numbers[2] or notes

    def _take_broken(self, text: str) -> None:
        if self.bar.last is None:
            return
        beats, is_note = self.bar.last
        short = Fraction(1, 2 ** len(text))
        before, self.broken = (2 - short, short) if text[0] == ">" else (short, 2 - short)
        self.bar.beats += beats * (before - 1)
        if is_note:
            self.bar.notes[-1] = replace(self.bar.notes[-1], beats=beats * before)
        self.bar.last = None

    def _take_note(self, text: str) -> None:
        found = _NOTE.fullmatch(text)
        if found:
            self._add(self._pitch(found), self._beats(found["length"]))

    def _take_rest(self, text: str) -> None:
        self._add(None, self._beats(text[1:]))

    def _take_stack(self, text: str) -> None:
        inner, _, length = text[1:].rpartition("]")
        for quoted in _QUOTED.finditer(inner):
            self._take_quote(quoted[0])
        plain = re.sub(r'"[^"]*"|![^!]*!', "", inner)
        notes = list(_NOTE.finditer(plain))
        if not notes:
            return
        tied = self.tied
        pitches = []
        for note in notes:
            self.tied = tied
            pitches.append(self._pitch(note))
        beats = self._beats(notes[0]["length"]) * self._beats(length) / self._unit_beats()
        self._add(max(pitches, key=lambda pitch: pitch.midi), beats)
        if "-" in plain:
            self._take_tie("-")

    def _take_tie(self, _text: str) -> None:
        if self.bar.notes:
            self.bar.notes[-1] = replace(self.bar.notes[-1], tied=True)
            self.tied = self.bar.notes[-1].pitch

    def _take_measures(self, text: str) -> None:
        for _ in range(int(text[1:] or 1)):
            if self.bar.beats:
                self._close_bar()
            self._place(self.meter.bar_beats)

    def _pitch(self, found: re.Match[str]) -> Pitch:
        letter = found["letter"].upper()
        octave = 4 + found["letter"].islower()
        octave += found["octave"].count("'") - found["octave"].count(",")
        if found["accidental"]:
            self.bar.altered[letter] = _ACCIDENTALS[found["accidental"]]
        tied, self.tied = self.tied, None
        alteration = self.bar.altered.get(letter, self.signature.get(letter, 0))
        if tied and not found["accidental"]:
            if (LETTERS[tied.name.letter], tied.octave) == (letter, octave):
                alteration = tied.name.alteration
        return Pitch(Name(LETTERS.index(letter), alteration), octave)

    def _beats(self, length: str) -> Fraction:
        """A note length such as ``3/2`` or ``//`` in quarter notes."""
        top, slash, bottom = length.partition("/")
        if not slash:
            return self._unit_beats() * int(top or 1)
        slashes = 1 + bottom.count("/")
        number = bottom.strip("/")
        below = int(number) if number else 2**slashes
        if not 1 <= below <= _SHORTEST:
            raise ReadError(f"{length!r} is no note length; write it like 2, 3/2 or /2")
        return self._unit_beats() * Fraction(int(top or 1), below)

    def _add(self, pitch: Pitch | None, beats: Fraction) -> None:
        """A note, or a rest where there is no pitch."""
        factor, left = self.tuplet
        if left:
            beats *= factor
            self.tuplet = factor, left - 1
        beats *= self.broken
        self.broken = Fraction(1)
        if not beats:
            return
        if pitch:
            self.bar.notes.append(SheetNote(self.bar.beats, beats, pitch))
        else:
            self.tied = None
        self._place(beats)
        self.bar.last = beats, pitch is not None

    def _place(self, beats: Fraction) -> None:
        """Go on by ``beats``; the chords that wait begin there and share them."""
        self.bar.meter = self.bar.meter or self.meter
        self.bar.events += 1
        self.events += 1
        if self.bar.events > _MAX_IN_BAR:
            raise ReadError(f"more than {_MAX_IN_BAR} notes in a bar; set bar lines")
        if self.events > _MAX_NOTES:
            raise ReadError(f"more than {_MAX_NOTES} notes; make the tune shorter")
        if len(self.pending) > 1:
            said = f"bar {len(self.bars) + 1}: {len(self.pending)} chords share one note"
            self.notices.append(said)
        for turn, symbol in enumerate(self.pending):
            at = self.bar.beats + beats * turn / len(self.pending)
            self.bar.chords.append(ChordAt(symbol, at))
        self.pending = []
        self.bar.beats += beats

    # Bars

    def _take_bar(self, text: str) -> None:
        found = re.match(r"(:*)([^:\d]*)(:*)(.*)", text)
        left, line, right, passes = found.groups() if found else ("", "", "", "")
        if not line:  # a run of colons closes and opens
            left, right = ":", ":"
        self._close_bar()
        self._settle_marks()
        if left:
            self._end_repeat(len(left) + 1)
        if left or right or len(line) > 1:
            self._stop_ending()
        self.forward = self.forward or bool(right)
        if passes:
            self._begin_ending(passes)

    def _take_volta(self, text: str) -> None:
        self._close_bar()
        self._begin_ending(text[1:])

    def _end_repeat(self, times: int) -> None:
        if not self.bars:
            self.notices.append("a repeat ends before the first bar; left out")
            return
        if times > _MAX_PASS:
            raise ReadError(f"a passage cannot be played {times} times")
        self._mark_last(backward=times)

    def _begin_ending(self, text: str) -> None:
        self._stop_ending()
        passes: set[int] = set()
        for piece in re.split(r"[,.]", text):
            first, _, last = piece.partition("-")
            if first or last:
                low = min(int(first or last), _MAX_PASS)
                passes.update(range(low, min(int(last or low), _MAX_PASS) + 1))
        self.ending = tuple(sorted(passes - {0}))
        self.ending_open = bool(self.ending)

    def _stop_ending(self) -> None:
        if self.ending_open and self.bars and not self.ending:
            self._mark_last(ending_stops=True)
            self.ending_open = False

    def _mark_last(self, **changes: bool | int) -> None:
        marks = replace(self.bars[-1].marks, **changes)  # type: ignore[arg-type]
        self.bars[-1] = replace(self.bars[-1], marks=marks)

    def _settle_marks(self) -> None:
        """Marks that end a passage and stand after its last bar line."""
        late = self.marks - _AT_THE_START
        if late and self.bars and not self.bar.beats:
            self._mark_last(**dict.fromkeys(late, True))
            self.marks -= late

    def _close_bar(self) -> None:
        """End the bar, if there is one."""
        self.overlaid = False
        bar = self.bar
        if not bar.beats and not self.pending:
            self.bar = _Bar()
            return
        if len(self.bars) >= MAX_BARS:
            raise ReadError(f"more than {MAX_BARS} bars; make the tune shorter")
        meter = bar.meter or self.meter
        if not bar.beats:
            bar.chords = _shared(self.pending, meter)
            self.pending = []
        elif self.pending and bar.beats < meter.bar_beats:
            bar.chords.append(ChordAt(self.pending.pop(), bar.beats))
        marks = Marks(forward=self.forward, ending=self.ending, **dict.fromkeys(self.marks, True))
        number = str(len(self.bars) + 1)
        self.bars.append(
            WrittenBar(
                number,
                meter,
                bar.beats,
                tuple(bar.chords),
                marks,
                section=self.section,
                notes=tuple(bar.notes),
            )
        )
        self.bar, self.marks, self.section = _Bar(), set(), ""
        self.forward, self.ending = False, ()

    def _finish(self) -> None:
        self._close_bar()
        self.pending = []
        self._settle_marks()
        self._stop_ending()

    # Order

    def _in_order(self) -> list[WrittenBar]:
        """The bars in the order that the header gives to the parts."""
        ends = [*(start for _, start in self.parts), len(self.bars)][1:]
        parts: dict[str, list[WrittenBar]] = {}
        for (label, start), end in zip(self.parts, ends, strict=True):
            parts.setdefault(label, self.bars[start:end])
        labels = _expanded(self.order) if self.order else []
        known = [label for label in labels if parts.get(label)]
        if not known:
            return self.bars
        self.notices.append(f"the parts are written out in the order {' '.join(labels)[:80]}")
        missing = sorted(set(labels) - set(known))
        if missing:
            self.notices.append(f"the tune has no part {', '.join(missing)}")
        runs = [(label, len(list(group))) for label, group in groupby(known)]
        counted = any(times > 1 for _, times in runs)
        written = self.bars[: self.parts[0][1]]
        for label, times in runs:
            written += _repeated(parts[label], times, counted=counted)
            if len(written) > MAX_BARS:
                raise ReadError(f"the play order makes more than {MAX_BARS} bars")
        return written


def _signature(fifths: int) -> dict[str, int]:
    """The alteration of each letter."""
    return {letter: (fifths + 6 - n) // 7 for n, letter in enumerate(_ORDER_OF_SHARPS)}


def _shared(symbols: Sequence[ChordSymbol], meter: Meter) -> list[ChordAt]:
    """Chords of a bar without notes."""
    shares, _ = shares_of_bar(meter, len(symbols))
    return [ChordAt(s, sum(shares[:n], Fraction(0))) for n, s in enumerate(symbols)]


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
    bars[0] = replace(bars[0], marks=replace(bars[0].marks, forward=times > 1))
    backward = times if times > 1 else 0
    bars[-1] = replace(bars[-1], marks=replace(bars[-1].marks, backward=backward))
    return bars


def _irregular(bars: Sequence[WrittenBar]) -> list[WrittenBar]:
    """Bars with a word on which of them need not be whole.

    The first may be a pickup; where the music goes back, the rest of the bar is there.
    """
    last = len(bars) - 1
    return [
        replace(bar, irregular=bar.short and 0 < place < last and not _goes_back(bar.marks))
        for place, bar in enumerate(bars)
    ]


def _goes_back(marks: Marks) -> bool:
    return bool(marks.backward or marks.da_capo or marks.dal_segno)


def _upbeats_set_apart(bars: list[WrittenBar], notices: list[str]) -> list[WrittenBar]:
    """Repeats that begin after their upbeat: the bar that goes back has room for it."""
    for place in range(1, len(bars) - 1):
        bar = bars[place]
        unopened = bars[place - 1].marks.backward and _closes_next(bars, place)
        if not bar.irregular or not (bar.marks.forward or unopened):
            continue
        bars[place] = replace(bar, marks=replace(bar.marks, forward=False))
        following = bars[place + 1]
        marks = replace(following.marks, forward=True)
        bars[place + 1] = replace(following, marks=marks)
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
            numbered.append(replace(bar, number="0"))
        elif half and not (place == 1 and _is_pickup(bars)):
            numbered.append(replace(bar, number=f"X{place}"))
        else:
            half = False
            numbered.append(replace(bar, number=str(number)))
            number += 1
    return numbered


def _is_pickup(bars: Sequence[WrittenBar]) -> bool:
    if len(bars) < 2 or not bars[0].short:
        return False
    one, two = bars[0], bars[1]
    return not (two.irregular and one.beats + two.beats == one.meter.bar_beats)


def _ties_that_hold(bars: Sequence[WrittenBar]) -> tuple[WrittenBar, ...]:
    """Bars whose ties lead to the same pitch, at once."""
    followers = [bar.notes[0] if bar.notes else None for bar in bars[1:]]
    tied: list[WrittenBar] = []
    for bar, following in zip(bars, [*followers, None], strict=True):
        last = len(bar.notes) - 1
        notes = tuple(
            replace(note, tied=note.tied and _holds(note, other, bar, across=place == last))
            for place, (note, other) in enumerate(
                zip(bar.notes, [*bar.notes[1:], following], strict=False)
            )
        )
        tied.append(replace(bar, notes=notes))
    return tuple(tied)


def _holds(note: SheetNote, other: SheetNote | None, bar: WrittenBar, *, across: bool) -> bool:
    """True where ``other`` goes on with the note, in this bar or the next."""
    if other is None or other.pitch != note.pitch:
        return False
    end = note.at + note.beats
    return (end == bar.beats and other.at == 0) if across else other.at == end


# Writing


def write_abc(sheet: LeadSheet) -> str:
    r"""A lead sheet as a tune in ABC notation 2.1, which `read_abc_text` reads back.

    Examples
    --------
    >>> print(write_abc(read_abc_text('X:1\nT:Air\nM:4/4\nL:1/4\nK:G\n"G"g3 ^g|"D7"a4|]')))
    X:1
    T:Air
    M:4/4
    L:1/8
    K:G
    "G"g6 ^g2 | "D7"a8 |]
    <BLANKLINE>
    """
    first = sheet.bars[0].meter if sheet.bars else Meter()
    lines = ["X:1", *_header(sheet, first)]
    fifths = sheet.key.fifths if sheet.key else 0
    filler = "z" if sheet.has_melody else "x"
    row: list[str] = []
    for place, bar in enumerate(sheet.bars):
        before = sheet.bars[place - 1] if place else None
        if bar.section or len(row) == 4:
            lines += [" ".join(row)] if row else []
            row = []
        if bar.section:
            lines.append(f"P:{_field_text(bar.section)}")
        meter = f"[M:{_meter_text(bar.meter)}]" if before and before.meter != bar.meter else ""
        body = _bar_text(_filled(sheet.bars, place), _signature(fifths), filler)
        row.append(_opening(bar.marks) + meter + body + " " + _closing(sheet.bars, place))
    return "\n".join([*lines, " ".join(row)]) + "\n"


def _header(sheet: LeadSheet, meter: Meter) -> Iterator[str]:
    if sheet.title:
        yield f"T:{_field_text(sheet.title)}"
    yield f"M:{_meter_text(meter)}"
    yield "L:1/8"
    if sheet.tempo_bpm is not None:
        pulse = meter.tempo_beats
        yield f"Q:{pulse / 4}={round(sheet.tempo_bpm, 3):g}"
    if sheet.feel:
        yield f"R:{sheet.feel.value}"
    yield f"K:{sheet.key.ascii if sheet.key else 'none'}"


def _field_text(text: str) -> str:
    return re.sub(r"([\\%])", r"\\\1", plain_title(text))


def _meter_text(meter: Meter) -> str:
    if meter.grouping:
        return f"({'+'.join(map(str, meter.grouping))})/{meter.unit}"
    return str(meter)


def _opening(marks: Marks) -> str:
    """What stands before the bar: repeat, ending, signs."""
    text = "|: " if marks.forward else ""
    if marks.ending:
        text += f"[{','.join(map(str, marks.ending))} "
    signs = {"!segno!": marks.segno, "!coda!": marks.coda}
    return text + "".join(sign for sign, is_set in signs.items() if is_set)


def _closing(bars: Sequence[WrittenBar], place: int) -> str:
    """What stands after the bar: the bar line, and the words that end a passage."""
    marks = bars[place].marks
    words = {
        "!dacoda!": marks.to_coda,
        "!fine!": marks.fine,
        "!D.C.!": marks.da_capo,
        "!D.S.!": marks.dal_segno,
    }
    text = "".join(word for word, is_set in words.items() if is_set)
    if marks.backward:
        return text + ":" * max(1, marks.backward - 1) + "|"
    if place == len(bars) - 1:
        return text + "|]"
    return text + ("||" if marks.ending_stops else "|")


def _filled(bars: Sequence[WrittenBar], place: int) -> WrittenBar:
    """The bar with the length to write: whole, unless the page says otherwise."""
    bar = bars[place]
    edge = place in {0, len(bars) - 1} or _goes_back(bar.marks)
    if bar.beats and (bar.irregular or edge or not bar.short):
        return bar
    return replace(bar, beats=bar.meter.bar_beats)


def _bar_text(bar: WrittenBar, signature: dict[str, int], filler: str) -> str:
    """Notes and rests with the chords that stand at them."""
    chords = {chord.at: chord.symbol for chord in bar.chords if chord.at < bar.beats}
    altered = dict(signature)
    words: list[str] = []
    for odd, group in groupby(_pieces(bar, list(chords)), key=lambda piece: _odd(piece.beats)):
        pieces = list(group)
        step = odd if odd > 1 else len(pieces)
        for start in range(0, len(pieces), step):
            words += _group_text(pieces[start : start + step], odd, chords, altered, filler)
    return " ".join(words)


@dataclass(frozen=True, slots=True)
class _Piece:
    """A note, or a rest where there is no pitch, that no chord begins inside of."""

    at: Fraction
    beats: Fraction
    pitch: Pitch | None = None
    tied: bool = False


def _pieces(bar: WrittenBar, cuts: Iterable[Fraction]) -> Iterator[_Piece]:
    """The bar without gaps, cut where a chord begins."""
    cuts = sorted(cuts)
    for piece in _events(bar):
        end = piece.at + piece.beats
        inner = [cut for cut in cuts if piece.at < cut < end]
        starts = [piece.at, *inner]
        for start, stop in zip(starts, [*inner, end], strict=True):
            tied = piece.pitch is not None and (piece.tied or stop < end)
            yield _Piece(start, stop - start, piece.pitch, tied)


def _events(bar: WrittenBar) -> Iterator[_Piece]:
    now = Fraction(0)
    for note in bar.notes:
        if now < note.at:
            yield _Piece(now, note.at - now)
        start = max(now, note.at)
        if start < note.at + note.beats:
            yield _Piece(start, note.at + note.beats - start, note.pitch, note.tied)
            now = note.at + note.beats
    if now < bar.beats:
        yield _Piece(now, bar.beats - now)


def _odd(beats: Fraction) -> int:
    """The odd part of a length's denominator: 3 for a triplet; 1 where it has no sign."""
    odd = beats.denominator
    while odd % 2 == 0:
        odd //= 2
    return odd if odd <= 9 else 1


def _group_text(
    pieces: Sequence[_Piece],
    odd: int,
    chords: dict[Fraction, ChordSymbol],
    altered: dict[str, int],
    filler: str,
) -> list[str]:
    """Notes of one kind; a tuplet is one word."""
    time = 1
    while 2 * time < odd:
        time *= 2
    words = []
    for piece in pieces:
        symbol = chords.get(piece.at)
        text = f'"{symbol.ascii}"' if symbol else ""
        text += _pitch_text(piece.pitch, altered) if piece.pitch else filler
        text += _length_text(piece.beats * odd / time if odd > 1 else piece.beats)
        words.append(text + ("-" if piece.tied else ""))
    if odd == 1:
        return words
    plain = odd == 3 and len(pieces) == 3
    sign = "(3" if plain else f"({odd}:{time}:{len(pieces)}"
    return [sign + "".join(words)]


def _pitch_text(pitch: Pitch, altered: dict[str, int]) -> str:
    """A note with its accidental where the bar so far does not say it."""
    letter = LETTERS[pitch.name.letter]
    sign = ""
    if altered.get(letter, 0) != pitch.name.alteration:
        altered[letter] = pitch.name.alteration
        sign = _SIGNS[max(-2, min(2, pitch.name.alteration))]
    octave = pitch.octave
    if octave >= 5:
        return sign + letter.lower() + "'" * (octave - 5)
    return sign + letter + "," * (4 - octave)


def _length_text(beats: Fraction) -> str:
    """A length in eighths, as it stands after a note."""
    units = beats * 2
    top = "" if units.numerator == 1 else str(units.numerator)
    return top if units.denominator == 1 else f"{top}/{units.denominator}"


def abc_losses(sheet: LeadSheet) -> tuple[str, ...]:
    """What ABC notation cannot hold of a sheet, in words."""
    losses: list[str] = []
    for bar in sheet.bars:
        cuts = [chord.at for chord in bar.chords]
        held = [n for n in bar.notes if any(n.at < cut < n.at + n.beats for cut in cuts)]
        if held:
            losses.append(
                f"bar {bar.number}: a note held over a change of chord, but as two tied notes"
            )
        if any(not 1 <= note.pitch.octave <= 8 for note in bar.notes):
            losses.append(f"bar {bar.number}: a note outside the octaves 1 to 8")
        if any(abs(note.pitch.name.alteration) > 2 for note in bar.notes):
            losses.append(f"bar {bar.number}: a note with three sharps or flats")
        length = bar.beats or bar.meter.bar_beats
        if any(chord.at >= length for chord in bar.chords):
            losses.append(f"bar {bar.number}: a chord after the bar's end")
    return tuple(losses)
