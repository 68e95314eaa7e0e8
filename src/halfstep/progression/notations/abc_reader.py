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
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Feel, Meter, parse_meter
from halfstep.pitch import LETTERS, Name, Pitch, parse_name
from halfstep.progression.bar_builder import BarBuilder
from halfstep.progression.chart import ChordAt
from halfstep.progression.key import Key, alterations, mode_of
from halfstep.progression.notations import MOST_TEXT_BYTES
from halfstep.progression.notations.abc_order import in_order, whole_and_numbered
from halfstep.progression.notations.abc_tokens import (
    DECORATION_MARKS,
    AbcDialect,
    AbcTune,
    bass_alone,
    chosen_tune,
    field_line,
    mark_words,
    music_token,
    note_sign,
    quoted_text,
    quoted_texts,
    tunes_of,
    writes_plus_for_sharp,
)
from halfstep.progression.notations.text_reader import MAX_CHORDS_IN_BAR
from halfstep.progression.quality import DEFAULT, Reading
from halfstep.progression.reading import with_h_seen
from halfstep.progression.shares import shares_of_bar
from halfstep.progression.sheet import LeadSheet, SheetNote
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from halfstep.progression.title import UNTITLED, plain_title

_MAX_NOTICES = 20
_MAX_PASS = 99
_MAX_IN_BAR = 500
_MAX_NOTES = 20_000
_SHORTEST = 128  # the largest number below a slash
_LONGEST_BEATS = 32  # eight whole notes
_ACCIDENTALS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}
_TUPLET_TIME = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
"""Notes in the time of how many, where the tune does not say."""

_AT_THE_START = {"segno", "coda"}


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
        plus = writes_plus_for_sharp(text) if plus_is_sharp is None else plus_is_sharp
        tunes = tunes_of(text)
        probe = AbcDialect(plus, reading._replace(h=reading.h or "plain"))
        chosen = tunes[0] if melody_will_do and tune is None else chosen_tune(tunes, tune, probe)
        reading, notices = with_h_seen(filter(probe.symbol, quoted_texts(chosen)), reading)
        reader = _AbcReader(chosen, AbcDialect(plus, reading))
        reader.builder.notices.extend(notices)
        sheet = reader.sheet(melody_will_do=melody_will_do)
    except ReadError as error:
        raise error.at(source=source) from None
    if len(tunes) == 1:
        return sheet
    of_many = f"the file holds {len(tunes)} tunes; this is {sheet.title!r}"
    return replace(sheet, notices=(of_many, *sheet.notices))


