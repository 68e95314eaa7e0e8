"""What does the engraver read? A score as MEI, in systems.

The notes stand on the first staff. A second, silent staff, which is never printed,
holds the rhythm of the chord symbols: each of its notes carries a word as wide as its
symbol, so that the engraver makes room for the symbols as it does for lyrics, between
notes too.

Conventions
-----------
- Ids: ``n-BAR-NOTE`` and ``c-BAR-CHORD`` count from 0 within the score; several heads on one
  stem have ``h-BAR-NOTE-HEAD`` each. ``b-BAR`` is a bar; bars called ``pad`` fill a short last
  line up and are not printed.

Source: MEI 5.0 guidelines, module CMN.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import ceil

from halfstep.instruments import Clef
from halfstep.notation import (
    NOTE_VALUES,
    Accidental,
    HeadSigns,
    NoteValue,
    beam_groups,
    is_whole_rest,
    note_value,
    score_accidentals,
    slur_spans,
    sounding_beats,
    tuplet_groups,
    tuplet_ratio,
)
from halfstep.pitch import Pitch
from halfstep.score import Barline, ChordText, Mark, Score, ScoreBar, ScoreNote

System = tuple[Sequence[int], int]
"""The bars on one line, as indices, and how many empty bars fill the line up."""

Accidentals = tuple[HeadSigns, ...]
"""What is printed before the heads of each note of a bar."""

_ACCIDENTALS = {-3: "tf", -2: "ff", -1: "f", 0: "n", 1: "s", 2: "x", 3: "ts"}
_CLEFS = {Clef.TREBLE: ("G", 2), Clef.BASS: ("F", 4)}
_MIDDLE = {Clef.TREBLE: 'pname="b" oct="4"', Clef.BASS: 'pname="d" oct="3"'}
_BARLINES = {Barline.SINGLE: "single", Barline.DOUBLE: "dbl", Barline.FINAL: "end"}
_GRID = 8  # chord places are rounded to a 32nd note for spacing
WORD_UNITS = 112.5
"""Width of one l in the engraver's lyrics, in tenths of its unit."""

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?><mei xmlns="http://www.music-encoding.org/ns/mei" '
    'meiversion="5.0"><meiHead><fileDesc><titleStmt><title/></titleStmt><pubStmt/></fileDesc>'
    "</meiHead><music><body><mdiv><score>"
)
TAIL = "</section></score></mdiv></body></music></mei>"
BREAK = "<sb/>"
"""Before each line of music: without any the engraver breaks lines as it likes."""


_KEPT = 4096  # bars whose notes have been written: those of a few pages


