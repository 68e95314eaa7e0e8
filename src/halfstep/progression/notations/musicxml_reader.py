"""What chords does a MusicXML lead sheet write?

`read_score` gives the bars as written with all their marks, `read_musicxml` the
lead sheet with its melody.

Conventions
-----------
- Only the first part that has harmonies is read; without any there is no chart.
- Harmonies of a transposed part are in written pitch and become concert here. Where the
  sounding key would need more than seven accidentals the whole part flips.
- A harmony stands where the cursor is, moved by its offset. Several at one place with no
  offset share the note that follows, with a notice; where the last of them is written
  again at the next note, it stands there alone, as some exporters mean it.
- Beats are quarter notes; a tempo is turned into pulses of the metre.
- The melody is the first voice of that part, of a chord its top note. Grace notes, cues,
  unseen notes and slashes are no melody. Rehearsal marks are sections.

Source: MusicXML 4.0 (W3C); words such as *D.C. al Fine* are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from itertools import zip_longest
from typing import TYPE_CHECKING

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Feel, Meter
from halfstep.pitch import (
    DIMINISHED_SECOND,
    LETTERS,
    NATURAL_SEMITONES,
    UNISON,
    Degree,
    Interval,
    Name,
    Pitch,
    practical,
    practical_pitch,
)
from halfstep.progression.chart import ChordAt
from halfstep.progression.form import MAX_BARS
from halfstep.progression.key import Key, key_of, mode_of
from halfstep.progression.kinds import KindDegree, symbol_of_kind
from halfstep.progression.notations.musicxml_file import read_score_root
from halfstep.progression.quality import Family
from halfstep.progression.sheet import (
    NO_MARKS,
    LeadSheet,
    Marks,
    SheetNote,
    WrittenBar,
    keys_where_they_change,
)
from halfstep.progression.symbol import ChordSymbol

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

_NUMBER = re.compile(r"[+-]?\d{1,12}(?:\.\d{1,6})?")
_MAX_PASSES = 100
_UNITS = {
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
}
_DIATONIC = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""Letters of a transposition that states only its semitones."""

