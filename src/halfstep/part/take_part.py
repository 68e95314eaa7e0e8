"""A take as it was heard, in the forms that leave the program: data, MIDI, a score, a picture.

Conventions
-----------
- Data are in seconds of the recording and concert pitch.
- MIDI and the score begin where the form begins: after the count-in of the backing, when one
  was found. Otherwise MIDI begins with the recording, and the score with its first note, on
  the grid of sixteenths that fits the onsets best.
- Score and picture are in the player's written pitch. The signature is the one that most
  of what was played lies in, with a leaning to few signs. Other notes are white keys by
  their plain names, or near to the signature on the line of fifths.
- Velocity falls from 127 at the loudest note, 40 dB for each power of ten.

Sources: the velocity curve is that of the DLS standard, level 1 (from memory); how a heard
length is written: common practice, no source.
"""

from __future__ import annotations

import cmath
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import tau

from halfstep.instruments import INSTRUMENTS, Clef, Instrument
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.meter import Meter
from halfstep.notation import lengths_at
from halfstep.pitch import Pitch, name_at, pitch_near
from halfstep.played import PlayedNote, PlayedPart
from halfstep.score import Barline, Mark, Score, ScoreBar, ScoreNote

_METER = Meter(4, 4)
_BAR = 16
"""Sixteenths in a bar."""
_JOINED = 1
"""A gap of so many sixteenths is articulation, no rest."""
_MOST_SIGNS, _SIGN = 5, 0.03
"""Of a signature; and the share of the take that must lie in it for each of its signs."""
_BASS_BELOW = 57


@dataclass(frozen=True, slots=True)
class Reads:
    """A take as one player reads it.

    Attributes
    ----------
    heard : HeardTake
    player : Instrument
    title : str
    count_in_s : float
        How long the backing counts before the form begins.
    """

    heard: HeardTake
    player: Instrument
    title: str
    count_in_s: float = 0.0

    @property
    def form_s(self) -> float | None:
        """Where in the recording the form begins; None where no backing was found."""
        return None if self.heard.delay_s is None else self.heard.delay_s + self.count_in_s

    @property
    def early(self) -> int:
        """How many notes end before the form begins."""
        return sum(note.offset_s <= (self.form_s or 0.0) for note in self.heard.notes)

    @property
    def notes(self) -> tuple[HeardNote, ...]:
        """Without the early ones."""
        return self.heard.notes[self.early :]

    @property
    def said(self) -> tuple[str, ...]:
        """What should be said of notes that are left out."""
        what = "note that ends" if self.early == 1 else "notes that end"
        left_out = f"{self.early} {what} before the form begins: only in the data"
        return (left_out,) if self.early else ()

    @property
    def fifths(self) -> int:
        """The written signature."""
        return _signature([(self._written(note), _length_s(note)) for note in self.heard.notes])

    def pitches(self) -> list[Pitch]:
        """The written pitch of each note."""
        fifths = self.fifths
        return [spelled(self._written(note), fifths) for note in self.heard.notes]

    def _written(self, note: HeardNote) -> int:
        return note.midi + self.player.rise.semitones


def spelled(midi: int, fifths: int) -> Pitch:
    """A pitch as it is spelled under a signature, counted in fifths.

    >>> str(spelled(61, 0)), str(spelled(61, -3))
    ('C♯4', 'D♭4')
    """
    scale, naturals = range(fifths - 1, fifths + 6), range(-1, 6)
    names = map(name_at, (*scale, *naturals, *range(fifths - 3, fifths + 9)))
    return pitch_near(next(name for name in names if name.pitch_class == midi % 12), midi)


def _signature(notes: Sequence[tuple[int, float]]) -> int:
    whole_s = sum(length_s for _, length_s in notes)

    def strange(fifths: int) -> float:
        scale = {name_at(place).pitch_class for place in range(fifths - 1, fifths + 6)}
        outside_s = sum(length_s for midi, length_s in notes if midi % 12 not in scale)
        return outside_s + _SIGN * abs(fifths) * whole_s

    return min(sorted(range(-_MOST_SIGNS, _MOST_SIGNS + 1), key=abs), key=strange)


def _length_s(note: HeardNote) -> float:
    return note.offset_s - note.onset_s


# MIDI


def played_part(reads: Reads, tempo_bpm: float) -> PlayedPart:
    """The notes at their own times, unquantised."""
    start_s = reads.form_s or 0.0
    loudest_db = max((note.level_db for note in reads.notes), default=0.0)
    notes = [
        PlayedNote(
            _beats(max(0.0, note.onset_s - start_s), tempo_bpm),
            _beats(_length_s(note), tempo_bpm),
            note.midi,
            max(1, round(127 * 10 ** ((note.level_db - loudest_db) / 40))),
        )
        for note in reads.notes
    ]
    return PlayedPart("line", reads.player.program, percussion=False, notes=tuple(notes))


