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
- The last key before the music is the key of the tune. One inside a bar is that of the
  next bar, but for the accidentals.

Source: The ABC music standard 2.1; the plus signs are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Feel, Meter, parse_meter
from halfstep.pitch import LETTERS, Name, Pitch, parse_name
from halfstep.progression.chart import ChordAt
from halfstep.progression.form import MAX_BARS
from halfstep.progression.key import Key, alterations, mode_of
from halfstep.progression.notations import MOST_TEXT_BYTES
from halfstep.progression.notations.abc_order import in_order, whole_and_numbered
from halfstep.progression.notations.text_reader import MAX_CHORDS_IN_BAR
from halfstep.progression.reading import with_h_seen
from halfstep.progression.shares import shares_of_bar
from halfstep.progression.sheet import (
    LeadSheet,
    Marks,
    SheetNote,
    WrittenBar,
    keys_where_they_change,
)
from halfstep.progression.symbol import DEFAULT, ChordSymbol, Reading, parse_symbol
from halfstep.progression.title import UNTITLED, plain_title

_MAX_NOTICES = 20
_MAX_PASS = 99
_MAX_IN_BAR = 500
_MAX_NOTES = 20_000
_LONGEST_SYMBOL = 40
_SHORTEST = 128  # the largest number below a slash
_LONGEST_BEATS = 32  # eight whole notes
_FIELD = re.compile(r"\s*([A-Za-z+]):(?![|:])(.*)")
_CODE = re.compile(r'(?:"[^"]*"|\\.|[^%])*')
_QUOTED = re.compile(r'"([^"\n]*)"')
_LENGTH = r"\d{0,3}(?:/{1,6}\d{0,3})?"
_TOKEN = re.compile(
    rf"""
      (?P<field>    \[[A-Za-z]:[^\]]*\] )
    | (?P<quote>    "[^"]*" )
    | (?P<bar>      (?: :*\[?\|[|\]]*:* | ::+ ) (?:\d[\d,.\-]*)? )
    | (?P<volta>    \[\d[\d,.\-]* )
    | (?P<tuplet>   \((?:[2-9]|\d\d(?=:))(?::\d{{0,2}}(?::\d{{0,2}})?)? )
    | (?P<note>     (?:\^\^?|__?|=)?[A-Ga-g][,']{{0,5}}{_LENGTH} )
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
    rf"(?P<accidental>\^\^?|__?|=)?(?P<letter>[A-Ga-g])(?P<octave>[,']{{0,5}})(?P<length>{_LENGTH})"
)
_ACCIDENTALS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}
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
_BASS = re.compile(r"(?P<chord>[A-H].*)/(?P<bass>[A-Ha-h])(?P<sign>bb|##|[b#+=♭♯]?)")
_BASS_ALONE = re.compile(r"(?P<bass>[a-h])/?(?P<sign>bb|##|[b#+=♭♯]?)")
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


def read_abc_text(
    text: str,
    *,
    source: str = "",
    tune: int | None = None,
    plus_is_sharp: bool | None = None,
    reading: Reading = DEFAULT,
    melody_will_do: bool = False,
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
    reading : Reading, optional
        What the writer means where two things can be meant.
    melody_will_do : bool
        Read a tune that has no chords too.

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
        if len(text.encode(errors="replace")) > MOST_TEXT_BYTES:
            raise ReadError("the text is longer than 1 MB; give one tune")
        plus = bool(_PLUS_BASS.search(text)) if plus_is_sharp is None else plus_is_sharp
        tunes = _tunes(text)
        probe = _Dialect(plus, reading._replace(h=reading.h or "plain"))
        chosen = tunes[0] if melody_will_do and tune is None else _chosen(tunes, tune, probe)
        reading, said = with_h_seen(filter(probe.symbol, _quoted(chosen)), reading)
        sheet = _Reader(chosen, _Dialect(plus, reading), notices=list(said)).sheet(
            melody_will_do=melody_will_do
        )
    except ReadError as error:
        raise error.at(source=source) from None
    if len(tunes) == 1:
        return sheet
    of_many = f"the file holds {len(tunes)} tunes; this is {sheet.title!r}"
    return replace(sheet, notices=(of_many, *sheet.notices))


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


@dataclass(frozen=True, slots=True)
class _Dialect:
    """How this file writes chords: are plus signs sharps, and what are doubtful signs?"""

    plus: bool
    reading: Reading

    def symbol(self, text: str) -> ChordSymbol | None:
        """The chord that a quoted text is from end to end, or None."""
        typed = text.strip()
        if typed.startswith("(") and typed.endswith(")"):
            typed = typed[1:-1]
        if len(typed) > _LONGEST_SYMBOL:
            return None
        plain = typed
        if found := _BASS.fullmatch(plain):
            bass = self.bass(found)
            plain = f"{found['chord']}/{bass}" if bass else plain
        if self.plus and (short := _SHORT_QUALITY.fullmatch(plain.partition("/")[0])):
            quality = {"a": "aug", "d": "dim"}[short[2]]
            plain = short[1] + quality + plain[len(short[1]) + 1 :]
        try:
            return replace(parse_symbol(plain, self.reading), typed=typed)
        except ReadError:
            return None

    def bass(self, found: re.Match[str]) -> str:
        """A bass as it stands in a symbol; empty where its plus sign means nothing here."""
        sign = found["sign"].replace("=", "")
        if sign == "+" and not self.plus:
            return ""
        return str(found["bass"]).upper() + sign.replace("+", "#")


def _chosen(tunes: Sequence[_Tune], number: int | None, dialect: _Dialect) -> _Tune:
    if number is None:
        found = next((tune for tune in tunes if any(map(dialect.symbol, _quoted(tune)))), None)
        if found is None:
            raise ReadError('there is no tune with chords; they are written "Am7" before a note')
        return found
    for tune in tunes:
        if tune.number == number:
            return tune
    known = ", ".join(str(tune.number) for tune in tunes[:20])
    raise ReadError(f"there is no tune {number}; the file has {known}")


def _quoted(tune: _Tune) -> Iterator[str]:
    return (text.strip() for _, line in tune.lines for text in _QUOTED.findall(line))


@dataclass(slots=True)
class _Bar:
    """The bar that is being read."""

    meter: Meter | None = None
    key: Key | None = None
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
    dialect: _Dialect
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
    broken: Fraction | None = None
    events: int = 0
    tied: Pitch | None = None
    unknown: set[str] = field(default_factory=set)
    notices: list[str] = field(default_factory=list)

    def sheet(self, *, melody_will_do: bool) -> LeadSheet:
        """The tune as a lead sheet."""
        for number, line in self.tune.lines:
            try:
                self._take_line(line)
            except ReadError as error:
                raise error.at(line=number) from None
        self._finish()
        if not melody_will_do and not any(bar.chords for bar in self.bars):
            raise ReadError('the tune has no chords; they are written "Am7" before a note')
        written, said = in_order(self.bars, self.parts, self.order)
        if not melody_will_do and not any(bar.chords for bar in written):
            raise ReadError("the parts that P: names have no chords; name others")
        keyed = keys_where_they_change(written, written[0].key)
        bars, said_of_bars = whole_and_numbered(keyed)
        self.notices += [*said, *said_of_bars]
        return LeadSheet(
            plain_title(re.sub(r"\\([\\%&])", r"\1", self.title)) if self.title else UNTITLED,
            bars,
            written[0].key,
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
        if "transpose=" in value:
            self.notices.append("transpose= is left out: the notes and chords are as written")
        found = re.fullmatch(r"([A-G])([#b♯♭]?)([A-Za-z]*)", words[0]) if words else None
        pipes = bool(words) and words[0].lower() == "hp"
        key, fifths = None, 2 if pipes else 0
        if found:
            key, fifths = self._mode(found, words[1] if len(words) > 1 else "")
        clears = bool(found) or pipes or "none" in words or not self.in_body
        if clears:
            self.signature = alterations(0 if "exp" in words else fifths)
        changed = [re.fullmatch(r"(\^\^?|__?|=)([a-gA-G])", word) for word in words]
        for sign in filter(None, changed):
            self.signature[sign[2].upper()] = _ACCIDENTALS[sign[1]]
        if not self.events or (clears and key):
            self.key = key if clears else self.key
        elif clears:
            self.notices.append(
                f"the key {value[:20]!r} inside the tune is read for its notes only"
            )
        self.in_body = True

    def _mode(self, found: re.Match[str], following: str) -> tuple[Key | None, int]:
        """The key, and the fifths of its signature."""
        word = found[3] or following
        mode = "minor" if word == "m" else mode_of(word) if len(word) > 1 else ""
        if found[3] and not mode and word != "M":
            self.notices.append(f"the mode {word[:20]!r} is not known; read as major")
        key = Key(parse_name(found[1] + found[2]), mode=mode)
        if abs(key.fifths) > 7:
            self.notices.append(f"{key} would need {key.signature}; no key is stated")
            return None, max(-14, min(14, key.fifths))
        return key, key.fifths

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
        symbol = None if words[0] in "^_<>@" else self.dialect.symbol(words)
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
        text = self.dialect.bass(alone)
        if not text or self.sounding is None:
            return None
        try:
            bass = parse_symbol(text, self.dialect.reading).root
        except ReadError:
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
        if not length:
            return self._unit_beats()
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
        if self.broken:
            beats *= self.broken
            self.broken = None
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
        if not self.bar.events:
            self.bar.meter, self.bar.key = self.meter, self.key
        self.bar.events += 1
        self.events += 1
        if self.bar.events > _MAX_IN_BAR:
            raise ReadError(f"more than {_MAX_IN_BAR} notes in a bar; set bar lines")
        if beats > _LONGEST_BEATS:
            raise ReadError(f"a note or rest lasts more than {_LONGEST_BEATS} quarter notes")
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
            ends = [min(int(number), _MAX_PASS) for number in re.findall(r"\d+", piece)]
            if ends:
                passes.update(range(ends[0], ends[-1] + 1))
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

    def _close_bar(self, *, last: bool = False) -> None:
        """End the bar, if there is one.

        A chord after its last note fills it up; after an upbeat it waits for the next bar.
        """
        self.overlaid = False
        bar = self.bar
        if not bar.beats and not self.pending:
            self.bar = _Bar()
            return
        if len(self.bars) >= MAX_BARS:
            raise ReadError(f"more than {MAX_BARS} bars; make the tune shorter")
        meter, key = (bar.meter, bar.key) if bar.meter else (self.meter, self.key)
        if not bar.beats:
            bar.chords = _shared(self.pending, meter)
            self.pending = []
        elif self.pending and bar.beats < meter.bar_beats and (self.bars or last):
            bar.chords.append(ChordAt(self.pending.pop(), bar.beats))
            bar.beats = meter.bar_beats
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
                key=key,
            )
        )
        self.bar, self.marks, self.section = _Bar(), set(), ""
        self.forward, self.ending = False, ()

    def _finish(self) -> None:
        self._close_bar(last=True)
        self.pending = []
        self._settle_marks()
        self._stop_ending()


def _shared(symbols: Sequence[ChordSymbol], meter: Meter) -> list[ChordAt]:
    """Chords of a bar without notes."""
    shares, _ = shares_of_bar(meter, len(symbols))
    return [ChordAt(s, sum(shares[:n], Fraction(0))) for n, s in enumerate(symbols)]
