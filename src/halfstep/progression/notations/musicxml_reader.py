"""What chords does a MusicXML lead sheet write?

The file is opened by `halfstep.progression.notations.musicxml_file`; here its bars are read,
with their marks and the melody.

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
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache
from itertools import zip_longest
from typing import TYPE_CHECKING

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Feel, Meter
from halfstep.pitch import DIMINISHED_SECOND, UNISON, Interval, Pitch
from halfstep.progression.bar_builder import BarBuilder
from halfstep.progression.chart import ChordAt
from halfstep.progression.form import MAX_BARS
from halfstep.progression.key import Key, key_of, mode_of
from halfstep.progression.notations.musicxml_endings import settled_endings
from halfstep.progression.notations.musicxml_file import read_score_root
from halfstep.progression.notations.musicxml_harmony import (
    integer_of,
    number_of,
    sounding,
    sounding_pitch,
    symbol_of_harmony,
    transposition_of,
)
from halfstep.progression.quality import Family
from halfstep.progression.sheet import NO_MARKS, LeadSheet, Marks, SheetNote
from halfstep.progression.symbol import ChordSymbol

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

_MAX_PASSES = 100
_UNITS = {
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
}
_SOUND_MARKS = {
    "dacapo": "da_capo",
    "dalsegno": "dal_segno",
    "tocoda": "to_coda",
    "fine": "fine",
    "segno": "segno",
    "coda": "coda",
}
_MOST_FIFTHS = 7
_FARTHEST_FIFTHS = 14  # every note doubly altered
_MOST_UNITS = 64
_FINEST = 16383  # parts of a quarter note, the most that MusicXML 4.0 advises
_MOST_BEATS = 4 * _MOST_UNITS  # the longest metre in whole notes


@cache
def _mark_words() -> dict[str, re.Pattern[str]]:
    """Words that are marks, by the field of `Marks` that they set."""
    patterns = {
        "da_capo": r"\bD\.\s*C\b|\bda capo\b",
        "dal_segno": r"\bD\.\s*S\b|\bdal segno\b",
        "to_coda": r"^\W*to coda\W*$",
        "fine": r"^\W*fine\W*$",
        "coda": r"^\W*coda\W*$",
    }
    return {name: re.compile(pattern, re.IGNORECASE) for name, pattern in patterns.items()}


@cache
def _times() -> re.Pattern[str]:
    return re.compile(r"\b(\d{1,2})\s*(?:x\b|times\b|repeats\b)", re.IGNORECASE)


@cache
def _swing() -> re.Pattern[str]:
    return re.compile(r"\bswing\b|\bswung\b|\bshuffle\b", re.IGNORECASE)


@cache
def _straight() -> re.Pattern[str]:
    return re.compile(r"\bstraight\b|\beven (?:8ths?|eighths?)\b", re.IGNORECASE)


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
    root = read_score_root(data, source=source)
    try:
        part = part_with_harmonies(root)
        sheet = _PartReader(part).sheet(_title(root))
        if not melody_will_do and not any(bar.chords for bar in sheet.bars):
            raise ReadError("the file has no chord symbols (<harmony>)")
    except ReadError as error:
        raise error.at(source=source) from None
    return sheet


def part_with_harmonies(root: Element) -> Element:
    """The first part that has harmonies; the first of all where none has.

    Raises
    ------
    ReadError
        When the score has no parts, or too many bars.
    """
    parts = root.findall("part")
    if not parts:
        raise ReadError("the score has no parts")
    part = next((p for p in parts if p.find(".//harmony") is not None), parts[0])
    if len(part.findall("measure")) > MAX_BARS:
        raise ReadError(f"the score has more than {MAX_BARS} bars")
    return part


def _title(root: Element) -> str:
    for place in ("work/work-title", "movement-title"):
        title = " ".join((root.findtext(place) or "").split())
        if title:
            return title[:200]
    return ""


@dataclass(slots=True)
class _HarmonyStack:
    """Harmonies that stand at one place, over a note of that length."""

    at: Fraction
    beats: Fraction
    symbols: list[ChordSymbol]


@dataclass(slots=True)
class _BarDraft:
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
        self.builder = BarBuilder()
        self.drafts: list[_BarDraft] = []
        self.placed: list[list[ChordAt]] = []
        self.meter = Meter()
        self.free = False
        self.divisions = Fraction(1)
        self.lengths: dict[str, Fraction] = {}
        self.move = UNISON
        self.octaves = 0
        self.voice: str | None = None
        self.slashes = False
        self.states_meter = False
        self.quarters_per_minute: Fraction | None = None
        self.feel: Feel | None = None
        self.repeats_back = 0
        self.cursor = Fraction(0)
        self.pending: list[ChordSymbol] = []
        self.stacks: list[_HarmonyStack] = []

    def sheet(self, title: str) -> LeadSheet:
        """Everything the part says."""
        for measure in self.part.findall("measure"):
            self._measure(measure)
        if not self.states_meter:
            self._notice("the score states no metre; read as 4/4")
        self._resolve_codas()
        self._settle_endings()
        self._settle_outside()
        melody = self._melody()
        chords = [self._chords_of_bar(place) for place in range(len(self.drafts))]
        tempo_bpm = self._tempo_bpm()
        if self.quarters_per_minute and not tempo_bpm:
            self._notice("the tempo is out of range; left out")
        key = self._key(chords)
        self._say_where_it_ends()
        for draft, bar_chords, notes in zip(self.drafts, chords, melody, strict=True):
            self._build(draft, bar_chords, notes, key)
        sheet = self.builder.sheet(title, key=key, tempo_bpm=tempo_bpm, feel=self.feel)
        return replace(sheet, part_rise=-self.move)

    def _notice(self, text: str) -> None:
        self.builder.notices.append(text)

    # one bar

    def _measure(self, measure: Element) -> None:
        number = (measure.get("number") or str(len(self.drafts) + 1)).strip()[:12]
        irregular = measure.get("implicit") == "yes"
        self.drafts.append(_BarDraft(number, self.meter, irregular))
        self.placed.append([])
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
            draft.marks = draft.marks._replace(backward=draft.times)
        draft.meter, draft.repeats_back = self.meter, self.repeats_back
        draft.irregular = draft.irregular or self.free

    def _bar_beats(self) -> Fraction:
        return self.drafts[-1].beats or self.meter.bar_beats

    def _take_attributes(self, attributes: Element) -> None:
        divisions = number_of(attributes.findtext("divisions"))
        if divisions and divisions > 0:
            self.divisions = divisions
            self.lengths = {}
        if (time := attributes.find("time")) is not None:
            self._take_time(time)
        if (transpose := attributes.find("transpose")) is not None:
            self.move = transposition_of(transpose)
            octaves = integer_of(transpose.findtext("octave-change"))
            self.octaves = max(-4, min(4, octaves))
        if (key := attributes.find("key")) is not None:
            self._take_key(key)
        for repeat in attributes.iter("measure-repeat"):
            starts = repeat.get("type") == "start"
            self.repeats_back = max(1, integer_of(repeat.text, 1)) if starts else 0
        for slash in attributes.iter("slash"):
            self.slashes = slash.get("type") == "start"

    def _take_time(self, time: Element) -> None:
        self.free = time.find("senza-misura") is not None
        counts = [e.text or "" for e in time.findall("beats")]
        units = [integer_of(e.text) for e in time.findall("beat-type")]
        meter = _meter(counts, units)
        if meter:
            self.meter = meter
            self.states_meter = True
        elif not self.free:
            self._notice(f"a metre cannot be read; {self.meter} goes on")

    def _take_key(self, key: Element) -> None:
        fifths = number_of(key.findtext("fifths"))
        if fifths is None or fifths.denominator != 1 or abs(fifths) > _FARTHEST_FIFTHS:
            self._notice("a key signature cannot be read; left out")
            return
        mode = (key.findtext("mode") or "").strip().lower() or None
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
            beats = (number_of(text) or Fraction(0)) / self.divisions
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
        texts = (pitch.findtext(tag) for tag in ("step", "alter", "octave"))
        return sounding_pitch(*texts, self.move + Interval(7 * self.octaves, 12 * self.octaves))

    def _melody(self) -> list[tuple[SheetNote, ...]]:
        """Bar by bar, in order, without overlaps; ties that lead to another note are cut."""
        bars = [_in_order(d.notes) if d.goes_back else d.notes for d in self.drafts]
        following: SheetNote | None = None
        for notes in reversed(bars):
            for place in reversed(range(len(notes))):
                note = notes[place]
                if note.tied and (following is None or following.pitch != note.pitch):
                    notes[place] = note._replace(tied=False)
                following = notes[place]
        return [tuple(notes) for notes in bars]

    # harmonies

    def _take_harmony(self, harmony: Element) -> None:
        symbol = self._symbol(harmony)
        if symbol is None:
            return
        offset = number_of(harmony.findtext("offset"))
        if offset is None:
            self.pending.append(symbol)
        else:
            self.placed[-1].append(ChordAt(symbol, self.cursor + offset / self.divisions))

    def _place(self, length: Fraction) -> None:
        """Put the waiting harmonies on the cursor, over the note of that length."""
        if self.pending:
            self.stacks.append(_HarmonyStack(self.cursor, length, self.pending))
            self.pending = []

    def _spread(self) -> None:
        """Harmonies at one place share their note; one said again at the next stands there."""
        for stack, following in zip_longest(self.stacks, self.stacks[1:]):
            symbols = stack.symbols
            if following and len(symbols) > 1 and symbols[-1] == following.symbols[0]:
                symbols = symbols[:-1]
            share = stack.beats / len(symbols)
            for turn, symbol in enumerate(symbols):
                self.placed[-1].append(ChordAt(symbol, stack.at + turn * share))
            if len(set(symbols)) > 1 and stack.beats:
                number = self.drafts[-1].number
                stack_text = f"bar {number}: {len(symbols)} chords stand at one place"
                self._notice(f"{stack_text}; they share the note evenly")
        self.stacks = []

    def _symbol(self, harmony: Element) -> ChordSymbol | None:
        number = self.drafts[-1].number
        symbol = symbol_of_harmony(harmony)
        if symbol is None:
            self._notice(f"bar {number}: a harmony without a root is left out")
            return None
        for notice in symbol.notices:
            self._notice(f"bar {number}: {notice}")
        return sounding(symbol, self.move)

    # marks

    def _mark(self, **marks: object) -> None:
        draft = self.drafts[-1]
        draft.marks = draft.marks._replace(**marks)  # type: ignore[arg-type]

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
                self._mark(backward=_times_of(repeat, barline))
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
            self._notice(f"bar {self.drafts[-1].number}: an ending without a number is 1")
        return tuple(sane) or (1,)

    def _take_direction(self, direction: Element) -> None:
        words = " ".join((e.text or "") for e in direction.iter("words")).strip()
        self._take_feel(words)  # before its sound: fast swing is played even
        sound = direction.find("sound")
        obeyed = self._take_sound(sound) if sound is not None else False
        for mark in direction.iter("rehearsal"):
            self.drafts[-1].section = self.drafts[-1].section or _one_line(mark.text)
        if direction.find("direction-type/segno") is not None:
            self._mark(segno=True)
        if direction.find("direction-type/coda") is not None and not obeyed:
            self.drafts[-1].coda_sign = True
        if words and not obeyed:
            self._take_words(words)
        for metronome in direction.iter("metronome"):
            self._take_metronome(metronome)

    def _take_words(self, words: str) -> None:
        if times := _times().search(words):
            self.drafts[-1].times = min(max(int(times[1]), 1), _MAX_PASSES)
        mark = next((mark for mark, pattern in _mark_words().items() if pattern.search(words)), "")
        if mark:
            self._mark(**{mark: True})
        if mark or times:
            number = self.drafts[-1].number
            self._notice(f"bar {number}: the words {words[:40]!r} are obeyed")

    def _take_feel(self, words: str) -> None:
        if self.feel is None and _swing().search(words):
            self.feel = Feel.SWING
        elif self.feel is None and _straight().search(words):
            self.feel = Feel.STRAIGHT

    def _take_sound(self, sound: Element) -> bool:
        """Obey a sound element; True where it says where to go on."""
        marks = [mark for name, mark in _SOUND_MARKS.items() if sound.get(name, "no") != "no"]
        for mark in marks:
            self._mark(**{mark: True})
        tempo = number_of(sound.get("tempo"))
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
                self._notice(f"bar {draft.number}: a final bar line; played straight on")

    def _resolve_codas(self) -> None:
        """Bare coda signs: the first of two sends away, the last is the goal."""
        signs = [draft for draft in self.drafts if draft.coda_sign and not draft.marks.to_coda]
        marked = [draft for draft in self.drafts if draft.coda_sign]
        away = any(draft.marks.to_coda for draft in self.drafts)
        goal = any(draft.marks.coda for draft in self.drafts)
        if not away and len(signs) > 1:
            signs[0].marks = signs[0].marks._replace(to_coda=True)
            away, signs = True, signs[1:]
        if away and signs and not goal:
            signs[-1].marks = signs[-1].marks._replace(coda=True)
        if marked:
            self._notice("coda signs are obeyed: the first sends away, the last is the coda")

    def _settle_endings(self) -> None:
        settled, notices = settled_endings([draft.marks for draft in self.drafts])
        for draft, marks in zip(self.drafts, settled, strict=True):
            draft.marks = marks
        self.builder.notices += notices

    def _settle_outside(self) -> None:
        """A chord that its offset moves out of its bar goes to the neighbour."""
        for place, draft in enumerate(self.drafts):
            length = self._length(place)
            for chord in list(self.placed[place]):
                early, late = chord.at < 0, chord.at >= length
                if not (early or late):
                    continue
                self.placed[place].remove(chord)
                self._move_out(chord, place, length, early=early)
                self._notice(f"bar {draft.number}: a chord lies outside its bar")

    def _length(self, place: int) -> Fraction:
        draft = self.drafts[place]
        whole = draft.meter.bar_beats
        may_be_short = place == 0 or draft.irregular
        return draft.beats if draft.beats and may_be_short else max(draft.beats, whole)

    def _move_out(self, chord: ChordAt, place: int, length: Fraction, *, early: bool) -> None:
        if early and place == 0:
            self.placed[0].insert(0, ChordAt(chord.symbol, Fraction(0)))
        elif early:
            before = self._length(place - 1)
            at = max(Fraction(0), before + chord.at)
            self.placed[place - 1].append(ChordAt(chord.symbol, at))
        elif place + 1 < len(self.drafts):
            at = min(chord.at - length, self._length(place + 1) / 2)
            if all(other.at > at for other in self.placed[place + 1]):
                self.placed[place + 1].insert(0, ChordAt(chord.symbol, at))

    def _chords_of_bar(self, place: int) -> tuple[ChordAt, ...]:
        """Of two different ones at one place the later; one said twice in a row once."""
        chords: list[ChordAt] = []
        for chord in sorted(self.placed[place], key=lambda chord: chord.at):
            last = chords[-1] if chords else None
            if last and last.at == chord.at and last.symbol != chord.symbol:
                number = self.drafts[place].number
                both = f"bar {number}: {last.symbol} and {chord.symbol} stand at one place"
                self._notice(f"{both}; the later is read")
                chords.pop()
            if not chords or chords[-1].symbol != chord.symbol:
                chords.append(chord)
        return tuple(chords)

    def _build(
        self,
        draft: _BarDraft,
        chords: tuple[ChordAt, ...],
        notes: tuple[SheetNote, ...],
        home: Key | None,
    ) -> None:
        """One more bar; one drawn as a repeat sign has what the bar has that it repeats."""
        bars, back = self.builder.bars, draft.repeats_back
        repeated = bars[-back] if back and len(bars) >= back else None
        self.builder.section = draft.section
        self.builder.add(
            draft.meter,
            chords or (repeated.chords if repeated else ()),
            beats=draft.beats,
            number=draft.number,
            notes=notes or (repeated.notes if repeated else ()),
            key=_key_beside(draft.key, home),
            irregular=draft.irregular,
            marks=draft.marks,
        )

    def _tempo_bpm(self) -> float | None:
        """In pulses of the first metre."""
        if not self.quarters_per_minute or not self.drafts:
            return None
        meter = self.drafts[0].meter
        pulse = meter.tempo_beats
        tempo = float(self.quarters_per_minute / pulse)
        return tempo if SLOWEST_BPM <= tempo <= FASTEST_BPM else None

    def _key(self, chords: Sequence[tuple[ChordAt, ...]]) -> Key | None:
        """The first key, sounding; the last chord tells a minor key that is not stated."""
        first = next((draft.key for draft in self.drafts if draft.key), None)
        if first is None or abs(first[0]) > _MOST_FIFTHS:
            return None
        fifths, mode = first
        if mode:
            return key_of(fifths, mode=mode)
        minor = key_of(fifths, minor=True)
        last = next((bar_chords[-1].symbol for bar_chords in reversed(chords) if bar_chords), None)
        is_minor = last is not None and last.root == minor.tonic and last.family is Family.MINOR
        key = minor if is_minor else key_of(fifths)
        self._notice(f"the mode is not stated; read as {key}")
        return key


def _key_beside(signature: tuple[int, str] | None, home: Key | None) -> Key | None:
    """The key of a signature; one without a mode has that of the home key."""
    if not (signature and home) or abs(signature[0]) > _MOST_FIFTHS:
        return None
    return key_of(signature[0], mode=signature[1], minor=home.minor)


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


def _times_of(repeat: Element, barline: Element) -> int:
    """How often a passage is played; after an ending of several passes its number says so."""
    times = integer_of(repeat.get("times"), 2)
    passes = re.findall(r"\d{1,3}", " ".join(e.get("number", "") for e in barline.iter("ending")))
    if len(passes) > 1 and times == max(map(int, passes)) + 1:
        return 2
    return min(max(times, 1), _MAX_PASSES)


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


def _meter(counts: list[str], units: list[int]) -> Meter | None:
    """One metre for a time signature, its parts added up: 3/8 + 2/4 is 7/8 as 3+2+2."""
    if not counts or len(counts) != len(units):
        return None
    if any(unit not in {1, 2, 4, 8, 16, 32} for unit in units):
        return None
    finest = max(units)
    groups: list[int] = []
    for count, unit in zip(counts, units, strict=True):
        numbers = [integer_of(number) for number in count.split("+")]
        if min(numbers) <= 0 or sum(numbers) > _MOST_UNITS:
            return None
        groups += numbers if unit == finest else [finest // unit] * sum(numbers)
    grouping = tuple(groups) if len(groups) > 1 else ()
    return Meter(sum(groups), finest, grouping) if sum(groups) <= _MOST_UNITS else None
