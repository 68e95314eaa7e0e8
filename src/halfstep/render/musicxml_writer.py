"""What do other programs read? A score as MusicXML 4.0, partwise.

Conventions
-----------
- Notes, key and chord symbols are in written pitch; ``transpose`` says how to hear them.
- A chord symbol stands before the note it falls on or in, with an ``offset`` from that
  note's start in divisions.
- The tempo is shown in the metre's pulse (a dotted quarter in 6/8); ``sound`` counts
  quarter notes a minute, as the standard asks.
- A changing note carries ``other-notation`` with the words ``changing note``, which
  programs keep or pass over.

Sources: MusicXML 4.0 (W3C), General MIDI for programs, which MusicXML counts from 1.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from pathlib import Path
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from halfstep.instruments import Clef
from halfstep.meter import Meter
from halfstep.notation import (
    NOTE_VALUES,
    Accidental,
    NoteValue,
    beam_groups,
    is_whole_rest,
    note_value,
    onsets,
    plain_beats,
    score_accidentals,
    tuplet_ratio,
)
from halfstep.pitch import LETTERS, Interval, Pitch, parse_name
from halfstep.score import LEADING, Barline, ChordText, Mark, Road, Score, ScoreBar, ScoreNote

_TYPES = {
    1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th",
    128: "128th",
}  # fmt: skip
_SHORTER = {Fraction(4, divisor): NoteValue(divisor) for divisor in (32, 64, 128)}
"""Values that only charts from elsewhere have."""


_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_CLEFS = {Clef.TREBLE: ("G", 2), Clef.BASS: ("F", 4)}
_BARLINES = {Barline.DOUBLE: "light-light", Barline.FINAL: "light-heavy"}
_ACCIDENTALS = {
    -3: "triple-flat", -2: "flat-flat", -1: "flat", 0: "natural",
    1: "sharp", 2: "double-sharp", 3: "triple-sharp",
}  # fmt: skip
_DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_SIGNS = {
    "segno": ("", "segno", "segno"),
    "coda": ("", "coda", "coda"),
    "to coda": ("To Coda", "tocoda", "coda"),
    "fine": ("Fine", "fine", "yes"),
    "D.C.": ("D.C.", "dacapo", "yes"),
    "D.S.": ("D.S.", "dalsegno", "segno"),
}
"""Signs of the road: the words printed, if any, and what a player program is told."""
_SWING = (2, 1)  # what a program that plays the file makes of the word Swing


@dataclass(frozen=True, slots=True)
class _NoteContext:
    """What a note inherits from its neighbours."""

    accidental: Accidental | None
    beams: tuple[str, ...]
    tied_from: bool


def write_musicxml(path: Path, score: Score) -> None:
    """Write a score as an uncompressed MusicXML file.

    Parameters
    ----------
    path : Path
        Ending in ``.musicxml``, by custom.
    score : Score
    """
    path.write_text(musicxml_text(score), encoding="utf-8")


def musicxml_text(score: Score) -> str:
    """A score as MusicXML 4.0.

    Raises
    ------
    ValueError
        Names the bar, when a note has a length that no single note lasts.
    """
    root = Element("score-partwise", version="4.0")
    _text(SubElement(root, "work"), "work-title", score.title)
    _text(SubElement(SubElement(root, "identification"), "encoding"), "software", "Halfstep")
    _part_list(root, score)
    part = SubElement(root, "part", id="P1")
    divisions = _divisions(score)
    contexts = _note_contexts(score)
    for place in range(len(score.bars)):
        _measure(part, score, place, contexts[place], divisions=divisions)
    indent(root, " ")
    return _DOCTYPE + tostring(root, encoding="unicode") + "\n"


def _text(parent: Element, tag: str, content: object, **attributes: str) -> Element:
    """A child with text in it, of what signs XML may hold."""
    child = SubElement(parent, tag, attributes)
    child.text = _NO_XML.sub("", str(content))
    return child


def _divisions(score: Score) -> int:
    """Parts of a quarter note that make every note and chord place a whole number."""
    places = [note.beats for bar in score.bars for note in bar.notes]
    places += [chord.at for bar in score.bars for chord in bar.chords]
    return lcm(4, *(place.denominator for place in places))


def _part_list(root: Element, score: Score) -> None:
    part = SubElement(SubElement(root, "part-list"), "score-part", id="P1")
    _text(part, "part-name", score.label)
    instrument = SubElement(part, "score-instrument", id="P1-I1")
    _text(instrument, "instrument-name", score.label)
    midi = SubElement(part, "midi-instrument", id="P1-I1")
    _text(midi, "midi-channel", 1)
    _text(midi, "midi-program", score.program + 1)


def _note_contexts(score: Score) -> list[list[_NoteContext]]:
    """For each note of each bar: accidental, beams, and whether a tie comes in."""
    contexts = []
    tied = False
    for bar, accidentals in zip(score.bars, score_accidentals(score), strict=True):
        beams = _beams(bar)
        row = []
        for place, note in enumerate(bar.notes):
            row.append(_NoteContext(accidentals[place], beams.get(place, ()), tied))
            tied = Mark.TIE in note.marks
        contexts.append(row)
    return contexts


def _beams(bar: ScoreBar) -> dict[int, tuple[str, ...]]:
    """Beam words by note, the eighth beam first, then the sixteenth."""
    words: dict[int, tuple[str, ...]] = {}
    for group in beam_groups(bar):
        short = [n for n in group if plain_beats(bar.notes[n].beats) < Fraction(1, 2)]
        for n in group:
            first = _beam_word(n > group[0], n < group[-1])
            words[n] = (first, _second_beam(n, group, short)) if n in short else (first,)
    return words


def _beam_word(before: bool, after: bool) -> str:
    if before:
        return "continue" if after else "end"
    return "begin"


def _second_beam(n: int, group: tuple[int, ...], short: list[int]) -> str:
    before, after = n - 1 in short, n + 1 in short
    if not before and not after:
        return "backward hook" if n > group[0] else "forward hook"
    return _beam_word(before, after)


# A measure


def _measure(
    part: Element, score: Score, place: int, contexts: list[_NoteContext], *, divisions: int
) -> None:
    bar = score.bars[place]
    measure = SubElement(part, "measure", number=bar.label or str(bar.number))
    if bar.number == 0 or bar.irregular:
        measure.set("implicit", "yes")
    _left_barline(measure, bar.road)
    _attributes(measure, score, place, divisions)
    if place == 0:
        _feel(measure, score)
    _signs(measure, bar.road, at_start=True)
    starts = onsets(bar)
    for number, note in enumerate(bar.notes):
        end = starts[number] + note.beats
        last = number + 1 == len(bar.notes)
        for chord in bar.chords:
            if starts[number] <= chord.at and (chord.at < end or last):
                _harmony(measure, chord, int((chord.at - starts[number]) * divisions))
        _note(measure, bar, note, contexts[number], divisions=divisions)
    _signs(measure, bar.road, at_start=False)
    _right_barline(measure, bar)


def _left_barline(measure: Element, road: Road) -> None:
    if not (road.forward or road.ending):
        return
    line = SubElement(measure, "barline", location="left")
    if road.ending:
        SubElement(line, "ending", number=_passes(road.ending), type="start")
    if road.forward:
        SubElement(line, "repeat", direction="forward")


def _right_barline(measure: Element, bar: ScoreBar) -> None:
    road = bar.road
    if not (bar.barline in _BARLINES or road.backward or road.ending_stops):
        return
    line = SubElement(measure, "barline", location="right")
    if bar.barline in _BARLINES:
        _text(line, "bar-style", _BARLINES[bar.barline])
    if road.ending_stops:
        SubElement(line, "ending", number=_passes(road.ending_stops), type="stop")
    if road.backward:
        repeat = SubElement(line, "repeat", direction="backward")
        if road.backward != 2:
            repeat.set("times", str(road.backward))


def _passes(ending: tuple[int, ...]) -> str:
    return ", ".join(map(str, ending))


def _signs(measure: Element, road: Road, *, at_start: bool) -> None:
    """The rehearsal mark, and the signs that belong to the start or the end of a bar."""
    if road.section and at_start:
        direction = SubElement(measure, "direction", placement="above")
        _text(SubElement(direction, "direction-type"), "rehearsal", road.section)
    for sign in road.signs:
        words, attribute, value = _SIGNS[sign]
        if bool(words) == at_start:
            continue
        direction = SubElement(measure, "direction", placement="above")
        kind = SubElement(direction, "direction-type")
        if words:
            _text(kind, "words", words)
        else:
            SubElement(kind, sign)
        SubElement(direction, "sound", {attribute: value})


def _attributes(measure: Element, score: Score, place: int, divisions: int) -> None:
    meter, key = score.bars[place].meter, score.bars[place].key
    same = place > 0 and meter == score.bars[place - 1].meter
    if same and not key:
        return
    attributes = SubElement(measure, "attributes")
    if place == 0:
        _text(attributes, "divisions", divisions)
        key = key or (score.key_fifths, score.mode)
    if key:
        _key(attributes, *key)
    if same:
        return
    time = SubElement(attributes, "time")
    _text(time, "beats", "+".join(map(str, meter.grouping)) or meter.count)
    _text(time, "beat-type", meter.unit)
    if place == 0:
        sign, line = _CLEFS[score.clef]
        clef = SubElement(attributes, "clef")
        _text(clef, "sign", sign)
        _text(clef, "line", line)
        _transpose(attributes, -score.rise)


def _key(attributes: Element, fifths: int, mode: str) -> None:
    key = SubElement(attributes, "key")
    _text(key, "fifths", fifths)
    _text(key, "mode", mode)


def _transpose(attributes: Element, fall: Interval) -> None:
    """From written to sounding pitch: less than an octave, then whole octaves."""
    if fall == Interval(0, 0):
        return
    octaves = abs(fall.letters) // 7 * (1 if fall.letters > 0 else -1)
    transpose = SubElement(attributes, "transpose")
    _text(transpose, "diatonic", fall.letters - 7 * octaves)
    _text(transpose, "chromatic", fall.semitones - 12 * octaves)
    if octaves:
        _text(transpose, "octave-change", octaves)


def _feel(measure: Element, score: Score) -> None:
    """The tempo and how eighths are played, as far as they are stated."""
    if score.tempo_bpm is None and score.swing is None:
        return
    direction = SubElement(measure, "direction", placement="above")
    if score.swing is not None:
        words = "Swing" if score.swing else "Straight"
        _text(SubElement(direction, "direction-type"), "words", words)
    sound = Element("sound")
    if score.tempo_bpm is not None:
        _tempo(direction, sound, score.bars[0].meter, score.tempo_bpm)
    direction.append(sound)
    if score.swing is not None:
        _swing(SubElement(sound, "swing"), swung=score.swing)


def _tempo(direction: Element, sound: Element, meter: Meter, tempo_bpm: float) -> None:
    metronome = SubElement(SubElement(direction, "direction-type"), "metronome")
    _text(metronome, "beat-unit", "quarter")
    if meter.compound:
        _compound_unit(metronome, meter)
    _text(metronome, "per-minute", f"{tempo_bpm:g}")
    sound.set("tempo", f"{tempo_bpm * float(meter.tempo_beats):g}")


def _swing(swing: Element, *, swung: bool) -> None:
    if not swung:
        SubElement(swing, "straight")
        return
    _text(swing, "first", _SWING[0])
    _text(swing, "second", _SWING[1])
    _text(swing, "swing-type", "eighth")


def _compound_unit(metronome: Element, meter: Meter) -> None:
    """The pulse as a dotted note: a dotted quarter in 6/8."""
    metronome[0].text = _TYPES[meter.unit // 2]
    SubElement(metronome, "beat-unit-dot")


# Chord symbols


def _harmony(measure: Element, chord: ChordText, offset: int) -> None:
    harmony = SubElement(measure, "harmony", placement="above")
    if chord.root:
        _name(harmony, "root", chord.root)
        kind = _text(harmony, "kind", chord.kind)
        kind.set("text", chord.quality + chord.extension)
        if chord.bass:
            _name(harmony, "bass", chord.bass)
        for value, alter, action in chord.degrees:
            _degree(harmony, value, alter, action)
    else:
        root = SubElement(harmony, "root")
        _text(root, "root-step", "C", text="")
        _text(harmony, "kind", "none", text=chord.plain)
    if offset:
        _text(harmony, "offset", offset)


def _name(harmony: Element, tag: str, text: str) -> None:
    name = parse_name(text)
    element = SubElement(harmony, tag)
    _text(element, f"{tag}-step", LETTERS[name.letter])
    if name.alteration:
        _text(element, f"{tag}-alter", name.alteration)


def _degree(harmony: Element, value: int, alter: int, action: str) -> None:
    """A degree for programs; the kind's text already prints it."""
    degree = SubElement(harmony, "degree", {"print-object": "no"})
    _text(degree, "degree-value", value)
    _text(degree, "degree-alter", alter)
    _text(degree, "degree-type", action)