@dataclass(frozen=True, slots=True)
class MeiBars:
    """A score whose bars have been written.

    Attributes
    ----------
    score : Score
    accidentals : tuple of Accidentals
        Of each bar.
    contents : tuple of str
        What stands inside each bar: its staves, ties and slurs.
    """

    score: Score
    accidentals: tuple[Accidentals, ...]
    contents: tuple[str, ...]

    def measure(self, place: int, line: Sequence[int]) -> str:
        """A bar as it stands on a line of music, with the signs that change before it."""
        bar = self.score.bars[place]
        counted = ' metcon="false"' if bar.number == 0 or bar.irregular else ""
        return (
            f'{self.changes(place)}<measure xml:id="b-{place}" n="{bar.number}"{counted} '
            f"{self.edges(place, line)}>{self.contents[place]}</measure>"
        )

    def edges(self, place: int, line: Sequence[int]) -> str:
        """How a bar begins and ends; two repeats that meet inside a line are one sign."""
        bars = self.score.bars
        road = bars[place].road
        after = place + 1 in line and bars[place + 1].road.forward
        before = place - 1 in line and bool(bars[place - 1].road.backward)
        left = ' left="rptstart"' if road.forward and not before else ""
        if road.backward:
            return f'right="{"rptboth" if after else "rptend"}"{left}'
        return f'right="{_BARLINES[bars[place].barline]}"{left}'

    def changes(self, place: int) -> str:
        """A metre and a key signature that begin with a bar."""
        bars = self.score.bars
        texts = []
        if place and bars[place].meter != bars[place - 1].meter:
            texts.append(_meter(bars[place]))
        if place and bars[place].key:
            texts.append(f' keysig="{signature(_fifths(self.score, place))}"')
        return f"<scoreDef{''.join(texts)}/>" if texts else ""

    def page(self, bars: Sequence[int], padding: int = 0) -> str:
        """One line of music."""
        measures = "".join(self.measure(place, bars) for place in bars)
        return measures + self._filler(bars[-1]) * padding if padding else measures

    def opening(self, place: int) -> str:
        """Clef, key signature and metre as they stand at a bar."""
        shape, line = _CLEFS[self.score.clef]
        return (
            f"<scoreDef{_meter(self.score.bars[place])} "
            f'keysig="{signature(_fifths(self.score, place))}" mnum.visible="false" '
            f'system.leftline="false"><staffGrp bar.thru="false">'
            f'<staffDef n="1" lines="5" clef.shape="{shape}" clef.line="{line}"/>'
            f'<staffDef n="2" lines="0" clef.shape="{shape}" clef.line="{line}"/>'
            f"</staffGrp></scoreDef><section>"
        )

    def _filler(self, place: int) -> str:
        """A bar as wide as the last one."""
        notes = _notes(self.score.bars[place], self.accidentals[place], "", self.score.clef)
        return f'<measure right="invis"><staff n="1"><layer n="1">{notes}</layer></staff></measure>'


def mei_bars(score: Score, width: Callable[[ChordText], float]) -> MeiBars:
    """The bars of a score, written once.

    Parameters
    ----------
    score : Score
    width : callable
        Width to keep for a chord symbol, in tenths of the engraver's unit.
    """
    accidentals = score_accidentals(score)
    last = len(score.bars) - 1
    slurs = _slurs(score)
    contents = (
        _content(bar, place, signs, score.clef, width)
        + _ties(bar, place, is_last=place == last)
        + "".join(slurs.get(place, ()))
        for place, (bar, signs) in enumerate(zip(score.bars, accidentals, strict=True))
    )
    return MeiBars(score, accidentals, tuple(contents))


def score_mei(bars: MeiBars, systems: Sequence[System]) -> str:
    """Lines of a score, one under the other."""
    lines = (bars.page(*system) for system in systems)
    return HEAD + bars.opening(systems[0][0][0]) + BREAK + BREAK.join(lines) + TAIL


def staff_mei(clef: Clef, fifths: int, layer: str) -> str:
    """One bar without metre: a clef, a signature and what stands in ``layer``."""
    shape, line = _CLEFS[clef]
    return (
        f'{HEAD}<scoreDef keysig="{signature(fifths)}" mnum.visible="false" '
        f'system.leftline="false"><staffGrp><staffDef n="1" lines="5" clef.shape="{shape}" '
        f'clef.line="{line}"/></staffGrp></scoreDef><section><measure xml:id="b-0" '
        f'metcon="false" right="invis"><staff n="1"><layer n="1">{layer}</layer></staff>'
        f"</measure>{TAIL}"
    )


def signature(fifths: int) -> str:
    """A key signature as MEI writes it: ``3f``, ``0``, ``2s``."""
    return f"{abs(fifths)}{'s' if fifths > 0 else 'f'}" if fifths else "0"


def pitch_mei(pitch: Pitch, accidental: Accidental | None) -> str:
    """Attributes of a pitch; ``accidental`` is the one to print, if any."""
    sign = _ACCIDENTALS[pitch.name.alteration]
    if accidental:
        accid = "" if accidental.courtesy else f' accid="{sign}"'
    else:
        accid = f' accid.ges="{sign}"' if pitch.name.alteration else ""
    letter = "cdefgab"[pitch.name.letter]
    return f'pname="{letter}" oct="{pitch.octave}"{accid}'


