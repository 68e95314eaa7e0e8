"""What chords does a MusicXML lead sheet write?

`read_score` gives the bars as written with all their marks, `read_musicxml_sheet` the
lead sheet with its melody, `read_musicxml` the chart as played.

Conventions
-----------
- Only the first part that has harmonies is read; without any there is no chart.
- Harmonies of a transposed part are in written pitch and become concert here. Where the
  sounding key would need more than seven accidentals the whole part flips.
- A harmony stands where the cursor is, moved by its offset. Several at one place with no
  offset share the note that follows, with a notice.
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
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Meter
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
from halfstep.progression.chart import Chart, ChordAt, Feel
from halfstep.progression.form import MAX_BARS, played
from halfstep.progression.key import Key, key_of
from halfstep.progression.kinds import KindDegree, symbol_of_kind
from halfstep.progression.scorefile import read_score_root
from halfstep.progression.sheet import NO_MARKS, LeadSheet, Marks, SheetNote, WrittenBar
from halfstep.progression.symbol import ChordSymbol, Family

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

_NUMBER = re.compile(r"[+-]?\d{1,9}(?:\.\d{1,6})?")
_MAX_PASSES = 100
_MODES = {"major": 0, "ionian": 0, "mixolydian": 1, "lydian": -1, "minor": 3, "aeolian": 3}
_MODES |= {"dorian": 2, "phrygian": 4, "locrian": 5}
"""Fifths from the major tonic of a signature to the mode's own tonic."""

_MINOR_MODES = {"minor", "aeolian", "dorian", "phrygian", "locrian"}
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


def read_musicxml(path: Path) -> Chart:
    """Read the chords of a MusicXML file as a chart in play order, in concert pitch.

    Parameters
    ----------
    path : Path
        A ``.musicxml``, ``.xml`` or ``.mxl`` file.

    Raises
    ------
    ReadError
        When it is no MusicXML or has no harmonies.
    """
    try:
        return played(read_musicxml_sheet(path))
    except ReadError as error:
        raise error.at(source=path.name) from None


def read_musicxml_sheet(path: Path) -> LeadSheet:
    """Read a MusicXML file as a lead sheet in concert pitch, with melody and sections.

    Parameters
    ----------
    path : Path
        A ``.musicxml``, ``.xml`` or ``.mxl`` file.

    Raises
    ------
    ReadError
        When it is no MusicXML or has no harmonies.
    """
    score = read_score(path)
    if not any(bar.chords for bar in score.bars):
        raise ReadError("the file has no chord symbols (<harmony>)", source=path.name)
    title = score.title or path.stem
    return LeadSheet(title, score.bars, score.key, score.tempo_bpm, score.feel, score.notices)


def read_score(path: Path) -> Score:
    """The first part with harmonies, bars as written; the first part where none has any.

    Raises
    ------
    ReadError
        When the file is no MusicXML or has no parts.
    """
    root = read_score_root(path)
    parts = root.findall("part")
    if not parts:
        raise ReadError("the score has no parts", source=path.name)
    part = next((p for p in parts if p.find(".//harmony") is not None), parts[0])
    if len(part.findall("measure")) > MAX_BARS:
        raise ReadError(f"the score has more than {MAX_BARS} bars", source=path.name)
    return _PartReader(part).score(_title(root), len(parts))


