"""How is a part read aloud? Each bar in words: its chords, its notes, how long they last.

A length is said before the first note that has it and holds until another is said, anew in each
bar; a note is its letter, its accidental and its octave. What leads the reader's ear and how a note
is begun comes before it (*new*, *accented*), what the player does after it (*breathe*); *slurred*
goes on into the next note.

Conventions
-----------
- Signs are words, as programs that read a screen aloud pass over signs or misname them: F sharp 5.
- The octave that begins with middle C is 4.

Sources: MusicXML 4.0 for what a bar can hold; ISO 14289-1 7.3, which wants words for a picture.
The words: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from halfstep.meter import Meter
from halfstep.notation import (
    is_whole_rest,
    note_value,
    onsets,
    sounding_beats,
    tuplet_ratio,
)
from halfstep.road_words import sign_words
from halfstep.score import ChordText, Dynamic, Mark, PlaceSign, Road, Score, ScoreBar, ScoreNote

_LETTERS = frozenset("ABCDEFG")
_SIGNS = {"♭": "flat", "♯": "sharp", "𝄫": "double flat", "𝄪": "double sharp", "♮": "natural"}
_SIGN = re.compile("|".join(_SIGNS))
_VALUES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "sixteenth", 32: "thirty-second"}
_BEFORE = {
    Mark.CHANGING: "new",
    Mark.LEADS: "leading",
    Mark.LEADS_CHROMATIC: "leading from outside",
    Mark.ENCLOSES: "enclosing",
    Mark.ACCENT: "accented",
    Mark.STACCATO: "short",
    Mark.TENUTO: "held",
    Mark.GHOST: "ghosted",
    Mark.SCOOP: "scooped",
}
_AFTER = {
    Mark.FALL: " falling away", Mark.TIE: " tied", Mark.SLUR: " slurred", Mark.BREATH: ", breathe",
}  # fmt: skip
_LOUDNESS = {
    Dynamic.PIANO: "piano", Dynamic.MEZZO_PIANO: "mezzo piano", Dynamic.MEZZO_FORTE: "mezzo forte",
    Dynamic.FORTE: "forte",
}  # fmt: skip
_QUALITIES = {
    "maj": "major", "m": "minor", "dim": "diminished", "aug": "augmented", "+": "augmented",
    "°": "diminished", "ø": "half-diminished", "△": "major", "sus": "suspended", "alt": "altered",
    "omit": "without", "no": "without",
}  # fmt: skip
_PIECE_WORDS = {**_SIGNS, **_QUALITIES}
_LONGEST_FIRST = sorted(_PIECE_WORDS, key=len, reverse=True)
_PIECE = re.compile("|".join([*map(re.escape, _LONGEST_FIRST), r"\d+|[a-z]+"]))


def spoken_score(score: Score) -> tuple[str, ...]:
    """A part in words, from its key and metre on, a text for each bar.

    Raises
    ------
    ValueError
        Names the bar, when a note has a length that no single note lasts.
    """
    return (f"{opening_words(score)}.", *score_words(score))


def score_words(score: Score) -> tuple[str, ...]:
    """Each bar of a part in words.

    Raises
    ------
    ValueError
        Names the bar, when a note has a length that no single note lasts.
    """
    befores: list[ScoreBar | None] = [None, *score.bars]
    return tuple(_bar_words(bar, before) for before, bar in zip(befores, score.bars, strict=False))


def opening_words(score: Score) -> str:
    """Key and metre of a part: ``2 sharps, 4 4 time``."""
    meter = f", {meter_words(score.bars[0].meter)}" if score.bars else ""
    return f"{signature_words(score.key_fifths)}{meter}"


def signature_words(fifths: int) -> str:
    """A key signature in words.

    >>> signature_words(-3), signature_words(1), signature_words(0)
    ('3 flats', '1 sharp', 'no sharps or flats')
    """
    if not fifths:
        return "no sharps or flats"
    sign = "sharp" if fifths > 0 else "flat"
    return f"{abs(fifths)} {sign}{'s' * (abs(fifths) > 1)}"


def meter_words(meter: Meter) -> str:
    """A metre in words: ``6 8 time``."""
    return f"{meter.count} {meter.unit} time"


def name_words(name: str) -> str:
    """A printed note name or degree in words.

    >>> name_words("B♭4"), name_words("F𝄪"), name_words("♭7")
    ('B flat 4', 'F double sharp', 'flat 7')
    """
    spaced = "".join(f" {_SIGNS[sign]} " if sign in _SIGNS else sign for sign in name)
    letter, rest = (spaced[:1], spaced[1:]) if name[:1] in _LETTERS else ("", spaced)
    return " ".join(f"{letter} {rest}".split())


def signs_in_words(text: str) -> str:
    """A text whose accidentals are said.

    >>> signs_in_words("A♭ major (concert B♭ major)")
    'A flat major (concert B flat major)'
    """
    return _SIGN.sub(lambda sign: f" {_SIGNS[sign[0]]}", text)


def chord_words(chord: ChordText) -> str:
    """A printed chord symbol as players say it: ``D minor 7 flat 5 over A flat``."""
    if not chord.root:
        return "No chord" if chord.kind == "none" else chord.plain
    pieces = _PIECE.findall(f"{chord.quality} {chord.extension}")
    words = [name_words(chord.root), *(_PIECE_WORDS.get(piece, piece) for piece in pieces)]
    bass = [f"over {name_words(chord.bass)}"] if chord.bass else []
    return " ".join([*words, *bass])


# A bar


def _bar_words(bar: ScoreBar, before: ScoreBar | None) -> str:
    number = "Pickup" if bar.number == 0 else f"Bar {bar.label or bar.number}"
    head = ", ".join([number, *_changes(bar, before), *_starts(bar.road)])
    signs = (_sign_words(bar, sign) for sign in bar.signs)
    clauses = [*_clauses(bar), *signs, *_ends(bar.road)]
    return f"{head}: {'. '.join(clauses)}."


def _changes(bar: ScoreBar, before: ScoreBar | None) -> Iterator[str]:
    """The metre and the key signature that begin with a bar, but for those of the part."""
    if before and bar.meter != before.meter:
        yield meter_words(bar.meter)
    if before and bar.key:
        yield signature_words(bar.key[0])


def _starts(road: Road) -> Iterator[str]:
    if road.section:
        yield f"section {road.section}"
    if road.forward:
        yield "repeat from here"
    if road.ending:
        yield f"ending {' and '.join(map(str, road.ending))}"


def _ends(road: Road) -> Iterator[str]:
    if road.backward:
        yield "Repeat" if road.backward == 2 else f"Play {road.backward} times"
    yield from map(sign_words, road.signs)


def _clauses(bar: ScoreBar) -> Iterator[str]:
    """The music of a bar, cut where a chord begins."""
    ends = [*(chord.at for chord in bar.chords), bar.meter.bar_beats + sounding_beats(bar)]
    every = zip(onsets(bar), bar.notes, _notes_words(bar), strict=True)
    notes = [(at, words) for at, note, words in every if Mark.UNSEEN not in note.marks]
    opening = [words for at, words in notes if at < ends[0]]
    if opening:
        yield ", ".join(opening)
    for chord, (begin, end) in zip(bar.chords, pairwise(ends), strict=True):
        struck = not begin or any(at == begin for at, _ in notes)
        place = "" if struck else f" from {_beat(bar.meter, begin)}"
        under = ", ".join(words for at, words in notes if begin <= at < end)
        name = chord_words(chord)
        yield f"{'On ' * bool(chord.root)}{name}{place}{': ' if under else ''}{under}"
    if bar.slashes:
        yield "Your own line"


def _notes_words(bar: ScoreBar) -> Iterator[str]:
    """Notes and rests of a bar, each length before the first that has it."""
    said = ""
    for note in bar.notes:
        length = _length_words(bar, note)
        after = "".join(word for mark, word in _AFTER.items() if mark in note.marks)
        loudness = [_LOUDNESS[note.dynamic]] if note.dynamic else []
        opening = [*loudness, *([length] if length != said else [])]
        yield " ".join([*opening, *_of_note(note)]) + after
        said = length


def _of_note(note: ScoreNote) -> Iterator[str]:
    if note.pitch is None:
        yield "rest"
    else:
        yield from (word for mark, word in _BEFORE.items() if mark in note.marks)
        yield " and ".join(name_words(str(head)) for head in reversed(note.heads))
    if note.degree:
        yield f"as {name_words(note.degree)}"


def _length_words(bar: ScoreBar, note: ScoreNote) -> str:
    if note.pitch is None and is_whole_rest(bar):
        return "whole bar"
    value = note_value(bar, note)
    actual, normal = tuplet_ratio(note.beats)
    tuplet = {1: "", 3: "triplet "}.get(actual, f"{actual} in the time of {normal} ")
    return f"{tuplet}{'dotted ' * value.dots}{_VALUES[value.divisor]}"


def _beat(meter: Meter, at: Fraction) -> str:
    """A place of a bar: ``beat 3``, ``beat 2.5``."""
    return f"beat {float(at / meter.pulse_beats + 1):g}"


def _sign_words(bar: ScoreBar, sign: PlaceSign) -> str:
    word = f", {sign.word}" if sign.word else ""
    return f"{str(sign.shape).capitalize()} on {_beat(bar.meter, sign.at)}{word}"