def courtesy_mei(accidental: Accidental | None) -> str:
    """The accidental in parentheses that stands in a note; empty where there is none."""
    if not (accidental and accidental.courtesy):
        return ""
    return f'<accid accid="{_ACCIDENTALS[accidental.alteration]}" func="caution" enclose="paren"/>'


def _meter(bar: ScoreBar) -> str:
    return f' meter.count="{bar.meter.count}" meter.unit="{bar.meter.unit}"'


def _fifths(score: Score, place: int) -> int:
    """The key signature that holds in a bar."""
    keys = (bar.key for bar in reversed(score.bars[1 : place + 1]) if bar.key)
    return next(keys, (score.key_fifths, ""))[0]


@lru_cache(_KEPT)
def _content(
    bar: ScoreBar,
    place: int,
    accidentals: Accidentals,
    clef: Clef,
    width: Callable[[ChordText], float],
) -> str:
    """The two staves of a bar."""
    notes = _notes(bar, accidentals, f"n-{place}", clef)
    return (
        f'<staff n="1"><layer n="1">{notes}</layer></staff>'
        f'<staff n="2"><layer n="1">{_silent(bar, place, width)}</layer></staff>'
    )


def _slashes(bar: ScoreBar, clef: Clef) -> str:
    """A slash without a stem for each beat, on the middle line."""
    end = sounding_beats(bar)
    edges = [*(at for at in bar.meter.counted_beats if at < end), end]
    pieces = [piece for begin, stop in pairwise(edges) for piece in _pieces(stop - begin)]
    return "".join(
        f'<note {_length(_PIECES[piece])} {_MIDDLE[clef]} head.shape="slash" stem.visible="false"/>'
        for piece in pieces
    )


def _length(value: NoteValue) -> str:
    return f'dur="{value.divisor}"' + (f' dots="{value.dots}"' if value.dots else "")


def _notes(bar: ScoreBar, accidentals: Accidentals, prefix: str, clef: Clef) -> str:
    if bar.slashes:
        return _slashes(bar, clef)
    if is_whole_rest(bar):
        return "<mSpace/>" if Mark.UNSEEN in bar.notes[0].marks else "<mRest/>"
    beams, tuplets = beam_groups(bar), tuplet_groups(bar)
    opens, closes = {group[0] for group in beams}, {group[-1] for group in beams}
    begins = {group[0]: _tuplet(bar, group, is_beamed=group in beams) for group in tuplets}
    ends = {group[-1] for group in tuplets}
    elements = []
    for place, (note, signs) in enumerate(zip(bar.notes, accidentals, strict=True)):
        name = f' xml:id="{prefix}-{place}"' if prefix else ""
        elements.append(begins.get(place, ""))
        elements.append("<beam>" if place in opens else "")
        elements.append(_note(bar, note, signs, name))
        elements.append("</beam>" if place in closes else "")
        elements.append("</tuplet>" if place in ends else "")
    return "".join(elements)


def _tuplet(bar: ScoreBar, group: Sequence[int], *, is_beamed: bool) -> str:
    """The begin of a tuplet, with a bracket where no beam says how far it goes."""
    actual, normal = tuplet_ratio(bar.notes[group[0]].beats)
    bracket = str(not is_beamed).lower()
    return f'<tuplet num="{actual}" numbase="{normal}" bracket.visible="{bracket}">'