@dataclass(slots=True)
class _OpenBar:
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
class _AbcReader:
    """Reads one tune, line by line and sign by sign."""

    tune: AbcTune
    dialect: AbcDialect
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
    bar: _OpenBar = field(default_factory=_OpenBar)
    builder: BarBuilder = field(default_factory=lambda: BarBuilder("tune"))
    parts: list[tuple[str, int]] = field(default_factory=list)
    pending: list[ChordSymbol] = field(default_factory=list)
    sounding: ChordSymbol | None = None
    marks: set[str] = field(default_factory=set)
    tuplet: tuple[Fraction, int] = (Fraction(1), 0)
    broken: Fraction | None = None
    events: int = 0
    tied: Pitch | None = None
    unknown: set[str] = field(default_factory=set)

    def sheet(self, *, melody_will_do: bool) -> LeadSheet:
        """The tune as a lead sheet."""
        for number, line in self.tune.lines:
            try:
                self._take_line(line)
            except ReadError as error:
                raise error.at(line=number) from None
        self._finish()
        if not self.builder.bars:
            raise ReadError("the tune has no bars; write notes and bar lines after K:")
        self._check_chords("the tune has", melody_will_do=melody_will_do)
        bars, notices = in_order(self.builder.bars, self.parts, self.order)
        self.builder.bars = bars
        self._check_chords("the parts that P: names have", melody_will_do=melody_will_do)
        self.builder.bars, more_notices = whole_and_numbered(bars)
        self.builder.notices += [*notices, *more_notices]
        first = self.builder.bars[0]
        tempo_bpm = self._tempo_bpm(first.meter)
        self._bound_notices()
        return self.builder.sheet(
            plain_title(_unescaped(self.title)) if self.title else UNTITLED,
            key=first.key,
            tempo_bpm=tempo_bpm,
            feel=self.feel,
        )

    def _notice(self, text: str) -> None:
        self.builder.notices.append(text)

    def _check_chords(self, words: str, *, melody_will_do: bool) -> None:
        if not melody_will_do and not any(bar.chords for bar in self.builder.bars):
            hint = 'they are written "Am7" before a note' if "tune" in words else "name others"
            raise ReadError(f"{words} no chords; {hint}")

    def _bound_notices(self) -> None:
        """Each notice once, and no more than a reader reads."""
        if self.unknown:
            signs = " ".join(sorted(self.unknown)[:10])
            self._notice(f"signs that are not ABC were left out: {signs}")
        notices = list(dict.fromkeys(self.builder.notices))
        if len(notices) > _MAX_NOTICES:
            notices = [*notices[:_MAX_NOTICES], f"and {len(notices) - _MAX_NOTICES} more notices"]
        self.builder.notices = notices

    def _take_line(self, line: str) -> None:
        field = field_line().fullmatch(line)
        if field:
            self._take_field(field[1], field[2].strip(), column=field.start(2) + 1)
        elif self.in_body:
            self._take_music(line)
        elif "|" in line:
            self._notice("the tune states no key")
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
            self._notice("the tune has no metre; its bars are as long as their notes")
            return
        parts = re.fullmatch(r"\(?\s*([\d+\s]{1,30}?)\s*\)?\s*/\s*(\d{1,2})", plain)
        if not parts:
            raise ReadError(f"{value!r} is no metre; write it like M:4/4 or M:6/8")
        groups = parts[1].replace(" ", "").split("+")
        count = sum(int(group or 0) for group in groups)
        grouping = " " + "+".join(groups) if len(groups) > 1 else ""
        self.meter = parse_meter(f"{count}/{parts[2]}{grouping}")

    def _take_unit(self, value: str) -> None:
        parts = re.fullmatch(r"(\d{1,2})(?:/(\d{1,3}))?", value)
        bottom = int(parts[2] or 1) if parts else 0
        if not parts or not int(parts[1]) or bottom not in {1, 2, 4, 8, 16, 32, 64, 128}:
            raise ReadError(f"{value!r} is no unit note length; write it like L:1/8")
        self.unit = Fraction(4 * int(parts[1]), bottom)

    def _unit_beats(self) -> Fraction:
        """The length of a note without a number, in quarter notes."""
        if self.unit is None:
            small = self.meter.bar_beats < 3
            self.unit = Fraction(1, 4) if small else Fraction(1, 2)
        return self.unit

    def _take_tempo(self, value: str) -> None:
        self._feel_from(value)
        if self.tempo and value:
            self._notice("the tempo changes; the first is kept")
        self.tempo = self.tempo or value

    def _tempo_bpm(self, meter: Meter) -> float | None:
        """The tempo field in pulses a minute."""
        plain = re.sub(r'"[^"]*"', "", self.tempo).strip()
        if not plain:
            return None
        parts = re.fullmatch(r"(?:([\d/\s]{1,40}|C\d?)\s*=\s*)?(\d{1,4}(?:\.\d{1,3})?)", plain)
        lengths = re.findall(r"(\d{1,2})/(\d{1,2})", parts[1] or "") if parts else []
        if not parts or any(not int(bottom) for _, bottom in lengths):
            self._notice(f"the tempo {plain[:40]!r} is not understood; left out")
            return None
        beats = sum((Fraction(4 * int(t), int(b)) for t, b in lengths), Fraction(0))
        quarters = float(parts[2]) * float(beats or self._unit_beats())
        tempo_bpm = quarters / float(meter.tempo_beats)
        if SLOWEST_BPM <= tempo_bpm <= FASTEST_BPM:
            return round(tempo_bpm, 3)
        self._notice(
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
            self._notice("transpose= is left out: the notes and chords are as written")
        tonic = re.fullmatch(r"([A-G])([#b♯♭]?)([A-Za-z]*)", words[0]) if words else None
        pipes = bool(words) and words[0].lower() == "hp"
        key, fifths = None, 2 if pipes else 0
        if tonic:
            key, fifths = self._mode(tonic, words[1] if len(words) > 1 else "")
        clears = bool(tonic) or pipes or "none" in words or not self.in_body
        if clears:
            self.signature = alterations(0 if "exp" in words else fifths)
        changed = [re.fullmatch(r"(\^\^?|__?|=)([a-gA-G])", word) for word in words]
        for sign in filter(None, changed):
            self.signature[sign[2].upper()] = _ACCIDENTALS[sign[1]]
        if not self.events or (clears and key):
            self.key = key if clears else self.key
        elif clears:
            self._notice(f"the key {value[:20]!r} inside the tune is read for its notes only")
        self.in_body = True

    def _mode(self, tonic: re.Match[str], following: str) -> tuple[Key | None, int]:
        """The key, and the fifths of its signature."""
        word = tonic[3] or following
        mode = "minor" if word == "m" else mode_of(word) if len(word) > 1 else ""
        if tonic[3] and not mode and word != "M":
            self._notice(f"the mode {word[:20]!r} is not known; read as major")
        key = Key(parse_name(tonic[1] + tonic[2]), mode=mode)
        if abs(key.fifths) > 7:
            self._notice(f"{key} would need {key.signature}; no key is stated")
            return None, max(-14, min(14, key.fifths))
        return key, key.fifths

    def _take_part(self, value: str) -> None:
        if not self.in_body:
            self._take_order(value)
            return
        self._close_bar()
        self.builder.stop_ending()
        self.builder.section = plain_title(_unescaped(value)) if value else ""
        self.parts.append((self.builder.section, len(self.builder.bars)))

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
            self._notice("only the first voice is read")

    # Music

    def _take_music(self, line: str) -> None:
        place = 0
        while place < len(line):
            token = music_token().match(line, place)
            try:
                if token is None:
                    self._take_unknown(line[place])
                else:
                    self._take_token(token)
            except ReadError as error:
                raise ReadError(error.message, column=error.column or place + 1) from None
            place = token.end() if token else place + 1

    def _take_unknown(self, sign: str) -> None:
        if self.muted:
            return
        closes = {'"': '"', "{": "}", "[": "]"}.get(sign)
        if closes:
            raise ReadError(f"{sign} is not closed by {closes} on its line")
        self.unknown.add(sign)

    def _take_token(self, token: re.Match[str]) -> None:
        kind, text = str(token.lastgroup), token[0]
        if kind == "field":
            self._take_field(text[1], text[3:-1].strip(), column=token.start() + 4)
        elif not self.muted and (not self.overlaid or kind in {"bar", "volta"}):
            taker = getattr(self, f"_take_{kind}", None)
            if taker is not None:
                taker(text)

    def _take_overlay(self, _text: str) -> None:
        self.overlaid = True
        self._notice("a second line in the same voice is left out")

    def _take_quote(self, text: str) -> None:
        words = text[1:-1].strip()
        if not words:
            return
        symbol = None if words[0] in "^_<>@" else self.dialect.symbol(words)
        alone = bass_alone().fullmatch(words)
        if symbol is None and alone and self.sounding and not self.sounding.silent:
            symbol = self._over_bass(alone)
        if symbol is None:
            self._take_words(words.lstrip("^_<>@").strip())
            return
        if len(self.pending) >= MAX_CHORDS_IN_BAR:
            raise ReadError(f"more than {MAX_CHORDS_IN_BAR} chords before one note")
        self.builder.notices += symbol.notices
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
            for name, pattern in mark_words().items()
            if (pattern.search(words) if name.startswith("da") else pattern.fullmatch(words))
        ]
        self.marks.update(met)
        if not met:
            shown = " ".join(words[:60].split())
            self._notice(f"text in bar {len(self.builder.bars) + 1}: {shown!r}")

    def _take_decoration(self, text: str) -> None:
        mark = DECORATION_MARKS.get(re.sub(r"[^a-z]", "", text.lower()))
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
            self.bar.notes[-1] = self.bar.notes[-1]._replace(beats=beats * before)
        self.bar.last = None

    def _take_note(self, text: str) -> None:
        note = note_sign().fullmatch(text)
        if note:
            self._add(self._pitch(note), self._beats(note["length"]))

    def _take_rest(self, text: str) -> None:
        self._add(None, self._beats(text[1:]))

    def _take_stack(self, text: str) -> None:
        inner, _, length = text[1:].rpartition("]")
        for quoted in quoted_text().finditer(inner):
            self._take_quote(quoted[0])
        plain = re.sub(r'"[^"]*"|![^!]*!', "", inner)
        notes = list(note_sign().finditer(plain))
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
            self.bar.notes[-1] = self.bar.notes[-1]._replace(tied=True)
            self.tied = self.bar.notes[-1].pitch

    def _take_measures(self, text: str) -> None:
        for _ in range(int(text[1:] or 1)):
            if self.bar.beats:
                self._close_bar()
            self._place(self.meter.bar_beats)

    def _pitch(self, note: re.Match[str]) -> Pitch:
        letter = note["letter"].upper()
        octave = 4 + note["letter"].islower()
        octave += note["octave"].count("'") - note["octave"].count(",")
        if note["accidental"]:
            self.bar.altered[letter] = _ACCIDENTALS[note["accidental"]]
        tied, self.tied = self.tied, None
        alteration = self.bar.altered.get(letter, self.signature.get(letter, 0))
        if tied and not note["accidental"]:
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
            shared_note = (
                f"bar {len(self.builder.bars) + 1}: {len(self.pending)} chords share one note"
            )
            self._notice(shared_note)
        for turn, symbol in enumerate(self.pending):
            at = self.bar.beats + beats * turn / len(self.pending)
            self.bar.chords.append(ChordAt(symbol, at))
        self.pending = []
        self.bar.beats += beats

    # Bars

    def _take_bar(self, text: str) -> None:
        parts = re.match(r"(:*)([^:\d]*)(:*)(.*)", text)
        left, line, right, passes = parts.groups() if parts else ("", "", "", "")
        if not line:  # a run of colons closes and opens
            left, right = ":", ":"
        self._close_bar()
        self._settle_marks()
        if left or right or len(line) > 1:
            self.builder.stop_ending()
        if left:
            self._end_repeat(len(left) + 1)
        self.builder.forward = self.builder.forward or bool(right)
        if passes:
            self._begin_ending(passes)

    def _take_volta(self, text: str) -> None:
        self._close_bar()
        self._begin_ending(text[1:])

    def _end_repeat(self, times: int) -> None:
        if not self.builder.bars:
            self._notice("a repeat ends before the first bar; left out")
            return
        if times > _MAX_PASS:
            raise ReadError(f"a passage cannot be played {times} times")
        self.builder.mark_last(backward=times)

    def _begin_ending(self, text: str) -> None:
        passes: set[int] = set()
        for piece in re.split(r"[,.]", text):
            ends = [min(int(number), _MAX_PASS) for number in re.findall(r"\d+", piece)]
            if ends:
                passes.update(range(ends[0], ends[-1] + 1))
        self.builder.begin_ending(tuple(sorted(passes - {0})))

    def _settle_marks(self) -> None:
        """Marks that end a passage and stand after its last bar line."""
        late = self.marks - _AT_THE_START
        if late and self.builder.bars and not self.bar.beats:
            self.builder.mark_last(**dict.fromkeys(late, True))
            self.marks -= late

    def _close_bar(self, *, last: bool = False) -> None:
        """End the bar, if there is one.

        A chord after its last note fills it up; after an upbeat it waits for the next bar.
        """
        self.overlaid = False
        bar = self.bar
        if not bar.beats and not self.pending:
            self.bar = _OpenBar()
            return
        self.builder.check_room()
        meter, key = (bar.meter, bar.key) if bar.meter else (self.meter, self.key)
        if not bar.beats:
            bar.chords = _shared(self.pending, meter)
            self.pending = []
        elif self.pending and bar.beats < meter.bar_beats and (self.builder.bars or last):
            bar.chords.append(ChordAt(self.pending.pop(), bar.beats))
            bar.beats = meter.bar_beats
        self.builder.add(
            meter,
            bar.chords,
            beats=bar.beats,
            notes=bar.notes,
            key=key,
            signs=dict.fromkeys(self.marks, True),
        )
        self.bar, self.marks = _OpenBar(), set()

    def _finish(self) -> None:
        self._close_bar(last=True)
        self.pending = []
        self._settle_marks()
        self.builder.stop_ending()


def _unescaped(text: str) -> str:
    """Text without the backslashes before its signs."""
    return re.sub(r"\\([\\%&])", r"\1", text)


def _shared(symbols: Sequence[ChordSymbol], meter: Meter) -> list[ChordAt]:
    """Chords of a bar without notes."""
    shares, _ = shares_of_bar(meter, len(symbols))
    return [ChordAt(s, sum(shares[:n], Fraction(0))) for n, s in enumerate(symbols)]
