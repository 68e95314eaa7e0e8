"""How are notes written: values, printed accidentals, beams?

What the engraver and the MusicXML writer must agree on is decided once, here.

Conventions
-----------
- An accidental holds for its line or space, in its octave, to the end of the bar.
- A note tied over the bar line repeats no accidental, and its accidental ends with it.
- A courtesy accidental, in parentheses, stands before the first note on a line or space that
  goes back to the signature: after the bar line where it was altered at the end of the bar
  before, after a tie over the bar line, and where the letter is altered in another octave of
  the same bar. It is not repeated.
- Eighths are beamed by the groups of the metre when they fill a group, and by its pulse
  otherwise; no beam crosses a rest, the start of a group or the edge of a tuplet.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate, groupby, pairwise

from halfstep.meter import EIGHTH, Meter
from halfstep.pitch import Pitch, name_at
from halfstep.score import Mark, Score, ScoreBar, ScoreNote


@dataclass(frozen=True, slots=True)
class Accidental:
    """A printed accidental, in semitones; ``courtesy`` where it only reminds."""

    alteration: int
    courtesy: bool = False


@dataclass(frozen=True, slots=True)
class NoteValue:
    """A note value: ``divisor`` of a whole note (4 is a quarter), and its dots."""

    divisor: int
    dots: int = 0


NOTE_VALUES = {
    Fraction(4): NoteValue(1),
    Fraction(3): NoteValue(2, 1),
    Fraction(2): NoteValue(2),
    Fraction(3, 2): NoteValue(4, 1),
    Fraction(1): NoteValue(4),
    Fraction(3, 4): NoteValue(8, 1),
    Fraction(1, 2): NoteValue(8),
    Fraction(1, 4): NoteValue(16),
}
"""The values one note or rest can have, by its beats, longest first."""

NOTATED_LENGTHS = tuple(NOTE_VALUES)
"""Lengths that one note or rest can have, in beats."""

_HALF = Fraction(1, 2)
_DOTTED = (Fraction(3), Fraction(3, 2), Fraction(3, 4))
_SHORTER = (Fraction(1, 8), Fraction(1, 16), Fraction(1, 32))  # met in charts from elsewhere


def tuplet_ratio(beats: Fraction) -> tuple[int, int]:
    """How many notes of a tuplet stand in the time of how many: 3 and 2 in a triplet.

    >>> tuplet_ratio(Fraction(1, 3)), tuplet_ratio(Fraction(3, 2))
    ((3, 2), (1, 1))
    """
    actual = beats.denominator
    while actual % 2 == 0:
        actual //= 2
    return actual, 1 << (actual.bit_length() - 1)


@lru_cache(maxsize=256)
def plain_beats(beats: Fraction) -> Fraction:
    """The length a note has outside its tuplet.

    >>> plain_beats(Fraction(1, 3)), plain_beats(Fraction(3, 2))
    (Fraction(1, 2), Fraction(3, 2))
    """
    actual, normal = tuplet_ratio(beats)
    return beats * actual / normal


def note_value(bar: ScoreBar, note: ScoreNote) -> NoteValue:
    """The value of a note.

    Raises
    ------
    ValueError
        Names the bar, when one note cannot last as long.
    """
    beats = plain_beats(note.beats)
    if beats not in NOTE_VALUES:
        raise ValueError(f"bar {bar.number}: no single note lasts {note.beats} beats; tie two")
    return NOTE_VALUES[beats]


def tuplet_groups(bar: ScoreBar) -> tuple[tuple[int, ...], ...]:
    """The notes of each tuplet, as indices into ``bar.notes``."""
    return _tuplet_groups(tuple(note.beats for note in bar.notes))


@lru_cache(maxsize=4096)
def _tuplet_groups(lengths: tuple[Fraction, ...]) -> tuple[tuple[int, ...], ...]:
    groups: list[tuple[int, ...]] = []
    group: list[int] = []
    for place, beats in enumerate(lengths):
        if tuplet_ratio(beats)[0] == 1:
            group = []
            continue
        group.append(place)
        if tuplet_ratio(sum((lengths[n] for n in group), Fraction(0)))[0] == 1:
            groups.append(tuple(group))
            group = []
    return tuple(groups)


def is_whole_rest(bar: ScoreBar) -> bool:
    """True for a whole bar of rest, which takes the whole-bar rest in any metre."""
    return bar.number != 0 and len(bar.notes) == 1 and bar.notes[0].pitch is None


def sounding_beats(bar: ScoreBar) -> Fraction:
    """How long the bar lasts: its metre's length, or less in a pickup."""
    return sum((note.beats for note in bar.notes), Fraction(0))


def onsets(bar: ScoreBar) -> tuple[Fraction, ...]:
    """Where each note begins, in beats from the start of the bar."""
    return tuple(accumulate((note.beats for note in bar.notes), initial=Fraction(0)))[:-1]