def _note(bar: ScoreBar, note: ScoreNote, signs: HeadSigns, name: str) -> str:
    length = _length(note_value(bar, note))
    if note.pitch is None:
        return f"<{'space' if Mark.UNSEEN in note.marks else 'rest'}{name} {length}/>"
    word = f"<verse><syl>{'l' * (2 * len(note.degree))}</syl></verse>" if note.degree else ""
    touch = _touch(note.marks)
    if note.below:
        heads = "".join(_heads(note, signs, name.replace("n-", "h-", 1)))
        return f"<chord{name} {length}{touch}>{heads}{word}</chord>"
    inside = courtesy_mei(signs[0]) + word
    return f"<note{name} {length} {pitch_mei(note.pitch, signs[0])}{touch}>{inside}</note>"


def _heads(note: ScoreNote, signs: HeadSigns, name: str) -> Iterator[str]:
    """The heads on one stem, each with an id of its own where the note has one."""
    for place, (pitch, sign) in enumerate(zip(note.heads, signs, strict=True)):
        own = f'{name[:-1]}-{place}"' if name else ""
        yield f"<note{own} {pitch_mei(pitch, sign)}>{courtesy_mei(sign)}</note>"


_ARTICULATIONS = {Mark.ACCENT: "acc", Mark.STACCATO: "stacc", Mark.TENUTO: "ten"}


def _touch(marks: Mark) -> str:
    """What stands at the head, and parentheses around it."""
    words = " ".join(word for mark, word in _ARTICULATIONS.items() if mark in marks)
    signs = f' artic="{words}"' if words else ""
    return signs + (' head.mod="paren"' if Mark.GHOST in marks else "")


def _ties(bar: ScoreBar, place: int, *, is_last: bool) -> str:
    tied = []
    for index, note in enumerate(bar.notes):
        if Mark.TIE in note.marks:
            leaves = index + 1 == len(bar.notes)
            end = f"{place + 1}-0" if leaves else f"{place}-{index + 1}"
            if not (leaves and is_last):
                tied += _ties_of(note, f"{place}-{index}", end)
    return "".join(tied)


def _ties_of(note: ScoreNote, start: str, end: str) -> list[str]:
    """A tie from a note to the next, or from each of its heads."""
    if not note.below:
        return [f'<tie startid="#n-{start}" endid="#n-{end}"/>']
    heads = range(len(note.heads))
    return [f'<tie startid="#h-{start}-{n}" endid="#h-{end}-{n}"/>' for n in heads]


def _slurs(score: Score) -> dict[int, list[str]]:
    """The slurs that begin in each bar."""
    slurs: dict[int, list[str]] = {}
    for (bar, note), end in slur_spans(score):
        slur = f'<slur startid="#n-{bar}-{note}" endid="#n-{end[0]}-{end[1]}"/>'
        slurs.setdefault(bar, []).append(slur)
    return slurs


def _silent(bar: ScoreBar, place: int, width: Callable[[ChordText], float]) -> str:
    """The chord symbols' rhythm, each symbol a word of its width."""
    end = sounding_beats(bar)
    marks = {round(chord.at * _GRID): n for n, chord in enumerate(bar.chords) if chord.at < end}
    edges = sorted({0, *marks, int(end * _GRID)})
    elements = []
    for begin, stop in pairwise(edges):
        word = ""
        name = ""
        if begin in marks:
            name = f' xml:id="c-{place}-{marks[begin]}"'
            count = ceil(width(bar.chords[marks[begin]]) / WORD_UNITS)
            word = f"<verse><syl>{'l' * count}</syl></verse>"
        for beats in _pieces(Fraction(stop - begin, _GRID)):
            pitch = 'pname="b" oct="4" visible="false"'
            elements.append(f"<note{name} {_length(_PIECES[beats])} {pitch}>{word}</note>")
            name = word = ""
    return "".join(elements)


_PIECES = NOTE_VALUES | {Fraction(1, 8): NoteValue(32)}


@lru_cache(256)
def _pieces(beats: Fraction) -> tuple[Fraction, ...]:
    """Any length on the grid as note values, longest first."""
    pieces = []
    for value in _PIECES:
        while beats >= value:
            pieces.append(value)
            beats -= value
    return tuple(pieces)