_WORDS = {
    "da_capo": re.compile(r"\bD\.\s*C\b|\bda capo\b", re.IGNORECASE),
    "dal_segno": re.compile(r"\bD\.\s*S\b|\bdal segno\b", re.IGNORECASE),
    "to_coda": re.compile(r"^\W*to coda\W*$", re.IGNORECASE),
    "fine": re.compile(r"^\W*fine\W*$", re.IGNORECASE),
    "coda": re.compile(r"^\W*coda\W*$", re.IGNORECASE),
}
_SOUND_MARKS = {
    "dacapo": "da_capo",
    "dalsegno": "dal_segno",
    "tocoda": "to_coda",
    "fine": "fine",
    "segno": "segno",
    "coda": "coda",
}
_TIMES = re.compile(r"\b(\d{1,2})\s*(?:x\b|times\b|repeats\b)", re.IGNORECASE)
_MOST_FIFTHS = 7
_FARTHEST_FIFTHS = 14  # every note doubly altered
_MOST_UNITS = 64
_FINEST = 16383  # parts of a quarter note, the most that MusicXML 4.0 advises
_MOST_BEATS = 4 * _MOST_UNITS  # the longest metre in whole notes
_SWING = re.compile(r"\bswing\b|\bswung\b|\bshuffle\b", re.IGNORECASE)
_STRAIGHT = re.compile(r"\bstraight\b|\beven (?:8ths?|eighths?)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Score:
    """The part of a file that has chords, as written.

    Attributes
    ----------
    title : str
        Empty when the file states none.
    parts : int
    bars : tuple of WrittenBar
        Chords sounding, at their places.
    meters, keys : tuple of str
        As they change: ``4/4``, ``-3:major``.
    key : Key or None
        The first, sounding.
    tempo_bpm : float or None
    feel : Feel or None
    harmonies, basses, repeats, endings : int
        Elements counted: harmonies, those with a bass, repeat signs, ending marks.
    notices : tuple of str
    """

    title: str
    parts: int
    bars: tuple[WrittenBar, ...]
    meters: tuple[str, ...] = ()
    keys: tuple[str, ...] = ()
    key: Key | None = None
    tempo_bpm: float | None = None
    feel: Feel | None = None
    harmonies: int = 0
    basses: int = 0
    repeats: int = 0
    endings: int = 0
    notices: tuple[str, ...] = ()


def read_musicxml(data: bytes, *, source: str = "", melody_will_do: bool = False) -> LeadSheet:
    """Read a MusicXML file as a lead sheet in concert pitch, with melody and sections.

    Parameters
    ----------
    data : bytes
        The file, plain or compressed.
    source : str, optional
        A name for the file, used in errors.
    melody_will_do : bool
        Read a file that has no harmonies too.

    Raises
    ------
    ReadError
        When it is no MusicXML or has no harmonies.
    """
    score = read_score(data, source=source)
    if not melody_will_do and not any(bar.chords for bar in score.bars):
        raise ReadError("the file has no chord symbols (<harmony>)", source=source)
    return LeadSheet(score.title, score.bars, score.key, score.tempo_bpm, score.feel, score.notices)


def read_score(data: bytes, *, source: str = "") -> Score:
    """The first part with harmonies, bars as written; the first part where none has any.

    Raises
    ------
    ReadError
        When the file is no MusicXML or has no parts.
    """
    root = read_score_root(data, source=source)
    parts = root.findall("part")
    if not parts:
        raise ReadError("the score has no parts", source=source)
    part = next((p for p in parts if p.find(".//harmony") is not None), parts[0])
    if len(part.findall("measure")) > MAX_BARS:
        raise ReadError(f"the score has more than {MAX_BARS} bars", source=source)
    try:
        return _PartReader(part).score(_title(root), len(parts))
    except ReadError as error:
        raise error.at(source=source) from None


def _title(root: Element) -> str:
    for place in ("work/work-title", "movement-title"):
        title = " ".join((root.findtext(place) or "").split())
        if title:
            return title[:200]
    return ""


@lru_cache(maxsize=1024)
def _number(text: str | None) -> Fraction | None:
    """A decimal of sane size; None for anything else."""
    plain = (text or "").strip()
    return Fraction(plain) if _NUMBER.fullmatch(plain) else None


def _integer(text: str | None, default: int = 0) -> int:
    number = _number(text)
    return default if number is None else int(number)


@dataclass(slots=True)
class _Found:
    """A chord at its beat from the start of the bar, which may lie outside the bar."""

    symbol: ChordSymbol
    at: Fraction


@dataclass(slots=True)
class _Stack:
    """Harmonies that stand at one place, over a note of that length."""

    at: Fraction
    beats: Fraction
    symbols: list[ChordSymbol]


@dataclass(slots=True)
class _Draft:
    """A bar being read."""

    number: str
    meter: Meter
    irregular: bool
    beats: Fraction = Fraction(0)
    marks: Marks = NO_MARKS
    coda_sign: bool = False
    repeats_back: int = 0
    times: int = 0
    goes_back: bool = False
    final: bool = False
    key: tuple[int, str] | None = None
    section: str = ""
    notes: list[SheetNote] = field(default_factory=list)


class _PartReader:
    """Reads one part from its first bar to its last."""

    def __init__(self, part: Element) -> None:
        self.part = part
        self.drafts: list[_Draft] = []
        self.found: list[list[_Found]] = []
        self.notices: list[str] = []
        self.meter = Meter()
        self.free = False
        self.divisions = Fraction(1)
        self.lengths: dict[str, Fraction] = {}
        self.move = UNISON
        self.octaves = 0
        self.voice: str | None = None
        self.slashes = False
        self.meters: list[str] = []
        self.keys: list[tuple[int, str | None]] = []
        self.quarters_per_minute: Fraction | None = None
        self.feel: Feel | None = None
        self.repeats_back = 0
        self.cursor = Fraction(0)
        self.pending: list[ChordSymbol] = []
        self.stacks: list[_Stack] = []

    def score(self, title: str, parts: int) -> Score:
        """Everything the part says."""
        for measure in self.part.findall("measure"):
            self._measure(measure)
        if not self.meters:
            self.notices.append("the score states no metre; read as 4/4")
        self._resolve_codas()
        self._settle_outside()
        melody = self._melody()
        bars = tuple(self._bar(place, melody[place]) for place in range(len(self.drafts)))
        if self.quarters_per_minute and not self._tempo_bpm():
            self.notices.append("the tempo is out of range; left out")
        key = self._key(bars)
        self._say_where_it_ends()
        return Score(
            title,
            parts,
            tuple(self._with_keys(self._with_repeated(bars), key)),
            _changes(self.meters),
            _changes(f"{f}:{mode}" if mode else str(f) for f, mode in self.keys),
            key,
            self._tempo_bpm(),
            self.feel,
            self._count("harmony"),
            sum(1 for harmony in self.part.iter("harmony") if harmony.find("bass") is not None),
            self._count("repeat"),
            self._count("ending"),
            tuple(dict.fromkeys(self.notices)),
        )

    def _count(self, tag: str) -> int:
        return sum(1 for _ in self.part.iter(tag))

    # one bar

    def _measure(self, measure: Element) -> None:
        number = (measure.get("number") or str(len(self.drafts) + 1)).strip()[:12]
        irregular = measure.get("implicit") == "yes"
        self.drafts.append(_Draft(number, self.meter, irregular))
        self.found.append([])
        self.cursor, self.pending = Fraction(0), []
        for child in measure:
            take = getattr(self, f"_take_{child.tag}", None) if child.tag in _TAKEN else None
            if take:
                take(child)
        draft = self.drafts[-1]
        if draft.beats > _MOST_BEATS:
            raise ReadError(f"bar {number} lasts more than {_MOST_BEATS} quarter notes; check it")
        self._place(max(Fraction(0), self._bar_beats() - self.cursor))
        self._spread()
        if draft.times and draft.marks.backward:
            draft.marks = replace(draft.marks, backward=draft.times)
        draft.meter, draft.repeats_back = self.meter, self.repeats_back
        draft.irregular = draft.irregular or self.free

    def _bar_beats(self) -> Fraction:
        return self.drafts[-1].beats or self.meter.bar_beats

    def _take_attributes(self, attributes: Element) -> None:
        divisions = _number(attributes.findtext("divisions"))
        if divisions and divisions > 0:
            self.divisions = divisions
            self.lengths = {}
        if (time := attributes.find("time")) is not None:
            self._take_time(time)
        if (transpose := attributes.find("transpose")) is not None:
            self.move = _transposition(transpose)
            octaves = _integer(transpose.findtext("octave-change"))
            self.octaves = max(-4, min(4, octaves))
        if (key := attributes.find("key")) is not None:
            self._take_key(key)
        for repeat in attributes.iter("measure-repeat"):
            starts = repeat.get("type") == "start"
            self.repeats_back = max(1, _integer(repeat.text, 1)) if starts else 0
        for slash in attributes.iter("slash"):
            self.slashes = slash.get("type") == "start"

    def _take_time(self, time: Element) -> None:
        self.free = time.find("senza-misura") is not None
        counts = [e.text or "" for e in time.findall("beats")]
        units = [_integer(e.text) for e in time.findall("beat-type")]
        meter = _meter(counts, units)
        if meter:
            self.meter = meter
            self.meters.append(f"{counts[0].strip()}/{units[0]}")
        elif not self.free:
            self.notices.append(f"a metre cannot be read; {self.meter} goes on")

    def _take_key(self, key: Element) -> None:
        fifths = _number(key.findtext("fifths"))
        if fifths is None or fifths.denominator != 1 or abs(fifths) > _FARTHEST_FIFTHS:
            self.notices.append("a key signature cannot be read; left out")
            return
        mode = (key.findtext("mode") or "").strip().lower() or None
        self.keys.append((int(fifths), mode))
        sounding = int(fifths) + self.move.fifths
        while abs(sounding) > 7 and self.move != UNISON:
            flip = DIMINISHED_SECOND if sounding > 0 else -DIMINISHED_SECOND
            self.move, sounding = self.move + flip, sounding + flip.fifths
        self.drafts[-1].key = sounding, mode_of(mode or "")

    def _take_note(self, note: Element) -> None:
        if note.find("grace") is not None:
            return
        in_chord = note.find("chord") is not None
        beats = self._duration(note)
        self._take_melody(note, beats, in_chord=in_chord)
        if not in_chord:
            self._advance(beats)

    def _take_forward(self, forward: Element) -> None:
        self._advance(self._duration(forward))

    def _advance(self, beats: Fraction) -> None:
        self._place(beats)
        self.cursor += beats
        if self.cursor > self.drafts[-1].beats:
            self.drafts[-1].beats = self.cursor

    def _take_backup(self, backup: Element) -> None:
        self._place(Fraction(0))
        self.drafts[-1].goes_back = True
        self.cursor = max(Fraction(0), self.cursor - self._duration(backup))

    def _duration(self, element: Element) -> Fraction:
        text = element.findtext("duration") or ""
        if text not in self.lengths:
            beats = (_number(text) or Fraction(0)) / self.divisions
            self.lengths[text] = max(Fraction(0), beats).limit_denominator(_FINEST)
        return self.lengths[text]

    # melody

    def _take_melody(self, note: Element, beats: Fraction, *, in_chord: bool) -> None:
        voice = (note.findtext("voice") or "1").strip()
        if self.voice is None:
            self.voice = voice
        pitch = self._pitch(note) if voice == self.voice and self._is_melody(note) else None
        if pitch is None or not beats:
            return
        tie = note.find("tie")
        tied = tie is not None and any(t.get("type") == "start" for t in note.findall("tie"))
        notes = self.drafts[-1].notes
        at = self.cursor
        if in_chord:
            if not notes or notes[-1].at + notes[-1].beats != self.cursor:
                return
            if pitch.midi <= notes[-1].pitch.midi:
                return
            at, beats = notes[-1].at, notes[-1].beats
            notes.pop()
        notes.append(SheetNote(at, beats, pitch, tied))

    def _is_melody(self, note: Element) -> bool:
        unseen = note.get("print-object") == "no" or note.find("cue") is not None
        slash = (note.findtext("notehead") or "").strip() == "slash"
        return not (unseen or slash or self.slashes)

    def _pitch(self, note: Element) -> Pitch | None:
        """Sounding; None for a rest and for what has no pitch."""
        pitch = note.find("pitch")
        if pitch is None:
            return None
        said = (pitch.findtext(tag) for tag in ("step", "alter", "octave"))
        return _sounding_pitch(*said, self.move + Interval(7 * self.octaves, 12 * self.octaves))

    def _melody(self) -> list[tuple[SheetNote, ...]]:
        """Bar by bar, in order, without overlaps; ties that lead to another note are cut."""
        bars = [_in_order(d.notes) if d.goes_back else d.notes for d in self.drafts]
        following: SheetNote | None = None
        for notes in reversed(bars):
            for place in reversed(range(len(notes))):
                note = notes[place]
                if note.tied and (following is None or following.pitch != note.pitch):
                    notes[place] = replace(note, tied=False)
                following = notes[place]
        return [tuple(notes) for notes in bars]

    # harmonies

    def _take_harmony(self, harmony: Element) -> None:
        symbol = self._symbol(harmony)
        if symbol is None:
            return
        offset = _number(harmony.findtext("offset"))
        if offset is None:
            self.pending.append(symbol)
        else:
            self.found[-1].append(_Found(symbol, self.cursor + offset / self.divisions))

    def _place(self, length: Fraction) -> None:
        """Put the waiting harmonies on the cursor, over the note of that length."""
        if self.pending:
            self.stacks.append(_Stack(self.cursor, length, self.pending))
            self.pending = []

    def _spread(self) -> None:
        """Harmonies at one place share their note; one said again at the next stands there."""
        for stack, following in zip_longest(self.stacks, self.stacks[1:]):
            symbols = stack.symbols
            if following and len(symbols) > 1 and symbols[-1] == following.symbols[0]:
                symbols = symbols[:-1]
            share = stack.beats / len(symbols)
            for turn, symbol in enumerate(symbols):
                self.found[-1].append(_Found(symbol, stack.at + turn * share))
            if len(set(symbols)) > 1 and stack.beats:
                number = self.drafts[-1].number
                said = f"bar {number}: {len(symbols)} chords stand at one place"
                self.notices.append(f"{said}; they share the note evenly")
        self.stacks = []

    def _symbol(self, harmony: Element) -> ChordSymbol | None:
        number = self.drafts[-1].number
        kind = harmony.find("kind")
        word = (kind.text or "").strip() if kind is not None else ""
        root = _name(harmony.find("root"), "root-")
        if root is None and word != "none":
            self.notices.append(f"bar {number}: a harmony without a root is left out")
            return None
        symbol = symbol_of_kind(
            root or Name(0),
            word,
            tuple(_degrees(harmony)),
            bass=_name(harmony.find("bass"), "bass-"),
            text=kind.get("text") if kind is not None else None,
        )
        if symbol.bass is None and not symbol.silent:
            symbol = _inverted(symbol, _integer(harmony.findtext("inversion")))
        self.notices += [f"bar {number}: {notice}" for notice in symbol.notices]
        return _sounding(symbol, self.move)

    # marks

    def _mark(self, **marks: object) -> None:
        draft = self.drafts[-1]
        draft.marks = replace(draft.marks, **marks)  # type: ignore[arg-type]

    def _take_barline(self, barline: Element) -> None:
        for ending in barline.findall("ending"):
            if ending.get("type") == "start":
                self._mark(ending=self._passes(ending))
            else:
                self._mark(ending_stops=True)
        for repeat in barline.findall("repeat"):
            if repeat.get("direction") == "forward":
                self._mark(forward=True)
            elif repeat.get("direction") == "backward":
                times = _integer(repeat.get("times"), 2)
                self._mark(backward=min(max(times, 1), _MAX_PASSES))
        if barline.findtext("bar-style") == "light-heavy" and barline.find("repeat") is None:
            self.drafts[-1].final = True
        if barline.find("segno") is not None:
            self._mark(segno=True)
        self.drafts[-1].coda_sign |= barline.find("coda") is not None

    def _passes(self, ending: Element) -> tuple[int, ...]:
        text = ending.get("number") or ending.text or ""
        passes = {int(n) for n in re.findall(r"\d{1,3}", text)}
        sane = sorted(n for n in passes if 1 <= n <= _MAX_PASSES)
        if not sane:
            self.notices.append(f"bar {self.drafts[-1].number}: an ending without a number is 1")
        return tuple(sane) or (1,)

    def _take_direction(self, direction: Element) -> None:
        sound = direction.find("sound")
        said = self._take_sound(sound) if sound is not None else False
        words = " ".join((e.text or "") for e in direction.iter("words")).strip()
        for mark in direction.iter("rehearsal"):
            self.drafts[-1].section = self.drafts[-1].section or _one_line(mark.text)
        if direction.find("direction-type/segno") is not None:
            self._mark(segno=True)
        if direction.find("direction-type/coda") is not None and not said:
            self.drafts[-1].coda_sign = True
        if words and not said:
            self._take_words(words)
        for metronome in direction.iter("metronome"):
            self._take_metronome(metronome)

    def _take_words(self, words: str) -> None:
        if times := _TIMES.search(words):
            self.drafts[-1].times = min(max(int(times[1]), 1), _MAX_PASSES)
        mark = next((mark for mark, pattern in _WORDS.items() if pattern.search(words)), "")
        if mark:
            self._mark(**{mark: True})
        if mark or times:
            number = self.drafts[-1].number
            self.notices.append(f"bar {number}: the words {words[:40]!r} are obeyed")
        if self.feel is None and _SWING.search(words):
            self.feel = Feel.SWING
        elif self.feel is None and _STRAIGHT.search(words):
            self.feel = Feel.STRAIGHT

    def _take_sound(self, sound: Element) -> bool:
        """Obey a sound element; True where it says where to go on."""
        marks = [mark for name, mark in _SOUND_MARKS.items() if sound.get(name, "no") != "no"]
        for mark in marks:
            self._mark(**{mark: True})
        tempo = _number(sound.get("tempo"))
        if tempo and self.quarters_per_minute is None:
            self.quarters_per_minute = tempo
        if (swing := sound.find("swing")) is not None and self.feel is None:
            even = swing.find("straight") is not None
            even = even or swing.findtext("first", "2") == swing.findtext("second", "1")
            self.feel = Feel.STRAIGHT if even else Feel.SWING
        return bool(marks)

    def _take_metronome(self, metronome: Element) -> None:
        unit = _UNITS.get((metronome.findtext("beat-unit") or "").strip())
        stated = re.search(r"\d{1,4}(?:\.\d{1,6})?", metronome.findtext("per-minute") or "")
        if not (unit and stated) or self.quarters_per_minute is not None:
            return
        dots = len(metronome.findall("beat-unit-dot"))
        self.quarters_per_minute = Fraction(stated[0]) * unit * (2 - Fraction(1, 2 ** min(dots, 4)))

    # the whole part

    def _say_where_it_ends(self) -> None:
        """A final bar line with music after it may be an end or not."""
        for draft in self.drafts[:-1]:
            if draft.final and not draft.marks.fine:
                self.notices.append(f"bar {draft.number}: a final bar line; played straight on")

    def _resolve_codas(self) -> None:
        """Bare coda signs: the first of two sends away, the last is the goal."""
        signs = [draft for draft in self.drafts if draft.coda_sign and not draft.marks.to_coda]
        marked = [draft for draft in self.drafts if draft.coda_sign]
        away = any(draft.marks.to_coda for draft in self.drafts)
        goal = any(draft.marks.coda for draft in self.drafts)
        if not away and len(signs) > 1:
            signs[0].marks = replace(signs[0].marks, to_coda=True)
            away, signs = True, signs[1:]
        if away and signs and not goal:
            signs[-1].marks = replace(signs[-1].marks, coda=True)
        if marked:
            self.notices.append("coda signs are obeyed: the first sends away, the last is the coda")

    def _settle_outside(self) -> None:
        """A chord that its offset moves out of its bar goes to the neighbour."""
        for place, draft in enumerate(self.drafts):
            length = self._length(place)
            for found in list(self.found[place]):
                early, late = found.at < 0, found.at >= length
                if not (early or late):
                    continue
                self.found[place].remove(found)
                self._move_out(found, place, length, early=early)
                self.notices.append(f"bar {draft.number}: a chord lies outside its bar")

    def _length(self, place: int) -> Fraction:
        draft = self.drafts[place]
        whole = draft.meter.bar_beats
        may_be_short = place == 0 or draft.irregular
        return draft.beats if draft.beats and may_be_short else max(draft.beats, whole)

    def _move_out(self, found: _Found, place: int, length: Fraction, *, early: bool) -> None:
        if early and place == 0:
            self.found[0].insert(0, _Found(found.symbol, Fraction(0)))
        elif early:
            before = self._length(place - 1)
            at = max(Fraction(0), before + found.at)
            self.found[place - 1].append(_Found(found.symbol, at))
        elif place + 1 < len(self.drafts):
            at = min(found.at - length, self._length(place + 1) / 2)
            if all(other.at > at for other in self.found[place + 1]):
                self.found[place + 1].insert(0, _Found(found.symbol, at))

    def _bar(self, place: int, notes: tuple[SheetNote, ...]) -> WrittenBar:
        draft = self.drafts[place]
        chords: list[ChordAt] = []
        for found in sorted(self.found[place], key=lambda f: f.at):
            if chords and chords[-1].at == found.at and chords[-1].symbol != found.symbol:
                self.notices.append(
                    f"bar {draft.number}: {chords[-1].symbol} and {found.symbol} stand at one "
                    "place; the later is read"
                )
                chords.pop()
            if not chords or chords[-1].symbol != found.symbol:
                chords.append(ChordAt(found.symbol, found.at))
        return WrittenBar(
            draft.number,
            draft.meter,
            draft.beats,
            tuple(chords),
            draft.marks,
            draft.irregular,
            draft.section,
            notes,
        )

    def _with_repeated(self, bars: tuple[WrittenBar, ...]) -> tuple[WrittenBar, ...]:
        """Bars drawn as a repeat sign have chords and melody of the bar they repeat."""
        done: list[WrittenBar] = []
        for bar, draft in zip(bars, self.drafts, strict=True):
            back = draft.repeats_back
            if back and not bar.chords and len(done) >= back:
                bar = replace(bar, chords=done[-back].chords)
            if back and not bar.notes and len(done) >= back:
                bar = replace(bar, notes=done[-back].notes)
            done.append(bar)
        return tuple(done)

    def _tempo_bpm(self) -> float | None:
        """In pulses of the first metre."""
        if not self.quarters_per_minute or not self.drafts:
            return None
        meter = self.drafts[0].meter
        pulse = meter.tempo_beats
        tempo = float(self.quarters_per_minute / pulse)
        return tempo if SLOWEST_BPM <= tempo <= FASTEST_BPM else None

    def _key(self, bars: tuple[WrittenBar, ...]) -> Key | None:
        """The first key, sounding; the last chord tells a minor key that is not stated."""
        first = next((draft.key for draft in self.drafts if draft.key), None)
        if first is None or abs(first[0]) > _MOST_FIFTHS:
            return None
        fifths, mode = first
        if mode:
            return key_of(fifths, mode=mode)
        minor = key_of(fifths, minor=True)
        last = next((bar.chords[-1].symbol for bar in reversed(bars) if bar.chords), None)
        is_minor = last is not None and last.root == minor.tonic and last.family is Family.MINOR
        key = minor if is_minor else key_of(fifths)
        self.notices.append(f"the mode is not stated; read as {key}")
        return key

    def _with_keys(self, bars: tuple[WrittenBar, ...], home: Key | None) -> list[WrittenBar]:
        """The bars with the keys that begin in them; one without a mode has that of home."""
        keyed = []
        for bar, draft in zip(bars, self.drafts, strict=True):
            if draft.key and abs(draft.key[0]) <= _MOST_FIFTHS and home:
                fifths, mode = draft.key
                bar = replace(bar, key=key_of(fifths, mode=mode, minor=home.minor))
            keyed.append(bar)
        return keys_where_they_change(keyed, home)


_TAKEN = {
    "attributes",
    "note",
    "forward",
    "backup",
    "harmony",
    "barline",
    "direction",
    "sound",
}


def _in_order(notes: Iterable[SheetNote]) -> list[SheetNote]:
    """One after the other; a note that begins before the last one ends is left out."""
    kept: list[SheetNote] = []
    end = Fraction(0)
    for note in sorted(notes, key=lambda note: note.at):
        if note.at >= end:
            kept.append(note)
            end = note.at + note.beats
    return kept


def _one_line(text: str | None) -> str:
    printable = "".join(c if c.isprintable() else " " for c in text or "")
    return " ".join(printable.split())[:60].strip()


def _changes(texts: Iterable[str]) -> tuple[str, ...]:
    """The texts without those equal to the one before."""
    kept: list[str] = []
    for text in texts:
        if not kept or kept[-1] != text:
            kept.append(text)
    return tuple(kept)


def _meter(counts: list[str], units: list[int]) -> Meter | None:
    """One metre for a time signature, its parts added up: 3/8 + 2/4 is 7/8 as 3+2+2."""
    if not counts or len(counts) != len(units):
        return None
    if any(unit not in {1, 2, 4, 8, 16, 32} for unit in units):
        return None
    finest = max(units)
    groups: list[int] = []
    for said, unit in zip(counts, units, strict=True):
        numbers = [_integer(number) for number in said.split("+")]
        if min(numbers) <= 0 or sum(numbers) > _MOST_UNITS:
            return None
        groups += numbers if unit == finest else [finest // unit] * sum(numbers)
    grouping = tuple(groups) if len(groups) > 1 else ()
    return Meter(sum(groups), finest, grouping) if sum(groups) <= _MOST_UNITS else None


def _transposition(transpose: Element) -> Interval:
    """From written to sounding, octaves left out: they do not change a chord."""
    semitones = _integer(transpose.findtext("chromatic"))
    semitones = max(-48, min(48, semitones))
    sign = -1 if semitones < 0 else 1
    octaves, rest = divmod(abs(semitones), 12)
    guess = sign * (_DIATONIC[rest] + 7 * octaves)
    letters = _integer(transpose.findtext("diatonic"), guess)
    if abs(letters) > 28 or abs(_natural(letters) - semitones) > 1:
        letters = guess
    return Interval(letters, semitones)


def _natural(letters: int) -> int:
    octaves, letter = divmod(letters, 7)
    return NATURAL_SEMITONES[letter] + 12 * octaves


def _name(element: Element | None, stem: str) -> Name | None:
    """The note of an element whose children begin with ``stem``; None without one."""
    if element is None:
        return None
    return _named(element.findtext(f"{stem}step"), element.findtext(f"{stem}alter"))


@lru_cache(maxsize=256)
def _named(said_step: str | None, said_alter: str | None) -> Name | None:
    step, alter = (said_step or "").strip().upper(), _integer(said_alter)
    if len(step) != 1 or step not in LETTERS:
        return None
    name = Name(LETTERS.index(step), max(-14, min(14, alter)))
    return practical(name) if abs(alter) > 2 else name


@lru_cache(maxsize=1024)
def _sounding_pitch(
    step: str | None, alter: str | None, octave: str | None, move: Interval
) -> Pitch | None:
    name, number = _named(step, alter), _number(octave)
    if name is None or number is None or not 0 <= number <= 9:
        return None
    pitch = Pitch(name, int(number)) + move
    return practical_pitch(pitch) if abs(pitch.name.alteration) > 2 else pitch


def _degrees(harmony: Element) -> Iterator[KindDegree]:
    for degree in harmony.findall("degree")[:16]:
        value = _integer(degree.findtext("degree-value"))
        how = (degree.findtext("degree-type") or "").strip()
        if 1 <= value <= 13 and how in {"add", "alter", "subtract"}:
            yield KindDegree(value, _integer(degree.findtext("degree-alter")), how)


def _sounding(symbol: ChordSymbol, move: Interval) -> ChordSymbol:
    if move == UNISON or symbol.silent:
        return symbol
    moved = symbol.moved(move)
    if max(abs(name.alteration) for name in (moved.root, moved.bass or moved.root)) <= 2:
        return moved
    flip = DIMINISHED_SECOND if moved.root.alteration > 0 else -DIMINISHED_SECOND
    return moved.moved(flip)


def _inverted(symbol: ChordSymbol, inversion: int) -> ChordSymbol:
    """An inversion that states no bass: its third, fifth or seventh."""
    if not inversion:
        return symbol
    flat_third = symbol.family in {Family.MINOR, Family.DIMINISHED, Family.HALF_DIMINISHED}
    flat_fifth = symbol.family in {Family.DIMINISHED, Family.HALF_DIMINISHED}
    third = {Family.SUS4: Degree(4), Family.SUS2: Degree(2)}.get(
        symbol.family, Degree(3, -1 if flat_third else 0)
    )
    sharp = symbol.family is Family.AUGMENTED or Degree(5, 1) in symbol.altered
    fifth = Degree(5, -1 if flat_fifth or Degree(5, -1) in symbol.altered else int(sharp))
    seventh = symbol.seventh or (Degree(6) if symbol.sixth else None)
    lowest = {1: third, 2: fifth, 3: seventh}.get(inversion)
    if lowest is None:
        return symbol
    bass = symbol.root + lowest.interval
    inverted = replace(symbol, bass=bass)
    return replace(inverted, typed=inverted.ascii)