def signature_alterations(fifths: int) -> dict[int, int]:
    """What a key signature does to each letter, 0 for C to 6 for B."""
    names = (name_at(place) for place in range(fifths - 1, fifths + 6))
    return {name.letter: name.alteration for name in names}


def printed_accidentals(
    pitches: Sequence[Pitch | None], fifths: int
) -> tuple[Accidental | None, ...]:
    """The accidental printed before each note of one bar; None where none is.

    Parameters
    ----------
    pitches : sequence of Pitch or None
        In order; None for a rest.
    fifths : int
        Key signature, -7 to 7.
    """
    bar = _BarSigns(fifths, {})
    return tuple(bar.sign(pitch) if pitch else None for pitch in pitches)


HeadSigns = tuple[Accidental | None, ...]
"""What is printed before each head of a note; one None for a rest."""


def score_accidentals(score: Score) -> tuple[tuple[HeadSigns, ...], ...]:
    """The accidentals of every bar, with what the bar before leaves in a player's mind."""
    accidentals = []
    left: dict[int, int] = {}
    tied, fifths = False, score.key_fifths
    for bar in score.bars:
        fifths = bar.key[0] if bar.key else fifths
        signs = _BarSigns(fifths, left)
        accidentals.append(
            tuple(
                tuple(signs.sign(head, tied_over=tied and place == 0) for head in note.heads)
                or (None,)
                for place, note in enumerate(bar.notes)
            )
        )
        left = signs.left
        tied = bool(bar.notes) and Mark.TIE in bar.notes[-1].marks
    return tuple(accidentals)


Place = tuple[int, int]
"""A note of a score: which bar, and which note in it, both from 0."""


def slur_spans(score: Score) -> tuple[tuple[Place, Place], ...]:
    """The first and the last note under each slur; what is tied to the last is under it as well."""
    spans = []
    first: Place | None = None
    last: Place | None = None
    for bar_place, bar in enumerate(score.bars):
        for note_place, note in enumerate(bar.notes):
            place = (bar_place, note_place)
            if first is not None and note.pitch is not None:
                last = place
            if Mark.SLUR in note.marks:
                first = place if first is None else first
            elif Mark.TIE not in note.marks and first is not None:
                if last is not None:
                    spans.append((first, last))
                first = last = None
    return tuple(spans)


class _BarSigns:
    """What the signs of a bar say, by staff step, and what the bar before has left."""

    def __init__(self, fifths: int, before: Mapping[int, int]) -> None:
        self._signature = signature_alterations(fifths)
        self._before = dict(before)
        self._holding: dict[int, int] = {}
        self._tied: dict[int, int] = {}

    @property
    def left(self) -> dict[int, int]:
        """The steps that stand otherwise than in the signature at the end of the bar."""
        steps = (self._tied | self._holding).items()
        return {step: sign for step, sign in steps if sign != self._signature[step % 7]}

    def sign(self, pitch: Pitch, *, tied_over: bool = False) -> Accidental | None:
        """What is printed before a note."""
        step, alteration = pitch.staff_step, pitch.name.alteration
        if tied_over:
            self._before[step] = self._tied[step] = alteration
            return None
        needed = self._holding.get(step, self._signature[pitch.name.letter]) != alteration
        doubtful = step not in self._holding and self._in_doubt(step, alteration)
        self._holding[step] = alteration
        return Accidental(alteration, courtesy=not needed) if needed or doubtful else None

    def _in_doubt(self, step: int, alteration: int) -> bool:
        """True where the step was altered in the bar before, or is in another octave."""
        octaves = (held for other, held in self._holding.items() if (other - step) % 7 == 0)
        return any(held != alteration for held in (self._before.get(step, alteration), *octaves))


def beam_groups(bar: ScoreBar) -> tuple[tuple[int, ...], ...]:
    """The notes under each beam, as indices into ``bar.notes``."""
    rhythm = tuple((note.beats, note.pitch is not None) for note in bar.notes)
    return _beam_groups(rhythm, bar.meter, is_pickup=bar.number == 0)


_Rhythm = tuple[tuple[Fraction, bool], ...]
"""How long each thing in a bar lasts, in beats, and whether it is a note."""