def _title(root: Element) -> str:
    for place in ("work/work-title", "movement-title"):
        title = " ".join((root.findtext(place) or "").split())
        if title:
            return title[:200]
    return ""


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
class _Draft:
    """A bar being read."""

    number: str
    meter: Meter
    irregular: bool
    beats: Fraction = Fraction(0)
    marks: Marks = NO_MARKS
    coda_sign: bool = False
    repeats_back: int = 0
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
        self.move = UNISON
        self.octaves = 0
        self.voice: str | None = None
        self.slashes = False
        self.meters: list[str] = []
        self.keys: list[tuple[int, str | None]] = []
        self.sounding: list[int] = []
        self.quarters_per_minute: Fraction | None = None
        self.feel: Feel | None = None
        self.repeats_back = 0
        self.cursor = Fraction(0)
        self.pending: list[ChordSymbol] = []

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
        return Score(
            title,
            parts,
            self._with_repeated(bars),
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
        self._place(max(Fraction(0), self._bar_beats() - self.cursor))
        draft = self.drafts[-1]
        draft.meter, draft.repeats_back = self.meter, self.repeats_back
        draft.irregular = draft.irregular or self.free

    def _bar_beats(self) -> Fraction:
        return self.drafts[-1].beats or self.meter.bar_beats

    def _take_attributes(self, attributes: Element) -> None:
        divisions = _number(attributes.findtext("divisions"))
        if divisions and divisions > 0:
            self.divisions = divisions
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
        if fifths is None or fifths.denominator != 1:
            return
        mode = (key.findtext("mode") or "").strip().lower() or None
        self.keys.append((int(fifths), mode))
        sounding = int(fifths) + self.move.fifths
        while abs(sounding) > 7 and self.move != UNISON:
            flip = DIMINISHED_SECOND if sounding > 0 else -DIMINISHED_SECOND
            self.move, sounding = self.move + flip, sounding + flip.fifths
        self.sounding.append(sounding)

    def _take_note(self, note: Element) -> None:
        if note.find("grace") is not None:
            return
        in_chord = note.find("chord") is not None
        self._take_melody(note, in_chord=in_chord)
        if not in_chord:
            self._advance(note)

    def _advance(self, element: Element) -> None:
        length = self._duration(element)
        self._place(length)
        self.cursor += length
        self.drafts[-1].beats = max(self.drafts[-1].beats, self.cursor)

    _take_forward = _advance

    def _take_backup(self, backup: Element) -> None:
        self._place(Fraction(0))
        self.cursor = max(Fraction(0), self.cursor - self._duration(backup))

    def _duration(self, element: Element) -> Fraction:
        duration = _number(element.findtext("duration")) or Fraction(0)
        return max(Fraction(0), duration / self.divisions)

    # melody

    def _take_melody(self, note: Element, *, in_chord: bool) -> None:
        voice = (note.findtext("voice") or "1").strip()
        if self.voice is None:
            self.voice = voice
        pitch = self._pitch(note) if voice == self.voice and self._is_melody(note) else None
        beats = self._duration(note)
        if pitch is None or not beats:
            return
        tied = any(tie.get("type") == "start" for tie in note.findall("tie"))
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
        name = _name(note.find("pitch"), "")
        octave = _number(note.findtext("pitch/octave"))
        if name is None or octave is None or not 0 <= octave <= 9:
            return None
        move = self.move + Interval(7 * self.octaves, 12 * self.octaves)
        pitch = Pitch(name, int(octave)) + move
        return practical_pitch(pitch) if abs(pitch.name.alteration) > 2 else pitch

    def _melody(self) -> list[tuple[SheetNote, ...]]:
        """Bar by bar, in order, without overlaps; ties that lead to another note are cut."""
        bars = [_in_order(draft.notes) for draft in self.drafts]
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
        """Put the waiting harmonies on the cursor; several share the note of that length."""
        share = length / len(self.pending) if self.pending else length
        for turn, symbol in enumerate(self.pending):
            self.found[-1].append(_Found(symbol, self.cursor + turn * share))
        if len(set(self.pending)) > 1 and length:
            number = self.drafts[-1].number
            said = f"bar {number}: {len(self.pending)} chords stand at one place"
            self.notices.append(f"{said}; they share the note evenly")
        self.pending = []

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
        for mark, pattern in _WORDS.items():
            if pattern.search(words):
                self._mark(**{mark: True})
                number = self.drafts[-1].number
                self.notices.append(f"bar {number}: the words {words[:40]!r} are obeyed")
                break
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
        stated = re.search(r"\d{1,4}(?:\.\d+)?", metronome.findtext("per-minute") or "")
        if not (unit and stated) or self.quarters_per_minute is not None:
            return
        dots = len(metronome.findall("beat-unit-dot"))
        self.quarters_per_minute = Fraction(stated[0]) * unit * (2 - Fraction(1, 2 ** min(dots, 4)))

    # the whole part

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
        if not self.keys or abs(self.sounding[0]) > 7:
            return None
        fifths, mode = self.sounding[0], self.keys[0][1]
        major, minor = key_of(fifths), key_of(fifths, minor=True)
        if mode in _MODES:
            tonic = key_of(fifths + _MODES[mode]).tonic
            if mode not in {"major", "minor"}:
                self.notices.append(f"the key is {tonic} {mode}")
            return Key(tonic, mode in _MINOR_MODES)
        last = next((bar.chords[-1].symbol for bar in reversed(bars) if bar.chords), None)
        is_minor = last is not None and last.root == minor.tonic and last.family is Family.MINOR
        self.notices.append(f"the mode is not stated; read as {minor if is_minor else major}")
        return minor if is_minor else major


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
    for note in sorted(notes, key=lambda note: note.at):
        if not kept or note.at >= kept[-1].at + kept[-1].beats:
            kept.append(note)
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
    """One metre for a time signature, its parts added up: 3/8 + 2/4 is 7/8."""
    if not counts or len(counts) != len(units):
        return None
    if any(unit not in {1, 2, 4, 8, 16, 32} for unit in units):
        return None
    sums = [sum(_integer(n) for n in count.split("+")) for count in counts]
    finest = max(units)
    count = sum(number * finest // unit for number, unit in zip(sums, units, strict=True))
    return Meter(count, finest) if min(sums) > 0 and count <= 64 else None


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
    step = (element.findtext(f"{stem}step") or "").strip().upper()
    alter = _integer(element.findtext(f"{stem}alter"))
    if len(step) != 1 or step not in LETTERS:
        return None
    name = Name(LETTERS.index(step), max(-14, min(14, alter)))
    return practical(name) if abs(alter) > 2 else name


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