def _beats(time_s: float, tempo_bpm: float) -> Fraction:
    return Fraction(time_s) * Fraction(tempo_bpm) / 60


# A score


@dataclass(frozen=True, slots=True)
class _Step:
    """A note, or a rest without a pitch, in sixteenths from the start."""

    first: int
    end: int
    pitch: Pitch | None


def written_score(reads: Reads, tempo_bpm: float) -> tuple[Score, tuple[str, ...]]:
    """The take in sixteenths at a tempo, in 4/4, and what should be said of it."""
    steps = _quantised(reads, tempo_bpm)
    lost = len(reads.notes) - len(steps)
    said = (
        f"{lost} of {len(reads.notes)} notes fall on the sixteenth of a longer one at tempo "
        f"{tempo_bpm:g} and are left out; give the tempo of the take with `tempo_bpm`"
    )
    bars = _bars(steps)
    score = Score(
        title=reads.title,
        label=reads.player.label,
        key_fifths=reads.fifths,
        mode="major",
        clef=_clef(reads),
        rise=reads.player.rise,
        program=reads.player.program,
        tempo_bpm=tempo_bpm,
        swing=None,
        bars=tuple(bars),
    )
    return score, (*reads.said, said) if lost else reads.said


def _clef(reads: Reads) -> Clef:
    midis = sorted(note.midi for note in reads.heard.notes)
    unknown = reads.player is INSTRUMENTS["concert"]
    low = bool(midis) and midis[len(midis) // 2] < _BASS_BELOW
    return Clef.BASS if unknown and low else reads.player.clef


def _quantised(reads: Reads, tempo_bpm: float) -> list[_Step]:
    """The notes on the grid; of those on one sixteenth the longest stays."""
    sixteenth_s = 15.0 / tempo_bpm
    start_s = _start_s(reads, sixteenth_s)
    longest: dict[int, tuple[HeardNote, Pitch]] = {}
    for note, pitch in zip(reads.notes, reads.pitches()[reads.early :], strict=True):
        place = max(0, round((note.onset_s - start_s) / sixteenth_s))
        if place not in longest or _length_s(note) > _length_s(longest[place][0]):
            longest[place] = (note, pitch)
    placed = sorted(longest.items())
    steps = []
    following = [place for place, _ in placed[1:]] + [None]
    for (place, (note, pitch)), after in zip(placed, following, strict=True):
        end = max(place + 1, round((note.offset_s - start_s) / sixteenth_s))
        if after is not None and end >= after - _JOINED:
            end = after
        steps.append(_Step(place, end, pitch))
    return steps


def _start_s(reads: Reads, sixteenth_s: float) -> float:
    """Where in the recording bar 1 begins."""
    if reads.form_s is not None:
        return reads.form_s
    notes = reads.heard.notes
    if not notes:
        return 0.0
    first_s = notes[0].onset_s
    turns = sum(cmath.exp(1j * tau * (n.onset_s - first_s) / sixteenth_s) for n in notes)
    return first_s + cmath.phase(turns) / tau * sixteenth_s


def _bars(steps: Sequence[_Step]) -> list[ScoreBar]:
    end = max((step.end for step in steps), default=1)
    count = -(-end // _BAR)
    whole = _with_rests(steps, count * _BAR)
    bars = []
    reached = 0
    for number in range(1, count + 1):
        start = (number - 1) * _BAR
        while whole[reached].end <= start:
            reached += 1
        notes: list[ScoreNote] = []
        for step in whole[reached:]:
            if step.first >= start + _BAR:
                break
            notes += _in_bar(step, start)
        barline = Barline.FINAL if number == count else Barline.SINGLE
        bars.append(ScoreBar(number, _METER, tuple(notes), barline=barline))
    return bars


def _with_rests(steps: Sequence[_Step], end: int) -> list[_Step]:
    """The notes with rests between them, up to the last bar line."""
    edges = [_Step(0, 0, None), *steps, _Step(end, end, None)]
    found = []
    for one, other in pairwise(edges):
        found.append(one)
        if one.end < other.first:
            found.append(_Step(one.end, other.first, None))
    return [step for step in found if step.end > step.first]


def _in_bar(step: _Step, start: int) -> list[ScoreNote]:
    """The piece of a note or rest in a bar, cut and tied as it is written."""
    first, last = max(step.first, start), min(step.end, start + _BAR)
    beats, at = Fraction(last - first, 4), Fraction(first - start, 4)
    if step.pitch is None and beats == _METER.bar_beats:
        return [ScoreNote(None, beats)]
    lengths = lengths_at(_METER, at, beats, rest=step.pitch is None)
    goes_on = [*[True] * (len(lengths) - 1), step.end > last]
    return [
        ScoreNote(step.pitch, length, Mark.TIE if tied and step.pitch else Mark.NONE)
        for length, tied in zip(lengths, goes_on, strict=True)
    ]