@lru_cache(maxsize=4096)
def _beam_groups(rhythm: _Rhythm, meter: Meter, *, is_pickup: bool) -> tuple[tuple[int, ...], ...]:
    """The same for every bar of a rhythm, of which a part has few."""
    groups: list[tuple[int, ...]] = []
    lengths = tuple(beats for beats, _ in rhythm)
    late = meter.bar_beats - sum(lengths, Fraction(0)) if is_pickup else Fraction(0)
    starts = tuple(accumulate(lengths, initial=late))[:-1]
    in_tuplet = {
        place: number for number, group in enumerate(_tuplet_groups(lengths)) for place in group
    }
    for begin, end in pairwise((*_group_starts(meter), meter.bar_beats)):
        inside = [n for n, start in enumerate(starts) if begin <= start < end]
        eighths = all(rhythm[n] == (EIGHTH, True) for n in inside)
        filled = len(inside) * EIGHTH == end - begin
        if (eighths and filled) or meter.unit >= 8:
            groups += _runs(rhythm, inside, in_tuplet)
            continue
        for _, within in groupby(inside, key=lambda n: starts[n] // meter.pulse_beats):
            groups += _runs(rhythm, list(within), in_tuplet)
    return tuple(groups)


def _group_starts(meter: Meter) -> tuple[Fraction, ...]:
    """Where a beam may begin anew: each group; each unit where units are halves."""
    if meter.unit < 4:
        unit = Fraction(4, meter.unit)
        return tuple(unit * n for n in range(meter.count))
    return meter.strong_beats


def _runs(rhythm: _Rhythm, places: list[int], in_tuplet: dict[int, int]) -> list[tuple[int, ...]]:
    """Neighbours short enough for a beam, at least two of them, in one tuplet or in none."""

    def beam(place: int) -> tuple[bool, int | None]:
        beats, is_note = rhythm[place]
        return is_note and plain_beats(beats) < 1, in_tuplet.get(place)

    runs = [(beams, tuple(run)) for (beams, _), run in groupby(places, key=beam)]
    return [run for beams, run in runs if beams and len(run) > 1]


@lru_cache(maxsize=4096)
def lengths_at(
    meter: Meter, at: Fraction, beats: Fraction, *, rest: bool = False
) -> tuple[Fraction, ...]:
    """A length in a bar as ones that can be written, cut so that the beat can be seen.

    Groups of a compound or odd bar are cut apart, but for a note of whole groups that one
    value can write. In 4/4 the middle shows, but under a note from the start of the bar and
    a half note on beat 2. A note off the beat that lasts long is cut at the next beat. Rests
    are cut at every group, have no dots in simple metres, and in the others are no quarter
    inside a group. Common practice, no source.

    Parameters
    ----------
    meter : Meter
    at, beats : Fraction
        From the start of the bar, and the length, in quarter notes.
    rest : bool

    >>> [str(length) for length in lengths_at(Meter(4, 4), Fraction(3, 2), Fraction(1))]
    ['1/2', '1/2']
    >>> [str(length) for length in lengths_at(Meter(6, 8), Fraction(1), Fraction(2))]
    ['1/2', '3/2']
    """
    edges = [at, *_cuts(meter, at, at + beats, rest=rest), at + beats]
    stretches = [high - low for low, high in pairwise(edges)]
    plain = _undotted if rest and not meter.compound else notated_lengths
    return tuple(length for stretch in stretches for length in plain(stretch))


def _cuts(meter: Meter, at: Fraction, end: Fraction, *, rest: bool) -> list[Fraction]:
    """Where a note or rest is cut."""
    inside = [edge for edge in meter.strong_beats if at < edge < end]
    if meter.compound or meter.unit >= 8:
        lines = {*meter.strong_beats, meter.bar_beats}
        whole = at in lines and end in lines and end - at in NOTATED_LENGTHS
        if rest and at not in lines and end - at >= 1:
            inside = sorted({*inside, at + _HALF})
        return [] if whole else inside
    even = len(set(meter.groups)) == 1
    on_beats = at % 1 == 0 == end % 1 and end - at <= 2
    if even and not rest and (at == 0 or on_beats):
        inside = []
    following = Fraction(at // 1 + 1)
    longest = {0: end - at, _HALF: _HALF if rest else 3 * _HALF}  # else not over the beat
    if end - at > longest.get(at % 1, 0) and following < end:
        inside = sorted({*inside, following})
    return inside


def _undotted(beats: Fraction) -> list[Fraction]:
    """A rest's length as plain values, the longest first."""
    return [
        part
        for length in notated_lengths(beats)
        for part in ([length * 2 / 3, length / 3] if length in _DOTTED else [length])
    ]


def notated_lengths(beats: Fraction) -> list[Fraction]:
    """A length as ones that can be written, longest first; a part of a tuplet comes last.

    >>> [str(length) for length in notated_lengths(Fraction(5, 2))]
    ['2', '1/2']
    >>> [str(length) for length in notated_lengths(Fraction(5, 3))]
    ['1', '2/3']
    """
    actual, normal = tuplet_ratio(beats)
    if actual == 1:
        return _plain_lengths(beats)
    whole = Fraction(beats // 1)
    in_tuplet = _plain_lengths((beats - whole) * actual / normal)
    return [*_plain_lengths(whole), *(length * normal / actual for length in in_tuplet)]


def _plain_lengths(beats: Fraction) -> list[Fraction]:
    lengths = []
    while beats > 0:
        longest = next((length for length in NOTATED_LENGTHS + _SHORTER if length <= beats), beats)
        lengths.append(longest)
        beats -= longest
    return lengths
