"""Scores at random with all that a page can hold, and what of them overlaps when they are drawn."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations, pairwise
from random import Random

from halfstep.instruments import Clef
from halfstep.meter import Meter
from halfstep.part.chord_text import chord_text
from halfstep.pitch import Name, Pitch
from halfstep.progression.symbol import parse_symbol
from halfstep.render.drawn_line import SPACE, DrawnLine, DrawnShape
from halfstep.render.score_pictures import MM, STAFF_MM, fitted_lines
from halfstep.score import (
    Barline,
    ChordText,
    Dynamic,
    Mark,
    PlaceSign,
    Road,
    Score,
    ScoreBar,
    ScoreNote,
    SignShape,
)
from strategies import COMMON, ROOTS
from written_scores import part

LONG = (
    "m7b5", "7b9#9", "maj7#11", "7#5#9", "7b9#11b13", "m(maj9)", "13sus4", "7sus4b9", "dim7(maj7)",
    "maj9(#11)", "6/9", "m11b5", "7alt", "maj7(omit3)", "m7add11",
)  # fmt: skip
"""Suffixes that take much room."""

METERS = (Meter(4, 4), Meter(3, 4), Meter(5, 4), Meter(7, 8), Meter(6, 8), Meter(2, 4))
FIGURES = {
    4: ("4", "2 2", "1 1 1 1", "1/2 " * 8, "3/2 1/2 2", "1/4 " * 16, "1/3 " * 6 + "1 1",
        "1 2/3 1/3 1/2 1/2 1"),
    3: ("3", "2 1", "1 1 1", "1/2 " * 6, "3/2 1/2 1"),
    5: ("1 1 1 1 1", "3 2", "1/2 " * 10),
    Fraction(7, 2): ("1/2 " * 7, "1 1 3/2"),
    2: ("2", "1 1", "1/2 1/2 1/2 1/2"),
}  # fmt: skip
"""Rhythms of a bar by its length in beats."""

SECTIONS = ("A", "B", "C2", "Bridge", "Intro", "Solos on A, then the melody")
SIGNS = ("segno", "coda", "to coda", "fine", "D.C. al Fine", "D.S. al Coda", "last time")
MARKS = (
    Mark.CHANGING, Mark.BREATH, Mark.LEADS, Mark.LEADS_CHROMATIC, Mark.ENCLOSES, Mark.SLUR,
    Mark.ACCENT, Mark.STACCATO, Mark.TENUTO, Mark.GHOST,
)  # fmt: skip
BENDS = (Mark.NONE, Mark.NONE, Mark.NONE, Mark.SCOOP, Mark.FALL)
"""Of notes of a beat and more, which are no ghost notes."""
DEGREES = ("", "", "1", "♭7", "♯11", "♭13")
WORDS = ("", "early", "wrong note", "late", "?")


@dataclass(frozen=True, slots=True)
class PrintedSize:
    """How large music is printed: its staff, the room for a line, the most bars on one."""

    name: str
    staff_mm: float
    width_mm: float
    bars_a_line: int


SIZES = (
    PrintedSize("A4", 6.6, 178.0, 4),
    PrintedSize("A4, close", 6.0, 178.0, 4),
    PrintedSize("letter", 6.6, 183.9, 4),
    PrintedSize("feedback, large", 7.4, 178.0, 2),
    PrintedSize("phone", 6.0, 92.0, 4),
    PrintedSize("picture for a phone", 6.6, 120.0, 4),
    PrintedSize("small, eight bars", 5.0, 178.0, 8),
    PrintedSize("large print, A4", 10.6, 178.0, 2),
    PrintedSize("large print, letter", 10.6, 183.9, 2),
    PrintedSize("largest print", 16.0, 178.0, 1),
)
"""Every size that something prints in, and the ends of what can be asked for."""


def crowded_score(seed: int) -> Score:
    """A part of a few bars, some of them with everything at once; equal seeds, equal parts."""
    chance = Random(seed)
    meter = chance.choice(METERS)
    first = chance.choice((0, 1, 1))
    bars = tuple(_bar(chance, n, meter) for n in range(first, first + chance.randint(1, 8)))
    fifths = chance.randint(-7, 7)
    return part(*_ended(bars), fifths=fifths, clef=chance.choice(list(Clef)))


def _ended(bars: tuple[ScoreBar, ...]) -> tuple[ScoreBar, ...]:
    return (*bars[:-1], replace(bars[-1], barline=Barline.FINAL))


def _bar(chance: Random, number: int, meter: Meter) -> ScoreBar:
    lengths = list(map(Fraction, chance.choice(FIGURES[meter.bar_beats]).split()))
    silent = chance.random() < 0.1
    notes = tuple(_tongued(_tied(chance, [_note(chance, length) for length in lengths])))
    bar = ScoreBar(number, meter, notes, chords=tuple(_chords(chance, meter)))
    if chance.random() < 0.35:
        bar = replace(bar, road=_road(chance))
    if chance.random() < 0.2:
        bar = replace(bar, signs=tuple(_signs(chance, meter)))
    if number > 1 and chance.random() < 0.1:
        bar = replace(bar, key=(chance.randint(-7, 7), "major"))
    if silent:
        rests = tuple(ScoreNote(None, length) for length in lengths)
        bar = replace(bar, notes=rests, slashes=chance.random() < 0.5, signs=())
    return bar


def _tied(chance: Random, notes: list[ScoreNote]) -> list[ScoreNote]:
    """Notes, some of which are tied to the next one."""
    for place in range(len(notes) - 1):
        first, second = notes[place : place + 2]
        struck = (first.marks | second.marks) & (Mark.SLUR | Mark.GHOST | Mark.SCOOP | Mark.FALL)
        if first.pitch and second.pitch and not struck and chance.random() < 0.12:
            notes[place] = replace(first, marks=first.marks | Mark.TIE)
            notes[place + 1] = replace(second, pitch=first.pitch)
    return notes


def _tongued(notes: list[ScoreNote]) -> Iterator[ScoreNote]:
    """The notes, of which none is slurred into that is scooped into or falls."""
    for note, following in pairwise([*notes, ScoreNote(None, Fraction(1))]):
        bent = bool(following.marks & (Mark.SCOOP | Mark.FALL))
        yield replace(note, marks=note.marks & ~Mark.SLUR) if bent else note


def _note(chance: Random, beats: Fraction) -> ScoreNote:
    if chance.random() < 0.1:
        return ScoreNote(None, beats)
    marks = Mark.NONE
    for mark in MARKS:
        if chance.random() < 0.15:
            marks |= mark
    if beats >= 1:
        marks = (marks | chance.choice(BENDS)) & ~Mark.GHOST
    pitch = Pitch(Name(chance.randint(0, 6), chance.randint(-2, 2)), chance.randint(3, 6))
    dynamic = chance.choice(list(Dynamic)) if chance.random() < 0.1 else None
    return ScoreNote(pitch, beats, marks, chance.choice(DEGREES), dynamic)


def _chords(chance: Random, meter: Meter) -> Iterator[ChordText]:
    places = int(meter.bar_beats)
    most = chance.choice((1, 1, 2, places))
    for at in sorted(chance.sample(range(places), min(places, most))):
        yield chord_text(parse_symbol(crowded_symbol(chance)), Fraction(at))


def crowded_symbol(chance: Random) -> str:
    """A chord as it is typed, of any kind, most of them long."""
    if chance.random() < 0.05:
        return "N.C."
    bass = f"/{chance.choice(ROOTS)}" if chance.random() < 0.3 else ""
    suffix = chance.choice(LONG if chance.random() < 0.4 else COMMON)
    return f"{chance.choice(ROOTS)}{suffix}{bass}"


def _road(chance: Random) -> Road:
    ending = chance.choice(((), (), (1,), (2,), (1, 2, 3)))
    return Road(
        forward=chance.random() < 0.3,
        backward=chance.choice((0, 0, 2, 3)),
        ending=ending,
        ending_stops=ending,
        section=chance.choice(("", *SECTIONS)),
        signs=tuple(sorted(chance.sample(SIGNS, chance.choice((0, 1, 2))))),
    )


def _signs(chance: Random, meter: Meter) -> Iterator[PlaceSign]:
    for at in range(int(meter.bar_beats)):
        if chance.random() < 0.6:
            yield PlaceSign(Fraction(at), chance.choice(list(SignShape)), chance.choice(WORDS))


# What overlaps

ADDED = frozenset(
    {"changing", "leading", "breath", "degree", "number", "chord", "ending", "section", "sign",
     "words", "bend", "dynamic"}
)  # fmt: skip
"""What this project draws around the engraver's notes."""

