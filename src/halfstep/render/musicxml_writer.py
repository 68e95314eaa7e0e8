"""What do other programs read? A score as MusicXML 4.0, partwise.

Conventions
-----------
- Notes, key and chord symbols are in written pitch; ``transpose`` says how to hear them.
- A chord symbol stands before the note it falls on or in, with an ``offset`` from that
  note's start in divisions.
- The tempo is shown in the metre's pulse (a dotted quarter in 6/8); ``sound`` counts
  quarter notes a minute, as the standard asks. Its ``swing`` is the ratio of the lesson's
  own sound at that tempo.
- The text of a chord's kind says the kind alone and its degrees follow: a program that
  prints the text and every degree, and one that reads them, both come to the same symbol.
- A changing note carries ``other-notation`` with the words ``changing note``, which
  programs keep or pass over.

Source: MusicXML 4.0 (W3C).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from pathlib import Path
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from halfstep.instruments import Clef
from halfstep.meter import DEFAULT_BPM, Meter, swing_ratio
from halfstep.notation import (
    NOTE_VALUES,
    HeadSigns,
    NoteValue,
    beam_groups,
    is_whole_rest,
    note_value,
    onsets,
    plain_beats,
    score_accidentals,
    slur_spans,
    tuplet_ratio,
)
from halfstep.pitch import LETTERS, Interval, Pitch, parse_name
from halfstep.render.musicxml_elements import text_child
from halfstep.render.musicxml_head import head_elements
from halfstep.render.musicxml_road import (
    left_barline,
    line_starts,
    right_barline,
    signs_after,
    signs_before,
)
from halfstep.score import LEADING, ChordText, DegreeText, Dynamic, Mark, Score, ScoreBar, ScoreNote

_TYPES = {
    1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th",
    128: "128th",
}  # fmt: skip
_SHORTER = {Fraction(4, divisor): NoteValue(divisor) for divisor in (32, 64, 128)}
"""Values that only charts from elsewhere have."""
_FINEST_RATIO = 4  # a swing of 7 to 4 is as near as a player program can be heard to be

_CLEFS = {Clef.TREBLE: ("G", 2), Clef.BASS: ("F", 4)}
_ACCIDENTALS = {
    -3: "triple-flat", -2: "flat-flat", -1: "flat", 0: "natural",
    1: "sharp", 2: "double-sharp", 3: "triple-sharp",
}  # fmt: skip
_DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)


@dataclass(frozen=True, slots=True)
class _NoteContext:
    """What a note inherits from its neighbours; ``slur`` begins or ends with it."""

    accidentals: HeadSigns
    beams: tuple[str, ...]
    tied_from: bool
    slur: tuple[str, ...]


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
    head_elements(root, score)
    part = SubElement(root, "part", id="P1")
    divisions = _divisions(score)
    contexts, starts = _note_contexts(score), line_starts(score)
    for place in range(len(score.bars)):
        measure = _measure(part, score.bars[place])
        if place in starts:
            SubElement(measure, "print", {"new-system": "yes"})
        _fill_measure(measure, score, place, contexts[place], divisions=divisions)
    indent(root, " ")
    return _DOCTYPE + tostring(root, encoding="unicode") + "\n"


def _divisions(score: Score) -> int:
    """Parts of a quarter note that make every note and chord place a whole number."""
    places = [note.beats for bar in score.bars for note in bar.notes]
    places += [chord.at for bar in score.bars for chord in bar.chords]
    return lcm(4, *(place.denominator for place in places))


def _note_contexts(score: Score) -> list[list[_NoteContext]]:
    """For each note of each bar: accidental, beams, whether a tie comes in, and slurs."""
    contexts = []
    tied = False
    spans = slur_spans(score)
    begins, ends = {first for first, _ in spans}, {last for _, last in spans}
    accidentals_of = zip(score.bars, score_accidentals(score), strict=True)
    for number, (bar, accidentals) in enumerate(accidentals_of):
        beams = _beams(bar)
        row = []
        for place, note in enumerate(bar.notes):
            at = (number, place)
            slur = ("stop",) * (at in ends) + ("start",) * (at in begins)
            row.append(_NoteContext(accidentals[place], beams.get(place, ()), tied, slur))
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


def _measure(part: Element, bar: ScoreBar) -> Element:
    measure = SubElement(part, "measure", number=bar.label or str(bar.number))
    if bar.number == 0 or bar.irregular:
        measure.set("implicit", "yes")
    return measure


def _fill_measure(
    measure: Element, score: Score, place: int, contexts: list[_NoteContext], *, divisions: int
) -> None:
    bar = score.bars[place]
    left_barline(measure, bar.road)
    _attributes(measure, score, place, divisions)
    if place == 0:
        _feel(measure, score)
    signs_before(measure, score, place)
    starts = onsets(bar)
    for number, note in enumerate(bar.notes):
        end = starts[number] + note.beats
        last = number + 1 == len(bar.notes)
        for chord in bar.chords:
            if starts[number] <= chord.at and (chord.at < end or last):
                _harmony(measure, chord, int((chord.at - starts[number]) * divisions))
        if note.dynamic:
            _dynamic(measure, note.dynamic)
        for head in range(max(1, len(note.heads))):
            _note(measure, bar, note, contexts[number], head, divisions=divisions)
    signs_after(measure, score, place)
    right_barline(measure, bar)


def _attributes(measure: Element, score: Score, place: int, divisions: int) -> None:
    meter, key = score.bars[place].meter, score.bars[place].key
    same = place > 0 and meter == score.bars[place - 1].meter
    if same and not key:
        return
    attributes = SubElement(measure, "attributes")
    if place == 0:
        text_child(attributes, "divisions", divisions)
        key = key or (score.key_fifths, score.mode)
    if key:
        _key(attributes, *key)
    if same:
        return
    time = SubElement(attributes, "time")
    text_child(time, "beats", "+".join(map(str, meter.grouping)) or meter.count)
    text_child(time, "beat-type", meter.unit)
    if place == 0:
        sign, line = _CLEFS[score.clef]
        clef = SubElement(attributes, "clef")
        text_child(clef, "sign", sign)
        text_child(clef, "line", line)
        _transpose(attributes, -score.rise)


def _key(attributes: Element, fifths: int, mode: str) -> None:
    key = SubElement(attributes, "key")
    text_child(key, "fifths", fifths)
    text_child(key, "mode", mode)


def _transpose(attributes: Element, fall: Interval) -> None:
    """From written to sounding pitch: less than an octave, then whole octaves."""
    if fall == Interval(0, 0):
        return
    octaves = abs(fall.letters) // 7 * (1 if fall.letters > 0 else -1)
    transpose = SubElement(attributes, "transpose")
    text_child(transpose, "diatonic", fall.letters - 7 * octaves)
    text_child(transpose, "chromatic", fall.semitones - 12 * octaves)
    if octaves:
        text_child(transpose, "octave-change", octaves)


def _feel(measure: Element, score: Score) -> None:
    """The tempo and how eighths are played, as far as they are stated."""
    if score.tempo_bpm is None and score.swing is None:
        return
    direction = SubElement(measure, "direction", placement="above")
    if score.swing is not None:
        words = "Swing" if score.swing else "Straight"
        text_child(SubElement(direction, "direction-type"), "words", words)
    sound = Element("sound")
    if score.tempo_bpm is not None:
        _tempo(direction, sound, score.bars[0].meter, score.tempo_bpm)
    direction.append(sound)
    if score.swing is not None:
        _swing(SubElement(sound, "swing"), _swing_ratio(score))


def _tempo(direction: Element, sound: Element, meter: Meter, tempo_bpm: float) -> None:
    metronome = SubElement(SubElement(direction, "direction-type"), "metronome")
    text_child(metronome, "beat-unit", "quarter")
    if meter.compound:
        _compound_unit(metronome, meter)
    text_child(metronome, "per-minute", f"{tempo_bpm:g}")
    sound.set("tempo", f"{tempo_bpm * float(meter.tempo_beats):g}")


def _swing(swing: Element, ratio: Fraction) -> None:
    if ratio == 1:
        SubElement(swing, "straight")
        return
    text_child(swing, "first", ratio.numerator)
    text_child(swing, "second", ratio.denominator)
    text_child(swing, "swing-type", "eighth")


def _swing_ratio(score: Score) -> Fraction:
    """Long eighth over short eighth as the sound of the lesson has it, in small numbers."""
    if not (score.swing and score.bars[0].meter.swings):
        return Fraction(1)
    ratio = swing_ratio(DEFAULT_BPM if score.tempo_bpm is None else score.tempo_bpm)
    return Fraction(ratio).limit_denominator(_FINEST_RATIO)


def _compound_unit(metronome: Element, meter: Meter) -> None:
    """The pulse as a dotted note: a dotted quarter in 6/8."""
    metronome[0].text = _TYPES[meter.unit // 2]
    SubElement(metronome, "beat-unit-dot")


# Chord symbols


def _harmony(measure: Element, chord: ChordText, offset: int) -> None:
    harmony = SubElement(measure, "harmony", placement="above")
    if chord.root:
        _name(harmony, "root", chord.root)
    else:
        SubElement(harmony, "function")  # a root would be printed by some: CN.C.
    kind = text_child(harmony, "kind", chord.kind)
    kind.set("text", chord.kind_text if chord.root else chord.plain)
    if chord.bracketed:
        kind.set("parentheses-degrees", "yes")
    if chord.bass:
        _name(harmony, "bass", chord.bass)
    for degree in chord.degrees:
        _degree(harmony, degree)
    if offset:
        text_child(harmony, "offset", offset)


def _name(harmony: Element, tag: str, text: str) -> None:
    name = parse_name(text)
    element = SubElement(harmony, tag)
    text_child(element, f"{tag}-step", LETTERS[name.letter])
    if name.alteration:
        text_child(element, f"{tag}-alter", name.alteration)


def _degree(harmony: Element, degree: DegreeText) -> None:
    element = SubElement(harmony, "degree")
    if degree.word is None:
        element.set("print-object", "no")
    text_child(element, "degree-value", degree.value)
    text_child(element, "degree-alter", degree.alter)
    text_child(element, "degree-type", degree.type, text=degree.word or "")


# Notes


def _note(
    measure: Element,
    bar: ScoreBar,
    note: ScoreNote,
    context: _NoteContext,
    head: int,
    *,
    divisions: int,
) -> None:
    """A rest, or one head of a note; what belongs to the whole note stands at the first."""
    element = SubElement(measure, "note")
    if head:
        SubElement(element, "chord")
    if Mark.UNSEEN in note.marks:
        element.set("print-object", "no")
    _pitch_or_rest(element, bar, note.heads[head] if note.heads else None)
    text_child(element, "duration", int(note.beats * divisions))
    ties = (["stop"] if context.tied_from else []) + (["start"] if Mark.TIE in note.marks else [])
    for tie in ties:
        SubElement(element, "tie", type=tie)
    text_child(element, "voice", 1)
    value = None if _whole_rest(bar) else _value(bar, note)
    if value:
        text_child(element, "type", _TYPES[value.divisor])
        for _ in range(value.dots):
            SubElement(element, "dot")
    if accidental := context.accidentals[head]:
        courtesy = {"cautionary": "yes", "parentheses": "yes"} if accidental.courtesy else {}
        text_child(element, "accidental", _ACCIDENTALS[accidental.alteration], **courtesy)
    if value:
        _time_modification(element, *tuplet_ratio(note.beats))
    if Mark.GHOST in note.marks:
        text_child(element, "notehead", "normal", parentheses="yes")
    for number, word in enumerate(() if head else context.beams, start=1):
        text_child(element, "beam", word, number=str(number))
    _notations(element, Mark.NONE if head else note.marks, ties, () if head else context.slur)
    if note.degree and not head:
        lyric = SubElement(element, "lyric", placement="below")
        text_child(lyric, "text", note.degree)


def _whole_rest(bar: ScoreBar) -> bool:
    """True for a rest that is printed; in an open bar some programs would miss its chord."""
    return is_whole_rest(bar) and Mark.UNSEEN not in bar.notes[0].marks


def _value(bar: ScoreBar, note: ScoreNote) -> NoteValue | None:
    """The value printed; None for an odd length, which is told by its duration alone."""
    if tuplet_ratio(note.beats) == (1, 1) and note.beats >= min(NOTE_VALUES):
        return note_value(bar, note)
    return (NOTE_VALUES | _SHORTER).get(plain_beats(note.beats))


def _time_modification(element: Element, actual: int, normal: int) -> None:
    if actual > 1:
        modification = SubElement(element, "time-modification")
        text_child(modification, "actual-notes", actual)
        text_child(modification, "normal-notes", normal)


def _pitch_or_rest(element: Element, bar: ScoreBar, pitch: Pitch | None) -> None:
    if pitch is None:
        rest = SubElement(element, "rest")
        if _whole_rest(bar):
            rest.set("measure", "yes")
        return
    child = SubElement(element, "pitch")
    text_child(child, "step", LETTERS[pitch.name.letter])
    if pitch.name.alteration:
        text_child(child, "alter", pitch.name.alteration)
    text_child(child, "octave", pitch.octave)


_LEADING = {
    Mark.LEADS: "approach from the scale",
    Mark.LEADS_CHROMATIC: "chromatic approach",
    Mark.ENCLOSES: "enclosure",
}


_ARTICULATIONS = {
    Mark.ACCENT: "accent", Mark.STACCATO: "staccato", Mark.TENUTO: "tenuto", Mark.SCOOP: "scoop",
    Mark.FALL: "falloff", Mark.BREATH: "breath-mark",
}  # fmt: skip


def _notations(element: Element, marks: Mark, ties: list[str], slurs: tuple[str, ...]) -> None:
    articulations = [word for mark, word in _ARTICULATIONS.items() if mark in marks]
    if not (ties or slurs or articulations or marks & (Mark.CHANGING | LEADING)):
        return
    notations = SubElement(element, "notations")
    for tie in ties:
        SubElement(notations, "tied", type=tie)
    for slur in slurs:
        SubElement(notations, "slur", type=slur, number="1")
    if articulations:
        parent = SubElement(notations, "articulations")
        for word in articulations:
            SubElement(parent, word)
    if Mark.CHANGING in marks:
        text_child(notations, "other-notation", "changing note", type="single")
    for mark, words in _LEADING.items():
        if mark in marks:
            text_child(notations, "other-notation", words, type="single")


def _dynamic(measure: Element, dynamic: Dynamic) -> None:
    """A sign of loudness before the note that it begins with."""
    direction = SubElement(measure, "direction", placement="below")
    SubElement(SubElement(SubElement(direction, "direction-type"), "dynamics"), dynamic)