# Notes


def _note(
    measure: Element, bar: ScoreBar, note: ScoreNote, context: _NoteContext, *, divisions: int
) -> None:
    element = SubElement(measure, "note")
    _pitch_or_rest(element, bar, note.pitch)
    _text(element, "duration", int(note.beats * divisions))
    ties = (["stop"] if context.tied_from else []) + (["start"] if Mark.TIE in note.marks else [])
    for tie in ties:
        SubElement(element, "tie", type=tie)
    _text(element, "voice", 1)
    value = None if is_whole_rest(bar) else _value(bar, note)
    if value:
        _text(element, "type", _TYPES[value.divisor])
        for _ in range(value.dots):
            SubElement(element, "dot")
    if context.accidental:
        courtesy = (
            {"cautionary": "yes", "parentheses": "yes"} if context.accidental.courtesy else {}
        )
        _text(element, "accidental", _ACCIDENTALS[context.accidental.alteration], **courtesy)
    if value:
        _time_modification(element, *tuplet_ratio(note.beats))
    for number, word in enumerate(context.beams, start=1):
        _text(element, "beam", word, number=str(number))
    _notations(element, note.marks, ties)
    if note.degree:
        lyric = SubElement(element, "lyric", placement="below")
        _text(lyric, "text", note.degree)