NEAR = 0.1 * SPACE
"""By which boxes of the engraver may overlap: a flat leaves the corners of its box empty."""
READABLE = 0.72
"""How much of its own width a chord symbol keeps."""

APART = frozenset(
    {"accid", "notehead", "headBracket", "clef", "keySig", "meterSig", "rest", "dots", "barLine"}
)
"""Of the engraver's shapes those that must stand apart, those of one note left out."""


def collisions(line: DrawnLine) -> list[tuple[str, str]]:
    """What stands in something else: each pair by its kinds."""
    pairs = combinations([shape for shape in line.shapes if shape.kind != "line"], 2)
    return [(one.kind, other.kind) for one, other in pairs if _collide(one, other)]


def _collide(one: DrawnShape, other: DrawnShape) -> bool:
    kinds = {one.kind, other.kind}
    if kinds & ADDED:
        return "barLine" not in kinds and one.box.meets(other.box, gap=-1.0)
    same = one.owner == other.owner and one.kind == other.kind
    return kinds <= APART and not same and one.box.meets(other.box, gap=-NEAR)


def part_of(seed: int, size: PrintedSize) -> Score:
    """A crowded part with as many bars a line as the size wants."""
    return replace(crowded_score(seed), bars_a_system=size.bars_a_line)


def faults(seed: int, size: PrintedSize) -> list[str]:
    """What is wrong with a crowded part at a size."""
    return [f"part {seed}, {size.name}, {fault}" for fault in faults_of(part_of(seed, size), size)]


def faults_of(score: Score, size: PrintedSize) -> list[str]:
    """What overlaps, what sticks out of the line, which chord symbols are narrow."""
    lines, scale = fitted_lines(score, size.width_mm, size.staff_mm / STAFF_MM)
    room = size.width_mm / scale / MM
    found = []
    for number, line in enumerate(lines, 1):
        where = f"line {number}"
        found += [f"{where}: {one} in {other}" for one, other in collisions(line)]
        for shape in line.shapes:
            if shape.box.left < 0 or shape.box.right > room:
                found.append(f"{where}: {shape.kind} sticks out")
            squeezed = re.search(r"scale\((0?\.\d+) 1\)", shape.svg)
            if shape.kind == "chord" and squeezed and float(squeezed[1]) < READABLE:
                found.append(f"{where}: a chord {squeezed[1]} as wide as it should be")
    return found
