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
class WrittenTake:
    """A take as one player reads it.

    Attributes
    ----------
    take : HeardTake
        As it was heard, in concert pitch.
    player : Instrument
    title : str
    count_in_s : float
        How long the backing counts before the form begins.
    """

    take: HeardTake
    player: Instrument
    title: str
    count_in_s: float = 0.0

    @property
    def form_s(self) -> float | None:
        """Where in the recording the form begins; None where no backing was found."""
        return None if self.take.delay_s is None else self.take.delay_s + self.count_in_s

    @property
    def early(self) -> int:
        """How many notes end before the form begins."""
        return sum(note.offset_s <= (self.form_s or 0.0) for note in self.take.notes)

    @property
    def notes(self) -> tuple[HeardNote, ...]:
        """Without the early ones."""
        return self.take.notes[self.early :]

    @property
    def notices(self) -> tuple[str, ...]:
        """What should be said of notes that are left out."""
        notes = "note that ends" if self.early == 1 else "notes that end"
        left_out = f"{self.early} {notes} before the form begins: only in the data"
        return (left_out,) if self.early else ()

    @property
    def fifths(self) -> int:
        """The written signature."""
        return _signature([(self._written(note), _length_s(note)) for note in self.take.notes])

    def pitches(self) -> list[Pitch]:
        """The written pitch of each note."""
        fifths = self.fifths
        return [spelled(self._written(note), fifths) for note in self.take.notes]

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


def played_part(written: WrittenTake, tempo_bpm: float) -> PlayedPart:
    """The notes at their own times, unquantised."""
    start_s = written.form_s or 0.0
    loudest_db = max((note.level_db for note in written.notes), default=0.0)
    notes = [
        PlayedNote(
            _beats(max(0.0, note.onset_s - start_s), tempo_bpm),
            _beats(_length_s(note), tempo_bpm),
            note.midi,
            max(1, round(127 * 10 ** ((note.level_db - loudest_db) / 40))),
        )
        for note in written.notes
    ]
    return PlayedPart("line", written.player.program, percussion=False, notes=tuple(notes))


def _beats(time_s: float, tempo_bpm: float) -> Fraction:
    return Fraction(time_s) * Fraction(tempo_bpm) / 60


# A score


@dataclass(frozen=True, slots=True)
class _GridNote:
    """A note, or a rest without a pitch, in sixteenths from the start."""

    first: int
    end: int
    pitch: Pitch | None


def written_score(written: WrittenTake, tempo_bpm: float) -> tuple[Score, tuple[str, ...]]:
    """The take in sixteenths at a tempo, in 4/4, and what should be said of it."""
    grid = _quantised(written, tempo_bpm)
    lost = len(written.notes) - len(grid)
    left_out = (
        f"{lost} of {len(written.notes)} notes fall on the sixteenth of a longer one at tempo "
        f"{tempo_bpm:g} and are left out; give the tempo of the take with `tempo_bpm`"
    )
    bars = _bars(grid)
    score = Score(
        title=written.title,
        label=written.player.label,
        key_fifths=written.fifths,
        mode="major",
        clef=_clef(written),
        rise=written.player.rise,
        program=written.player.program,
        tempo_bpm=tempo_bpm,
        swing=None,
        bars=tuple(bars),
    )
    return score, (*written.notices, left_out) if lost else written.notices


def _clef(written: WrittenTake) -> Clef:
    midis = sorted(note.midi for note in written.take.notes)
    unknown = written.player is INSTRUMENTS["concert"]
    low = bool(midis) and midis[len(midis) // 2] < _BASS_BELOW
    return Clef.BASS if unknown and low else written.player.clef


def _quantised(written: WrittenTake, tempo_bpm: float) -> list[_GridNote]:
    """The notes on the grid; of those on one sixteenth the longest stays."""
    sixteenth_s = 15.0 / tempo_bpm
    start_s = _start_s(written, sixteenth_s)
    longest: dict[int, tuple[HeardNote, Pitch]] = {}
    for note, pitch in zip(written.notes, written.pitches()[written.early :], strict=True):
        place = max(0, round((note.onset_s - start_s) / sixteenth_s))
        if place not in longest or _length_s(note) > _length_s(longest[place][0]):
            longest[place] = (note, pitch)
    placed = sorted(longest.items())
    grid = []
    following = [place for place, _ in placed[1:]] + [None]
    for (place, (note, pitch)), after in zip(placed, following, strict=True):
        end = max(place + 1, round((note.offset_s - start_s) / sixteenth_s))
        if after is not None and end >= after - _JOINED:
            end = after
        grid.append(_GridNote(place, end, pitch))
    return grid


def _start_s(written: WrittenTake, sixteenth_s: float) -> float:
    """Where in the recording bar 1 begins."""
    if written.form_s is not None:
        return written.form_s
    notes = written.take.notes
    if not notes:
        return 0.0
    first_s = notes[0].onset_s
    turns = sum(cmath.exp(1j * tau * (n.onset_s - first_s) / sixteenth_s) for n in notes)
    return first_s + cmath.phase(turns) / tau * sixteenth_s


def _bars(grid: Sequence[_GridNote]) -> list[ScoreBar]:
    end = max((note.end for note in grid), default=1)
    count = -(-end // _BAR)
    whole = _with_rests(grid, count * _BAR)
    bars = []
    reached = 0
    for number in range(1, count + 1):
        start = (number - 1) * _BAR
        while whole[reached].end <= start:
            reached += 1
        notes: list[ScoreNote] = []
        for note in whole[reached:]:
            if note.first >= start + _BAR:
                break
            notes += _in_bar(note, start)
        barline = Barline.FINAL if number == count else Barline.SINGLE
        bars.append(ScoreBar(number, _METER, tuple(notes), barline=barline))
    return bars


def _with_rests(grid: Sequence[_GridNote], end: int) -> list[_GridNote]:
    """The notes with rests between them, up to the last bar line."""
    edges = [_GridNote(0, 0, None), *grid, _GridNote(end, end, None)]
    whole = []
    for note, following in pairwise(edges):
        whole.append(note)
        if note.end < following.first:
            whole.append(_GridNote(note.end, following.first, None))
    return [note for note in whole if note.end > note.first]


def _in_bar(note: _GridNote, start: int) -> list[ScoreNote]:
    """The piece of a note or rest in a bar, cut and tied as it is written."""
    first, last = max(note.first, start), min(note.end, start + _BAR)
    beats, at = Fraction(last - first, 4), Fraction(first - start, 4)
    if note.pitch is None and beats == _METER.bar_beats:
        return [ScoreNote(None, beats)]
    lengths = lengths_at(_METER, at, beats, rest=note.pitch is None)
    goes_on = [*[True] * (len(lengths) - 1), note.end > last]
    return [
        ScoreNote(note.pitch, length, Mark.TIE if tied and note.pitch else Mark.NONE)
        for length, tied in zip(lengths, goes_on, strict=True)
    ]