def _value(bar: ScoreBar, note: ScoreNote) -> NoteValue | None:
    """The value printed; None for an odd length, which is told by its duration alone."""
    if tuplet_ratio(note.beats) == (1, 1) and note.beats >= min(NOTE_VALUES):
        return note_value(bar, note)
    return (NOTE_VALUES | _SHORTER).get(plain_beats(note.beats))


def _time_modification(element: Element, actual: int, normal: int) -> None:
    if actual > 1:
        modification = SubElement(element, "time-modification")
        _text(modification, "actual-notes", actual)
        _text(modification, "normal-notes", normal)


def _pitch_or_rest(element: Element, bar: ScoreBar, pitch: Pitch | None) -> None:
    if pitch is None:
        rest = SubElement(element, "rest")
        if is_whole_rest(bar):
            rest.set("measure", "yes")
        return
    child = SubElement(element, "pitch")
    _text(child, "step", LETTERS[pitch.name.letter])
    if pitch.name.alteration:
        _text(child, "alter", pitch.name.alteration)
    _text(child, "octave", pitch.octave)


_LEADING = {
    Mark.LEADS: "approach from the scale",
    Mark.LEADS_CHROMATIC: "chromatic approach",
    Mark.ENCLOSES: "enclosure",
}


def _notations(element: Element, marks: Mark, ties: list[str]) -> None:
    if not ties and not marks & (Mark.BREATH | Mark.CHANGING | LEADING):
        return
    notations = SubElement(element, "notations")
    for tie in ties:
        SubElement(notations, "tied", type=tie)
    if Mark.BREATH in marks:
        SubElement(SubElement(notations, "articulations"), "breath-mark")
    if Mark.CHANGING in marks:
        _text(notations, "other-notation", "changing note", type="single")
    for mark, words in _LEADING.items():
        if mark in marks:
            _text(notations, "other-notation", words, type="single")
